//! Cut list: pieces to cut, like with like, both ends made ready.

use super::ends::{EndRow, WhichEnd, end};
use super::scope::Scope;
use super::table::{Cell, Column, Sheet, Table};
use crate::conductor::finished_length_tolerance;
use crate::routing::Term;
use crate::study::Study;
use crate::tables::conductors;
use crate::units::Millimetres;
use serde::Serialize;
use std::collections::BTreeMap;

/// One kind of piece: wires of equal size, color, insulation and length whose ends are made
/// alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CutListRow {
    /// Place in the cutting order, from 1.
    pub item: usize,
    /// The wires cut so.
    pub wires: Vec<String>,
    /// Size.
    pub size: Option<String>,
    /// Color.
    pub color: Option<String>,
    /// Insulation class.
    pub insulation_degc: Option<f64>,
    /// Text printed on the wires, each with its number.
    pub legend: Vec<String>,
    /// Length to cut, or why there is none.
    pub cut_mm: Result<f64, String>,
    /// What the finished piece may be longer; never shorter.
    pub tolerance_plus_mm: Option<f64>,
    /// How many are cut for one boat's set.
    pub quantity: usize,
    /// First end of each wire.
    pub end_a: Vec<EndRow>,
    /// Second end of each wire.
    pub end_b: Vec<EndRow>,
    /// The terms of the length of each wire.
    pub terms: Vec<Vec<Term>>,
}

/// What makes two pieces the same, in cutting order: thick wire first, then color, then long
/// pieces first.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    area_rank: i64,
    size: Option<String>,
    color: Option<String>,
    insulation_tenths: Option<i64>,
    length_rank: i64,
    uncut: Option<String>,
    a: EndRow,
    b: EndRow,
}

/// The rows in cutting order.
pub fn rows(study: &Study, scope: &Scope) -> Vec<CutListRow> {
    let model = &study.model;
    let mut groups: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    let wires: Vec<_> = scope.wires(model).collect();
    for (place, (at, wire)) in wires.iter().enumerate() {
        let area = wire
            .size
            .and_then(conductors::row)
            .map_or(0.0, |row| row.area.value.value());
        let insulation = wire.stated_insulation.or(model.settings.insulation);
        let cut = study.routing.cut_length(*at);
        let key = Key {
            area_rank: -((area * 1e4).round() as i64),
            size: wire.size.map(|size| size.to_string()),
            color: wire.color.clone(),
            insulation_tenths: insulation.map(|class| (class.value() * 10.0).round() as i64),
            length_rank: cut.map_or(0, |cut| -((cut.total.value() * 10.0).round() as i64)),
            uncut: cut.err().map(ToString::to_string),
            a: end(model, wire, WhichEnd::From).preparation(),
            b: end(model, wire, WhichEnd::To).preparation(),
        };
        groups.entry(key).or_default().push(place);
    }
    groups
        .into_iter()
        .enumerate()
        .map(|(number, (key, places))| {
            let members: Vec<_> = places.iter().map(|place| wires[*place]).collect();
            let first = members[0].0;
            let cut = study.routing.cut_length(first);
            CutListRow {
                item: number + 1,
                wires: members.iter().map(|(_, wire)| wire.id.clone()).collect(),
                size: key.size,
                color: key.color,
                insulation_degc: key.insulation_tenths.map(|tenths| tenths as f64 / 10.0),
                legend: members
                    .iter()
                    .map(|(_, wire)| legend(study, wire))
                    .collect(),
                cut_mm: cut
                    .map(|cut| cut.total.value())
                    .map_err(ToString::to_string),
                tolerance_plus_mm: cut.ok().map(|cut| tolerance(cut.total).value()),
                quantity: members.len(),
                end_a: members
                    .iter()
                    .map(|(_, wire)| end(model, wire, WhichEnd::From))
                    .collect(),
                end_b: members
                    .iter()
                    .map(|(_, wire)| end(model, wire, WhichEnd::To))
                    .collect(),
                terms: members
                    .iter()
                    .filter_map(|(at, _)| study.routing.cut_length(*at).ok())
                    .map(|cut| cut.terms())
                    .collect(),
            }
        })
        .collect()
}

fn tolerance(length: Millimetres) -> Millimetres {
    finished_length_tolerance(length.metres()).value
}

/// Text printed on a wire: circuit number, circuit name, other end; our form of a label.
fn legend(study: &Study, wire: &crate::model::Wire) -> String {
    let model = &study.model;
    let circuit = wire.circuit.map(|at| &model.circuits[at]);
    let title = circuit.map_or_else(String::new, |circuit| match &circuit.name {
        Some(name) => format!("{} {}", circuit.id, name.to_uppercase()),
        None => circuit.id.clone(),
    });
    format!("{} {title}", wire.id).trim().to_owned()
}

/// The sheet.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let columns = vec![
        Column::numbers("item", "Item"),
        Column::words("wires", "Wires"),
        Column::words("size", "Size"),
        Column::words("color", "Color"),
        Column::numbers("insulation_degc", "Insulation, °C"),
        Column::words("legend", "Print on the wire"),
        Column::numbers("cut_mm", "Cut length, mm"),
        Column::numbers("tolerance_plus_mm", "Tolerance up (down none), mm"),
        Column::numbers("quantity", "Quantity"),
        Column::words("a_terminal", "End A: terminal"),
        Column::numbers("a_strip_mm", "A: strip, mm"),
        Column::words("a_seal", "A: seal"),
        Column::words("a_sleeve", "A: sleeve"),
        Column::words("a_goes_to", "A: goes to"),
        Column::words("b_terminal", "End B: terminal"),
        Column::numbers("b_strip_mm", "B: strip, mm"),
        Column::words("b_seal", "B: seal"),
        Column::words("b_sleeve", "B: sleeve"),
        Column::words("b_goes_to", "B: goes to"),
    ];
    let rows = rows(study, scope).into_iter().map(cells).collect();
    let step = study.model.settings.cut_step.value();
    Sheet {
        id: "cut-list",
        title: "Cut list".to_owned(),
        covers: scope.words(&study.model),
        conventions: vec![
            format!("Lengths from conductor tip to conductor tip, rounded up to {step} mm."),
            "Tolerance: never short; plus by length as in the table of finished lengths of \
             IPC/WHMA-A-620."
                .to_owned(),
            "In cutting order: thick wire first, then by color, then long pieces first.".to_owned(),
        ],
        tables: vec![Table {
            caption: "Pieces to cut".to_owned(),
            columns,
            rows,
        }],
    }
}

fn cells(row: CutListRow) -> Vec<Cell> {
    let mut cells = vec![
        Cell::Count(row.item as u64),
        Cell::list(row.wires),
        Cell::stated(row.size),
        Cell::stated(row.color),
        Cell::number(row.insulation_degc),
        Cell::list(row.legend),
        row.cut_mm.map_or_else(Cell::Text, Cell::Number),
        Cell::number(row.tolerance_plus_mm),
        Cell::Count(row.quantity as u64),
    ];
    for ends in [row.end_a, row.end_b] {
        let made = ends[0].clone();
        cells.push(Cell::stated(made.terminal.clone()));
        cells.push(Cell::number(made.strip_mm()));
        cells.push(Cell::or_none(made.seal));
        cells.push(Cell::or_none(made.sleeve));
        cells.push(Cell::list(
            ends.into_iter().map(|end| end.goes_to).collect(),
        ));
    }
    cells
}
