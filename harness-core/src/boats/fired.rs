//! What one pass over boats and conditions answers: the heaviest boat, presence, counts.

use num_bigint::BigUint;

use super::boat::Boat;
use super::condition::Condition;
use super::firing::{Arrow, Decided, Firings, Fork, Presence, Way};
use super::layers::NONE;
use crate::extremes::greater;

impl Firings {
    /// The conditions, by number.
    pub fn conditions(&self) -> &[Condition] {
        &self.conditions
    }

    /// Number of nodes; every pass costs time in proportion.
    pub fn node_count(&self) -> usize {
        self.layers.iter().map(Vec::len).sum()
    }

    /// For each list of decided conditions its weight, or `None` where the boats looked at do not
    /// take such an arrow; `None` in all where they are none from the start.
    pub(super) fn gains(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Option<(f64, Vec<Option<f64>>)> {
        let (start, sums) = self.sums(weights, held)?;
        let gain = |sum: f64| (sum > f64::NEG_INFINITY).then_some(sum);
        Some((start, sums.into_iter().map(gain).collect()))
    }

    /// The same with negative infinity for arrows that are not taken.
    fn sums(&self, weights: &[f64], held: &[Option<bool>]) -> Option<(f64, Vec<f64>)> {
        let sum = |decided: &Decided| {
            let against = |of: &[u32], wrong: bool| {
                of.iter()
                    .any(|number| held[*number as usize] == Some(wrong))
            };
            if against(&decided.met, false) || against(&decided.unmet, true) {
                return f64::NEG_INFINITY;
            }
            // Not sum(): that of nothing is -0.
            let weights = decided.met.iter().map(|number| weights[*number as usize]);
            weights.fold(0.0, |sum, weight| sum + weight)
        };
        if !self.any {
            return None;
        }
        let start = sum(&self.at_start);
        (start > f64::NEG_INFINITY).then(|| (start, self.decided.iter().map(sum).collect()))
    }

    pub(super) fn layers(&self) -> &[Vec<Fork>] {
        &self.layers
    }

    /// The heaviest of the boats that meet or do not meet the conditions `held` so: its weight,
    /// the sum of the weights of the conditions it meets, and the boat. Weights may be negative
    /// and must be finite; of equals the one found by leaving out options first. `None` if there
    /// is no such boat.
    ///
    /// # Panics
    /// If there is not one weight and one entry in `held` for each condition.
    pub fn heaviest(&self, weights: &[f64], held: &[Option<bool>]) -> Option<(f64, Way)> {
        assert_eq!(weights.len(), self.conditions.len(), "one weight each");
        assert_eq!(held.len(), self.conditions.len(), "one entry each");
        let (start, gains) = self.sums(weights, held)?;
        let most = self.most_on(&gains);
        let best = most[0];
        (best > f64::NEG_INFINITY).then(|| (start + best, self.way(&gains, &most)))
    }

    /// The most on from each node, layer by layer; the end is last.
    fn most_on(&self, gains: &[f64]) -> Vec<f64> {
        let mut most = vec![0.0; self.node_count() + 1];
        let mut end = most.len() - 1;
        for forks in self.layers.iter().rev() {
            let (before, after) = most.split_at_mut(end);
            end -= forks.len();
            for (most, fork) in before[end..].iter_mut().zip(forks) {
                let (out, on) = (
                    along(fork.left_out, gains, after),
                    along(fork.fitted, gains, after),
                );
                *most = greater(on, out);
            }
        }
        most
    }

    /// The same among boats on which the conditions met count for at least so many. `None` if there
    /// is no such boat.
    pub fn heaviest_with(
        &self,
        weights: &[f64],
        (counts, least): (&[u32], u32),
        held: &[Option<bool>],
    ) -> Option<(f64, Way)> {
        let (start, gains) = self.sums(weights, held)?;
        let count_of = |decided: &Decided| -> usize {
            let met = decided.met.iter().map(|number| counts[*number as usize]);
            met.sum::<u32>() as usize
        };
        let counted: Vec<usize> = self.decided.iter().map(count_of).collect();
        let wanted = (least as usize).saturating_sub(count_of(&self.at_start));
        let none = f64::NEG_INFINITY;
        // For each node in turn the best sum on when none, one ... are still wanted.
        let each = wanted + 1;
        let mut below = vec![none; each];
        below[0] = 0.0;
        let mut choices: Vec<Vec<bool>> = Vec::with_capacity(self.layers.len());
        for forks in self.layers.iter().rev() {
            let mut sums = Vec::with_capacity(forks.len() * each);
            let mut fitted = Vec::with_capacity(forks.len() * each);
            for fork in forks {
                let [out, on] = [fork.left_out, fork.fitted].map(|arrow| {
                    let after = match arrow.to {
                        NONE => &[],
                        to => &below[to as usize * each..][..each],
                    };
                    let decides = arrow.decides as usize;
                    let (gain, counted) = (gains[decides], counted[decides]);
                    move |left: usize| match after.get(left.saturating_sub(counted)) {
                        Some(after) => gain + after,
                        None => none,
                    }
                });
                for left in 0..each {
                    let (out, on) = (out(left), on(left));
                    fitted.push(on > out);
                    sums.push(on.max(out));
                }
            }
            below = sums;
            choices.push(fitted);
        }
        choices.reverse();
        let best = below[wanted];
        if best == none {
            return None;
        }
        let mut boat = Boat::bare();
        let (mut node, mut left) = (0, wanted);
        for ((forks, fitted), &option) in self.layers.iter().zip(&choices).zip(&self.order) {
            let arrow = if fitted[node * each + left] {
                boat.add(option);
                forks[node].fitted
            } else {
                forks[node].left_out
            };
            left = left.saturating_sub(counted[arrow.decides as usize]);
            node = arrow.to as usize;
        }
        Some((start + best, self.way_of(&boat)))
    }

    /// For each condition the greatest weight of a boat so `held` that does not meet it, and of one
    /// that does; negative infinity where no boat is so. Two passes, whatever the number of
    /// conditions.
    pub fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)> {
        let none = f64::NEG_INFINITY;
        let mut each = vec![(none, none); self.conditions.len()];
        let Some((start, gains)) = self.sums(weights, held) else {
            return each;
        };
        let most = self.most_on(&gains);
        // The most up to each node, and with each list of decided conditions.
        let mut up = vec![none; most.len()];
        up[0] = start;
        let mut with = vec![none; self.decided.len()];
        let mut end = 0;
        for forks in &self.layers {
            let first = end;
            end += forks.len();
            let (before, next) = up.split_at_mut(end);
            for (fork, up) in forks.iter().zip(&before[first..]) {
                for arrow in [fork.left_out, fork.fitted] {
                    let (node, list) = (arrow.to as usize, arrow.decides as usize);
                    if let Some(next) = next.get_mut(node) {
                        let here = up + gains[list];
                        *next = greater(here, *next);
                        with[list] = greater(with[list], here + most[end + node]);
                    }
                }
            }
        }
        let all = start + most[0];
        let lists = self.decided.iter().zip(&with);
        for (decided, &most) in lists.chain([(&self.at_start, &all)]) {
            for number in &decided.unmet {
                let known = &mut each[*number as usize].0;
                *known = known.max(most);
            }
            for number in &decided.met {
                let known = &mut each[*number as usize].1;
                *known = known.max(most);
            }
        }
        each
    }

    /// The boat on the heaviest way, of equals the one with options left out first.
    fn way(&self, gains: &[f64], most: &[f64]) -> Way {
        let mut boat = Boat::bare();
        let mut met = vec![false; self.conditions.len()];
        let mut mark = |decided: &Decided| {
            for number in &decided.met {
                met[*number as usize] = true;
            }
        };
        mark(&self.at_start);
        let (mut node, mut end) = (0, 0);
        for (forks, &option) in self.layers.iter().zip(&self.order) {
            let fork = forks[node];
            end += forks.len();
            let after = &most[end..];
            let is_heavier = along(fork.fitted, gains, after) > along(fork.left_out, gains, after);
            let arrow = if is_heavier {
                boat.add(option);
                fork.fitted
            } else {
                fork.left_out
            };
            mark(&self.decided[arrow.decides as usize]);
            node = arrow.to as usize;
        }
        Way { boat, met }
    }

    /// How many lists of decided conditions there are.
    pub(super) fn decided_count(&self) -> usize {
        self.decided.len()
    }

    /// The boat reached by these decisions, layer by layer.
    pub(super) fn along(&self, path: &[(usize, bool)]) -> Way {
        let fitted = path.iter().filter(|(_, fitted)| *fitted);
        self.way_of(&fitted.map(|(layer, _)| self.order[*layer]).collect())
    }

    /// One boat with the conditions it meets.
    pub fn way_of(&self, boat: &Boat) -> Way {
        Way {
            boat: boat.clone(),
            met: self.conditions.iter().map(|c| c.holds(boat)).collect(),
        }
    }

    /// For each condition whether it is met on the boats that meet the `held` ones so; `None` if
    /// there is no such boat.
    pub fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        let weights = vec![0.0; self.conditions.len()];
        let (_, gains) = self.gains(&weights, held)?;
        let alive = self.alive(&gains);
        if !alive[0][0] {
            return None;
        }
        let mut used = vec![false; self.decided.len()];
        let mut reached = vec![true];
        for (layer, forks) in self.layers.iter().enumerate() {
            let mut next = vec![false; alive[layer + 1].len()];
            for (fork, _) in forks.iter().zip(&reached).filter(|(_, reached)| **reached) {
                for arrow in [fork.left_out, fork.fitted] {
                    let leads = arrow.to != NONE
                        && gains[arrow.decides as usize].is_some()
                        && alive[layer + 1][arrow.to as usize];
                    if leads {
                        used[arrow.decides as usize] = true;
                        next[arrow.to as usize] = true;
                    }
                }
            }
            reached = next;
        }
        let mut seen = vec![(false, false); self.conditions.len()];
        let lists = self.decided.iter().zip(&used).filter(|(_, used)| **used);
        for decided in lists.map(|(list, _)| list).chain([&self.at_start]) {
            for number in &decided.met {
                seen[*number as usize].0 = true;
            }
            for number in &decided.unmet {
                seen[*number as usize].1 = true;
            }
        }
        let presence = seen.into_iter().map(|seen| match seen {
            (true, true) => Presence::Some,
            (true, false) => Presence::Always,
            (false, _) => Presence::Never,
        });
        Some(presence.collect())
    }

    /// Which nodes of each layer, the end included, still reach the end.
    fn alive(&self, gains: &[Option<f64>]) -> Vec<Vec<bool>> {
        let mut alive = vec![vec![true]];
        for forks in self.layers.iter().rev() {
            let below = &alive[alive.len() - 1];
            let leads = |arrow: Arrow| {
                gains[arrow.decides as usize].is_some()
                    && below.get(arrow.to as usize).copied().unwrap_or(false)
            };
            let here = forks
                .iter()
                .map(|fork| leads(fork.left_out) || leads(fork.fitted))
                .collect();
            alive.push(here);
        }
        alive.reverse();
        alive
    }

    /// How many boats meet or do not meet the conditions `held` so.
    pub fn count(&self, held: &[Option<bool>]) -> BigUint {
        let weights = vec![0.0; self.conditions.len()];
        let Some((_, gains)) = self.gains(&weights, held) else {
            return BigUint::ZERO;
        };
        let mut counts = self.counts(&gains);
        counts[0].swap_remove(0)
    }

    /// For each node of each layer, the end included, how many boats follow.
    pub(super) fn counts(&self, gains: &[Option<f64>]) -> Vec<Vec<BigUint>> {
        let mut counts = vec![vec![BigUint::from(1u8)]];
        for forks in self.layers.iter().rev() {
            let below = &counts[counts.len() - 1];
            let after = |arrow: Arrow| match (
                gains[arrow.decides as usize],
                below.get(arrow.to as usize),
            ) {
                (Some(_), Some(count)) => count.clone(),
                _ => BigUint::ZERO,
            };
            let here = forks
                .iter()
                .map(|fork| after(fork.left_out) + after(fork.fitted))
                .collect();
            counts.push(here);
        }
        counts.reverse();
        counts
    }
}

/// The most on along an arrow, with the most on after it.
fn along(arrow: Arrow, gains: &[f64], after: &[f64]) -> f64 {
    match after.get(arrow.to as usize) {
        Some(after) => gains[arrow.decides as usize] + after,
        None => f64::NEG_INFINITY,
    }
}
