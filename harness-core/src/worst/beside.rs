//! Boats on which a wire lies beside so many loaded conductors that it is allowed less.
//!
//! The allowance of a wire falls in steps with the number of loaded conductors in the fullest run
//! on its way. The boat with its greatest current need not be the one with most wires beside it;
//! so for each step the greatest current is looked for among the boats that reach the step.

use super::candidates::Gathering;
use super::quantity::Quantity;
use super::search::at;
use crate::boats::Way;
use crate::model::{DcBundling, Index, Wire};
use crate::network::Behavior;
use crate::network::assembly::{Part, SourceCondition};
use crate::tables::bundling::bundle_factor;
use std::collections::{BTreeMap, BTreeSet};

/// Loaded conductors of one run in one state: on every boat, and by condition.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Loaded {
    always: u32,
    by_condition: Vec<u32>,
}

impl Loaded {
    fn on(&self, way: &Way) -> u32 {
        let met = self.by_condition.iter().zip(&way.met);
        let counted = met.filter(|(_, met)| **met).map(|(count, _)| count);
        self.always + counted.sum::<u32>()
    }

    fn most(&self) -> u32 {
        self.always + self.by_condition.iter().sum::<u32>()
    }
}

impl Gathering<'_> {
    /// Adds those boats that may be worse than the one with the greatest current.
    pub(super) fn beside_others(&mut self) {
        if self.model.settings.dc_bundling != DcBundling::ByCount {
            return;
        }
        let factor = |count: u32| bundle_factor(DcBundling::ByCount, count).value;
        let runs = self.loaded_runs();
        let mut asked = BTreeSet::new();
        for (wire, weights) in self.current_weights() {
            let part = Part::Wire(wire);
            let worst = [Quantity::Current(part), Quantity::CurrentBack(part)]
                .into_iter()
                .filter_map(|quantity| self.found.worst.get(&quantity))
                .max_by(|a, b| a.0.value.total_cmp(&b.0.value));
            let Some((worst, _)) = worst.cloned() else {
                continue;
            };
            let legs = self.routing.path(wire).map_or(&[][..], |path| &path.legs);
            let here: BTreeSet<&Loaded> = legs
                .iter()
                .filter_map(|leg| runs.get(&leg.run.number()))
                .flatten()
                .collect();
            let fullest = |way: &Way| here.iter().map(|run| run.on(way)).max().unwrap_or(1).max(1);
            let used = |way: &Way, amps: f64| amps / factor(fullest(way));
            let first_order = at(&weights, &worst.way.met).max(1e-9);
            let mut most = used(&worst.way, worst.value);
            let mut held = self.none_held();
            if let Some(number) = self.of_wire(wire) {
                held[number] = Some(true);
            }
            for run in &here {
                // Only where the factor falls is there a step.
                let steps = (2..=run.most()).filter(|count| factor(*count) < factor(count - 1));
                for step in steps.filter(|step| *step > run.always) {
                    // Not even the greatest current would be more than what is known.
                    if worst.value / factor(step) <= most * (1.0 + 1e-9) {
                        continue;
                    }
                    let key: (Vec<u64>, &Loaded, u32, Vec<Option<bool>>) = (
                        weights.iter().map(|weight| weight.to_bits()).collect(),
                        run,
                        step,
                        held.clone(),
                    );
                    if !asked.insert(format!("{key:?}")) {
                        continue;
                    }
                    let least = step - run.always;
                    let found =
                        self.firings
                            .heaviest_with(&weights, (&run.by_condition, least), &held);
                    if let Some((amps, way)) = found {
                        let amps = worst.value * amps / first_order;
                        if used(&way, amps) > most * (1.0 + 1e-9) {
                            most = used(&way, amps);
                            self.add(way);
                        }
                    }
                }
            }
        }
    }

    /// Loaded conductors of each run, once for each state.
    fn loaded_runs(&self) -> BTreeMap<usize, Vec<Loaded>> {
        // Conditions of the loads behind each wire, by state; `None` is on every boat.
        let mut behind: BTreeMap<_, BTreeMap<Index<Wire>, BTreeSet<Option<usize>>>> =
            BTreeMap::new();
        for system in &self.systems.systems {
            if system.condition != SourceCondition::Nominal {
                continue;
            }
            for consumer in &system.loads {
                let when = self.numbers.get(&consumer.when).copied();
                for (branch, _) in &consumer.way {
                    if let Part::Wire(wire) = self.assembly.branches[*branch].part {
                        let state = behind.entry(system.state).or_default();
                        state.entry(wire).or_default().insert(when);
                    }
                }
            }
        }
        let mut runs: BTreeMap<usize, Vec<Loaded>> = BTreeMap::new();
        for wires in behind.into_values() {
            let mut here: BTreeMap<usize, Loaded> = BTreeMap::new();
            for (wire, conditions) in wires {
                for leg in self.routing.path(wire).map_or(&[][..], |path| &path.legs) {
                    let run = here.entry(leg.run.number()).or_insert_with(|| Loaded {
                        always: 0,
                        by_condition: vec![0; self.firings.conditions().len()],
                    });
                    // Of several loads behind a wire the first stands for all.
                    match conditions.first() {
                        Some(Some(number)) => run.by_condition[*number] += 1,
                        _ => run.always += 1,
                    }
                }
            }
            for (run, loaded) in here {
                runs.entry(run).or_default().push(loaded);
            }
        }
        runs
    }

    /// What each condition adds to the current of each wire, to the first order.
    fn current_weights(&self) -> Vec<(Index<Wire>, Vec<f64>)> {
        let mut weights: BTreeMap<_, Vec<f64>> = BTreeMap::new();
        for system in &self.systems.systems {
            if system.condition != SourceCondition::Nominal {
                continue;
            }
            for (consumer, load) in system.loads.iter().zip(&system.network.network().loads) {
                let amps = match load.behavior {
                    Behavior::Current(amps) => amps.value(),
                    Behavior::Power(watts) => watts.value() / 12.0,
                    Behavior::Resistance(ohms) => 12.0 / ohms.value(),
                };
                let when = self.numbers.get(&consumer.when).copied();
                for (branch, _) in &consumer.way {
                    if let (Part::Wire(wire), Some(when)) =
                        (self.assembly.branches[*branch].part, when)
                    {
                        let none = || vec![0.0; self.firings.conditions().len()];
                        let key = (wire, system.state);
                        weights.entry(key).or_insert_with(none)[when] += amps;
                    }
                }
            }
        }
        weights
            .into_iter()
            .map(|((wire, _), weights)| (wire, weights))
            .collect()
    }
}
