//! The most that comes back through each return of several loads, searched to its proof.
//!
//! What comes back through one return does not hang on what comes back through another that shares
//! no branch with it, so such returns are searched on all processors.

use super::candidates::Gathering;
use super::greatest::Worst;
use super::quantity::Questions;
use super::region::Among;
use super::returns::held_so;
use super::search::Search;
use super::systems::System;
use super::together::{ComeBack, Together};
use crate::boats::{Condition, Way};
use crate::model::{Index, Load};
use crate::network::assembly::{Part, SourceCondition};
use crate::rules::counts_in_sum;
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// What comes back through a wire.
#[derive(Default, PartialEq, Eq, PartialOrd, Ord)]
struct Return {
    /// The loads, counted or not.
    all: BTreeSet<Index<Load>>,
    /// Those that count and are evaluated.
    known: ComeBack,
    /// Whether some count and are not.
    has_unknown: bool,
}

/// What was found of returns that share branches.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Boats to be judged.
    ways: Vec<Way>,
    /// Branches with the most that comes back through each.
    most: Vec<(usize, Worst)>,
    /// Branches of which that is not known.
    unsure: BTreeSet<usize>,
    /// Questions that could not be answered.
    unproven: Vec<String>,
    solves: usize,
}

impl Gathering<'_> {
    /// Looks for the boat on which most comes back through each return of several loads.
    pub(super) fn most_comes_back(&mut self) {
        let parts = self.sharing_returns();
        let starts = self.judged_in_all().cloned().collect();
        let search = |part: &[&System], starts: &[Way]| self.returns_of(part, starts);
        let returned = self.search_each(&parts, starts, |candidates| &candidates.returned, search);
        let found = returned.found.clone();
        self.found.returned = returned;
        let mut unsure: BTreeSet<usize> = BTreeSet::new();
        for found in found {
            self.found.solves += found.solves;
            self.found.unproven.extend(found.unproven.iter().cloned());
            unsure.extend(&found.unsure);
            for way in &found.ways {
                self.add(way.clone());
            }
            for (branch, worst) in &found.most {
                self.holds_at_most(*branch, worst);
            }
        }
        if let Some(first) = unsure.first() {
            let first = self.assembly.branches[*first].part.label(self.model);
            let count = unsure.len();
            let wires = if count == 1 { "wire" } else { "wires" };
            self.found.unproven.push(format!(
                "how much comes back through {count} {wires}, the first {first}"
            ));
        }
    }

    /// The systems at nominal volts, those together whose loads come back through one branch.
    fn sharing_returns(&self) -> Vec<Vec<&System>> {
        let systems = self.systems.systems.iter();
        let nominal: Vec<&System> = systems
            .filter(|system| system.condition == SourceCondition::Nominal)
            .collect();
        let mut sharing = UnionFind::<usize>::new(nominal.len());
        let mut first: BTreeMap<usize, usize> = BTreeMap::new();
        for (at, system) in nominal.iter().enumerate() {
            for branch in system.loads.iter().flat_map(|load| load.back()) {
                sharing.union(*first.entry(branch).or_insert(at), at);
            }
        }
        let mut parts: BTreeMap<usize, Vec<&System>> = BTreeMap::new();
        for (at, system) in nominal.into_iter().enumerate() {
            parts.entry(sharing.find(at)).or_default().push(system);
        }
        parts.into_values().collect()
    }

    /// The most that comes back through the returns of some systems.
    fn returns_of(&self, systems: &[&System], starts: &[Way]) -> Found {
        let number = |condition: &Condition| self.numbers.get(condition).copied();
        let searches: Vec<Search<'_>> = systems
            .iter()
            .filter_map(|system| Search::new(system, self.boats, &number).ok())
            .collect();
        // Wires in a row carry the same loads.
        let mut returns: BTreeMap<Return, Vec<usize>> = BTreeMap::new();
        for (branch, returned) in self.loads_come_back(&searches) {
            returns.entry(returned).or_default().push(branch);
        }
        let mut found = Found::default();
        let mut together = Together::of(Among::all(self.boats), searches, starts);
        for (returned, branches) in returns {
            let free = self.none_held();
            let mut asked = BTreeSet::from([free.clone()]);
            // Beside a load of unknown draw what comes back is not evaluated.
            asked.extend(branches.iter().map(|branch| {
                let without = self.unknown_beside(*branch, &[]);
                held_so(self.none_held(), without.into_iter())
            }));
            for held in asked {
                match together.greatest(&returned.known, &held) {
                    Ok(None) => {}
                    Err(why) => found.unproven.push(format!("current of a return: {why}")),
                    Ok(Some(worst)) => {
                        if !worst.is_proven() {
                            found.unsure.extend(&branches);
                        }
                        if together.is_new(&worst.way) {
                            found.ways.push(worst.way.clone());
                        }
                        if held == free && !returned.has_unknown {
                            let each = branches.iter().map(|branch| (*branch, worst.clone()));
                            found.most.extend(each);
                        }
                    }
                }
            }
        }
        found.solves = together.solves();
        found
    }

    /// No boat has more than this come back through a wire.
    fn holds_at_most(&mut self, branch: usize, worst: &Worst) {
        if let Part::Wire(wire) = self.assembly.branches[branch].part {
            let known = self.found.most_together.entry(wire);
            let known = known.or_insert(f64::INFINITY);
            *known = known.min(worst.bound);
        }
    }

    /// The loads that come back through each wire, where there are several; those of an engine start
    /// do not count, and those behind an unknown resistance, or beside one, are not evaluated.
    fn loads_come_back(&self, searches: &[Search<'_>]) -> BTreeMap<usize, Return> {
        let questions = Questions {
            model: self.model,
            assembly: self.assembly,
            numbers: &self.numbers,
        };
        let mut branches: BTreeMap<usize, Return> = BTreeMap::new();
        for (place, search) in searches.iter().enumerate() {
            for (number, consumer) in search.system.loads.iter().enumerate() {
                let is_known = questions.known_boats(search, number).is_some();
                for branch in consumer.back() {
                    let returned = branches.entry(branch).or_default();
                    returned.all.insert(consumer.load);
                    if !counts_in_sum(self.model, consumer.load) {
                        continue;
                    }
                    if is_known {
                        let currents = returned.known.entry(consumer.load).or_default();
                        currents.push((place, number));
                    }
                    returned.has_unknown |= !is_known;
                }
            }
        }
        branches.retain(|branch, returned| {
            let part = self.assembly.branches[*branch].part;
            matches!(part, Part::Wire(_)) && returned.all.len() > 1 && !returned.known.is_empty()
        });
        branches
    }
}
