//! Systems that share sources are searched together, each group apart from all others.
//!
//! What flows in one group does not hang on what flows in another, so groups are searched on all
//! processors, each from the same boats, and what one finds is the same whatever the others hold.

use super::beside::Bundles;
use super::candidates::Gathering;
use super::greatest::{NoWorst, Worst};
use super::quantity::{Quantity, Questions};
use super::search::Search;
use super::sum::Sum;
use super::systems::System;
use crate::boats::{Condition, Way};
use crate::model::{Index, Load, OperatingState, Wire};
use crate::network::assembly::SourceCondition;
use crate::rules::Place;
use crate::working::NotEvaluated;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// The greatest value of a quantity, and the state in which it is.
type Greatest = (Worst, Option<Index<OperatingState>>);

/// What the search of one group found.
#[derive(Debug, Default)]
pub(super) struct Found {
    pub greatest: BTreeMap<Quantity, Greatest>,
    /// Quantities that could not be searched in some state, with the reason.
    pub missing: BTreeMap<Quantity, NotEvaluated>,
    /// Boats to be judged whatever else is found.
    ways: Vec<Way>,
    /// Boats on which a wire lies beside so many that it is allowed less.
    pub beside: Vec<(Place, Way)>,
    /// Wires whose current could not be searched.
    pub open: BTreeSet<Place>,
    /// Wires for which a boat may be worse than those found, with how many others lie beside them.
    pub unsure: BTreeSet<Place>,
    /// What each load draws at most at nominal volts; infinite where that could not be bounded.
    draws: BTreeMap<Index<Load>, f64>,
    proven: usize,
    unproven: Vec<String>,
    solves: usize,
}

impl Gathering<'_> {
    /// Searches all systems.
    pub(super) fn search(&mut self) {
        let groups = self.systems.groups(self.model.sources.len());
        let bundles = Bundles::of(self);
        let search = |group: &[&System], starts: &[Way]| {
            Searching::new(self, starts).of(group, bundles.as_ref())
        };
        let searched = self.search_each(
            &groups,
            self.ways().to_vec(),
            |candidates| &candidates.searched,
            search,
        );
        let found = searched.found.clone();
        self.found.searched = searched;
        let mut unsure: BTreeSet<Place> = BTreeSet::new();
        for found in found {
            self.found.proven += found.proven;
            self.found.unproven.extend(found.unproven.iter().cloned());
            self.found.solves += found.solves;
            for way in &found.ways {
                self.add(way.clone());
            }
            self.beside.extend(found.beside.iter().cloned());
            self.open.extend(&found.open);
            // A load may be fed by one group in one state and by another in the next.
            for (load, most) in &found.draws {
                let known = self.draws.entry(*load).or_default();
                *known = known.max(*most);
            }
            unsure.extend(&found.unsure);
            for (quantity, greatest) in &found.greatest {
                keep(&mut self.found.worst, *quantity, greatest.clone());
            }
            let missing = found.missing.iter();
            let missing = missing.map(|(quantity, why)| (*quantity, why.clone()));
            self.found.missing.extend(missing);
        }
        if let Some(first) = unsure.first() {
            self.found.unproven.push(format!(
                "currents of {} wires beside others, the first {}",
                unsure.len(),
                first.label(self.model)
            ));
        }
        self.open.extend(unsure);
    }
}

/// A sum and the boats among which it is greatest, by what makes them the same.
pub(super) type Asked = (Vec<u64>, Vec<Option<bool>>);

/// A system with what was found of it.
pub(super) struct OneSystem<'s> {
    pub search: Search<'s>,
    /// What each sum is at most, on the boats so held: wires in a row carry the same loads and have
    /// the same worst boat.
    pub known: BTreeMap<Asked, Result<Worst, NoWorst>>,
}

/// The search of one group.
pub(super) struct Searching<'g, 'a> {
    pub gathering: &'g Gathering<'a>,
    /// Boats that each search starts from.
    pub starts: Vec<Way>,
    /// How near each wire comes to what it is allowed on the boats found so far.
    pub used: BTreeMap<Index<Wire>, f64>,
    /// Whether some search of this system met a boat without operating point.
    collapses: bool,
    pub found: Found,
}

impl<'g, 'a> Searching<'g, 'a> {
    fn new(gathering: &'g Gathering<'a>, starts: &[Way]) -> Self {
        Self {
            gathering,
            starts: starts.to_vec(),
            used: BTreeMap::new(),
            collapses: false,
            found: Found::default(),
        }
    }

    fn of(mut self, group: &[&'g System], bundles: Option<&Bundles<'_>>) -> Found {
        let mut searched: Vec<OneSystem<'g>> =
            group.iter().filter_map(|one| self.system(one)).collect();
        for one in searched.iter_mut() {
            if let Some(bundles) = bundles {
                self.beside_others(one, bundles);
            }
            self.found.solves += one.search.solves();
        }
        self.found
    }

    pub fn questions(&self) -> Questions<'g> {
        Questions {
            model: self.gathering.model,
            assembly: self.gathering.assembly,
            numbers: &self.gathering.numbers,
        }
    }

    /// The greatest drops and currents of one system.
    fn system(&mut self, system: &'g System) -> Option<OneSystem<'g>> {
        let gathering = self.gathering;
        let number = |condition: &Condition| gathering.numbers.get(condition).copied();
        let search = Search::new(system, gathering.boats, &number);
        self.draws(system, search.as_ref().ok());
        let mut search = match search {
            Ok(search) => search,
            Err(no_worst) => {
                if let Some(why) = no_worst.because() {
                    self.not_searched(system, &why);
                }
                return None;
            }
        };
        self.unknown_loads(system, &search);
        let mut known = BTreeMap::new();
        self.questions().each(
            &mut search,
            &|_| true,
            &mut |search, quantity, sum, held| {
                let worst = match known.entry((sum.bits(), held.to_vec())) {
                    Entry::Vacant(new) => new.insert(self.search(search, quantity, sum, held)),
                    Entry::Occupied(same) => same.into_mut(),
                };
                match worst {
                    Ok(worst) => keep(
                        &mut self.found.greatest,
                        quantity,
                        (worst.clone(), system.state),
                    ),
                    Err(why) => {
                        let why = why.because();
                        self.found.missing.extend(why.map(|why| (quantity, why)));
                    }
                }
            },
        );
        if std::mem::take(&mut self.collapses) {
            let why = self.some_volts(system);
            self.found.unproven.push(format!(
                "{why}: there are boats on which its loads have no operating point"
            ));
        }
        Some(OneSystem { search, known })
    }

    fn draws(&mut self, system: &System, search: Option<&Search<'_>>) {
        if system.condition != SourceCondition::Nominal {
            return;
        }
        let most = search.and_then(Search::most_amps);
        for (number, consumer) in system.loads.iter().enumerate() {
            let here = most.map_or(f64::INFINITY, |most| most[number]);
            let known = self.found.draws.entry(consumer.load).or_default();
            *known = known.max(here);
        }
    }

    /// What is worst in a system is known only of the boats that are judged.
    fn not_searched(&mut self, system: &System, why: &NotEvaluated) {
        let told = format!("{}: {why}", self.some_volts(system));
        self.found.unproven.push(told);
        if system.condition == SourceCondition::Low {
            return;
        }
        let parts = system.branches.iter();
        let parts = parts.map(|branch| self.gathering.assembly.branches[*branch].part);
        let currents = parts.map(Quantity::Current);
        let given = system.sources.iter();
        let given = given.map(|(source, ..)| Quantity::Given(*source));
        let all = currents
            .chain(given)
            .map(|quantity| (quantity, why.clone()));
        self.found.missing.extend(all);
    }

    /// What is worst in a system, in words.
    fn some_volts(&self, system: &System) -> String {
        let model = self.gathering.model;
        let sources = system.sources.iter();
        let sources: Vec<&str> = sources.map(|(at, ..)| model.sources.id(*at)).collect();
        let state = match system.state {
            Some(state) => format!(" in state \"{}\"", model.states[state].title()),
            None => String::new(),
        };
        format!(
            "some volts and currents behind {}{state}, {} volts",
            sources.join(", "),
            system.condition.word()
        )
    }

    /// A boat on which conditions are met so is judged.
    pub fn occurs(&mut self, asked: &[(usize, bool)]) {
        let known = self.gathering.ways().iter().chain(&self.found.ways);
        match self.gathering.with(asked, known) {
            Ok(way) => self.found.ways.extend(way),
            Err(why) => self.found.unproven.push(why),
        }
    }

    /// The heaviest boat that meets conditions so is judged.
    pub fn heaviest(&mut self, weights: &[f64], held: &[Option<bool>]) {
        match self.gathering.boats.heavy(weights, held) {
            Ok(Some(way)) if !self.found.ways.contains(&way) => self.found.ways.push(way),
            Ok(_) => {}
            Err(why) => {
                let told = format!("currents beside a load of unknown draw: {why}");
                self.found.unproven.push(told);
            }
        }
    }

    fn search(
        &mut self,
        search: &mut Search<'_>,
        quantity: Quantity,
        sum: &Sum,
        held: &[Option<bool>],
    ) -> Result<Worst, NoWorst> {
        search.start_from(&self.starts);
        let worst = search.greatest(sum, held);
        self.tell(&worst, || quantity.words(self.gathering.model));
        if let Ok(worst) = &worst {
            self.found.proven += usize::from(worst.is_proven());
            if !self.starts.contains(&worst.way) {
                self.starts.push(worst.way.clone());
            }
        }
        worst
    }

    /// Tells what a search left open.
    pub fn tell(&mut self, worst: &Result<Worst, NoWorst>, words: impl Fn() -> String) {
        match worst {
            Ok(worst) if worst.is_proven() => {}
            Ok(_) => self.found.unproven.push(words()),
            Err(NoWorst::NoBoat) => {}
            Err(NoWorst::Collapses(way)) => {
                self.found.ways.push(way.clone());
                self.collapses = true;
            }
            Err(NoWorst::NotEvaluated(why)) => {
                self.found.unproven.push(format!("{}: {why}", words()));
            }
        }
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
