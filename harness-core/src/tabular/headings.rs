//! Which column of a sheet is which field.

use super::cells::Refused;
use super::columns::{Column, ListOf, MODEL, NUMBER};
use super::measure::{self, Unit};
use super::table::{CellFault, Table};
use super::words;
use crate::file_format::fault::nearest;
use crate::file_format::form::Shape;

/// A column of a sheet that was understood.
#[derive(Clone, Debug)]
pub(super) struct Understood<'l> {
    /// Its place in the sheet.
    pub at: u32,
    /// The field it fills in.
    pub column: &'l Column,
    /// The unit its heading names.
    pub unit: Option<&'static Unit>,
}

/// The columns of a sheet.
#[derive(Debug, Default)]
pub(super) struct Headings<'l> {
    /// Those that fill in a field.
    pub columns: Vec<Understood<'l>>,
    /// The one that numbers things without a short name.
    pub number: Option<u32>,
    /// Where what tells the things apart stands.
    pub id: Option<u32>,
}

/// Reads the headings of a sheet of `list`; what is wrong is put with the faults.
pub(super) fn read<'l>(
    table: &Table,
    list: &'l ListOf,
    faults: &mut Vec<CellFault>,
) -> Headings<'l> {
    let mut headings = Headings::default();
    let row = table.headings.number;
    for (at, cell) in &table.headings.cells {
        let text = cell.to_string();
        if list.offset() > 0 && words::key(&text) == NUMBER && headings.number.is_none() {
            headings.number = Some(*at);
            headings.id = Some(*at);
            continue;
        }
        match understood(&text, list) {
            Err(refused) => {
                faults.push(CellFault::at(&table.name, (row, *at), Some(cell), refused))
            }
            Ok((column, unit)) => {
                let first = headings
                    .columns
                    .iter()
                    .find(|other| other.column.path == column.path);
                if let Some(first) = first {
                    let reason = format!(
                        "Two columns are for {}; the first stands in {}.",
                        column.heading(),
                        super::table::address(first.at, row)
                    );
                    let refused = (
                        reason,
                        "one column for each field".to_owned(),
                        "Remove one.".to_owned(),
                    );
                    faults.push(CellFault::at(&table.name, (row, *at), Some(cell), refused));
                    continue;
                }
                if column.path == ["id"] {
                    headings.id = Some(*at);
                }
                headings.columns.push(Understood {
                    at: *at,
                    column,
                    unit,
                });
            }
        }
    }
    if headings.id.is_none() && list.name != MODEL {
        let wanted = if list.has_id { "id" } else { NUMBER };
        let reason = format!("No column says which {} a row is about.", list.thing);
        let next = format!("Add a column headed {wanted}.");
        let refused = (reason, format!("a column headed {wanted}"), next);
        let fault = CellFault::of_sheet(&table.name, refused);
        faults.push(CellFault {
            place: Some((row, 0)),
            ..fault
        });
    }
    headings
}

/// The field and unit a heading means.
fn understood<'l>(
    heading: &str,
    list: &'l ListOf,
) -> Result<(&'l Column, Option<&'static Unit>), Refused> {
    let (name, bracketed) = parted(heading);
    let key = match words::key(name).as_str() {
        "shortname" => "id".to_owned(),
        key => key.to_owned(),
    };
    let columns = || list.columns.iter();
    if let Some(unit) = bracketed {
        let named: Vec<_> = columns()
            .filter(|column| column.bare_key == key || column.whole_key == key)
            .collect();
        let known = measure::unit(unit).or_else(|| size_unit(unit));
        let fits: Vec<_> = named
            .iter()
            .copied()
            .filter(|column| known.is_some_and(|known| takes(column, known)))
            .collect();
        return match (fits.as_slice(), named.as_slice()) {
            ([column], _) => Ok((column, known)),
            ([], [column, ..]) => Err((
                format!("\"{unit}\" is no unit of {}.", column.heading()),
                column.unit().map_or_else(
                    || "a heading without a unit".to_owned(),
                    |own| format!("{} or a unit that converts into it", own.word()),
                ),
                "Name the unit that the numbers below are in.".to_owned(),
            )),
            ([], []) => Err(unknown(heading, &key, list)),
            (several, _) => Err(ambiguous(several)),
        };
    }
    if let Some(column) = columns().find(|column| column.whole_key == key) {
        return Ok((column, None));
    }
    let bare: Vec<_> = columns().filter(|column| column.bare_key == key).collect();
    match bare.as_slice() {
        [column] => return Ok((column, None)),
        [] => {}
        several => return Err(ambiguous(several)),
    }
    let mut words = words::of(name);
    let last = words.pop().unwrap_or_default();
    let rest = words.concat();
    if let Some(unit) = measure::unit(&last).or_else(|| size_unit(&last)) {
        let fits: Vec<_> = columns()
            .filter(|column| column.bare_key == rest && takes(column, unit))
            .collect();
        match fits.as_slice() {
            [column] => return Ok((column, Some(unit))),
            [] => {}
            several => return Err(ambiguous(several)),
        }
    }
    Err(unknown(heading, &key, list))
}

/// A heading and the unit in brackets at its end.
fn parted(heading: &str) -> (&str, Option<&str>) {
    let heading = heading.trim();
    let inner = heading.strip_suffix([')', ']']);
    match inner.and_then(|inner| inner.rsplit_once(['(', '['])) {
        Some((name, unit)) if !name.trim().is_empty() => (name.trim(), Some(unit.trim())),
        _ => (heading, None),
    }
}

/// Sizes of conductors are texts with their unit; a heading may name it once.
fn size_unit(text: &str) -> Option<&'static Unit> {
    (text.eq_ignore_ascii_case("awg")).then_some(&measure::AWG)
}

fn takes(column: &Column, unit: &'static Unit) -> bool {
    match column.field.shape {
        Shape::Size => *unit == measure::AWG || measure::unit("mm2") == Some(unit),
        _ => column.unit().is_some_and(|own| unit.converts_to(own)),
    }
}

fn ambiguous(several: &[&Column]) -> Refused {
    let names: Vec<_> = several.iter().map(|column| column.heading()).collect();
    (
        "The heading may mean several fields.".to_owned(),
        names.join(", "),
        "Write the one that is meant.".to_owned(),
    )
}

fn unknown(heading: &str, key: &str, list: &ListOf) -> Refused {
    let near = nearest(
        key,
        list.columns
            .iter()
            .flat_map(|column| [column.whole_key.as_str(), column.bare_key.as_str()]),
    );
    let meant = near.and_then(|near| {
        list.columns
            .iter()
            .find(|column| column.whole_key == near || column.bare_key == near)
    });
    let next = match meant {
        Some(column) => format!(
            "Did you mean \"{}\"? Otherwise remove the column.",
            column.heading()
        ),
        None => "Rename the column after a field of the list, or remove it.".to_owned(),
    };
    let names: Vec<_> = list.columns.iter().map(Column::heading).collect();
    (
        format!(
            "A {} has no field \"{}\".",
            list.thing,
            super::table::shortened(heading)
        ),
        names.join(", "),
        next,
    )
}
