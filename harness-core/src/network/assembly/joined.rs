//! What the closed branches and the active sources of a boat join, whatever runs.

use super::shared::{Known, Shared};
use super::trace::{self, Reach};
use super::{Assembly, Unsupplied};
use crate::model::{Index, Source};
use petgraph::unionfind::UnionFind;

/// A source that gives, with the nodes of its minus and plus.
pub(super) type Active = (Index<Source>, usize, usize);

/// Branches out to a load and back.
pub(super) struct Way {
    pub feed: Vec<usize>,
    pub back: Vec<usize>,
}

impl Way {
    pub fn branches(&self) -> impl Iterator<Item = usize> + '_ {
        self.feed.iter().chain(&self.back).copied()
    }
}

/// How a load is joined to sources: to the first, by its position among the active ones, that
/// reaches both its poles.
pub(super) type Joining = Result<(usize, Way), Unsupplied>;

/// What the closed branches and the active sources join, whatever runs.
pub(super) struct Joined {
    pub closed: Vec<bool>,
    pub active: Vec<Active>,
    /// For each load of the assembly.
    pub joining: Vec<Joining>,
    /// A number for each node: equal where closed branches or sources join them.
    pub system_of: Vec<usize>,
    /// How many nodes each system has, by its number.
    node_counts: Vec<usize>,
    /// Closed branches of each system, by its number.
    pub branches: Vec<Vec<usize>>,
    /// Active sources of each system, by its number.
    source_counts: Vec<usize>,
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
        let reaches: Vec<(Reach, Reach)> = active
            .iter()
            .map(|&(_, minus, plus)| (Reach::from(&graph, plus), Reach::from(&graph, minus)))
            .collect();
        let loads = assembly.loads.iter();
        let joining = loads.map(|&(_, plus, minus)| joining(&reaches, plus, minus));
        let joining = joining.collect();
        let mut joined = UnionFind::new(count);
        for (branch, _) in assembly.branches.iter().zip(&closed).filter(|(_, on)| **on) {
            joined.union(branch.from, branch.to);
        }
        for &(_, minus, plus) in &active {
            joined.union(minus, plus);
        }
        let system_of: Vec<usize> = joined.into_labeling();
        let mut node_counts = vec![0; count];
        for system in &system_of {
            node_counts[*system] += 1;
        }
        let mut branches = vec![Vec::new(); count];
        for (number, branch) in assembly.branches.iter().enumerate() {
            if closed[number] {
                branches[system_of[branch.from]].push(number);
            }
        }
        let mut source_counts = vec![0; count];
        for (_, _, plus) in &active {
            source_counts[system_of[*plus]] += 1;
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
            joining,
            system_of,
            node_counts,
            branches,
            source_counts,
        }
    }

    /// Whether branches and sources of a system form a loop.
    pub fn has_loops(&self, system: usize) -> bool {
        self.branches[system].len() + self.source_counts[system] >= self.node_counts[system]
    }

    /// Whether a system has more than one active source.
    pub fn has_several_sources(&self, system: usize) -> bool {
        self.source_counts[system] > 1
    }
}

fn joining(reaches: &[(Reach, Reach)], plus: usize, minus: usize) -> Joining {
    let feeding = |source: &usize| reaches[*source].0.reaches(plus);
    let first = (0..reaches.len()).find(feeding);
    let first = first.ok_or(Unsupplied::NoFeed)?;
    let both = |source: &usize| feeding(source) && reaches[*source].1.reaches(minus);
    let source = (first..reaches.len()).find(both);
    let source = source.ok_or(Unsupplied::NoReturn)?;
    let mut back = reaches[source].1.path(minus);
    back.reverse();
    let feed = reaches[source].0.path(plus);
    Ok((source, Way { feed, back }))
}
