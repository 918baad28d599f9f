//! What a load of unknown draw leaves unknown of others on some boat.
//!
//! It lowers the volts of all that hang on what it passes. A load of constant power then draws more
//! than what is known, and lowers the volts of others in turn. So beside the boats on which a load of
//! unknown draw and one that shares what it passes are both there, those are asked for on which it
//! reaches another through loads of constant power.

use super::bounds::amps_at;
use super::groups::Searching;
use super::returns::USUAL_VOLTS;
use super::search::Search;
use super::systems::{Consumer, System};
use crate::boats::Condition;
use crate::model::{BoatModel, Index, Load};
use crate::network::Behavior;
use crate::network::assembly::{most_more, most_volts, states_no_draw};
use crate::units::Ohms;
use crate::working::NotEvaluated;
use std::collections::{BTreeMap, BTreeSet};

/// What is not told of the currents of a block on some boat.
#[derive(Clone, Debug)]
pub(crate) enum Open {
    /// Nothing is known of them, for want of a draw or of a resistance.
    Unknown(NotEvaluated),
    /// They may be more than what is known beside a load of unknown draw, by so many amperes at most
    /// as long as loads of constant power have the least volts they need.
    More { amps: f64, beside: Index<Load> },
}

impl Open {
    /// What is open in another state besides.
    pub fn take_in(&mut self, other: &Self) {
        match (&mut *self, other) {
            (Self::Unknown(_), _) => {}
            (Self::More { amps, .. }, Self::More { amps: other, .. }) => *amps = amps.max(*other),
            (Self::More { .. }, Self::Unknown(_)) => *self = other.clone(),
        }
    }
}

/// A load that is reached, with when those are there through which it is, itself the last.
pub(super) struct Reached {
    pub load: usize,
    pub when: Vec<Condition>,
}

impl System {
    /// The blocks that the volts of a load hang on.
    pub(super) fn hangs_on(&self, model: &BoatModel, consumer: &Consumer) -> BTreeSet<usize> {
        let way = consumer.way.iter().map(|(branch, _)| *branch);
        let source = &model.sources[self.sources[consumer.source].0];
        let sags = source.internal > Some(Ohms::ZERO);
        self.shared.hangs_on(way, sags.then_some(consumer.source))
    }

    /// The loads whose volts may be lower than what is known where one of these loads of unknown draw
    /// is there, each on the shortest way on which it is reached.
    pub(super) fn reached(&self, model: &BoatModel, from: &[Consumer]) -> Vec<Reached> {
        let mut reached: BTreeMap<usize, Vec<Condition>> = BTreeMap::new();
        for unknown in from {
            for block in self.passed(unknown) {
                let when = || vec![unknown.when.clone()];
                reached.entry(block).or_insert_with(when);
            }
        }
        let mut found = Vec::new();
        let mut waiting: Vec<usize> = (0..self.loads.len()).collect();
        while !reached.is_empty() {
            let mut passed: Vec<(usize, Vec<Condition>)> = Vec::new();
            let before = waiting.len();
            waiting.retain(|load| {
                let consumer = &self.loads[*load];
                let volts = self.hangs_on(model, consumer);
                let ways = volts.iter().filter_map(|block| reached.get(block));
                let Some(way) = ways.min_by_key(|way| way.len()) else {
                    return true;
                };
                let mut when = way.clone();
                when.push(consumer.when.clone());
                if let Behavior::Power(_) = self.network.network().loads[*load].behavior {
                    let own = self.passed(consumer).into_iter();
                    passed.extend(own.map(|block| (block, when.clone())));
                }
                found.push(Reached { load: *load, when });
                false
            });
            if waiting.len() == before {
                break;
            }
            for (block, when) in passed {
                reached.entry(block).or_insert(when);
            }
        }
        found
    }

    /// What is not told of the currents of its blocks on some boat, for want of a draw or of a
    /// resistance.
    pub(crate) fn open(&self, model: &BoatModel) -> BTreeMap<usize, Open> {
        let mut open: BTreeMap<usize, Open> = BTreeMap::new();
        for (block, why) in self.shared.unsure() {
            open.insert(*block, Open::Unknown(why.clone()));
        }
        let mut reached: BTreeMap<usize, Index<Load>> = BTreeMap::new();
        for one in &self.unknown {
            for block in self.passed(one) {
                let why = || Open::Unknown(states_no_draw(model, one.load));
                open.entry(block).or_insert_with(why);
            }
            for found in self.reached(model, std::slice::from_ref(one)) {
                reached.entry(found.load).or_insert(one.load);
            }
        }
        let sources = self.sources.iter().map(|(source, ..)| *source);
        let volts = most_volts(model, self.condition, sources);
        for (load, beside) in reached {
            let Behavior::Power(power) = self.network.network().loads[load].behavior else {
                continue;
            };
            let stated = &model.loads[self.loads[load].load];
            let own = match volts.and_then(|volts| most_more(stated, power, volts)) {
                Some(amps) => Open::More {
                    amps: amps.value(),
                    beside,
                },
                None => Open::Unknown(NotEvaluated::because(format!(
                    "{}, and load {}, which states no least volts below those of its source, may draw \
                     more beside it",
                    states_no_draw(model, beside).because,
                    stated.id
                ))),
            };
            for block in self.passed(&self.loads[load]) {
                match (open.get_mut(&block), &own) {
                    (Some(Open::More { amps, .. }), Open::More { amps: own, .. }) => *amps += own,
                    (Some(known), own) => known.take_in(own),
                    (None, own) => drop(open.insert(block, own.clone())),
                }
            }
        }
        open
    }
}

impl Searching<'_, '_> {
    /// Boats that have a load of unknown draw beside each other load of its system, in each shape;
    /// those on which it reaches one only through others; and those on which what flows beside it
    /// may be most.
    pub(super) fn unknown_loads(&mut self, system: &System, search: &Search<'_>) {
        let gathering = self.gathering;
        let number = |when: &Condition| gathering.numbers.get(when).copied();
        let shape = gathering.shape_of(system);
        for unknown in &system.unknown {
            let own = number(&unknown.when);
            let reached = system.reached(gathering.model, std::slice::from_ref(unknown));
            let loads = 0..system.loads.len();
            let pairs = loads.map(|load| own.into_iter().chain(search.when(load)).collect());
            let chains = reached.iter().filter(|reached| reached.when.len() > 2);
            let chains = chains.map(|reached| reached.when.iter().filter_map(number).collect());
            let together: Vec<Vec<usize>> = pairs.chain(chains).collect();
            for together in together {
                let met = together.into_iter().map(|number| (number, true));
                let asked: Vec<(usize, bool)> = met.chain(shape.iter().copied()).collect();
                self.occurs(&asked);
            }
            let mut held = gathering.none_held();
            let met = own.map(|number| (number, true));
            for (number, met) in shape.iter().copied().chain(met) {
                held[number] = Some(met);
            }
            for weights in may_flow(gathering.model, system, search, &reached) {
                self.heaviest(&weights, &held);
            }
        }
    }
}

/// What each condition adds to each current that may be more, where several do: reached loads of
/// constant power what they draw at the least volts they need.
fn may_flow(
    model: &BoatModel,
    system: &System,
    search: &Search<'_>,
    reached: &[Reached],
) -> Vec<Vec<f64>> {
    let mut amps: Vec<f64> = Vec::new();
    for load in &system.network.network().loads {
        amps.push(amps_at(load.behavior, USUAL_VOLTS).abs());
    }
    let mut branches: BTreeSet<usize> = BTreeSet::new();
    for reached in reached {
        let consumer = &system.loads[reached.load];
        let least = model.loads[consumer.load].min_volts;
        let behavior = system.network.network().loads[reached.load].behavior;
        if let (Behavior::Power(_), Some(least)) = (behavior, least) {
            amps[reached.load] = amps_at(behavior, least.value()).abs();
            branches.extend(consumer.way.iter().map(|(branch, _)| *branch));
        }
    }
    let mut weights: BTreeMap<usize, BTreeMap<usize, f64>> = BTreeMap::new();
    for (load, consumer) in system.loads.iter().enumerate() {
        let Some(when) = search.when(load) else {
            continue;
        };
        for (branch, _) in consumer.way.iter().filter(|(at, _)| branches.contains(at)) {
            *weights.entry(*branch).or_default().entry(when).or_default() += amps[load];
        }
    }
    // Wires in a row carry the same.
    let mut all: Vec<BTreeMap<usize, f64>> = Vec::new();
    for weights in weights.into_values().filter(|weights| weights.len() > 1) {
        if !all.contains(&weights) {
            all.push(weights);
        }
    }
    let in_full = |weights: BTreeMap<usize, f64>| {
        let mut full = vec![0.0; search.conditions()];
        for (number, weight) in weights {
            full[number] = weight;
        }
        full
    };
    all.into_iter().map(in_full).collect()
}
