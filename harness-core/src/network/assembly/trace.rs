//! The way current takes from a source to a load and back, along the branches that are closed.

use super::Branch;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use std::collections::VecDeque;

/// Closed branches as a graph; edge weights are branch positions.
pub(crate) type BranchGraph = UnGraph<(), usize>;

/// The graph of the branches that are closed.
pub(crate) fn graph(node_count: usize, branches: &[Branch], closed: &[bool]) -> BranchGraph {
    let mut graph = BranchGraph::with_capacity(node_count, branches.len());
    for _ in 0..node_count {
        graph.add_node(());
    }
    for (number, branch) in branches
        .iter()
        .enumerate()
        .filter(|(number, _)| closed[*number])
    {
        graph.add_edge(
            NodeIndex::new(branch.from),
            NodeIndex::new(branch.to),
            number,
        );
    }
    graph
}

/// For each node the branch by which it is reached from a starting node over the fewest
/// branches, and the node before.
pub(crate) struct Reach {
    start: usize,
    by: Vec<Option<(usize, usize)>>,
}

impl Reach {
    pub fn from(graph: &BranchGraph, start: usize) -> Self {
        let mut by = vec![None; graph.node_count()];
        let mut queue = VecDeque::from([start]);
        while let Some(at) = queue.pop_front() {
            // The edge list runs newest first; sorted, the same model gives the same path.
            let mut edges: Vec<_> = graph
                .edges(NodeIndex::new(at))
                .map(|edge| (*edge.weight(), edge.target().index()))
                .collect();
            edges.sort_unstable();
            for (branch, next) in edges {
                if next != start && by[next].is_none() {
                    by[next] = Some((branch, at));
                    queue.push_back(next);
                }
            }
        }
        Self { start, by }
    }

    pub fn reaches(&self, node: usize) -> bool {
        node == self.start || self.by[node].is_some()
    }

    /// The branches from the start to a node, in order.
    pub fn path(&self, node: usize) -> Vec<usize> {
        let mut path = Vec::new();
        let mut at = node;
        while let Some((branch, before)) = self.by[at] {
            path.push(branch);
            at = before;
        }
        path.reverse();
        path
    }
}
