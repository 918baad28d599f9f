//! The list of sheets, and one sheet as it is printed.

use askama::Template;
use harness_core::model::Identified;
use harness_core::sheets::{Cell, Column, SHEETS, Sheet, SheetKind, Table};

use super::findings::Linked;
use super::{Frame, date};
use crate::studies::AskedBoat;
use crate::view::View;

/// A sheet of more columns than this is printed across the long side of the paper.
const UPRIGHT_COLUMNS: usize = 7;
/// Longest text of a cell that is kept on one line, in bytes.
const SHORT: usize = 12;

/// One kind of sheet in the list.
#[derive(Clone, Debug)]
pub struct SheetRow {
    sheet: Linked,
    purpose: &'static str,
    harnesses: Vec<Linked>,
    hulls: Vec<Linked>,
    csv: String,
}

/// The list of sheets.
#[derive(Debug, Template)]
#[template(path = "sheets/list.html")]
pub struct SheetsPage {
    frame: Frame,
    rows: Vec<SheetRow>,
}

impl SheetsPage {
    /// Of the model in view.
    pub fn new(view: &View) -> Self {
        let model = &view.study.model;
        let to = &view.addresses;
        let row = |kind: &SheetKind| SheetRow {
            sheet: Linked {
                text: kind.title.to_owned(),
                href: to.to(&["sheets", kind.id]),
            },
            purpose: kind.purpose,
            harnesses: model
                .harnesses
                .iter()
                .map(|(_, harness)| Linked {
                    text: harness
                        .part_number
                        .clone()
                        .unwrap_or_else(|| harness.id().to_owned()),
                    href: to.with(&["sheets", kind.id], &[("harness", harness.id())]),
                })
                .collect(),
            hulls: model
                .hulls
                .iter()
                .map(|(_, hull)| Linked {
                    text: hull.id.clone(),
                    href: to
                        .of_boat(AskedBoat::Hull(hull.id.clone()))
                        .to(&["sheets", kind.id]),
                })
                .collect(),
            csv: to.to(&["sheets", &format!("{}.csv", kind.id)]),
        };
        Self {
            frame: Frame::of("Sheets", view, "sheets"),
            rows: SHEETS.iter().map(row).collect(),
        }
    }
}

/// Which part of the harness a sheet covers, for its title block and its downloads.
#[derive(Clone, Debug, Default)]
pub struct Covered {
    /// Harness part number and its revision; empty for the whole harness.
    pub harness: String,
    /// Query fields that repeat the choice.
    pub query: Vec<(&'static str, String)>,
}

/// One sheet.
#[derive(Debug, Template)]
#[template(path = "sheets/sheet.html")]
pub struct SheetPage {
    frame: Frame,
    sheet: Sheet,
    title_block: Vec<(&'static str, String)>,
    is_wide: bool,
    csv: String,
    json: String,
}

/// Exact value of a number with its unit, which the column states, or the row in a cell of its
/// own; of the unit in such a cell the unit alone.
fn exact(table: &Table, row: &[Cell], column: &Column, cell: &Cell) -> Option<String> {
    let by_row = || {
        let at = table.columns.iter().position(|one| one.key == "unit")?;
        row.get(at).map(ToString::to_string)
    };
    let unit = match column.key.rsplit_once('_') {
        Some((_, "m")) => "m".to_owned(),
        Some((_, "mm")) => "mm".to_owned(),
        Some((_, "mm2")) => "mm²".to_owned(),
        Some((_, "degc")) => "°C".to_owned(),
        _ => by_row()?,
    };
    match (column.key, cell) {
        ("unit", _) => Some(unit),
        (_, Cell::Number(number)) => Some(format!("{number} {unit}")),
        _ => None,
    }
}

impl SheetPage {
    /// Whether a cell stays on one line: a size as `4/0 AWG` does not part at its space.
    fn is_whole(&self, cell: &Cell) -> bool {
        matches!(cell, Cell::Text(text) if text.len() <= SHORT)
    }

    /// The sheet of the boat in view.
    pub fn new(view: &View, sheet: Sheet, covered: &Covered) -> Self {
        let to = &view.addresses;
        let head = &view.head;
        let query: Vec<_> = covered
            .query
            .iter()
            .map(|(name, value)| (*name, value.as_str()))
            .collect();
        let hulls = match to.boat() {
            AskedBoat::Every => "every buildable boat".to_owned(),
            _ => view.boat_words(),
        };
        let widest = sheet.tables.iter().map(|table| table.columns.len()).max();
        let download =
            |ending: &str| to.with(&["sheets", &format!("{}.{ending}", sheet.id)], &query);
        Self {
            frame: Frame::of(sheet.title.clone(), view, "sheet")
                .under("Sheets", to.to(&["sheets"])),
            title_block: vec![
                ("Boat model", head.name.clone()),
                ("Sheet", sheet.title.clone()),
                (
                    "Harness part",
                    match covered.harness.is_empty() {
                        true => "the whole harness".to_owned(),
                        false => covered.harness.clone(),
                    },
                ),
                ("Boats", hulls),
                ("Revision", head.number.to_string()),
                ("Recorded", date(&head.recorded_at)),
                ("By", head.who.clone()),
                ("Stamp", head.stamp.clone()),
            ],
            is_wide: widest.unwrap_or(0) > UPRIGHT_COLUMNS,
            csv: download("csv"),
            json: format!("/api{}", download("json")),
            sheet,
        }
    }
}
