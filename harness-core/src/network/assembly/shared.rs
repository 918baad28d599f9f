//! Which branches and sources share what flows.
//!
//! Where branches lie on a loop together, a current parts between them by all their resistances.
//! So what is not known of one of them, or of a load behind them, is not known of any.

use crate::working::NotEvaluated;
use std::collections::{BTreeMap, BTreeSet};

/// Branches and sources by the block they belong to: those of one block lie on loops together, and
/// each that lies on none is a block of its own.
#[derive(Debug)]
pub struct Shared {
    of_branch: BTreeMap<usize, usize>,
    sources: Vec<usize>,
    /// The branches of each block.
    branches: BTreeMap<usize, Vec<usize>>,
    /// Blocks with a loop that hold a branch of unknown resistance.
    unsure: BTreeMap<usize, NotEvaluated>,
}

/// A branch by its number, with its nodes and why its resistance is not known.
pub type Known<'a> = (usize, (usize, usize), Option<&'a NotEvaluated>);

impl Shared {
    /// Takes a network apart. Nodes are below `node_count`.
    pub fn of(node_count: usize, branches: &[Known<'_>], sources: &[(usize, usize)]) -> Self {
        let ends = branches.iter().map(|(_, ends, _)| *ends);
        let edges: Vec<_> = ends.chain(sources.iter().copied()).collect();
        let block_of = blocks(node_count, &edges);
        let mut size: BTreeMap<usize, usize> = BTreeMap::new();
        for block in &block_of {
            *size.entry(*block).or_default() += 1;
        }
        let (of_branches, of_sources) = block_of.split_at(branches.len());
        let mut unsure = BTreeMap::new();
        let mut listed: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for ((number, _, why), block) in branches.iter().zip(of_branches) {
            listed.entry(*block).or_default().push(*number);
            if let Some(why) = why.filter(|_| size[block] > 1) {
                unsure.entry(*block).or_insert_with(|| why.clone());
            }
        }
        let numbers = branches.iter().map(|(number, ..)| *number);
        Self {
            of_branch: numbers.zip(of_branches.iter().copied()).collect(),
            sources: of_sources.to_vec(),
            branches: listed,
            unsure,
        }
    }

    /// The block of a branch; `None` for one that is not in the network.
    pub fn of_branch(&self, number: usize) -> Option<usize> {
        self.of_branch.get(&number).copied()
    }

    /// The block of a source, by its place.
    pub fn of_source(&self, place: usize) -> usize {
        self.sources[place]
    }

    /// The blocks that a current on this way passes, that of its source among them.
    pub fn passed(&self, way: impl Iterator<Item = usize>, source: usize) -> BTreeSet<usize> {
        self.hangs_on(way, Some(source))
    }

    /// The blocks that the volts at the end of this way hang on; those of its source only where its
    /// volts fall with what it gives.
    pub fn hangs_on(
        &self,
        way: impl Iterator<Item = usize>,
        source: Option<usize>,
    ) -> BTreeSet<usize> {
        let branches = way.filter_map(|branch| self.of_branch(branch));
        let source = source.map(|place| self.of_source(place));
        branches.chain(source).collect()
    }

    /// Branches of a block.
    pub fn branches_of(&self, block: usize) -> impl Iterator<Item = usize> + '_ {
        self.branches.get(&block).into_iter().flatten().copied()
    }

    /// Blocks of whose currents nothing is known once some flows, with the reason.
    pub fn unsure(&self) -> &BTreeMap<usize, NotEvaluated> {
        &self.unsure
    }

    /// Whether sources may drive a current round a block by themselves.
    pub fn is_driven(&self, block: usize) -> bool {
        self.sources.contains(&block)
    }
}

/// One node on the way of [`blocks`]: where it was come from, and the next edge to look at.
struct Step {
    node: usize,
    by: Option<usize>,
    next: usize,
}

/// For each edge the number of its block: two edges have the same number if some loop without a
/// repeated node passes both. By Hopcroft and Tarjan (Algorithm 447, Communications of the ACM
/// 16(6), 1973).
fn blocks(node_count: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut beside = vec![Vec::new(); node_count];
    for (edge, &(a, b)) in edges.iter().enumerate().filter(|(_, (a, b))| a != b) {
        beside[a].push((edge, b));
        beside[b].push((edge, a));
    }
    // An edge from a node to itself is alone, as is each until it is found to be in company.
    let mut block_of: Vec<usize> = (0..edges.len()).collect();
    // The order in which nodes are met, and the earliest met that is reached from behind each.
    let (mut met, mut earliest) = (vec![usize::MAX; node_count], vec![usize::MAX; node_count]);
    let (mut count, mut open_edges) = (0, Vec::new());
    for start in 0..node_count {
        if met[start] != usize::MAX {
            continue;
        }
        let mut steps = vec![Step {
            node: start,
            by: None,
            next: 0,
        }];
        while let Some(step) = steps.last_mut() {
            let (node, by) = (step.node, step.by);
            if step.next == 0 {
                (met[node], earliest[node]) = (count, count);
                count += 1;
            }
            let Some(&(edge, far)) = beside[node].get(step.next) else {
                steps.pop();
                let (Some(by), Some(before)) = (by, steps.last()) else {
                    continue;
                };
                let before = before.node;
                if earliest[node] >= met[before] {
                    // Nothing behind this edge leads round it: what is open since is one block.
                    while let Some(edge) = open_edges.pop() {
                        block_of[edge] = by;
                        if edge == by {
                            break;
                        }
                    }
                }
                earliest[before] = earliest[before].min(earliest[node]);
                continue;
            };
            step.next += 1;
            if Some(edge) == by || met[far] != usize::MAX && met[far] > met[node] {
                continue;
            }
            open_edges.push(edge);
            if met[far] == usize::MAX {
                steps.push(Step {
                    node: far,
                    by: Some(edge),
                    next: 0,
                });
            } else {
                earliest[node] = earliest[node].min(met[far]);
            }
        }
    }
    block_of
}

#[cfg(test)]
mod tests {
    use super::{Shared, blocks};
    use crate::working::NotEvaluated;
    use petgraph::algo::articulation_points::articulation_points;
    use petgraph::graph::UnGraph;

    /// Edges of one block, sorted, for each block.
    fn together(node_count: usize, edges: &[(usize, usize)]) -> Vec<Vec<usize>> {
        let mut found: Vec<Vec<usize>> = Vec::new();
        let of = blocks(node_count, edges);
        for (edge, block) in of.iter().enumerate() {
            match found.iter_mut().find(|known| of[known[0]] == *block) {
                Some(known) => known.push(edge),
                None => found.push(vec![edge]),
            }
        }
        found
    }

    #[test]
    fn rings_that_touch_at_one_node_are_two_blocks() {
        let edges = [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 2), (4, 5)];
        assert_eq!(together(6, &edges), [vec![0, 1, 2], vec![3, 4, 5], vec![6]]);
    }

    #[test]
    fn edges_side_by_side_are_a_block_and_one_to_itself_is_alone() {
        let edges = [(0, 1), (0, 1), (1, 1), (1, 2)];
        assert_eq!(together(3, &edges), [vec![0, 1], vec![2], vec![3]]);
    }

    /// Against a library that finds the nodes at which a network falls apart: those are the nodes
    /// of more than one block.
    #[test]
    fn blocks_meet_where_a_network_falls_apart() {
        let mut rng = fastrand::Rng::with_seed(5);
        let mut met = 0;
        for _ in 0..400 {
            let nodes = rng.usize(2..12);
            let edges: Vec<(usize, usize)> = (0..rng.usize(1..16))
                .map(|_| (rng.usize(..nodes), rng.usize(..nodes)))
                .filter(|(a, b)| a != b)
                .collect();
            // The library wants a simple graph: edges side by side join the same nodes.
            let mut graph = UnGraph::<(), ()>::default();
            let ids: Vec<_> = (0..nodes).map(|_| graph.add_node(())).collect();
            for (a, b) in &edges {
                graph.update_edge(ids[*a], ids[*b], ());
            }
            let expected: Vec<usize> = {
                let mut points: Vec<_> = articulation_points(&graph)
                    .into_iter()
                    .map(|node| node.index())
                    .collect();
                points.sort_unstable();
                points
            };
            let of = blocks(nodes, &edges);
            let own = (0..nodes).filter(|node| {
                let here = edges.iter().zip(&of);
                let mut here: Vec<_> = here
                    .filter(|((a, b), _)| a == node || b == node)
                    .map(|(_, block)| *block)
                    .collect();
                here.sort_unstable();
                here.dedup();
                here.len() > 1
            });
            assert_eq!(own.collect::<Vec<_>>(), expected, "{edges:?}");
            met += expected.len();
        }
        assert!(met > 400, "{met} nodes at which a network falls apart");
    }

    #[test]
    fn only_a_loop_is_unsure_of_its_currents() {
        let why = NotEvaluated::because("wire 7 states no size");
        let branches = [
            (7, (0, 1), Some(&why)),
            (8, (0, 1), None),
            (9, (1, 2), Some(&why)),
        ];
        let shared = Shared::of(4, &branches, &[(3, 0)]);
        let ring = shared.of_branch(7).unwrap();
        assert_eq!(shared.of_branch(8), Some(ring));
        assert_eq!(shared.of_branch(10), None);
        assert_eq!(shared.unsure().keys().copied().collect::<Vec<_>>(), [ring]);
        assert!(!shared.is_driven(ring) && shared.is_driven(shared.of_source(0)));
        assert_eq!(shared.branches_of(ring).collect::<Vec<_>>(), [7, 8]);
        let passed = shared.passed([8, 9].into_iter(), 0);
        assert_eq!(passed.len(), 3);
    }
}
