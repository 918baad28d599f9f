//! How many boats exceed a limit, counted without listing them.
//!
//! On each boat some sums of the weights of the conditions it meets are known between bounds. A
//! boat is over when one of its sums is. The diagram is walked with the sums so far: where the
//! lightest way on is over already, all boats that follow count; where the heaviest is not, none
//! does. What was found at a node holds for every sum in the interval in which the same
//! decisions fall, so that it is found once. Only where the bounds of a single boat lie on both
//! sides of the limit is the boat itself asked. Counting by budget intervals: C. Mayer-Eichberger
//! and others on decision diagrams of pseudo-Boolean constraints (from memory).

use std::collections::BTreeMap;

use num_bigint::BigUint;

use super::firing::{Arrow, Firings, Way};
use super::layers::NONE;

/// One sum over the conditions a boat meets, known between two bounds. What makes a boat over is
/// more than 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Without any condition: least and greatest.
    pub constant: (f64, f64),
    /// Of each condition: least and greatest.
    pub weights: Vec<(f64, f64)>,
}

impl Line {
    /// The bounds of the sum on one boat.
    pub fn at(&self, way: &Way) -> (f64, f64) {
        let met = self.weights.iter().zip(&way.met).filter(|(_, met)| **met);
        met.fold(self.constant, |(low, high), ((a, b), _)| {
            (low + a, high + b)
        })
    }

    /// The least weight of each condition.
    pub fn low(&self) -> Vec<f64> {
        self.weights.iter().map(|(low, _)| *low).collect()
    }

    /// The greatest weight of each condition.
    pub fn high(&self) -> Vec<f64> {
        self.weights.iter().map(|(_, high)| *high).collect()
    }
}

/// How many boats are over: exact where both are equal, else proven bounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Over {
    /// At least so many.
    pub at_least: BigUint,
    /// At most so many.
    pub at_most: BigUint,
}

impl Over {
    /// An exact number.
    pub fn exactly(count: BigUint) -> Self {
        Self {
            at_least: count.clone(),
            at_most: count,
        }
    }

    /// Whether the number is exact.
    pub fn is_exact(&self) -> bool {
        self.at_least == self.at_most
    }
}

/// What was found at a node, and for which sums so far it holds.
#[derive(Clone, Debug)]
struct Found {
    over: Over,
    /// For each line the least and greatest sums so far, low and high bound.
    holds: Vec<[(f64, f64); 2]>,
    /// Whether it holds for other ways to the node at all.
    shared: bool,
}

struct Counting<'f, 'd> {
    firings: &'f Firings,
    /// For each line the gain of each list of decided conditions, low and high.
    gains: Vec<[Vec<f64>; 2]>,
    /// For each line, layer and node the least of the low and the greatest of the high sums on.
    rest: Vec<[Vec<Vec<f64>>; 2]>,
    counts: Vec<Vec<BigUint>>,
    memo: Vec<BTreeMap<u32, Vec<Found>>>,
    left: usize,
    decide: &'d mut dyn FnMut(&Way) -> bool,
    path: Vec<(usize, bool)>,
}

/// Results kept for one node.
const MOST_KEPT: usize = 64;

impl Firings {
    /// Counts the boats on which some line is above 0. `decide` settles a boat whose bounds lie on
    /// both sides; after `most` steps what is open stays between bounds.
    ///
    /// # Panics
    /// If a line has not one weight for each condition.
    pub fn count_over(
        &self,
        lines: &[Line],
        most: usize,
        decide: &mut dyn FnMut(&Way) -> bool,
    ) -> Over {
        let none = vec![None; self.conditions().len()];
        let mut gains = Vec::new();
        let mut starts = Vec::new();
        for line in lines {
            let (Some((low, of_low)), Some((high, of_high))) = (
                self.gains(&line.low(), &none),
                self.gains(&line.high(), &none),
            ) else {
                return Over::exactly(BigUint::ZERO);
            };
            starts.push([line.constant.0 + low, line.constant.1 + high]);
            let all = |gains: Vec<Option<f64>>| -> Vec<f64> {
                gains.into_iter().map(|gain| gain.unwrap_or(0.0)).collect()
            };
            gains.push([all(of_low), all(of_high)]);
        }
        let allowed = vec![Some(0.0); self.decided_count()];
        let rest = gains
            .iter()
            .map(|[low, high]| {
                let least = |a: f64, b: f64| a.min(b);
                let most = |a: f64, b: f64| a.max(b);
                [self.extremes(low, &least), self.extremes(high, &most)]
            })
            .collect();
        let mut counting = Counting {
            firings: self,
            gains,
            rest,
            counts: self.counts(&allowed),
            memo: vec![BTreeMap::new(); self.layers().len() + 1],
            left: most,
            decide,
            path: Vec::new(),
        };
        counting.count(0, 0, &starts).over
    }

    /// For each node of each layer, the end included, the extreme sum of gains on.
    fn extremes(&self, gains: &[f64], choose: &dyn Fn(f64, f64) -> f64) -> Vec<Vec<f64>> {
        let mut sums = vec![vec![0.0]];
        for forks in self.layers().iter().rev() {
            let below = &sums[sums.len() - 1];
            let on = |arrow: Arrow| {
                let after = below.get(arrow.to as usize)?;
                Some(gains[arrow.decides as usize] + after)
            };
            let here = forks
                .iter()
                .map(|fork| match (on(fork.left_out), on(fork.fitted)) {
                    (Some(a), Some(b)) => choose(a, b),
                    (a, b) => a.or(b).unwrap_or(0.0),
                })
                .collect();
            sums.push(here);
        }
        sums.reverse();
        sums
    }
}

impl Counting<'_, '_> {
    fn count(&mut self, layer: usize, node: u32, sums: &[[f64; 2]]) -> Found {
        let all = self.counts[layer][node as usize].clone();
        let everywhere = (f64::NEG_INFINITY, f64::INFINITY);
        let mut holds = vec![[everywhere; 2]; sums.len()];
        for (line, sum) in sums.iter().enumerate() {
            let least = self.rest[line][0][layer][node as usize];
            if sum[0] + least > 0.0 {
                holds = vec![[everywhere; 2]; sums.len()];
                holds[line][0] = ((-least).next_up(), f64::INFINITY);
                return Found {
                    over: Over::exactly(all),
                    holds,
                    shared: true,
                };
            }
            // What comes further down holds only where this line is not over for sure.
            holds[line][0].1 = -least;
        }
        let possible = |line: usize| sums[line][1] + self.rest[line][1][layer][node as usize] > 0.0;
        let open = (0..sums.len()).any(possible);
        if !open {
            for (line, holds) in holds.iter_mut().enumerate() {
                holds[1].1 = -self.rest[line][1][layer][node as usize];
            }
            return Found {
                over: Over::exactly(BigUint::ZERO),
                holds,
                shared: true,
            };
        }
        if let Some(known) = self.known(layer, node, sums) {
            return known;
        }
        if self.left == 0 {
            return Found {
                over: Over {
                    at_least: BigUint::ZERO,
                    at_most: all,
                },
                holds,
                shared: false,
            };
        }
        self.left -= 1;
        if layer == self.firings.layers().len() {
            let way = self.firings.along(&self.path);
            let over = (self.decide)(&way);
            return Found {
                over: Over::exactly(BigUint::from(u8::from(over))),
                holds,
                shared: false,
            };
        }
        let fork = self.firings.layers()[layer][node as usize];
        let mut found = Found {
            over: Over::exactly(BigUint::ZERO),
            holds,
            shared: true,
        };
        for (arrow, fitted) in [(fork.left_out, false), (fork.fitted, true)] {
            if arrow.to == NONE {
                continue;
            }
            let gain = |line: usize, bound: usize| self.gains[line][bound][arrow.decides as usize];
            let next: Vec<[f64; 2]> = (0..sums.len())
                .map(|line| [sums[line][0] + gain(line, 0), sums[line][1] + gain(line, 1)])
                .collect();
            let shifts: Vec<[f64; 2]> = (0..sums.len())
                .map(|line| [gain(line, 0), gain(line, 1)])
                .collect();
            self.path.push((layer, fitted));
            let child = self.count(layer + 1, arrow.to, &next);
            self.path.pop();
            found.over.at_least += child.over.at_least;
            found.over.at_most += child.over.at_most;
            found.shared &= child.shared;
            for (own, (child, shift)) in found.holds.iter_mut().zip(child.holds.iter().zip(shifts))
            {
                for bound in 0..2 {
                    own[bound].0 = own[bound].0.max(child[bound].0 - shift[bound]);
                    own[bound].1 = own[bound].1.min(child[bound].1 - shift[bound]);
                }
            }
        }
        if found.shared {
            let kept = self.memo[layer].entry(node).or_default();
            if kept.len() < MOST_KEPT {
                kept.push(found.clone());
            }
        }
        found
    }

    fn known(&self, layer: usize, node: u32, sums: &[[f64; 2]]) -> Option<Found> {
        let within = |found: &&Found| {
            found.holds.iter().zip(sums).all(|(holds, sum)| {
                (0..2).all(|bound| holds[bound].0 <= sum[bound] && sum[bound] <= holds[bound].1)
            })
        };
        self.memo[layer].get(&node)?.iter().find(within).cloned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boats::boat::Boat;

    #[test]
    fn a_line_adds_the_bounds_of_what_is_met() {
        let line = Line {
            constant: (-2.0, -1.0),
            weights: vec![(0.25, 0.5), (4.0, 8.0), (-0.75, 0.125)],
        };
        let at = |met: [bool; 3]| {
            line.at(&Way {
                boat: Boat::bare(),
                met: met.to_vec(),
            })
        };
        assert_eq!(at([false; 3]), (-2.0, -1.0));
        assert_eq!(at([true, false, true]), (-2.5, -0.375));
        assert_eq!(at([true; 3]), (1.5, 7.625));
        assert_eq!(line.low(), [0.25, 4.0, -0.75]);
        assert_eq!(line.high(), [0.5, 8.0, 0.125]);
    }

    #[test]
    fn a_number_between_bounds_is_not_exact() {
        let number = BigUint::from(7_u8);
        assert!(Over::exactly(number.clone()).is_exact());
        let between = Over {
            at_least: BigUint::ZERO,
            at_most: number,
        };
        assert!(!between.is_exact());
    }
}
