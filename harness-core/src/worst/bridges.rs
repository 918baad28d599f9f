//! Which edges of a network lie on no loop.

use petgraph::graph::{NodeIndex, UnGraph};

/// For each edge whether taking it away leaves its ends apart. Edges are pairs of nodes below
/// `node_count`; two edges between the same nodes make a loop.
pub(super) fn bridges(node_count: usize, edges: &[(usize, usize)]) -> Vec<bool> {
    // The library wants a simple graph: a node in the middle of each edge makes it one.
    let mut halved = UnGraph::<(), usize>::with_capacity(node_count + edges.len(), 2 * edges.len());
    for _ in 0..node_count + edges.len() {
        halved.add_node(());
    }
    for (number, &(a, b)) in edges.iter().enumerate().filter(|(_, (a, b))| a != b) {
        let middle = NodeIndex::new(node_count + number);
        halved.add_edge(NodeIndex::new(a), middle, number);
        halved.add_edge(middle, NodeIndex::new(b), number);
    }
    let mut bridge = vec![false; edges.len()];
    for half in petgraph::algo::bridges::bridges(&halved) {
        bridge[*half.weight()] = true;
    }
    bridge
}

#[cfg(test)]
mod tests {
    use super::bridges;

    #[test]
    fn a_loop_with_two_tails() {
        let edges = [(0, 1), (1, 2), (2, 0), (2, 3), (4, 0)];
        assert_eq!(bridges(5, &edges), [false, false, false, true, true]);
    }

    #[test]
    fn two_wires_side_by_side_are_a_loop() {
        assert_eq!(bridges(3, &[(0, 1), (0, 1), (1, 2)]), [false, false, true]);
    }

    #[test]
    fn equal_to_taking_each_edge_away() {
        let mut rng = fastrand::Rng::with_seed(3);
        for _ in 0..300 {
            let nodes = rng.usize(2..9);
            let edges: Vec<_> = (0..rng.usize(1..14))
                .map(|_| (rng.usize(..nodes), rng.usize(..nodes)))
                .filter(|(a, b)| a != b)
                .collect();
            let found = bridges(nodes, &edges);
            for (number, &(a, b)) in edges.iter().enumerate() {
                let mut joined = petgraph::unionfind::UnionFind::new(nodes);
                for (other, &(a, b)) in edges.iter().enumerate() {
                    if other != number {
                        joined.union(a, b);
                    }
                }
                assert_eq!(found[number], !joined.equiv(a, b), "{edges:?}");
            }
        }
    }
}
