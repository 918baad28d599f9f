//! From the saved records to the resolved model. The records have passed `check`, so every
//! reference is known; what is left to find is what only makes sense in units: pins that the
//! equipment does not have, halves that do not fit, places that no run reaches.

mod boat;
mod electrical;
mod joining;
mod wiring;
mod ordering;
mod pins;

use super::fault::{Fault, in_order, keep};
use super::records::{ConditionRecord, ModelRecord};
use crate::model::{BoatModel, Condition, Index, OptionIndex};
use std::collections::BTreeMap;

pub(super) use boat::NOWHERE;

/// The model of these records, or every fault found.
pub fn model(record: &ModelRecord) -> Result<BoatModel, Vec<Fault>> {
    let mut into = Into::new(record);
    let model = into.model();
    if into.faults.is_empty() {
        Ok(model)
    } else {
        Err(in_order(into.faults))
    }
}

/// The faults of meaning in records that will not be loaded, since other faults are known.
pub(super) fn faults(record: &ModelRecord) -> Vec<Fault> {
    let mut into = Into::new(record);
    into.model();
    into.faults
}

struct Into<'r> {
    record: &'r ModelRecord,
    positions: Positions,
    faults: Vec<Fault>,
}

/// Position of each id in its list.
#[derive(Default)]
struct Positions {
    mouldings: BTreeMap<String, usize>,
    zones: BTreeMap<String, usize>,
    points: BTreeMap<String, usize>,
    runs: BTreeMap<String, usize>,
    harnesses: BTreeMap<String, usize>,
    states: BTreeMap<String, usize>,
    options: BTreeMap<String, usize>,
    terminal_parts: BTreeMap<String, usize>,
    connector_types: BTreeMap<String, usize>,
    sources: BTreeMap<String, usize>,
    buses: BTreeMap<String, usize>,
    devices: BTreeMap<String, usize>,
    loads: BTreeMap<String, usize>,
    connectors: BTreeMap<String, usize>,
    splices: BTreeMap<String, usize>,
    circuits: BTreeMap<String, usize>,
    cables: BTreeMap<String, usize>,
    wires: BTreeMap<String, usize>,
}

macro_rules! positions_of {
    ($record:expr; $($list:ident),+) => {
        Positions { $( $list: $record.$list.iter().enumerate()
            .map(|(number, item)| (item.id.clone(), number)).collect(), )+ }
    };
}

impl<'r> Into<'r> {
    fn new(record: &'r ModelRecord) -> Self {
        let positions = positions_of!(record; mouldings, zones, points, runs, harnesses, states,
            options, terminal_parts, connector_types, sources, buses, devices, loads, connectors,
            splices, circuits, cables, wires);
        Self {
            record,
            positions,
            faults: Vec::new(),
        }
    }

    fn fault(&mut self, pointer: String, detail: String, given: &str, limit: &str) {
        let given = given.to_owned();
        let fault = Fault {
            pointer,
            detail,
            given,
            limit: limit.to_owned(),
        };
        keep(&mut self.faults, fault);
    }

    fn model(&mut self) -> BoatModel {
        BoatModel {
            name: self.record.name.clone(),
            about: self.record.about.clone(),
            settings: self.settings(),
            mouldings: self.mouldings(),
            zones: self.zones(),
            points: self.points(),
            runs: self.runs(),
            harnesses: self.harnesses(),
            states: self.states(),
            options: self.options(),
            option_rules: self.option_rules(),
            terminal_parts: self.terminal_parts(),
            connector_types: self.connector_types(),
            sources: self.sources(),
            buses: self.buses(),
            devices: self.devices(),
            loads: self.loads(),
            connectors: self.connectors(),
            couplers: self.couplers(),
            splices: self.splices(),
            circuits: self.circuits(),
            cables: self.cables(),
            wires: self.wires(),
            hulls: self.hulls(),
        }
    }

    fn condition(&self, record: &Option<ConditionRecord>) -> Condition {
        record
            .as_ref()
            .map_or(Condition::Always, |record| self.condition_of(record))
    }

    fn condition_of(&self, record: &ConditionRecord) -> Condition {
        let each = |parts: &[ConditionRecord]| {
            parts
                .iter()
                .map(|part| self.condition_of(part))
                .collect::<Vec<_>>()
        };
        match record {
            ConditionRecord::Option(id) => Condition::Option(self.option(id)),
            ConditionRecord::All { all } => Condition::All(each(all)),
            ConditionRecord::Any { any } => Condition::Any(each(any)),
            ConditionRecord::Not { not } => Condition::Not(Box::new(self.condition_of(not))),
        }
    }

    fn option(&self, id: &str) -> OptionIndex {
        OptionIndex(at::<()>(&self.positions.options, id).number())
    }

    fn option_list(&self, ids: &[String]) -> Vec<OptionIndex> {
        ids.iter().map(|id| self.option(id)).collect()
    }
}

/// Position of a known id.
fn at<T>(positions: &BTreeMap<String, usize>, id: &str) -> Index<T> {
    Index::new(positions.get(id).copied().unwrap_or(usize::MAX))
}

/// Position of a known id, where one is stated.
fn maybe<T>(positions: &BTreeMap<String, usize>, id: &Option<String>) -> Option<Index<T>> {
    id.as_ref().map(|id| at(positions, id))
}

/// Positions of known ids.
fn each<T>(positions: &BTreeMap<String, usize>, ids: &[String]) -> Vec<Index<T>> {
    ids.iter().map(|id| at(positions, id)).collect()
}
