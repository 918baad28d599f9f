//! Contents to choose from, and what each is worth at given prices.

use super::plan::Instance;
use super::wiring::ModuleSet;

/// Prices, and costs beside them, are in parts of a cent, so that rounding a price loses little
/// of a bound. Whole numbers throughout: a bound holds exactly.
pub(super) const PARTS: i64 = 256;

/// Contents with the orders each of them holds.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    pub sets: Vec<ModuleSet>,
    /// Cost of one harness, in parts of a cent.
    each: Vec<i64>,
    /// Where the orders of each content begin, and the end of the last.
    first: Vec<usize>,
    /// Numbers of the orders, content by content.
    orders: Vec<u16>,
    boats: Vec<i64>,
}

impl Columns {
    pub(super) fn new(instance: &Instance<'_>, sets: Vec<ModuleSet>) -> Self {
        let mut columns = Self {
            each: sets.iter().map(|set| instance.cost(*set) * PARTS).collect(),
            first: vec![0],
            orders: Vec::new(),
            boats: instance.boats.clone(),
            sets,
        };
        for set in &columns.sets {
            let numbered = (0_u16..).zip(&instance.sets);
            let held = numbered.filter(|(_, order)| set.holds(**order));
            columns.orders.extend(held.map(|(number, _)| number));
            columns.first.push(columns.orders.len());
        }
        columns
    }

    /// The orders that a content holds, each with its yearly cost when served by it.
    pub(super) fn serves(&self, column: usize) -> impl Iterator<Item = (usize, i64)> {
        let each = self.each[column];
        self.orders[self.first[column]..self.first[column + 1]]
            .iter()
            .map(move |order| usize::from(*order))
            .map(move |order| (order, self.boats[order] * each))
    }

    /// How many orders a content holds.
    pub(super) fn held(&self, column: usize) -> usize {
        self.first[column + 1] - self.first[column]
    }

    /// What a content is worth: the price of each order it holds, less the cost of serving it,
    /// where that leaves something.
    pub(super) fn gain(&self, column: usize, prices: &[i64]) -> i64 {
        let left = |(order, cost): (usize, i64)| (prices[order] - cost).max(0);
        self.serves(column).map(left).sum()
    }
}

/// [`Columns::gain`] of a content that is no column: slower, and without its memory.
pub(super) fn gain_of(instance: &Instance<'_>, set: ModuleSet, prices: &[i64]) -> i64 {
    let each = instance.cost(set) * PARTS;
    let mut gain = 0;
    for ((order, boats), price) in instance.sets.iter().zip(&instance.boats).zip(prices) {
        if set.holds(*order) {
            gain += (price - boats * each).max(0);
        }
    }
    gain
}
