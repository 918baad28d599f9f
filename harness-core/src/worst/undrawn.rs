//! What a load of unknown draw leaves unknown of others on some boat.
//!
//! It lowers the volts of all that hang on what it passes. A load of constant power then draws more
//! than what is known, and lowers the volts of others in turn. So beside the boats on which a load of
//! unknown draw and one that shares what it passes are both there, those are asked for on which it
//! reaches another through loads of constant power.

use super::systems::{Consumer, System};
use crate::boats::Condition;
use crate::model::BoatModel;
use crate::network::Behavior;
use crate::units::Ohms;
use std::collections::{BTreeMap, BTreeSet};

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

    /// The loads whose volts may be lower than what is known where a load of unknown draw is there,
    /// each on the shortest way on which it is reached.
    pub(super) fn reached(&self, model: &BoatModel) -> Vec<Reached> {
        let mut reached: BTreeMap<usize, Vec<Condition>> = BTreeMap::new();
        for unknown in &self.unknown {
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

    /// The blocks of whose currents not all is known on some boat, for want of a draw.
    pub(crate) fn undrawn(&self, model: &BoatModel) -> BTreeSet<usize> {
        let unknown = self.unknown.iter().flat_map(|one| self.passed(one));
        let mut blocks: BTreeSet<usize> = unknown.collect();
        for reached in self.reached(model) {
            let behavior = self.network.network().loads[reached.load].behavior;
            if let Behavior::Power(_) = behavior {
                blocks.extend(self.passed(&self.loads[reached.load]));
            }
        }
        blocks
    }
}
