//! What the closed branches and the active sources of a boat join, whatever runs.

use super::Assembly;
use super::shared::{Known, Shared};
use super::trace::{self, Reach};
use crate::model::{Index, Source};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

/// A source that gives, with the nodes of its minus and plus.
pub(super) type Active = (Index<Source>, usize, usize);

/// What the closed branches and the active sources join, whatever runs.
pub(super) struct Joined {
    pub closed: Vec<bool>,
    pub active: Vec<Active>,
    /// From the plus and from the minus of each active source.
    pub reaches: Vec<(Reach, Reach)>,
    /// A number for each node: equal where closed branches or sources join them.
    pub system_of: Vec<usize>,
    /// Place of each node among those of its system.
    pub place: Vec<usize>,
    /// How many nodes each system has, by its number.
    pub node_counts: Vec<usize>,
    /// Closed branches of each system, by its number.
    pub branches: Vec<Vec<usize>>,
    /// Which of them share what flows; `None` where all is known.
    pub shared: Option<Shared>,
}

impl Joined {
    pub fn of(
        assembly: &Assembly,
        closed: Vec<bool>,
        active: Vec<Active>,
        all_known: bool,
    ) -> Self {
        let count = assembly.node_count();
        let graph = trace::graph(count, &assembly.branches, &closed);
        let reaches = active
            .iter()
            .map(|&(_, minus, plus)| (Reach::from(&graph, plus), Reach::from(&graph, minus)))
            .collect();
        let mut joined = UnionFind::new(count);
        for (branch, _) in assembly.branches.iter().zip(&closed).filter(|(_, on)| **on) {
            joined.union(branch.from, branch.to);
        }
        for &(_, minus, plus) in &active {
            joined.union(minus, plus);
        }
        let system_of: Vec<usize> = joined.into_labeling();
        let mut node_counts = vec![0; count];
        let place = system_of
            .iter()
            .map(|system| {
                node_counts[*system] += 1;
                node_counts[*system] - 1
            })
            .collect();
        let mut branches = vec![Vec::new(); count];
        for (number, branch) in assembly.branches.iter().enumerate() {
            if closed[number] {
                branches[system_of[branch.from]].push(number);
            }
        }
        let shared = (!all_known).then(|| {
            let numbered = assembly.branches.iter().enumerate();
            let closed = numbered.filter(|(number, _)| closed[*number]);
            let known: Vec<Known<'_>> = closed
                .map(|(number, branch)| {
                    let ends = (branch.from, branch.to);
                    (number, ends, branch.resistance.as_ref().err())
                })
                .collect();
            let sources: Vec<_> = active.iter().map(|s| (s.1, s.2)).collect();
            Shared::of(count, &known, &sources)
        });
        Self {
            shared,
            closed,
            active,
            reaches,
            system_of,
            place,
            node_counts,
            branches,
        }
    }

    /// Systems with more than one active source.
    pub fn with_several_sources(&self) -> Vec<usize> {
        let mut sources: BTreeMap<usize, usize> = BTreeMap::new();
        for (_, _, plus) in &self.active {
            *sources.entry(self.system_of[*plus]).or_default() += 1;
        }
        let several = sources.into_iter().filter(|(_, count)| *count > 1);
        several.map(|(system, _)| system).collect()
    }
}
