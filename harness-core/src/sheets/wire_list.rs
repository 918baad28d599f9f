//! Wire list: each wire from pin to pin, its path and its lengths.

use super::scope::{Scope, option_names};
use super::table::{Cell, Column, Sheet, Table};
use crate::model::{Index, Wire};
use crate::study::Study;
use serde::Serialize;

/// One wire.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WireListRow {
    /// Wire number.
    pub id: String,
    /// Circuit.
    pub circuit: Option<String>,
    /// Harness part.
    pub harness: Option<String>,
    /// What it carries.
    pub role: Option<&'static str>,
    /// Size.
    pub size: Option<String>,
    /// Color.
    pub color: Option<String>,
    /// Insulation class.
    pub insulation_degc: Option<f64>,
    /// Jacket or twisted group.
    pub cable: Option<String>,
    /// Pin it starts at.
    pub from: String,
    /// Pin it ends at.
    pub to: String,
    /// Runs it follows, or why it has none.
    pub path: Result<Vec<String>, String>,
    /// Length along the runs.
    pub routed_m: Option<f64>,
    /// Length to cut, or why there is none.
    pub cut_mm: Result<f64, String>,
    /// Boats that have it, in words.
    pub fitted_on: String,
}

/// The rows, in stated order.
pub fn rows(study: &Study, scope: &Scope) -> Vec<WireListRow> {
    let names = option_names(&study.model);
    scope
        .wires(&study.model)
        .map(|(at, wire)| row(study, at, wire, &names))
        .collect()
}

fn row(study: &Study, at: Index<Wire>, wire: &Wire, names: &[String]) -> WireListRow {
    let model = &study.model;
    let path = study.routing.path(at);
    WireListRow {
        id: wire.id.clone(),
        circuit: wire
            .circuit
            .map(|circuit| model.circuits.id(circuit).to_owned()),
        harness: wire
            .harness
            .map(|harness| model.harnesses.id(harness).to_owned()),
        role: wire.role.map(|role| role.word()),
        size: wire.size.map(|size| size.to_string()),
        color: wire.color.clone(),
        insulation_degc: wire
            .stated_insulation
            .or(model.settings.insulation)
            .map(|class| class.value()),
        cable: wire.cable.map(|cable| model.cables.id(cable).to_owned()),
        from: wire.from.label(model),
        to: wire.to.label(model),
        path: path
            .map(|path| {
                path.legs
                    .iter()
                    .map(|leg| model.runs.id(leg.run).to_owned())
                    .collect()
            })
            .map_err(ToString::to_string),
        routed_m: path.ok().map(|path| path.length.value()),
        cut_mm: study
            .routing
            .cut_length(at)
            .map(|cut| cut.total.value())
            .map_err(ToString::to_string),
        fitted_on: wire.fitted_when.words(names),
    }
}

/// The sheet.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let columns = vec![
        Column::words("id", "Wire"),
        Column::words("circuit", "Circuit"),
        Column::words("harness", "Harness"),
        Column::words("role", "Carries"),
        Column::words("size", "Size"),
        Column::words("color", "Color"),
        Column::numbers("insulation_degc", "Insulation, °C"),
        Column::words("cable", "In cable"),
        Column::words("from", "From"),
        Column::words("to", "To"),
        Column::words("path", "Path by runs"),
        Column::numbers("routed_m", "Routed length, m"),
        Column::numbers("cut_mm", "Cut length, mm"),
        Column::words("fitted_on", "Fitted on"),
    ];
    let rows = rows(study, scope)
        .into_iter()
        .map(|row| {
            vec![
                row.id.into(),
                Cell::stated(row.circuit),
                Cell::stated(row.harness),
                Cell::stated(row.role),
                Cell::stated(row.size),
                Cell::stated(row.color),
                Cell::number(row.insulation_degc),
                Cell::or_none(row.cable),
                row.from.into(),
                row.to.into(),
                row.path.map_or_else(Cell::Text, Cell::list),
                Cell::number(
                    row.routed_m
                        .map(|metres| (metres * 1000.0).round() / 1000.0),
                ),
                row.cut_mm.map_or_else(Cell::Text, Cell::Number),
                row.fitted_on.into(),
            ]
        })
        .collect();
    Sheet {
        id: "wire-list",
        title: "Wire list".to_owned(),
        covers: scope.words(&study.model),
        conventions: vec![
            "Ends are named equipment.pin.".to_owned(),
            "Routed length is the sum of the runs; cut length adds slack, twist and both ends and \
             is rounded up."
                .to_owned(),
        ],
        tables: vec![Table {
            caption: "Wires".to_owned(),
            columns,
            rows,
        }],
    }
}
