//! Cavity tables: every cavity of every connector, none left blank.

use super::ends::{WhichEnd, end, stated};
use super::scope::{Scope, option_names};
use super::table::{Cell, Column, Sheet, Table};
use crate::model::{BoatModel, CavityUse, Connector, Identified, Index, Pin, Wire};
use crate::study::Study;
use serde::Serialize;
use std::collections::BTreeMap;

/// What a cavity holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Holds {
    /// These wires; two in one cavity are a fault that a rule reports, never two on a boat.
    Wires(Vec<String>),
    /// A plug.
    Plug,
    /// Empty on purpose.
    EmptyByDesign,
    /// Kept for later.
    Spare,
    /// Wires of other boats only.
    OtherBoats(Vec<String>),
    /// Nobody has decided.
    Undecided,
}

impl Holds {
    /// The state as printed.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Wires(_) => "wire",
            Self::Plug => "plug",
            Self::EmptyByDesign => "empty by design",
            Self::Spare => "spare",
            Self::OtherBoats(_) => "option only: not on this boat",
            Self::Undecided => "UNDECIDED",
        }
    }
}

/// One cavity.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CavityRow {
    /// Cavity number.
    pub cavity: u32,
    /// What it holds.
    pub holds: Holds,
    /// Circuit of the wire.
    pub circuit: Option<String>,
    /// Size of the wire.
    pub size: Option<String>,
    /// Color of the wire.
    pub color: Option<String>,
    /// Contact part.
    pub contact: Option<String>,
    /// Seal on the wire, or plug part.
    pub seal_or_plug: Option<String>,
    /// Boats on which the wire is fitted.
    pub fitted_on: Option<String>,
    /// Other end of the wire.
    pub other_end: Option<String>,
}

/// One connector with all its cavities.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CavityTable {
    /// The connector.
    pub connector: String,
    /// Its part.
    pub part: String,
    /// Which half it is, by its contacts.
    pub contacts: Option<&'static str>,
    /// Face from which cavities are numbered.
    pub view_face: Option<&'static str>,
    /// What it mates with.
    pub mates_with: Option<String>,
    /// Every cavity from 1.
    pub rows: Vec<CavityRow>,
}

/// One end of a wire.
type EndOf<'m> = (&'m Wire, WhichEnd);

/// The tables, in stated order of the connectors.
pub fn tables(study: &Study, scope: &Scope) -> Vec<CavityTable> {
    let model = &study.model;
    let mut wires: BTreeMap<(Index<Connector>, u32), Vec<EndOf>> = BTreeMap::new();
    for (_, wire) in model.wires.iter() {
        for which in [WhichEnd::From, WhichEnd::To] {
            if let (Pin::Cavity(connector, cavity), _) = stated(wire, which) {
                wires
                    .entry((connector, cavity))
                    .or_default()
                    .push((wire, which));
            }
        }
    }
    let covered = |connector: &Connector| {
        scope.has(&connector.fitted_when)
            && (scope.harness.is_none() || connector.harness == scope.harness)
    };
    model
        .connectors
        .iter()
        .filter(|(_, connector)| covered(connector))
        .map(|(at, connector)| {
            let part = &model.connector_types[connector.connector_type];
            let none = Vec::new();
            let rows = (1..=part.cavities)
                .map(|cavity| {
                    let here = wires.get(&(at, cavity)).unwrap_or(&none);
                    cavity_row(model, scope, connector, cavity, here)
                })
                .collect();
            CavityTable {
                connector: connector.id.clone(),
                part: part.id.clone(),
                contacts: connector.contacts.map(|contacts| contacts.word()),
                view_face: part.view_face.map(|face| face.word()),
                mates_with: mates_with(model, at),
                rows,
            }
        })
        .collect()
}

fn mates_with(model: &BoatModel, at: Index<Connector>) -> Option<String> {
    let coupled = model.couplers.iter().find_map(|(_, coupler)| {
        let other = match at {
            at if at == coupler.first => coupler.second,
            at if at == coupler.second => coupler.first,
            _ => return None,
        };
        Some(format!(
            "{} (coupler {})",
            model.connectors.id(other),
            coupler.id()
        ))
    });
    let plugged = model.connectors[at].plugs_into.as_ref();
    coupled.or_else(|| Some(plugged?.equipment.id(model).to_owned()))
}

fn cavity_row(
    model: &BoatModel,
    scope: &Scope,
    connector: &Connector,
    cavity: u32,
    wires: &[EndOf],
) -> CavityRow {
    let part = &model.connector_types[connector.connector_type];
    let ids = |wires: &[&EndOf]| {
        wires
            .iter()
            .map(|(wire, _)| wire.id.clone())
            .collect::<Vec<_>>()
    };
    let fitted: Vec<_> = wires
        .iter()
        .filter(|(wire, _)| scope.has(&wire.fitted_when))
        .collect();
    let decided = connector.cavities.get(&cavity);
    let holds = match (fitted.is_empty(), decided) {
        (false, _) => Holds::Wires(ids(&fitted)),
        (true, Some(CavityUse::Plug)) => Holds::Plug,
        (true, Some(CavityUse::EmptyByDesign)) => Holds::EmptyByDesign,
        (true, Some(CavityUse::Spare)) => Holds::Spare,
        (true, None) if !wires.is_empty() => {
            Holds::OtherBoats(ids(&wires.iter().collect::<Vec<_>>()))
        }
        (true, None) => Holds::Undecided,
    };
    let first = fitted.first();
    let made = first.map(|(wire, which)| end(model, wire, *which));
    let plug = matches!(holds, Holds::Plug | Holds::Spare | Holds::OtherBoats(_))
        .then(|| part.cavity_plug.clone())
        .flatten();
    let other = |wire: &Wire, which: WhichEnd| match which {
        WhichEnd::From => wire.to.label(model),
        WhichEnd::To => wire.from.label(model),
    };
    CavityRow {
        cavity,
        circuit: first
            .and_then(|(wire, _)| wire.circuit.map(|at| model.circuits.id(at).to_owned())),
        size: first.and_then(|(wire, _)| wire.size.map(|size| size.to_string())),
        color: first.and_then(|(wire, _)| wire.color.clone()),
        contact: made.as_ref().and_then(|made| made.terminal.clone()),
        seal_or_plug: made.and_then(|made| made.seal).or(plug),
        fitted_on: wires
            .first()
            .map(|(wire, _)| wire.fitted_when.words(&option_names(model))),
        other_end: first.map(|(wire, which)| other(wire, *which)),
        holds,
    }
}

/// The sheet: one table a connector.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let tables = tables(study, scope).into_iter().map(table).collect();
    Sheet {
        id: "cavity-tables",
        title: "Cavity tables".to_owned(),
        covers: scope.words(&study.model),
        conventions: vec![
            "Cavities are numbered as seen from the face named with each connector.".to_owned(),
            "A cavity is: wire, plug, empty by design, spare, or option only. None is blank."
                .to_owned(),
        ],
        tables,
    }
}

fn table(stated: CavityTable) -> Table {
    let columns = vec![
        Column::words("connector", "Connector"),
        Column::numbers("cavity", "Cavity"),
        Column::words("holds", "Holds"),
        Column::words("wires", "Wire"),
        Column::words("circuit", "Circuit"),
        Column::words("size", "Size"),
        Column::words("color", "Color"),
        Column::words("contact", "Contact"),
        Column::words("seal_or_plug", "Seal or plug"),
        Column::words("other_end", "Other end"),
        Column::words("fitted_on", "Wire fitted on"),
    ];
    let caption = format!(
        "{}: {}, {}, seen from the {} face, mates with {}",
        stated.connector,
        stated.part,
        stated
            .contacts
            .map_or("half not stated", |contacts| if contacts == "pin" {
                "half with pins"
            } else {
                "half with sockets"
            }),
        stated.view_face.unwrap_or("NOT STATED"),
        stated.mates_with.as_deref().unwrap_or("nothing stated"),
    );
    let connector = stated.connector;
    let rows = stated
        .rows
        .into_iter()
        .map(|row| {
            let wires = match &row.holds {
                Holds::Wires(wires) | Holds::OtherBoats(wires) => wires.clone(),
                _ => Vec::new(),
            };
            vec![
                connector.clone().into(),
                Cell::Count(u64::from(row.cavity)),
                row.holds.word().into(),
                Cell::list(wires),
                Cell::or_none(row.circuit),
                Cell::or_none(row.size),
                Cell::or_none(row.color),
                Cell::or_none(row.contact),
                Cell::or_none(row.seal_or_plug),
                Cell::or_none(row.other_end),
                Cell::or_none(row.fitted_on),
            ]
        })
        .collect();
    Table {
        caption,
        columns,
        rows,
    }
}
