//! What solves by itself in one state: loads whose currents meet, with what they pass.

use super::joined::{Joined, Way};
use super::{Assembly, SourceCondition, Wanted};
use crate::model::{Behavior, BoatModel, Index, Load};
use crate::units::{Amperes, Volts};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// A conductor counts as loaded above this current: solver noise and dead wires stay below it.
pub const LOADED_ABOVE: Amperes = Amperes::new(0.001);
/// Volts of a resistance are lost to less than such a part only where no limit holds anyway.
const LOST: f64 = 50.0;

/// A load that runs and is joined to a source.
pub(super) struct Fed<'j> {
    pub load: Index<Load>,
    pub plus: usize,
    pub minus: usize,
    /// Position of its source among the active ones.
    pub source: usize,
    pub way: &'j Way,
}

/// Loads with the sources and the branches that their currents pass. No branch carries what loads
/// of two of them draw.
pub(super) struct Apart<'j> {
    pub fed: Vec<Fed<'j>>,
    /// Positions among the active sources.
    pub sources: Vec<usize>,
    /// In their order.
    pub branches: Vec<usize>,
    /// Whether each current has one way to go.
    is_tree: bool,
}

/// Takes what runs apart. Where branches and sources form a loop, what is joined is one; else the
/// loads of two sources are one only where some branch carries current of both.
pub(super) fn apart<'j>(
    assembly: &Assembly,
    joined: &'j Joined,
    fed: Vec<Fed<'j>>,
) -> Vec<Apart<'j>> {
    let system_of = |source: usize| joined.system_of[joined.active[source].2];
    let mut meeting = UnionFind::<usize>::new(joined.active.len());
    let mut first_in_loops: BTreeMap<usize, usize> = BTreeMap::new();
    for source in 0..joined.active.len() {
        let system = system_of(source);
        if joined.has_loops(system) {
            meeting.union(*first_in_loops.entry(system).or_insert(source), source);
        }
    }
    let mut carries = vec![usize::MAX; assembly.branches.len()];
    for fed in &fed {
        for branch in fed.way.branches() {
            match carries[branch] {
                usize::MAX => carries[branch] = fed.source,
                other => {
                    meeting.union(other, fed.source);
                }
            }
        }
    }
    let mut parts: BTreeMap<usize, Apart<'j>> = BTreeMap::new();
    let mut running = vec![false; joined.active.len()];
    for fed in &fed {
        running[meeting.find(fed.source)] = true;
    }
    for source in 0..joined.active.len() {
        let group = meeting.find(source);
        let system = system_of(source);
        // Sources of unequal volts give and take without any load, where they form a loop.
        let has_loops = joined.has_loops(system);
        if running[group] || has_loops && joined.has_several_sources(system) {
            let part = parts.entry(group).or_insert_with(|| Apart {
                fed: Vec::new(),
                sources: Vec::new(),
                branches: if has_loops {
                    joined.branches[system].clone()
                } else {
                    Vec::new()
                },
                is_tree: !has_loops,
            });
            part.sources.push(source);
        }
    }
    for (branch, source) in carries.into_iter().enumerate() {
        if source != usize::MAX
            && let Some(part) = parts.get_mut(&meeting.find(source))
            && part.is_tree
        {
            part.branches.push(branch);
        }
    }
    for fed in fed {
        if let Some(part) = parts.get_mut(&meeting.find(fed.source)) {
            part.fed.push(fed);
        }
    }
    parts.into_values().collect()
}

impl Apart<'_> {
    /// Whether anything is asked of what flows here.
    pub fn is_wanted(&self, joined: &Joined, wanted: &Wanted) -> bool {
        let mut sources = self.sources.iter().map(|at| joined.active[*at].0);
        let mut branches = wanted.branches.iter();
        self.has_wanted_load(wanted)
            || sources.any(|source| wanted.sources.contains(&source))
            || branches.any(|branch| self.branches.binary_search(branch).is_ok())
    }

    /// Whether it is asked what becomes of a load here.
    pub fn has_wanted_load(&self, wanted: &Wanted) -> bool {
        self.fed.iter().any(|fed| wanted.loads.contains(&fed.load))
    }

    /// Whether each branch surely carries current, so that nobody need solve it to know.
    pub fn surely_flows(
        &self,
        model: &BoatModel,
        joined: &Joined,
        condition: SourceCondition,
    ) -> bool {
        let volts = self.sources.iter().map(|at| {
            let source = &model.sources[joined.active[*at].0];
            condition.volts(source)
        });
        let Some(volts) = volts.collect::<Option<Vec<Volts>>>() else {
            return false;
        };
        let draws = |fed: &Fed<'_>| {
            let behavior = model.loads[fed.load].behavior;
            behavior.is_some_and(|behavior| surely_draws(behavior, &volts))
        };
        self.is_tree && self.fed.iter().all(draws)
    }
}

/// Whether a load loads its conductors whatever reaches it of any of these source volts, as long as
/// it has an operating point.
pub fn surely_draws(behavior: Behavior, volts: &[Volts]) -> bool {
    match behavior {
        Behavior::Current(amps) => amps > LOADED_ABOVE,
        // At fewer volts it draws more.
        Behavior::Power(power) => volts.iter().all(|volts| power / *volts > LOADED_ABOVE),
        Behavior::Resistance(ohms) => {
            let least = LOADED_ABOVE * LOST;
            volts.iter().all(|volts| *volts / ohms > least)
        }
    }
}
