//! Prices for serving each order, and the bound on every plan that they give.
//!
//! Pay a price for each order, and choose the contents worth most at these prices: no plan costs
//! less than all prices together, less the worth of those contents (Lagrangian relaxation of
//! *each order is served once*). Raising the price of what nothing chosen serves and lowering
//! that of what is served more than once drives the bound up.

use super::columns::{Columns, PARTS};
use super::wiring::ModuleSet;

/// Contents that have to be taken, those that may be, and prices.
#[derive(Clone, Debug)]
pub(super) struct Choice {
    /// Columns that every plan of this choice has.
    pub forced: Vec<usize>,
    /// Columns it may have besides.
    pub free: Vec<usize>,
    /// How many contents it may have in all.
    pub most: usize,
    /// Price of each order, in parts of a cent.
    pub prices: Vec<i64>,
}

/// What prices prove.
#[derive(Clone, Debug, Default)]
pub(super) struct Bound {
    /// No plan of the choice costs less, in parts of a cent.
    pub value: i64,
    /// The free columns worth most, best first, with their worth.
    pub chosen: Vec<(usize, i64)>,
    /// Worth of the best column that is not chosen.
    next: i64,
    /// Worth of each free column, in their order.
    gains: Vec<i64>,
}

impl Choice {
    /// Any `most` of these columns.
    pub(super) fn any(columns: &Columns, most: usize, prices: Vec<i64>) -> Self {
        Self {
            forced: Vec::new(),
            free: (0..columns.sets.len()).collect(),
            most,
            prices,
        }
    }

    /// How many free columns may still be taken.
    pub(super) fn open(&self) -> usize {
        self.most.saturating_sub(self.forced.len())
    }

    /// Orders looked at for one bound.
    pub(super) fn looks(&self, columns: &Columns) -> u64 {
        let taken = self.free.iter().chain(&self.forced);
        taken.map(|column| columns.held(*column) as u64).sum()
    }

    /// The bound at the present prices.
    pub(super) fn bound(&self, columns: &Columns) -> Bound {
        let gain = |column: &usize| columns.gain(*column, &self.prices);
        let forced: i64 = self.forced.iter().map(gain).sum();
        let gains: Vec<i64> = self.free.iter().map(gain).collect();
        let (chosen, next) = greatest(&gains, self.open());
        let worth: i64 = chosen.iter().map(|(_, gain)| gain).sum();
        let named = chosen.into_iter().map(|(at, gain)| (self.free[at], gain));
        Bound {
            value: self.prices.iter().sum::<i64>() - forced - worth,
            chosen: named.collect(),
            next,
            gains,
        }
    }

    /// The contents chosen at a bound, with those forced.
    pub(super) fn contents(&self, bound: &Bound, columns: &Columns) -> Vec<ModuleSet> {
        let chosen = bound.chosen.iter().map(|(column, _)| column);
        let taken = chosen.chain(&self.forced);
        taken.map(|column| columns.sets[*column]).collect()
    }

    /// Leaves out the columns that no plan below `limit` has, and forces those that each such
    /// plan has. `bound` is that of the present prices.
    ///
    /// A plan with a column that is not chosen has one of the chosen less: its bound is higher
    /// by the difference. Without a chosen one it has the next best instead.
    pub(super) fn narrow(&mut self, bound: &Bound, limit: i64) {
        if bound.chosen.len() < self.open() {
            return; // every free column is chosen: nothing takes the place of another
        }
        let worth_least = bound.chosen.last().map_or(0, |(_, gain)| *gain);
        let (mut must, mut may) = (Vec::new(), Vec::new());
        for (&column, &gain) in self.free.iter().zip(&bound.gains) {
            if !bound.chosen.iter().any(|(chosen, _)| *chosen == column) {
                if bound.value + worth_least - gain <= limit {
                    may.push(column);
                }
            } else if bound.value + gain - bound.next > limit {
                must.push(column);
            } else {
                may.push(column);
            }
        }
        self.free = may;
        self.forced.extend(must);
    }
}

/// Places of the `count` greatest, greatest first and the first of equals, each with its value;
/// and the value of the next one after them, or nought.
pub(super) fn greatest(values: &[i64], count: usize) -> (Vec<(usize, i64)>, i64) {
    let mut found: Vec<(usize, i64)> = Vec::with_capacity(count + 2);
    for (at, &value) in values.iter().enumerate() {
        if found.len() > count && value <= found[count].1 {
            continue;
        }
        let place = found.partition_point(|(_, other)| *other >= value);
        found.insert(place, (at, value));
        found.truncate(count + 1);
    }
    let next = found.get(count).map_or(0, |(_, value)| *value);
    found.truncate(count);
    (found, next)
}

/// Steps that drive the bound of a choice up.
#[derive(Clone, Debug)]
pub(super) struct Ascent {
    /// Length of a step, as a share of the way from the bound to the best plan known.
    step: f64,
    /// Steps since the last better bound.
    since: usize,
    direction: Vec<f64>,
}

impl Ascent {
    /// Steps without a better bound after which they are halved.
    const PATIENCE: usize = 12;
    /// Steps shorter than this change nothing any more.
    const SHORTEST: f64 = 1e-3;
    /// Share of the last direction that is kept: dampens going to and fro.
    const KEPT: f64 = 0.35;

    /// From prices of which little is known.
    pub(super) fn far(orders: usize) -> Self {
        Self::new(orders, 1.2)
    }

    /// From prices that are good for a choice much like this one.
    pub(super) fn near(orders: usize) -> Self {
        Self::new(orders, 0.5)
    }

    fn new(orders: usize, step: f64) -> Self {
        Self {
            step,
            since: 0,
            direction: vec![0.0; orders],
        }
    }

    /// Takes up to `steps` steps and leaves the choice at the prices of the best bound met, which
    /// it returns. `look` sees the choice at each bound, and whether that is better than all
    /// before; it may narrow the choice, gives the cost of the best plan known in parts of a
    /// cent, and nothing to stop.
    pub(super) fn climb(
        mut self,
        choice: &mut Choice,
        columns: &Columns,
        steps: usize,
        mut look: impl FnMut(&mut Choice, &Bound, bool) -> Option<i64>,
    ) -> i64 {
        let (mut value, mut prices) = (i64::MIN, choice.prices.clone());
        for _ in 0..steps {
            let bound = choice.bound(columns);
            let better = bound.value > value;
            if better {
                value = bound.value;
                prices.clone_from(&choice.prices);
            }
            let lacking = lacking(choice, &bound, columns);
            let Some(goal) = look(choice, &bound, better) else {
                break;
            };
            self.note(better);
            if self.step < Self::SHORTEST || lacking.iter().all(|lacking| *lacking == 0.0) {
                break; // in the second case the bound is the cost of what is chosen
            }
            self.step(&mut choice.prices, &lacking, bound.value, goal);
        }
        choice.prices = prices;
        value
    }

    fn note(&mut self, better: bool) {
        self.since = if better { 0 } else { self.since + 1 };
        if self.since == Self::PATIENCE {
            self.step /= 2.0;
            self.since = 0;
        }
    }

    fn step(&mut self, prices: &mut [i64], lacking: &[f64], value: i64, goal: i64) {
        for (direction, lacking) in self.direction.iter_mut().zip(lacking) {
            *direction = lacking + Self::KEPT * *direction;
        }
        let square: f64 = self.direction.iter().map(|part| part * part).sum();
        let way = (goal - value).max(PARTS) as f64;
        let factor = self.step * way / square.max(1e-9);
        for (price, direction) in prices.iter_mut().zip(&self.direction) {
            let next = *price + (factor * direction).round() as i64;
            *price = next.clamp(0, goal.max(0));
        }
    }
}

/// For each order one, less the number of chosen and forced columns that serve it at a gain.
fn lacking(choice: &Choice, bound: &Bound, columns: &Columns) -> Vec<f64> {
    let mut lacking = vec![1.0; choice.prices.len()];
    let chosen = bound.chosen.iter().map(|(column, _)| column);
    for column in chosen.chain(&choice.forced) {
        for (order, cost) in columns.serves(*column) {
            if choice.prices[order] > cost {
                lacking[order] -= 1.0;
            }
        }
    }
    lacking
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_greatest_come_first_and_the_first_of_equals() {
        let values = [3, 9, 9, 1, 4];
        assert_eq!(greatest(&values, 2), (vec![(1, 9), (2, 9)], 4));
        assert_eq!(greatest(&values, 1), (vec![(1, 9)], 9));
        assert_eq!(greatest(&values, 0), (vec![], 9));
        assert_eq!(greatest(&values[..1], 3), (vec![(0, 3)], 0));
    }
}
