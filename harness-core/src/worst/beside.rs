//! Boats on which a wire lies beside so many loaded conductors that it is allowed less.
//!
//! The allowance of a wire falls in steps with the number of loaded conductors in the fullest run
//! on its way. The boat with its greatest current need not be the one with most wires beside it;
//! so for each step the greatest current is looked for among the boats that reach the step.

use super::bounds::amps_at;
use super::candidates::Gathering;
use super::quantity::{Quantity, carried};
use super::returns::USUAL_VOLTS;
use super::search::{NOTHING, at};
use super::systems::{System, Systems, met_so};
use crate::boats::{Condition, Way};
use crate::model::{DcBundling, Index, OperatingState, Wire};
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::rules::Place;
use crate::tables::bundling::bundle_factor;
use std::collections::{BTreeMap, BTreeSet};

/// What flows in a wire in one state, on the boats on which its system has one shape.
struct Flow {
    state: Option<Index<OperatingState>>,
    /// Numbers of conditions, with whether they are met.
    shape: Vec<(usize, bool)>,
    /// What flows on every such boat, and what each condition adds.
    always: f64,
    weights: Vec<f64>,
}

impl Flow {
    /// What flows on a boat to the first order; nothing where its system has another shape.
    fn on(&self, way: &Way) -> f64 {
        match self
            .shape
            .iter()
            .all(|(number, met)| way.met[*number] == *met)
        {
            true => self.always + at(&self.weights, &way.met),
            false => 0.0,
        }
    }

    /// The same the other way.
    fn turned(&self, sign: f64) -> Self {
        Self {
            state: self.state,
            shape: self.shape.clone(),
            always: sign * self.always,
            weights: self.weights.iter().map(|weight| sign * weight).collect(),
        }
    }
}

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
        for (wire, flows) in self.current_weights() {
            let part = Part::Wire(wire);
            let legs = self.routing.path(wire).map_or(&[][..], |path| &path.legs);
            let here: BTreeSet<&Loaded> = legs
                .iter()
                .filter_map(|leg| runs.get(&leg.run.number()))
                .flatten()
                .collect();
            let fullest = |way: &Way| here.iter().map(|run| run.on(way)).max().unwrap_or(1).max(1);
            let used = |way: &Way, amps: f64| amps / factor(fullest(way));
            let worst = |quantity| self.found.worst.get(&quantity).cloned();
            let worst: Vec<_> = [
                (Quantity::Current(part), 1.0),
                (Quantity::CurrentBack(part), -1.0),
            ]
            .into_iter()
            .filter_map(|(quantity, sign)| Some((worst(quantity)?, sign)))
            .collect();
            let known = worst
                .iter()
                .map(|((worst, _), _)| used(&worst.way, worst.value));
            let mut most = known.fold(0.0, f64::max);
            for ((worst, state), sign) in worst {
                let flows: Vec<Flow> = flows.iter().map(|flow| flow.turned(sign)).collect();
                // What a current is to the first order is off by about as much on all boats.
                let here_most = flows.iter().filter(|flow| flow.state == state);
                let first_order = here_most
                    .map(|flow| flow.on(&worst.way))
                    .fold(0.0, f64::max);
                let off = match first_order > 0.0 {
                    true => worst.value / first_order,
                    false => 1.0,
                };
                for flow in &flows {
                    let mut held = self.none_held();
                    let own = self.of_wire(wire).map(|number| (number, true));
                    for (number, met) in flow.shape.iter().copied().chain(own) {
                        held[number] = Some(met);
                    }
                    for run in &here {
                        // Only where the factor falls is there a step.
                        let steps =
                            (2..=run.most()).filter(|count| factor(*count) < factor(count - 1));
                        for step in steps.filter(|step| *step > run.always) {
                            // Not even the greatest current would be more than what is known.
                            if worst.value / factor(step) <= most * (1.0 + 1e-9) {
                                continue;
                            }
                            let bits: Vec<u64> = flow.weights.iter().map(|w| w.to_bits()).collect();
                            let key = (bits, (*run).clone(), step, held.clone());
                            let counts = (run.by_condition.as_slice(), step - run.always);
                            let found = match asked.get(&key) {
                                Some(known) => known.clone(),
                                None => {
                                    let boats = self.boats;
                                    let found = boats.heaviest_with(&flow.weights, counts, &held);
                                    let what = format!("wires beside {}", part.label(self.model));
                                    let found = self.found(found, &what);
                                    asked.insert(key, found.clone());
                                    found
                                }
                            };
                            if let Some((amps, way)) = found {
                                // A boat that may be worse by as much as the first order is off is
                                // judged too.
                                let amps = off * (flow.always + amps);
                                if used(&way, amps) * FIRST_ORDER > most {
                                    most = most.max(used(&way, amps));
                                    self.add_for(Place::Wire(wire), way);
                                }
                            }
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
    /// first order, from its first end to its other.
    fn current_weights(&self) -> BTreeMap<Index<Wire>, Vec<Flow>> {
        let mut wires: BTreeMap<Index<Wire>, Vec<Flow>> = BTreeMap::new();
        for system in nominal(self.systems) {
            let loads = system.network.network().loads.iter();
            let amps: Vec<f64> = loads
                .map(|load| amps_at(load.behavior, USUAL_VOLTS))
                .collect();
            let shape = self.shape_of(system);
            let (branches, _) = carried(system);
            for (branch, carried) in system.branches.iter().zip(branches) {
                let Part::Wire(wire) = self.assembly.branches[*branch].part else {
                    continue;
                };
                let mut flow = Flow {
                    state: system.state,
                    shape: shape.clone(),
                    always: carried.constant,
                    weights: vec![0.0; self.boats.conditions().len()],
                };
                for (load, factor) in carried.loads {
                    let amps = factor * amps[load];
                    match self.numbers.get(&system.loads[load].when) {
                        Some(when) => flow.weights[*when] += amps,
                        None => flow.always += amps,
                    }
                }
                wires.entry(wire).or_default().push(flow);
            }
        }
        wires
    }
}

fn nominal(systems: &Systems) -> impl Iterator<Item = &System> {
    let all = systems.systems.iter();
    all.filter(|system| system.condition == SourceCondition::Nominal)
}

/// In each state the boats on which each wire carries current: those with a load behind it, and
/// where currents have several ways or sources give to each other, all that some of it passes.
pub(crate) fn loaded(
    assembly: &Assembly,
    systems: &Systems,
) -> BTreeMap<Option<Index<OperatingState>>, BTreeMap<Index<Wire>, Condition>> {
    let mut behind: BTreeMap<_, BTreeMap<Index<Wire>, BTreeSet<Condition>>> = BTreeMap::new();
    for system in nominal(systems) {
        let in_shape = met_so(Condition::Always, &system.shape);
        let wires = behind.entry(system.state).or_default();
        let mut carries = |branch: usize, when: Condition| {
            if let Part::Wire(wire) = assembly.branches[branch].part {
                wires.entry(wire).or_default().insert(when);
            }
        };
        let shared = &system.shared;
        for consumer in system.loads.iter().chain(&system.unknown) {
            let when = in_shape.and(&consumer.when);
            for (branch, _) in &consumer.way {
                carries(*branch, when.clone());
            }
        }
        // Where it is not known what a wire carries, the rules count it as loaded.
        let unsure = |block: &usize| shared.unsure().contains_key(block);
        let known = system.loads.iter().map(|consumer| (consumer, true));
        let unknown = system.unknown.iter().map(|consumer| (consumer, false));
        for (consumer, is_known) in known.chain(unknown) {
            let when = in_shape.and(&consumer.when);
            let passed = system.passed(consumer).into_iter();
            for block in passed.filter(|block| !is_known || unsure(block)) {
                for branch in shared.branches_of(block) {
                    carries(branch, when.clone());
                }
            }
        }
        for block in shared
            .unsure()
            .keys()
            .filter(|block| shared.is_driven(**block))
        {
            for branch in shared.branches_of(*block) {
                carries(branch, in_shape.clone());
            }
        }
        if system.network.has_one_way() {
            continue;
        }
        let (branches, _) = carried(system);
        for (branch, carried) in system.branches.iter().zip(branches) {
            for (load, _) in carried.loads {
                carries(*branch, in_shape.and(&system.loads[load].when));
            }
            if carried.constant.abs() > NOTHING {
                carries(*branch, in_shape.clone());
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
