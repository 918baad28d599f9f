//! Circuit list: each circuit with its device, switch, loads, wires and options.

use super::scope::{Scope, option_names};
use super::table::{Cell, Column, Sheet, Table};
use crate::model::{Circuit, Identified, Index};
use crate::study::Study;
use serde::Serialize;
use std::collections::BTreeSet;

/// One circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CircuitListRow {
    /// Circuit number.
    pub number: String,
    /// Name.
    pub name: Option<String>,
    /// What it does.
    pub function: Option<&'static str>,
    /// Device that protects it.
    pub device: Option<String>,
    /// Its kind.
    pub device_kind: Option<&'static str>,
    /// Rating of the device.
    pub rating_a: Option<f64>,
    /// Block and position of the device.
    pub position: Option<String>,
    /// Switch.
    pub switch: Option<String>,
    /// Its loads.
    pub loads: Vec<String>,
    /// Its wires.
    pub wires: Vec<String>,
    /// Colors of its feeds.
    pub feed_colors: Vec<String>,
    /// Boats that have it, in words.
    pub fitted_on: Vec<String>,
}

/// The rows, in stated order; circuits of which nothing is covered are left out.
pub fn rows(study: &Study, scope: &Scope) -> Vec<CircuitListRow> {
    let model = &study.model;
    let mut wires_of = vec![Vec::new(); model.circuits.len()];
    for (_, wire) in scope.wires(model) {
        if let Some(circuit) = wire.circuit {
            wires_of[circuit.number()].push(wire);
        }
    }
    let mut loads_of = vec![Vec::new(); model.circuits.len()];
    for (_, load) in model
        .loads
        .iter()
        .filter(|(_, load)| scope.has(&load.fitted_when))
    {
        if let Some(circuit) = load.circuit {
            loads_of[circuit.number()].push(load);
        }
    }
    let names = option_names(model);
    let row = |at: Index<Circuit>, circuit: &Circuit| {
        let (wires, loads) = (&wires_of[at.number()], &loads_of[at.number()]);
        let device = circuit.device.map(|device| &model.devices[device]);
        let fitted: BTreeSet<String> = loads
            .iter()
            .map(|load| load.fitted_when.words(&names))
            .collect();
        let colors: BTreeSet<String> = wires
            .iter()
            .filter(|wire| wire.role == Some(crate::model::Role::Feed))
            .filter_map(|wire| wire.color.clone())
            .collect();
        CircuitListRow {
            number: circuit.id.clone(),
            name: circuit.name.clone(),
            function: circuit.function.map(|function| function.word()),
            device: device.map(|device| device.id.clone()),
            device_kind: device.map(|device| device.kind.word()),
            rating_a: device
                .and_then(|device| device.rating)
                .map(|rating| rating.value()),
            position: device
                .and_then(|device| device.fitted_in)
                .map(|(block, position)| {
                    format!("{} position {position}", model.buses[block].id())
                }),
            switch: circuit
                .switch
                .map(|device| model.devices.id(device).to_owned()),
            loads: loads.iter().map(|load| load.id.clone()).collect(),
            wires: wires.iter().map(|wire| wire.id.clone()).collect(),
            feed_colors: colors.into_iter().collect(),
            fitted_on: fitted.into_iter().collect(),
        }
    };
    model
        .circuits
        .iter()
        .filter(|(at, _)| !wires_of[at.number()].is_empty() || !loads_of[at.number()].is_empty())
        .map(|(at, circuit)| row(at, circuit))
        .collect()
}

/// The sheet.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let columns = vec![
        Column::words("number", "Circuit"),
        Column::words("name", "Name"),
        Column::words("function", "Function"),
        Column::words("device", "Device"),
        Column::words("device_kind", "Kind"),
        Column::numbers("rating_a", "Rating, A"),
        Column::words("position", "Position"),
        Column::words("switch", "Switch"),
        Column::words("loads", "Loads"),
        Column::words("wires", "Wires"),
        Column::words("feed_colors", "Feed color"),
        Column::words("fitted_on", "Fitted on"),
    ];
    let rows = rows(study, scope)
        .into_iter()
        .map(|row| {
            vec![
                row.number.into(),
                Cell::stated(row.name),
                Cell::stated(row.function),
                Cell::or_none(row.device),
                Cell::or_none(row.device_kind),
                Cell::number(row.rating_a),
                Cell::or_none(row.position),
                Cell::or_none(row.switch),
                Cell::list(row.loads),
                Cell::list(row.wires),
                Cell::list(row.feed_colors),
                Cell::list(row.fitted_on),
            ]
        })
        .collect();
    Sheet {
        id: "circuit-list",
        title: "Circuit list".to_owned(),
        covers: scope.words(&study.model),
        conventions: vec![
            "A circuit runs from its protective device to its loads and back.".into(),
        ],
        tables: vec![Table {
            caption: "Circuits".to_owned(),
            columns,
            rows,
        }],
    }
}
