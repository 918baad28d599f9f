//! Elimination order of the nodal equations: always the unknown with the fewest neighbors.
//!
//! Wiring is nearly a tree, so nearly every unknown has one or two neighbors when its turn
//! comes and hardly any new entry arises. Minimum degree: Tinney and Walker, "Direct solutions
//! of sparse network equations by optimally ordered triangular factorization", Proc. IEEE
//! 55(11), 1967 (from memory).

/// Most entries of the factor below its diagonal; more would take gigabytes.
const MOST_ENTRIES: usize = 40_000_000;

/// Order of elimination, and which later unknowns each one touches.
#[derive(Clone, Debug)]
pub(super) struct Elimination {
    /// Turn of each unknown.
    pub(super) turn: Vec<u32>,
    /// Start of each turn's touched unknowns in `touched`.
    pub(super) first: Vec<u32>,
    /// Later turns that each turn touches, ascending.
    pub(super) touched: Vec<u32>,
}

/// Orders `count` unknowns joined by `edges`; `Err` holds the entries at which it gave up.
pub(super) fn minimum_degree(count: usize, edges: &[(u32, u32)]) -> Result<Elimination, usize> {
    let mut graph = Graph::new(count, edges);
    let mut turn = vec![u32::MAX; count];
    let mut first = Vec::with_capacity(count + 1);
    let mut touched = Vec::with_capacity(edges.len());
    first.push(0);
    let mut next_turn = 0;
    while let Some(unknown) = graph.next() {
        turn[unknown as usize] = next_turn;
        next_turn += 1;
        graph.eliminate(unknown, &mut touched);
        if touched.len() > MOST_ENTRIES {
            return Err(touched.len());
        }
        first.push(touched.len() as u32);
    }
    for entry in &mut touched {
        *entry = turn[*entry as usize];
    }
    for column in 0..count {
        touched[first[column] as usize..first[column + 1] as usize].sort_unstable();
    }
    Ok(Elimination {
        turn,
        first,
        touched,
    })
}

/// What is left to eliminate. Lists may hold unknowns already gone; degrees do not count them.
struct Graph {
    neighbors: Vec<Vec<u32>>,
    degree: Vec<u32>,
    gone: Vec<bool>,
    /// Unknowns by degree; entries whose degree has changed since are skipped.
    buckets: Vec<Vec<u32>>,
    lowest: usize,
    /// Which unknowns the list last marked holds.
    mark: Vec<u32>,
    last_mark: u32,
}

impl Graph {
    fn new(count: usize, edges: &[(u32, u32)]) -> Self {
        let mut neighbors = vec![Vec::new(); count];
        for &(a, b) in edges {
            neighbors[a as usize].push(b);
            neighbors[b as usize].push(a);
        }
        let mut graph = Self {
            degree: Vec::with_capacity(count),
            gone: vec![false; count],
            buckets: Vec::new(),
            lowest: 0,
            mark: vec![0; count],
            last_mark: 0,
            neighbors: Vec::new(),
        };
        for list in &mut neighbors {
            list.sort_unstable();
            list.dedup();
            graph.degree.push(list.len() as u32);
        }
        graph.neighbors = neighbors;
        for unknown in (0..count as u32).rev() {
            graph.file(unknown);
        }
        graph
    }

    /// Puts an unknown into the bucket of its degree.
    fn file(&mut self, unknown: u32) {
        let degree = self.degree[unknown as usize] as usize;
        if degree >= self.buckets.len() {
            self.buckets.resize(degree + 1, Vec::new());
        }
        self.buckets[degree].push(unknown);
        self.lowest = self.lowest.min(degree);
    }

    /// The unknown of lowest degree; of several the one filed last, which lies close.
    fn next(&mut self) -> Option<u32> {
        while let Some(bucket) = self.buckets.get_mut(self.lowest) {
            match bucket.pop() {
                None => self.lowest += 1,
                Some(unknown) => {
                    let index = unknown as usize;
                    if !self.gone[index] && self.degree[index] as usize == self.lowest {
                        return Some(unknown);
                    }
                }
            }
        }
        None
    }

    /// Takes the unknown out, appends its neighbors to `touched` and joins them pairwise.
    fn eliminate(&mut self, unknown: u32, touched: &mut Vec<u32>) {
        let index = unknown as usize;
        self.gone[index] = true;
        let mut clique = std::mem::take(&mut self.neighbors[index]);
        clique.retain(|&other| !self.gone[other as usize]);
        // Shortest list first: the longest, perhaps a busbar's, is then never read.
        clique.sort_unstable_by_key(|&other| (self.neighbors[other as usize].len(), other));
        for &other in &clique {
            self.degree[other as usize] -= 1;
        }
        for (place, &one) in clique.iter().enumerate() {
            let rest = &clique[place + 1..];
            if rest.is_empty() {
                break;
            }
            self.mark_neighbors(one);
            for &other in rest {
                if self.mark[other as usize] != self.last_mark {
                    self.neighbors[one as usize].push(other);
                    self.neighbors[other as usize].push(one);
                    self.degree[one as usize] += 1;
                    self.degree[other as usize] += 1;
                }
            }
        }
        for &other in clique.iter().rev() {
            self.file(other);
        }
        touched.extend_from_slice(&clique);
    }

    /// Marks the live neighbors of an unknown and drops the others from its list.
    fn mark_neighbors(&mut self, unknown: u32) {
        self.last_mark += 1;
        let Self {
            neighbors,
            gone,
            mark,
            last_mark,
            ..
        } = self;
        neighbors[unknown as usize].retain(|&other| {
            mark[other as usize] = *last_mark;
            !gone[other as usize]
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tree_fills_nothing() {
        let edges: Vec<(u32, u32)> = (1..200).map(|i| (i, (i - 1) / 3)).collect();
        let order = minimum_degree(200, &edges).expect("small");
        assert_eq!(order.touched.len(), edges.len());
        let mut turns = order.turn.clone();
        turns.sort_unstable();
        assert!(turns.iter().enumerate().all(|(i, &turn)| i as u32 == turn));
    }

    #[test]
    fn a_ring_fills_one_entry_for_each_unknown_taken_out_of_it() {
        let edges: Vec<(u32, u32)> = (0..10).map(|i| (i, (i + 1) % 10)).collect();
        let order = minimum_degree(10, &edges).expect("small");
        // Eight touch two neighbors, the last but one touches one, the last none.
        assert_eq!(order.touched.len(), 8 * 2 + 1);
    }

    #[test]
    fn a_busbar_with_a_rim_is_not_read_again_and_again() {
        let count = 60_000;
        let rim = (1..count).map(|i| (i, if i + 1 == count { 1 } else { i + 1 }));
        let edges: Vec<(u32, u32)> = rim.chain((1..count).map(|i| (0, i))).collect();
        let order = minimum_degree(count as usize, &edges).expect("small");
        assert!(order.touched.len() <= 3 * count as usize);
    }
}
