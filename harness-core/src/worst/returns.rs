//! Boats on which most comes back through one wire.
//!
//! A return that several loads share is held to the greatest currents of all of them at once,
//! whichever state each has its own in. Which loads come back through it hangs on the shape of the
//! wiring: so the heaviest boat is asked for in each shape.

use super::bounds::amps_at;
use super::candidates::{Candidates, Gathering};
use super::greatest::NOTHING;
use super::quantity::Quantity;
use super::search::Search;
use super::systems::System;
use crate::boats::{Condition, Way};
use crate::model::{BoatModel, Index, Load, Wire};
use crate::network::Behavior;
use crate::network::assembly::{Part, SourceCondition};
use crate::rules::{Finding, Outcome, Place, RETURN_CODE, counts_in_sum, most_together};
use std::collections::{BTreeMap, BTreeSet};

/// Numbers of conditions with whether they are met.
pub(super) type Held = Vec<(usize, bool)>;

/// Current of each load in one branch, with the number of its condition.
type Carried = BTreeMap<Index<Load>, (f64, Option<usize>)>;

/// Boats tried for one return before the search is ended (our practice: of a few loads that are
/// too large for each other about twenty).
const MOST_TRIED: usize = 200;

/// Volts at which currents are compared before any boat is solved (our practice: what loads are
/// rated for on most boats; only the order of the boats hangs on it).
pub(super) const USUAL_VOLTS: f64 = 12.0;

impl Gathering<'_> {
    /// The most that comes back through each wire, and each load on each way it comes back.
    pub(super) fn together_in_returns(&mut self) {
        for system in &self.systems.systems {
            self.each_comes_back(system);
        }
        let systems = &self.systems.systems;
        let nominal = |system: &&System| system.condition == SourceCondition::Nominal;
        let (boats, numbers) = (self.boats, self.numbers.clone());
        let number = |condition: &Condition| numbers.get(condition).copied();
        let mut collapsing: Vec<Search<'_>> = systems
            .iter()
            .filter(nominal)
            .filter_map(|system| Search::new(system, boats, &number).ok())
            .filter(|search| !search.is_bounded())
            .collect();
        let shapes: BTreeSet<Held> = systems.iter().map(|one| self.shape_of(one)).collect();
        let mut asked = BTreeSet::new();
        for shape in shapes {
            self.bound_together(&shape);
            let usual = self.come_back(&shape, &|_, behavior| amps_at(behavior, USUAL_VOLTS));
            // A load of constant power draws most where its volts are least.
            let low = self.come_back(&shape, &|load, behavior| {
                amps_at(behavior, self.least_volts(load).unwrap_or(USUAL_VOLTS))
            });
            let shared = usual.into_iter().chain(low);
            for (branch, loads) in shared.filter(|(_, loads)| loads.len() > 1) {
                let mut weights = vec![0.0; self.boats.conditions().len()];
                for (amps, number) in loads.into_values() {
                    if let Some(number) = number {
                        weights[number] += amps;
                    }
                }
                // Beside a load of unknown draw what comes back is not evaluated.
                for unmet in [Vec::new(), self.unknown_beside(branch, &shape)] {
                    let held = held_so(self.none_held(), shape.iter().copied().chain(unmet));
                    let bits: Vec<u64> = weights.iter().map(|weight| weight.to_bits()).collect();
                    let here = collapsing.iter_mut();
                    let here: Vec<&mut Search<'_>> = here
                        .filter(|search| search.system.branches.contains(&branch))
                        .collect();
                    if asked.insert((bits, held.clone(), here.len())) {
                        self.heaviest(&weights, &held, "current of a return");
                        self.heaviest_that_runs(&weights, &held, here);
                    }
                }
            }
        }
        self.most_comes_back();
    }

    /// Conditions of loads of unknown draw that share what flows in a branch, each unmet.
    pub(super) fn unknown_beside(&self, branch: usize, shape: &[(usize, bool)]) -> Held {
        let systems = self.of_shape(shape);
        let beside = systems.flat_map(|system| {
            let block = system.shared.of_branch(branch);
            let unknown = system.unknown.iter();
            unknown.filter(move |one| block.is_some_and(|at| system.passed(one).contains(&at)))
        });
        beside
            .filter_map(|unknown| Some((*self.numbers.get(&unknown.when)?, false)))
            .collect()
    }

    /// The systems there are while the wiring has this shape.
    fn of_shape(&self, shape: &[(usize, bool)]) -> impl Iterator<Item = &System> {
        let is_so = |(number, met): &(usize, bool)| !shape.contains(&(*number, !met));
        let systems = self.systems.systems.iter();
        systems.filter(move |system| self.shape_of(system).iter().all(is_so))
    }

    /// The heaviest boat on which all loads have an operating point: where some of them have none,
    /// what comes back is not known.
    fn heaviest_that_runs(
        &mut self,
        weights: &[f64],
        held: &[Option<bool>],
        mut collapsing: Vec<&mut Search<'_>>,
    ) {
        if collapsing.is_empty() {
            return;
        }
        let mut best: Option<(f64, Way)> = None;
        let mut open = vec![held.to_vec()];
        for _ in 0..MOST_TRIED {
            let Some(held) = open.pop() else { break };
            let found = self.boats.heaviest(weights, &held);
            let Some((most, way)) = self.found(found, "current of a return") else {
                continue;
            };
            if best.as_ref().is_some_and(|(known, _)| most <= *known) {
                continue;
            }
            let mut here = collapsing.iter_mut().filter(|search| search.is_of(&way));
            let failing = here.find_map(|search| search.solve(&way).is_none().then_some(search));
            let Some(failing) = failing else {
                best = Some((most, way));
                continue;
            };
            // What draws most may come back through other wires.
            let dividing = failing.drawing_most(|at| held[at].is_none() && way.met[at]);
            for met in [true, false] {
                open.extend(dividing.map(|at| {
                    let mut held = held.clone();
                    held[at] = Some(met);
                    held
                }));
            }
        }
        if !open.is_empty() {
            let told = "current of a return: too many boats whose loads have no operating point";
            self.found.unproven.push(told.to_owned());
        }
        if let Some((_, way)) = best {
            self.add(way);
        }
    }

    fn each_comes_back(&mut self, system: &System) {
        let shape = self.shape_of(system);
        for consumer in &system.loads {
            let mut fitted = shape.clone();
            fitted.extend(
                self.numbers
                    .get(&consumer.when)
                    .map(|number| (*number, true)),
            );
            // Beside a load of unknown draw what comes back is not evaluated.
            let passed = system.passed(consumer);
            let unknown = system.unknown.iter();
            let unknown = unknown.filter(|unknown| !system.passed(unknown).is_disjoint(&passed));
            let without =
                unknown.filter_map(|unknown| Some((*self.numbers.get(&unknown.when)?, false)));
            let known: Held = fitted.iter().copied().chain(without).collect();
            self.occurs(&fitted);
            self.occurs(&known);
        }
    }

    /// The least volts of a load at the nominal volts of its source, as searched for before.
    fn least_volts(&self, load: Index<Load>) -> Option<f64> {
        let (worst, _) = self.found.worst.get(&Quantity::Drop(load))?;
        let mut systems = self.systems.systems.iter();
        let nominal = systems.find_map(|system| {
            let consumer = system.loads.iter().find(|consumer| consumer.load == load)?;
            self.model.sources[system.sources[consumer.source].0].nominal
        })?;
        let volts = nominal.value() - worst.value;
        (volts > 0.0).then_some(volts)
    }

    /// What the loads behind each wire draw together at most, on every boat of a shape.
    fn bound_together(&mut self, shape: &[(usize, bool)]) {
        let draws = |load: Index<Load>, _: Behavior| match counts_in_sum(self.model, load) {
            true => self.draws.get(&load).copied().unwrap_or(f64::INFINITY),
            false => 0.0,
        };
        let held = held_so(self.none_held(), shape.iter().copied());
        let mut asked = BTreeMap::new();
        let shared = self.come_back(shape, &draws).into_iter();
        for (branch, loads) in shared.filter(|(_, loads)| loads.len() > 1) {
            let Part::Wire(wire) = self.assembly.branches[branch].part else {
                continue;
            };
            let (mut always, mut weights) = (0.0, vec![0.0; held.len()]);
            for (amps, number) in loads.values() {
                *number.map_or(&mut always, |number| &mut weights[number]) += amps;
            }
            // Wires in a row carry the same loads.
            let bits: Vec<u64> = weights.iter().map(|weight| weight.to_bits()).collect();
            let most = *asked.entry(bits).or_insert_with(|| {
                let is_bounded = weights.iter().all(|weight| weight.is_finite());
                match is_bounded.then(|| self.boats.heaviest(&weights, &held)) {
                    Some(Ok(found)) => found.map_or(0.0, |(most, _)| most),
                    None | Some(Err(_)) => f64::INFINITY,
                }
            });
            let most = always + most;
            let known = self.found.most_together.entry(wire).or_default();
            *known = known.max(most);
        }
    }

    /// What comes back through each branch while the wiring has this shape, where each load draws
    /// so much.
    fn come_back(
        &self,
        shape: &[(usize, bool)],
        draws: &dyn Fn(Index<Load>, Behavior) -> f64,
    ) -> BTreeMap<usize, Carried> {
        let mut branches: BTreeMap<usize, Carried> = BTreeMap::new();
        for system in self.of_shape(shape) {
            for (consumer, load) in system.loads.iter().zip(&system.network.network().loads) {
                let amps = draws(consumer.load, load.behavior);
                let number = self.numbers.get(&consumer.when).copied();
                for (branch, _) in &consumer.way {
                    let known = branches.entry(*branch).or_default();
                    let most = known.entry(consumer.load).or_insert((amps, number));
                    most.0 = most.0.max(amps);
                }
            }
        }
        branches
    }
}

impl Candidates {
    /// The returns that hold on the boats judged, but might not on another, as far as bounds tell.
    pub(super) fn unsure_returns(&self, model: &BoatModel, findings: &[Finding]) -> Option<String> {
        let returns = findings.iter().filter(|found| found.rule == RETURN_CODE);
        let mut holds: BTreeMap<Index<Wire>, bool> = BTreeMap::new();
        for found in returns {
            if let Place::Wire(wire) = found.place {
                *holds.entry(wire).or_insert(true) &= found.outcome == Outcome::Met;
            }
        }
        let met = holds
            .into_iter()
            .filter_map(|(wire, met)| met.then_some(wire));
        let unsure: Vec<Index<Wire>> = met
            .filter(|wire| {
                let most = self.most_together.get(wire).copied();
                let limit = most_together(model, *wire);
                most.zip(limit)
                    .is_some_and(|(most, limit)| most > limit.value() * (1.0 + NOTHING))
            })
            .collect();
        let first = unsure.first()?;
        Some(format!(
            "what comes back through {} wires, the first {}",
            unsure.len(),
            Place::Wire(*first).label(model)
        ))
    }
}

pub(super) fn held_so(
    mut held: Vec<Option<bool>>,
    so: impl Iterator<Item = (usize, bool)>,
) -> Vec<Option<bool>> {
    for (number, met) in so {
        held[number] = Some(met);
    }
    held
}
