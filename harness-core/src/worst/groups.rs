//! Systems that share sources are searched together, each group apart from all others.
//!
//! What flows in one group does not hang on what flows in another, so groups are searched on all
//! processors, each from the same boats, and what one finds is the same whatever the others hold.

use super::candidates::Gathering;
use super::processors::on_all_processors;
use super::quantity::{Quantity, Questions};
use super::search::{NoWorst, Search, Worst};
use super::sum::Sum;
use super::systems::System;
use crate::boats::{Condition, Way};
use crate::model::{Index, OperatingState};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The greatest value of a quantity, and the state in which it is.
type Greatest = (Worst, Option<Index<OperatingState>>);

/// What the search of one group found.
#[derive(Debug, Default)]
struct Found {
    greatest: BTreeMap<Quantity, Greatest>,
    /// Boats to be judged whatever else is found.
    ways: Vec<Way>,
    proven: usize,
    unproven: Vec<String>,
    solves: usize,
}

impl Gathering<'_> {
    /// Searches all systems.
    pub(super) fn search(&mut self) {
        let groups = self.groups();
        let searched = |group: &Vec<&System>| Searching::new(self).of(group);
        let found: Vec<Found> = match self.boats.is_quick() {
            true => on_all_processors(&groups, |_, group| searched(group)),
            // Such questions learn from each other.
            false => groups.iter().map(searched).collect(),
        };
        for found in found {
            self.found.proven += found.proven;
            self.found.unproven.extend(found.unproven);
            self.found.solves += found.solves;
            for way in found.ways {
                self.add(way);
            }
            for (quantity, greatest) in found.greatest {
                keep(&mut self.found.worst, quantity, greatest);
            }
        }
    }

    /// The systems in groups, in their order: two that have a source in common are in one.
    fn groups(&self) -> Vec<Vec<&System>> {
        let systems = &self.systems.systems;
        let mut sharing = UnionFind::<usize>::new(self.model.sources.len());
        for system in systems {
            for pair in system.sources.windows(2) {
                sharing.union(pair[0].0.number(), pair[1].0.number());
            }
        }
        let mut groups: BTreeMap<Option<usize>, Vec<&System>> = BTreeMap::new();
        for system in systems {
            let first = system.sources.first();
            let group = first.map(|(source, ..)| sharing.find(source.number()));
            groups.entry(group).or_default().push(system);
        }
        groups.into_values().collect()
    }
}

/// The search of one group.
struct Searching<'g, 'a> {
    gathering: &'g Gathering<'a>,
    /// Boats that each search starts from.
    starts: Vec<Way>,
    /// Whether some search of this system met a boat without operating point.
    collapses: bool,
    found: Found,
}

impl<'g, 'a> Searching<'g, 'a> {
    fn new(gathering: &'g Gathering<'a>) -> Self {
        Self {
            gathering,
            starts: gathering.ways().to_vec(),
            collapses: false,
            found: Found::default(),
        }
    }

    fn of(mut self, group: &[&System]) -> Found {
        for system in group {
            self.system(system);
        }
        self.found
    }

    /// The greatest drops and currents of one system.
    fn system(&mut self, system: &System) {
        let gathering = self.gathering;
        let number = |condition: &Condition| gathering.numbers.get(condition).copied();
        let Some(mut search) = Search::new(system, gathering.boats, &number) else {
            // No boat, or nothing that could be solved: the boats judged show why.
            return;
        };
        self.unknown_loads(system, &search);
        let questions = Questions {
            model: gathering.model,
            assembly: gathering.assembly,
            numbers: &gathering.numbers,
        };
        // Wires in a row carry the same loads and have the same worst boat.
        let mut known: BTreeMap<_, Option<Worst>> = BTreeMap::new();
        questions.each(
            &mut search,
            &|_| true,
            &mut |search, quantity, sum, held| match known.entry((sum.bits(), held.to_vec())) {
                Entry::Vacant(new) => {
                    new.insert(self.search(search, quantity, sum, held));
                }
                Entry::Occupied(same) => {
                    if let Some(worst) = same.get().clone() {
                        keep(&mut self.found.greatest, quantity, (worst, system.state));
                    }
                }
            },
        );
        self.found.solves += search.solves();
        if std::mem::take(&mut self.collapses) {
            self.found.unproven.push(self.not_searched(system));
        }
    }

    /// Why what is worst in a system is known only of the boats that were judged.
    fn not_searched(&self, system: &System) -> String {
        let model = self.gathering.model;
        let sources = system.sources.iter();
        let sources: Vec<&str> = sources.map(|(at, ..)| model.sources.id(*at)).collect();
        let state = match system.state {
            Some(state) => format!(" in state \"{}\"", model.states[state].title()),
            None => String::new(),
        };
        format!(
            "some volts and currents behind {}{state}, {} volts: there are boats on which its loads \
             have no operating point",
            sources.join(", "),
            system.condition.word()
        )
    }

    /// Boats that have a load of unknown draw beside each other load of its system, in each shape.
    fn unknown_loads(&mut self, system: &System, search: &Search<'_>) {
        let shape = self.gathering.shape_of(system);
        for unknown in &system.unknown {
            let unknown = self.gathering.numbers.get(&unknown.when).copied();
            for load in 0..system.loads.len() {
                let both = [unknown, search.when(load)].into_iter().flatten();
                let asked: Vec<(usize, bool)> = both
                    .map(|number| (number, true))
                    .chain(shape.iter().copied())
                    .collect();
                self.occurs(&asked);
            }
        }
    }

    fn occurs(&mut self, asked: &[(usize, bool)]) {
        let known = self.gathering.ways().iter().chain(&self.found.ways);
        match self.gathering.with(asked, known) {
            Ok(way) => self.found.ways.extend(way),
            Err(why) => self.found.unproven.push(why),
        }
    }

    fn search(
        &mut self,
        search: &mut Search<'_>,
        quantity: Quantity,
        sum: &Sum,
        held: &[Option<bool>],
    ) -> Option<Worst> {
        let worst = match search.greatest(sum, held, &self.starts) {
            Ok(worst) => worst,
            Err(NoWorst::NoBoat) => return None,
            Err(NoWorst::Collapses(way)) => {
                self.found.ways.push(way);
                self.collapses = true;
                return None;
            }
            Err(NoWorst::NotEvaluated(why)) => {
                let words = quantity.words(self.gathering.model);
                self.found.unproven.push(format!("{words}: {why}"));
                return None;
            }
        };
        if worst.is_proven() {
            self.found.proven += 1;
        } else {
            let words = quantity.words(self.gathering.model);
            self.found.unproven.push(words);
        }
        if !self.starts.contains(&worst.way) {
            self.starts.push(worst.way.clone());
        }
        let greatest = (worst.clone(), search.system.state);
        keep(&mut self.found.greatest, quantity, greatest);
        Some(worst)
    }
}

fn keep(among: &mut BTreeMap<Quantity, Greatest>, quantity: Quantity, greatest: Greatest) {
    match among.entry(quantity) {
        Entry::Vacant(new) => {
            new.insert(greatest);
        }
        Entry::Occupied(mut known) if greatest.0.value > known.get().0.value => {
            known.insert(greatest);
        }
        Entry::Occupied(_) => {}
    }
}
