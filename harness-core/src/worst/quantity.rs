//! What can be greatest on some boat, as a sum of the currents of the loads.

use super::search::Search;
use super::sum::Sum;
use super::systems::System;
use crate::boats::Condition;
use crate::model::{BoatModel, Index, Load, Source};
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::network::{Outcome, Scratch};
use crate::rules::Place;
use std::collections::{BTreeMap, BTreeSet};

/// What is greatest on some boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Volts lost on the way to a load and back, at nominal volts.
    Drop(Index<Load>),
    /// Volts left at a load at the lowest volts of the sources, with its sign turned.
    VoltsLeft(Index<Load>),
    /// Current of a part, from its `from` to its `to`.
    Current(Part),
    /// The same the other way.
    CurrentBack(Part),
    /// Current a source gives.
    Given(Index<Source>),
    /// Current a source takes.
    Taken(Index<Source>),
}

impl Quantity {
    /// The thing whose limit it is held to; none for splices.
    pub(super) fn place(self) -> Option<Place> {
        match self {
            Self::Drop(load) | Self::VoltsLeft(load) => Some(Place::Load(load)),
            Self::Given(source) | Self::Taken(source) => Some(Place::Source(source)),
            // No rule holds a splice to a current.
            Self::Current(Part::Splice(_)) | Self::CurrentBack(Part::Splice(_)) => None,
            Self::Current(part) | Self::CurrentBack(part) => Some(part.into()),
        }
    }

    /// The quantity in words.
    pub fn words(self, model: &BoatModel) -> String {
        match self {
            Self::Drop(load) => format!("drop of {}", model.loads.id(load)),
            Self::VoltsLeft(load) => format!("volts left at {}", model.loads.id(load)),
            Self::Current(part) | Self::CurrentBack(part) => {
                format!("current of {}", part.label(model))
            }
            Self::Given(source) | Self::Taken(source) => {
                format!("current of source {}", model.sources.id(source))
            }
        }
    }
}

/// One question: the quantity, its sum, and the boats on which it is there and known.
type Ask<'q, 's> = dyn FnMut(&mut Search<'s>, Quantity, &Sum, &[Option<bool>]) + 'q;

/// Asks for the quantities of a system.
pub(super) struct Questions<'a> {
    pub model: &'a BoatModel,
    pub assembly: &'a Assembly,
    /// Number of each condition in the firings.
    pub numbers: &'a BTreeMap<Condition, usize>,
}

impl Questions<'_> {
    /// Asks for each wanted quantity of a system.
    pub fn each<'s>(
        &self,
        search: &mut Search<'s>,
        wanted: &dyn Fn(Quantity) -> bool,
        ask: &mut Ask<'_, 's>,
    ) {
        if search.system.condition == SourceCondition::Low {
            self.volts_left(search, wanted, ask);
        } else {
            self.drops(search, wanted, ask);
            self.currents(search, wanted, ask);
        }
    }

    /// The boats on which a load runs and nothing unknown runs on its way; `None` where its way is
    /// never known.
    pub fn known_boats(&self, search: &Search<'_>, load: usize) -> Option<Vec<Option<bool>>> {
        let system = search.system;
        let consumer = &system.loads[load];
        let stated =
            |(branch, _): &(usize, bool)| self.assembly.branches[*branch].resistance.is_ok();
        if !consumer.way.iter().all(stated) {
            return None;
        }
        let volts = system.hangs_on(self.model, consumer);
        let unmet = self.without_unknown(system, &volts)?;
        search.held(search.when(load), &unmet)
    }

    /// Unknown loads that spoil what is shared so; `None` where one is on every boat, or where what
    /// is shared is unsure itself.
    fn without_unknown(&self, system: &System, shared: &BTreeSet<usize>) -> Option<Vec<usize>> {
        if shared
            .iter()
            .any(|block| system.shared.unsure().contains_key(block))
        {
            return None;
        }
        system
            .unknown
            .iter()
            .filter(|unknown| !system.passed(unknown).is_disjoint(shared))
            .map(|unknown| self.numbers.get(&unknown.when).copied())
            .collect()
    }

    /// Source terminal volts less volts across each load.
    fn drops<'s>(
        &self,
        search: &mut Search<'s>,
        wanted: &dyn Fn(Quantity) -> bool,
        ask: &mut Ask<'_, 's>,
    ) {
        let system = search.system;
        let mut at_source: Vec<Option<(f64, Vec<f64>)>> = vec![None; system.sources.len()];
        for (number, consumer) in system.loads.iter().enumerate() {
            let quantity = Quantity::Drop(consumer.load);
            let Some(held) = wanted(quantity)
                .then(|| self.known_boats(search, number))
                .flatten()
            else {
                continue;
            };
            let factors = &mut search.factors;
            let (idle, source) = at_source[consumer.source].get_or_insert_with(|| {
                let source = factors.of_source(consumer.source);
                (factors.idle_of_source(consumer.source), source)
            });
            let own = factors.of_load(number);
            let sum = Sum {
                constant: *idle - factors.idle(number),
                factors: own
                    .iter()
                    .zip(source.iter())
                    .map(|(own, at)| own - at)
                    .collect(),
            };
            ask(search, quantity, &sum, &held);
        }
    }

    /// Volts at each load that states the least it needs, with their sign turned.
    fn volts_left<'s>(
        &self,
        search: &mut Search<'s>,
        wanted: &dyn Fn(Quantity) -> bool,
        ask: &mut Ask<'_, 's>,
    ) {
        for (number, consumer) in search.system.loads.iter().enumerate() {
            let quantity = Quantity::VoltsLeft(consumer.load);
            if self.model.loads[consumer.load].min_volts.is_none() || !wanted(quantity) {
                continue;
            }
            let Some(held) = self.known_boats(search, number) else {
                continue;
            };
            let sum = Sum {
                constant: -search.factors.idle(number),
                factors: search.factors.of_load(number),
            };
            ask(search, quantity, &sum, &held);
        }
    }

    /// Current of each branch and source, both ways where it can flow both ways.
    fn currents<'s>(
        &self,
        search: &mut Search<'s>,
        wanted: &dyn Fn(Quantity) -> bool,
        ask: &mut Ask<'_, 's>,
    ) {
        let system = search.system;
        let (branches, sources) = carried(system);
        let of_branches = system
            .branches
            .iter()
            .zip(branches)
            .map(|(&branch, carried)| {
                let part = self.assembly.branches[branch].part;
                let met = self.numbers.get(&part.fitted_when(self.model)).copied();
                let block = system.shared.of_branch(branch).into_iter().collect();
                let unmet = self.without_unknown(system, &block);
                let both = [Quantity::Current(part), Quantity::CurrentBack(part)];
                (both, carried, met, unmet)
            });
        let of_sources = system.sources.iter().zip(sources).enumerate().map(
            |(place, ((source, ..), carried))| {
                let block = BTreeSet::from([system.shared.of_source(place)]);
                let unmet = self.without_unknown(system, &block);
                let both = [Quantity::Given(*source), Quantity::Taken(*source)];
                (both, carried, None, unmet)
            },
        );
        for (both, carried, met, unmet) in of_branches.chain(of_sources) {
            let Some(unmet) = unmet.filter(|_| both.iter().any(|quantity| wanted(*quantity)))
            else {
                continue;
            };
            let sum = carried.sum(system.loads.len());
            let Some(held) = search.held(met, &unmet) else {
                continue;
            };
            for (quantity, sum) in both.into_iter().zip([sum.clone(), sum.turned()]) {
                let flows = sum.constant > 0.0 || sum.factors.iter().any(|factor| *factor > 0.0);
                if flows && wanted(quantity) {
                    ask(search, quantity, &sum, &held);
                }
            }
        }
    }
}

/// What flows without loads, and which part of the current of which load: only those that are not
/// nothing, since most branches carry few of many loads.
#[derive(Clone, Debug, Default)]
pub(super) struct Carried {
    pub constant: f64,
    pub loads: Vec<(usize, f64)>,
}

impl Carried {
    fn sum(&self, count: usize) -> Sum {
        let mut factors = vec![0.0; count];
        for (load, factor) in &self.loads {
            factors[*load] += factor;
        }
        Sum {
            constant: self.constant,
            factors,
        }
    }
}

/// What each branch and source of a system carries.
pub(super) fn carried(system: &System) -> (Vec<Carried>, Vec<Carried>) {
    let mut branches = vec![Carried::default(); system.branches.len()];
    let mut sources = vec![Carried::default(); system.sources.len()];
    let count = system.loads.len();
    if system.network.has_one_way() {
        let numbered = system.branches.iter().enumerate();
        let place: BTreeMap<usize, usize> = numbered.map(|(at, branch)| (*branch, at)).collect();
        for (load, consumer) in system.loads.iter().enumerate() {
            for (branch, forward) in &consumer.way {
                let factor = if *forward { 1.0 } else { -1.0 };
                branches[place[branch]].loads.push((load, factor));
            }
            sources[consumer.source].loads.push((load, 1.0));
        }
        return (branches, sources);
    }
    let mut scratch = Scratch::default();
    let mut shares = vec![0.0; count];
    if let Outcome::Solved(idle) = system.network.solve_shares(&mut scratch, &shares) {
        for (own, amps) in branches.iter_mut().zip(&idle.conductor_amps) {
            own.constant = amps.value();
        }
        for (own, amps) in sources.iter_mut().zip(&idle.source_amps) {
            own.constant = amps.value();
        }
    }
    for load in 0..count {
        shares[load] = 1.0;
        if let Outcome::Solved(one) = system.unit.solve_shares(&mut scratch, &shares) {
            let amps = one.conductor_amps.iter().chain(&one.source_amps);
            for (own, amps) in branches.iter_mut().chain(&mut sources).zip(amps) {
                // Rounding of a solve is no way for a current.
                if amps.value().abs() > 1e-9 {
                    own.loads.push((load, amps.value()));
                }
            }
        }
        shares[load] = 0.0;
    }
    (branches, sources)
}
