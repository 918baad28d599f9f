//! From the resolved model back to the records that are saved: mirrors `into_model`.

mod boat;
mod electrical;
mod joining;
mod wiring;
mod ordering;

use super::records::{ConditionRecord, ModelRecord};
use crate::model::{BoatModel, Condition, Identified, Index, OptionIndex, Table};
use crate::units::Ohms;

/// The records that state this model; reading them gives an equal model.
pub fn record(model: &BoatModel) -> ModelRecord {
    let from = From { model };
    ModelRecord {
        format_version: 1,
        name: model.name.clone(),
        about: model.about.clone(),
        settings: Some(boat::settings(&model.settings)),
        mouldings: list(&model.mouldings, boat::moulding),
        zones: list(&model.zones, |zone| from.zone(zone)),
        points: list(&model.points, |point| from.point(point)),
        runs: list(&model.runs, |run| from.run(run)),
        harnesses: list(&model.harnesses, |harness| from.harness(harness)),
        states: list(&model.states, ordering::state),
        options: list(&model.options, |option| from.option(option)),
        option_rules: model
            .option_rules
            .iter()
            .map(|rule| from.option_rule(rule))
            .collect(),
        terminal_parts: list(&model.terminal_parts, joining::terminal_part),
        connector_types: list(&model.connector_types, |part| from.connector_type(part)),
        sources: list(&model.sources, |source| from.source(source)),
        buses: list(&model.buses, |bus| from.bus(bus)),
        devices: list(&model.devices, |device| from.device(device)),
        loads: list(&model.loads, |load| from.load(load)),
        connectors: list(&model.connectors, |connector| from.connector(connector)),
        couplers: list(&model.couplers, |coupler| from.coupler(coupler)),
        splices: list(&model.splices, |splice| from.splice(splice)),
        circuits: list(&model.circuits, |circuit| from.circuit(circuit)),
        cables: list(&model.cables, wiring::cable),
        wires: list(&model.wires, |wire| from.wire(wire)),
        hulls: list(&model.hulls, |hull| from.hull(hull)),
    }
}

struct From<'m> {
    model: &'m BoatModel,
}

impl From<'_> {
    /// `None` for a thing on every boat.
    ///
    /// A condition that no boat can meet has no form in the file. It is written as an empty
    /// `any`, which the reader refuses: a fault is better than a boat with a part too many.
    fn condition(&self, condition: &Condition) -> Option<ConditionRecord> {
        match condition {
            Condition::Always => None,
            Condition::Option(option) => Some(ConditionRecord::Option(self.option_id(*option))),
            Condition::All(parts) => {
                let all: Vec<_> = parts
                    .iter()
                    .filter_map(|part| self.condition(part))
                    .collect();
                (!all.is_empty()).then_some(ConditionRecord::All { all })
            }
            Condition::Any(parts) => {
                let any: Option<Vec<_>> = parts.iter().map(|part| self.condition(part)).collect();
                Some(ConditionRecord::Any { any: any? })
            }
            Condition::Not(part) => Some(match self.condition(part) {
                Some(part) => ConditionRecord::Not {
                    not: Box::new(part),
                },
                None => ConditionRecord::Any { any: Vec::new() },
            }),
        }
    }

    fn option_id(&self, option: OptionIndex) -> String {
        self.model.options.id(Index::new(option.0)).to_owned()
    }

    fn option_ids(&self, options: &[OptionIndex]) -> Vec<String> {
        options.iter().map(|at| self.option_id(*at)).collect()
    }
}

fn list<T, R>(table: &Table<T>, record: impl Fn(&T) -> R) -> Vec<R> {
    table.iter().map(|(_, item)| record(item)).collect()
}

/// Short name of the one at a position.
fn id<T: Identified>(table: &Table<T>, at: Index<T>) -> String {
    table.id(at).to_owned()
}

/// Short name of the one at a position, where one is stated.
fn maybe<T: Identified>(table: &Table<T>, at: Option<Index<T>>) -> Option<String> {
    at.map(|at| id(table, at))
}

/// Short names of these.
fn each<T: Identified>(table: &Table<T>, at: &[Index<T>]) -> Vec<String> {
    at.iter().map(|at| id(table, *at)).collect()
}

/// The number in thousandths of its unit: the shortest decimal, from twelve digits up, that
/// divided by 1000 as the reader does gives the same number again. Every number that was read
/// has one; of others that have none the nearest is given.
fn thousandths(value: f64) -> f64 {
    let exact = value * 1000.0;
    (11..17)
        .filter_map(|digits| format!("{exact:.digits$e}").parse::<f64>().ok())
        .chain([exact.next_up(), exact.next_down()])
        .find(|decimal| decimal / 1000.0 == value)
        .unwrap_or(exact)
}

fn milliohms(resistance: Option<Ohms>) -> Option<f64> {
    resistance.map(|ohms| thousandths(ohms.value()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousandths_come_back_as_the_decimal_that_was_read() {
        for stated in [0.0, 0.1, 0.3, 1.1, 2.7, 4.35, 33.333, 0.000_123, 99_999.9] {
            assert_eq!(thousandths(stated / 1000.0), stated);
        }
        // Numbers of more digits still come back whole.
        let mut random = fastrand::Rng::with_seed(7);
        for _ in 0..10_000 {
            let ohms = random.f64() * 100_000.0 / 1000.0;
            assert_eq!(thousandths(ohms) / 1000.0, ohms);
        }
    }
}
