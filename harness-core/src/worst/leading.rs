//! The ways that lead from a source on some boat, as the rules of protection walk them.
//!
//! On one boat a rule walks from the plus of a source through what is fitted, by the way with the
//! fewest devices, of those by the shortest. Which way that is hangs on what is fitted: so each way
//! is kept that is the best of some boats.

use crate::boats::Condition;
use crate::model::{BoatModel, Index, Source};
use crate::network::assembly::{Assembly, Part};
use crate::routing::Routing;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Ways kept to one place (our practice: two banks, a bridge and two chargers make about ten).
const MOST_WAYS: usize = 64;

/// What has to be so for a way to be whole: all of these.
pub(super) type Together = BTreeSet<Condition>;

/// These conditions and one more; `None` where no boat meets them.
pub(super) fn with(together: &Together, more: &Condition) -> Option<Together> {
    let mut all = together.clone();
    let parts = match more.simplified() {
        Condition::Always => Vec::new(),
        Condition::All(parts) => parts,
        part => vec![part],
    };
    for part in parts {
        if part == Condition::never() || all.contains(&part.negated()) {
            return None;
        }
        all.insert(part);
    }
    Some(all)
}

/// Both at once; `None` where no boat meets them.
pub(super) fn both(one: &Together, other: &Together) -> Option<Together> {
    let mut parts = other.iter();
    parts.try_fold(one.clone(), |all, part| with(&all, part))
}

/// All of them as one condition.
pub(super) fn condition(together: &Together) -> Condition {
    Condition::All(together.iter().cloned().collect()).simplified()
}

/// A way from the plus of a source to a node.
#[derive(Clone, Debug)]
pub(super) struct Way {
    /// When it is whole.
    pub whole: Together,
    /// Fuses and breakers passed.
    pub devices: u32,
    metres: f64,
    /// The nodes passed, the last one included.
    pub nodes: Vec<usize>,
    /// Branches passed.
    pub branches: Vec<usize>,
}

impl Way {
    fn order(&self, other: &Self) -> std::cmp::Ordering {
        let by_devices = self.devices.cmp(&other.devices);
        by_devices.then(self.metres.total_cmp(&other.metres))
    }

    /// Whether it is taken where both are whole.
    pub fn is_before(&self, other: &Self) -> bool {
        self.order(other).is_lt()
    }

    fn outdoes(&self, other: &Self) -> bool {
        self.order(other).is_le() && self.whole.is_subset(&other.whole)
    }
}

/// The part of a model that one source may feed.
pub(super) struct Leading<'a> {
    model: &'a BoatModel,
    assembly: &'a Assembly,
    routing: &'a Routing,
    plus: usize,
    /// Branches at each node with their far ends.
    beside: BTreeMap<usize, Vec<(usize, usize)>>,
    /// When the walk goes on from a pole of another source: while that is not there.
    passed: BTreeMap<usize, Condition>,
}

impl<'a> Leading<'a> {
    /// As the rules walk: poles of other sources end it.
    pub fn of(
        model: &'a BoatModel,
        assembly: &'a Assembly,
        routing: &'a Routing,
        (source, minus, plus): (Index<Source>, usize, usize),
    ) -> Self {
        let mut leading = Self::joined(model, assembly, routing, plus);
        leading.passed.insert(minus, Condition::never());
        for &(other, minus, plus) in assembly.sources.iter().filter(|s| s.0 != source) {
            let gone = model.sources[other].fitted_when.negated();
            for pole in [minus, plus] {
                let known = leading.passed.entry(pole).or_default();
                *known = known.and(&gone);
            }
        }
        leading
    }

    /// Whatever is joined to a node.
    pub fn joined(
        model: &'a BoatModel,
        assembly: &'a Assembly,
        routing: &'a Routing,
        plus: usize,
    ) -> Self {
        let mut beside: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
        let closes = |part: Part| match part {
            Part::Device(device) => model.devices[device].ever_closes(&model.states),
            _ => true,
        };
        let closing = assembly.branches.iter().enumerate();
        for (number, branch) in closing.filter(|(_, branch)| closes(branch.part)) {
            for (end, far) in [(branch.from, branch.to), (branch.to, branch.from)] {
                beside.entry(end).or_default().push((number, far));
            }
        }
        Self {
            model,
            assembly,
            routing,
            plus,
            beside,
            passed: BTreeMap::new(),
        }
    }

    /// The branches some state closes.
    pub fn branches(&self) -> BTreeSet<usize> {
        let all = self.beside.values().flatten();
        all.map(|(branch, _)| *branch).collect()
    }

    /// The two nodes of a branch.
    pub fn ends(&self, branch: usize) -> (usize, usize) {
        let branch = &self.assembly.branches[branch];
        (branch.from, branch.to)
    }

    /// When a branch is there.
    pub fn when(&self, branch: usize) -> Condition {
        self.assembly.branches[branch].part.fitted_when(self.model)
    }

    /// Whether a branch is a fuse or breaker.
    pub fn protects(&self, branch: usize) -> bool {
        match self.assembly.branches[branch].part {
            Part::Device(device) => self.model.devices[device].protects(),
            _ => false,
        }
    }

    /// When the walk goes on from a node it has reached.
    pub fn passes(&self, node: usize) -> Condition {
        let passed = self.passed.get(&node);
        passed.map_or(Condition::Always, Condition::clone)
    }

    fn metres(&self, branch: usize) -> f64 {
        match self.assembly.branches[branch].part {
            Part::Wire(wire) => {
                let length = self.routing.electrical_length(self.model, wire);
                length.map_or(0.0, |length| length.value())
            }
            _ => 0.0,
        }
    }

    /// Each way that is the best to its node on some boat that has the source; `None` after too
    /// many.
    pub fn ways(&self, fitted: &Condition) -> Option<BTreeMap<usize, Vec<Way>>> {
        let Some(there) = with(&Together::new(), fitted) else {
            return Some(BTreeMap::new());
        };
        let start = Way {
            whole: there,
            devices: 0,
            metres: 0.0,
            nodes: vec![self.plus],
            branches: Vec::new(),
        };
        let mut ways: BTreeMap<usize, Vec<Way>> =
            BTreeMap::from([(self.plus, vec![start.clone()])]);
        let mut open = VecDeque::from([start]);
        while let Some(way) = open.pop_front() {
            let at = way.nodes[way.nodes.len() - 1];
            if !ways[&at].iter().any(|known| known.branches == way.branches) {
                // A better one was found meanwhile.
                continue;
            }
            let Some(on) = with(&way.whole, &self.passes(at)) else {
                continue;
            };
            for &(branch, far) in self.beside.get(&at).into_iter().flatten() {
                let Some(whole) = with(&on, &self.when(branch)) else {
                    continue;
                };
                let next = Way {
                    whole,
                    devices: way.devices + u32::from(self.protects(branch)),
                    metres: way.metres + self.metres(branch),
                    nodes: way.nodes.iter().copied().chain([far]).collect(),
                    branches: way.branches.iter().copied().chain([branch]).collect(),
                };
                let known = ways.entry(far).or_default();
                if known.iter().any(|known| known.outdoes(&next)) {
                    continue;
                }
                known.retain(|known| !next.outdoes(known));
                known.push(next.clone());
                if known.len() > MOST_WAYS {
                    return None;
                }
                open.push_back(next);
            }
        }
        Some(ways)
    }
}
