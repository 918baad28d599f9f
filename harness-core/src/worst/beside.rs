//! Boats on which a wire lies beside so many loaded conductors that it is allowed less.
//!
//! The allowance of a wire falls in steps with the number of loaded conductors in the fullest run
//! on its way. The boat with its greatest current need not be the one with most wires beside it;
//! so for each step the greatest current is looked for among the boats that reach the step.

use super::candidates::Gathering;
use super::quantity::{Quantity, carried};
use super::systems::{System, Systems};
use crate::boats::{Condition, Way};
use crate::model::{DcBundling, Index, OperatingState, Wire};
use crate::network::Behavior;
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::rules::Place;
use crate::tables::bundling::bundle_factor;
use std::collections::{BTreeMap, BTreeSet};

/// What flows on every boat, and what each condition adds.
type Amperes = (f64, Vec<f64>);

/// By how much a current may exceed what it is to the first order.
const FIRST_ORDER: f64 = 1.05;

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
        let mut asked: BTreeMap<_, Option<(f64, Way)>> = BTreeMap::new();
        for (wire, (always, weights)) in self.current_weights() {
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
                    let bits: Vec<u64> = weights.iter().map(|weight| weight.to_bits()).collect();
                    let key = (bits, (*run).clone(), step, self.of_wire(wire));
                    let counts = (run.by_condition.as_slice(), step - run.always);
                    let found = match asked.get(&key) {
                        Some(known) => known.clone(),
                        None => {
                            let found = self.boats.heaviest_with(&weights, counts, &held);
                            let found = self
                                .found(found, &format!("wires beside {}", part.label(self.model)));
                            asked.insert(key, found.clone());
                            found
                        }
                    };
                    if let Some((amps, way)) = found {
                        // Currents are told to the first order only: a boat that may be worse
                        // by so much is judged too.
                        let amps = always + amps;
                        if used(&way, amps) * FIRST_ORDER > most {
                            most = most.max(used(&way, amps));
                            self.add_for(Place::Wire(wire), way);
                        }
                    }
                }
            }
        }
    }

    /// Loaded conductors of each run, once for each state.
    fn loaded_runs(&self) -> BTreeMap<usize, Vec<Loaded>> {
        let mut runs: BTreeMap<usize, Vec<Loaded>> = BTreeMap::new();
        for wires in loaded(self.assembly, self.systems).into_values() {
            let mut here: BTreeMap<usize, Loaded> = BTreeMap::new();
            for (wire, condition) in wires {
                for leg in self.routing.path(wire).map_or(&[][..], |path| &path.legs) {
                    let run = here.entry(leg.run.number()).or_insert_with(|| Loaded {
                        always: 0,
                        by_condition: vec![0; self.boats.conditions().len()],
                    });
                    match self.numbers.get(&condition) {
                        Some(number) => run.by_condition[*number] += 1,
                        None => run.always += 1,
                    }
                }
            }
            for (run, loaded) in here {
                runs.entry(run).or_default().push(loaded);
            }
        }
        runs
    }

    /// What flows in each wire in each state on every boat, and what each condition adds, to the
    /// first order.
    fn current_weights(&self) -> Vec<(Index<Wire>, Amperes)> {
        let mut weights: BTreeMap<_, Amperes> = BTreeMap::new();
        for system in nominal(self.systems) {
            let amps: Vec<f64> = system
                .network
                .network()
                .loads
                .iter()
                .map(|load| match load.behavior {
                    Behavior::Current(amps) => amps.value(),
                    Behavior::Power(watts) => watts.value() / 12.0,
                    Behavior::Resistance(ohms) => 12.0 / ohms.value(),
                })
                .collect();
            let (branches, _) = carried(system);
            for (branch, carried) in system.branches.iter().zip(branches) {
                let Part::Wire(wire) = self.assembly.branches[*branch].part else {
                    continue;
                };
                let none = || (0.0, vec![0.0; self.boats.conditions().len()]);
                let entry = weights.entry((wire, system.state)).or_insert_with(none);
                for (load, factor) in carried.loads {
                    let amps = factor.abs() * amps[load];
                    match self.numbers.get(&system.loads[load].when) {
                        Some(when) => entry.1[*when] += amps,
                        None => entry.0 += amps,
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

fn nominal(systems: &Systems) -> impl Iterator<Item = &System> {
    let all = systems.systems.iter();
    all.filter(|system| system.condition == SourceCondition::Nominal)
}

/// In each state the boats on which each wire carries current: those with a load behind it.
pub(crate) fn loaded(
    assembly: &Assembly,
    systems: &Systems,
) -> BTreeMap<Option<Index<OperatingState>>, BTreeMap<Index<Wire>, Condition>> {
    let mut behind: BTreeMap<_, BTreeMap<Index<Wire>, BTreeSet<Condition>>> = BTreeMap::new();
    for system in nominal(systems) {
        // Where it is not known what a wire carries, the rules count it as loaded.
        for consumer in system.loads.iter().chain(&system.unknown) {
            for (branch, _) in &consumer.way {
                if let Part::Wire(wire) = assembly.branches[*branch].part {
                    let wires = behind.entry(system.state).or_default();
                    wires.entry(wire).or_default().insert(consumer.when.clone());
                }
            }
        }
    }
    let any = |conditions: BTreeSet<Condition>| {
        Condition::Any(conditions.into_iter().collect()).simplified()
    };
    behind
        .into_iter()
        .map(|(state, wires)| {
            let wires = wires.into_iter();
            (state, wires.map(|(wire, when)| (wire, any(when))).collect())
        })
        .collect()
}
