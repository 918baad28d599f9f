//! Sparse LDLᵀ of the nodal equations: the pattern is compiled once, numbers change each step.

use super::ordering::Elimination;

/// Updates up to which their targets are listed beforehand (4 bytes each).
const MOST_LISTED_UPDATES: usize = 20_000_000;

/// Where the numbers of the factor stand, and what each elimination updates.
#[derive(Clone, Debug)]
pub(super) struct Pattern {
    first: Vec<u32>,
    touched: Vec<u32>,
    /// For each column, for each pair of touched unknowns: the entry their product changes.
    /// Empty for patterns with very many updates, which are found by merging instead.
    targets: Option<Vec<u32>>,
}

/// Numbers of a matrix, and after [`Pattern::factor`] of its factor.
#[derive(Clone, Debug, Default)]
pub(super) struct Numbers {
    pub(super) diagonal: Vec<f64>,
    /// One for each entry of the pattern, and one more that nobody reads.
    pub(super) below: Vec<f64>,
}

/// An elimination whose pivot is not above zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NotPositive;

impl Pattern {
    pub(super) fn new(elimination: Elimination) -> Self {
        let Elimination { first, touched, .. } = elimination;
        let mut pattern = Self {
            first,
            touched,
            targets: None,
        };
        let updates: usize = (0..pattern.len())
            .map(|column| pattern.column(column).len())
            .map(|length| length * length.saturating_sub(1) / 2)
            .sum();
        if updates <= MOST_LISTED_UPDATES {
            let mut targets = Vec::with_capacity(updates);
            for column in 0..pattern.len() {
                pattern.each_target(column, |_, _, target| targets.push(target as u32));
            }
            pattern.targets = Some(targets);
        }
        pattern
    }

    /// Number of unknowns.
    pub(super) fn len(&self) -> usize {
        self.first.len() - 1
    }

    /// Number of entries below the diagonal, which is also the place of the unread one.
    pub(super) fn entries(&self) -> usize {
        self.touched.len()
    }

    /// Place of the entry of two turns.
    pub(super) fn entry(&self, one: u32, other: u32) -> usize {
        let (column, row) = (one.min(other) as usize, one.max(other));
        let range = self.column(column);
        range.start + self.touched[range.clone()].partition_point(|&touched| touched < row)
    }

    fn column(&self, column: usize) -> std::ops::Range<usize> {
        self.first[column] as usize..self.first[column + 1] as usize
    }

    /// Calls with each pair of entries of the column and the entry of their two unknowns.
    fn each_target(&self, column: usize, mut visit: impl FnMut(usize, usize, usize)) {
        let range = self.column(column);
        for p in range.clone() {
            // Both lists ascend, and the target's column holds every later unknown of this one.
            let mut target = self.column(self.touched[p] as usize).start;
            for q in p + 1..range.end {
                while self.touched[target] < self.touched[q] {
                    target += 1;
                }
                visit(p, q, target);
            }
        }
    }

    /// Factors in place: `diagonal` becomes the inverse of D, `below` becomes L.
    pub(super) fn factor(&self, numbers: &mut Numbers) -> Result<(), NotPositive> {
        let Numbers { diagonal, below } = numbers;
        let mut next_target = 0;
        for column in 0..self.len() {
            let pivot = diagonal[column];
            // A NaN fails here too.
            if !(pivot > 0.0 && pivot.is_finite()) {
                return Err(NotPositive);
            }
            let inverse = 1.0 / pivot;
            diagonal[column] = inverse;
            let range = self.column(column);
            match &self.targets {
                Some(targets) => {
                    for p in range.clone() {
                        let share = below[p] * inverse;
                        diagonal[self.touched[p] as usize] -= share * below[p];
                        for q in p + 1..range.end {
                            below[targets[next_target] as usize] -= share * below[q];
                            next_target += 1;
                        }
                        below[p] = share;
                    }
                }
                None => {
                    self.each_target(column, |p, q, target| {
                        below[target] -= below[p] * inverse * below[q];
                    });
                    for p in range {
                        let share = below[p] * inverse;
                        diagonal[self.touched[p] as usize] -= share * below[p];
                        below[p] = share;
                    }
                }
            }
        }
        Ok(())
    }

    /// Solves with a factor in place of the right side; entries past the unknowns stay.
    pub(super) fn solve(&self, factor: &Numbers, x: &mut [f64]) {
        for column in 0..self.len() {
            let value = x[column];
            for p in self.column(column) {
                x[self.touched[p] as usize] -= factor.below[p] * value;
            }
            x[column] = value * factor.diagonal[column];
        }
        for column in (0..self.len()).rev() {
            let mut value = x[column];
            for p in self.column(column) {
                value -= factor.below[p] * x[self.touched[p] as usize];
            }
            x[column] = value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::ordering::minimum_degree;

    /// Laplacian of a random graph plus one on the diagonal.
    fn check(listed: bool) {
        let mut random = fastrand::Rng::with_seed(7);
        let count = 60u32;
        let mut edges: Vec<(u32, u32)> = (1..count).map(|i| (i, random.u32(0..i))).collect();
        edges.extend((0..80).map(|_| (random.u32(0..count), random.u32(0..count))));
        edges.retain(|(a, b)| a != b);
        let elimination = minimum_degree(count as usize, &edges).expect("small");
        let turn = elimination.turn.clone();
        let mut pattern = Pattern::new(elimination);
        if !listed {
            pattern.targets = None;
        }
        let mut numbers = Numbers {
            diagonal: vec![1.0; count as usize],
            below: vec![0.0; pattern.entries() + 1],
        };
        for &(a, b) in &edges {
            let (a, b) = (turn[a as usize], turn[b as usize]);
            numbers.diagonal[a as usize] += 2.0;
            numbers.diagonal[b as usize] += 2.0;
            numbers.below[pattern.entry(a, b)] -= 2.0;
        }
        let expected: Vec<f64> = (0..count).map(|_| random.f64()).collect();
        let mut x = expected.clone();
        for &(a, b) in &edges {
            let (a, b) = (turn[a as usize] as usize, turn[b as usize] as usize);
            x[a] += 2.0 * (expected[a] - expected[b]);
            x[b] += 2.0 * (expected[b] - expected[a]);
        }
        pattern.factor(&mut numbers).expect("positive");
        pattern.solve(&numbers, &mut x);
        for (found, expected) in x.iter().zip(&expected) {
            assert!(
                (found - expected).abs() < 1e-12,
                "{found} against {expected}"
            );
        }
    }

    #[test]
    fn solves_with_listed_updates() {
        check(true);
    }

    #[test]
    fn solves_with_updates_found_by_merging() {
        check(false);
    }

    #[test]
    fn a_pivot_of_zero_or_below_is_refused() {
        let elimination = minimum_degree(2, &[(0, 1)]).expect("small");
        let pattern = Pattern::new(elimination);
        let mut numbers = Numbers {
            diagonal: vec![1.0, 1.0],
            below: vec![-1.0, 0.0],
        };
        assert_eq!(pattern.factor(&mut numbers), Err(NotPositive));
    }
}
