//! Nodes tied together without resistance become one cluster.
//!
//! Zero-ohm conductors and ideal sources fix the difference of two potentials for good. A
//! union-find that carries the offset of each node to its root joins them; what is left of
//! them is a forest, along which their currents follow from the sum of currents at each node.

use super::{Element, Network, NetworkFault};
use crate::units::Volts;

/// Offsets that differ by less than this share of the larger count as equal.
const SAME_VOLTS: f64 = 1e-12;

/// A tie of the forest, seen from its child: the child hangs on the parent.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tie {
    pub(super) element: Element,
    pub(super) child: u32,
    pub(super) parent: u32,
    /// Whether the element's `from` is the child.
    pub(super) from_child: bool,
}

/// The clusters of a network; the reference is in cluster 0.
#[derive(Clone, Debug)]
pub(super) struct Clusters {
    pub(super) count: usize,
    /// Cluster of each node.
    pub(super) of_node: Vec<u32>,
    /// Volts of each node above its cluster.
    pub(super) offset: Vec<f64>,
    /// Ties with every child before its parent.
    pub(super) ties: Vec<Tie>,
}

/// Joins the nodes; faults are loops without resistance and contradicting sources.
pub(super) fn merge(network: &Network) -> Result<Clusters, Vec<NetworkFault>> {
    let mut union = OffsetUnion::new(network.node_count);
    let mut faults = Vec::new();
    let mut adjacency: Vec<(u32, u32, Element, bool)> = Vec::new();
    let ideal_conductors = network
        .conductors
        .iter()
        .enumerate()
        .filter(|(_, conductor)| conductor.resistance.value() == 0.0)
        .map(|(index, c)| (Element::Conductor(index), c.from, c.to, 0.0));
    let ideal_sources = network
        .sources
        .iter()
        .enumerate()
        .filter(|(_, source)| source.resistance.value() == 0.0)
        .map(|(index, s)| (Element::Source(index), s.from, s.to, s.emf.value()));
    for (element, from, to, rise) in ideal_conductors.chain(ideal_sources) {
        match union.join(from, to, rise) {
            None => {
                adjacency.push((from as u32, to as u32, element, true));
                adjacency.push((to as u32, from as u32, element, false));
            }
            Some(held) if (held - rise).abs() <= SAME_VOLTS * held.abs().max(rise.abs()) => {
                faults.push(NetworkFault::LoopWithoutResistance { element });
            }
            Some(held) => faults.push(NetworkFault::Contradiction {
                element,
                stated: Volts::new(rise),
                held: Volts::new(held),
            }),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }

    // Number the clusters in the order of their lowest node, the reference's first.
    const NONE: u32 = u32::MAX;
    let mut cluster_of_root = vec![NONE; network.node_count];
    let mut of_node = vec![NONE; network.node_count];
    let mut offset = vec![0.0; network.node_count];
    let mut count = 0;
    let reference_offset = union.find(network.reference).1;
    for node in std::iter::once(network.reference).chain(0..network.node_count) {
        let (root, above_root) = union.find(node);
        if cluster_of_root[root] == NONE {
            cluster_of_root[root] = count;
            count += 1;
        }
        of_node[node] = cluster_of_root[root];
        // The reference itself is at exactly 0 V.
        offset[node] = if of_node[node] == 0 {
            above_root - reference_offset
        } else {
            above_root
        };
    }
    Ok(Clusters {
        count: count as usize,
        of_node,
        offset,
        ties: forest(network.node_count, adjacency),
    })
}

/// Children before parents, from the ties of both directions.
fn forest(node_count: usize, mut adjacency: Vec<(u32, u32, Element, bool)>) -> Vec<Tie> {
    adjacency.sort_unstable_by_key(|&(node, other, element, _)| (node, other, element));
    let mut ties = Vec::with_capacity(adjacency.len() / 2);
    let mut seen = vec![false; node_count];
    let mut queue = Vec::new();
    for &(start, ..) in &adjacency {
        if std::mem::replace(&mut seen[start as usize], true) {
            continue;
        }
        queue.push(start);
        while let Some(parent) = queue.pop() {
            let first = adjacency.partition_point(|&(node, ..)| node < parent);
            for &(node, child, element, from_parent) in &adjacency[first..] {
                if node != parent {
                    break;
                }
                if !std::mem::replace(&mut seen[child as usize], true) {
                    ties.push(Tie {
                        element,
                        child,
                        parent,
                        from_child: !from_parent,
                    });
                    queue.push(child);
                }
            }
        }
    }
    ties.reverse();
    ties
}

/// Union-find in which each node knows its volts above its parent.
struct OffsetUnion {
    parent: Vec<u32>,
    above_parent: Vec<f64>,
    size: Vec<u32>,
}

impl OffsetUnion {
    fn new(count: usize) -> Self {
        Self {
            parent: (0..count as u32).collect(),
            above_parent: vec![0.0; count],
            size: vec![1; count],
        }
    }

    /// Root of the node, and the node's volts above it. Depth is logarithmic: joined by size.
    fn find(&self, node: usize) -> (usize, f64) {
        let mut at = node;
        let mut above = 0.0;
        while self.parent[at] as usize != at {
            above += self.above_parent[at];
            at = self.parent[at] as usize;
        }
        (at, above)
    }

    /// Ties `to` at `rise` volts above `from`; if they are tied already, the volts they hold.
    fn join(&mut self, from: usize, to: usize, rise: f64) -> Option<f64> {
        let (from_root, from_above) = self.find(from);
        let (to_root, to_above) = self.find(to);
        if from_root == to_root {
            return Some(to_above - from_above);
        }
        // Volts of the root of `to` above the root of `from`.
        let between = from_above + rise - to_above;
        let (child, parent, above) = if self.size[from_root] >= self.size[to_root] {
            (to_root, from_root, between)
        } else {
            (from_root, to_root, -between)
        };
        self.parent[child] = parent as u32;
        self.above_parent[child] = above;
        self.size[parent] += self.size[child];
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_tied_one_after_the_other_hang_directly_on_one() {
        for turned in [false, true] {
            let mut union = OffsetUnion::new(1_000);
            for node in 1..1_000 {
                let (from, to) = if turned {
                    (node, node - 1)
                } else {
                    (node - 1, node)
                };
                assert_eq!(union.join(from, to, 0.0), None);
            }
            let (root, _) = union.find(0);
            assert!(union.parent.iter().all(|&parent| parent as usize == root));
        }
    }
}
