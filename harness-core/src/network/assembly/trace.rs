//! The way current takes from a source to a load and back, along the branches that are closed.

use super::Branch;
use crate::network::layout::Neighbors;
use std::collections::VecDeque;

/// Closed branches as a graph.
pub(crate) struct BranchGraph {
    node_count: usize,
    neighbors: Neighbors,
    /// Position of the branch of each edge.
    branches: Vec<usize>,
}

/// The graph of the branches that are closed.
pub(crate) fn graph(node_count: usize, branches: &[Branch], closed: &[bool]) -> BranchGraph {
    let closed: Vec<usize> = (0..branches.len())
        .filter(|number| closed[*number])
        .collect();
    let ends = closed.iter().map(|number| {
        let branch = &branches[*number];
        (branch.from as u32, branch.to as u32)
    });
    let ends: Vec<(u32, u32)> = ends.collect();
    BranchGraph {
        node_count,
        neighbors: Neighbors::new(node_count, &ends),
        branches: closed,
    }
}

/// For each node the branch by which it is reached from a starting node over the fewest
/// branches, and the node before.
pub(crate) struct Reach {
    start: usize,
    by: Vec<Option<(usize, usize)>>,
}

impl Reach {
    pub fn from(graph: &BranchGraph, start: usize) -> Self {
        let mut by = vec![None; graph.node_count];
        let mut queue = VecDeque::from([start]);
        while let Some(at) = queue.pop_front() {
            for &(next, edge) in graph.neighbors.of(at as u32) {
                let next = next as usize;
                if next != start && by[next].is_none() {
                    by[next] = Some((graph.branches[edge as usize], at));
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
