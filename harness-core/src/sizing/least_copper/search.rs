//! The search: prices lead, sizes follow, the lightest few are improved further.

use super::answer::{LeastCopper, Sizes};
use super::assignment::{Assignment, ROUNDING, Valued};
use super::branch::raise_bound;
use super::improve::{LIGHTER, improve};
use super::instance::Instance;
use super::prices::{Descent, FIRST_STRIDE, Left, Priced};
use super::tables::Tables;

/// Steps of the prices while rows are still being found.
const QUICK_STEPS: usize = 120;
/// Seldom reached: the prices stand still before.
const FULL_STEPS: usize = 1000;
/// How many of the lightest sizes are improved further; they often come to the same.
const IMPROVED: usize = 4;

/// How long to search; one after the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Effort {
    /// Good enough to ask for the boats that break a limit.
    Quick,
    /// As light as it gets.
    Full,
    /// Then for the bound; that may still find something lighter.
    Bound,
}

/// What is known so far of one instance with the rows it has at the moment.
#[derive(Clone, Debug)]
pub(super) struct Search {
    pub(super) tables: Tables,
    /// Price of each row of the tables.
    pub(super) prices: Vec<f64>,
    /// Just over 1; just under it for a row that was seen to be broken by rounding alone.
    ceilings: Vec<f64>,
    pub(super) best: Assignment,
    pub(super) at_least_kg: f64,
}

impl Search {
    /// Of an instance without faults whose rows are all met in the largest sizes.
    pub(super) fn of(instance: &Instance) -> Self {
        let tables = Tables::of(instance);
        let largest = tables.largest();
        Self {
            prices: vec![0.0; tables.rows.len()],
            ceilings: vec![1.0 + ROUNDING; tables.rows.len()],
            best: Assignment::new(&tables, largest),
            at_least_kg: f64::NEG_INFINITY,
            tables,
        }
    }

    /// Goes on from here with the rows that have been added; the prices of the others and the
    /// mass that nothing can go below stay.
    pub(super) fn with_more_rows(self, instance: &Instance) -> Self {
        let mut more = Self::of(instance);
        for (place, row) in more.tables.rows.iter().enumerate() {
            if let Ok(before) = self.tables.rows.binary_search(row) {
                more.prices[place] = self.prices[before];
                more.ceilings[place] = self.ceilings[before];
            }
        }
        more.at_least_kg = self.at_least_kg;
        let mut start = Assignment::new(&more.tables, self.best.choices);
        if start.repair(&more.tables, &more.ceilings, None, Valued::ByMass) {
            more.trim(&mut start, Valued::ByMass);
            more.offer(instance, start);
        }
        more
    }

    pub(super) fn run(&mut self, instance: &Instance, effort: Effort) {
        match effort {
            Effort::Quick => self.descend(instance, QUICK_STEPS, 0),
            Effort::Full => self.descend(instance, FULL_STEPS, IMPROVED),
            Effort::Bound => raise_bound(self, instance),
        }
    }

    /// Follows the prices for so many steps at most, repairs and trims what they lead to, and
    /// improves so many of the lightest, of each way to trim.
    fn descend(&mut self, instance: &Instance, steps: usize, improved: usize) {
        let mut lightest: [Vec<Assignment>; 2] = Default::default();
        let mut priced = Priced::default();
        let mut descent = Descent::from(self.prices.clone(), FIRST_STRIDE);
        let all = Left::all(&self.tables);
        for _ in 0..steps {
            priced.find(&self.tables, &all, &descent.prices);
            self.at_least_kg = self.at_least_kg.max(priced.at_least_kg);
            let at_prices = Assignment::new(&self.tables, priced.choices.clone());
            let goes_on = descent.step(priced.value_kg, &at_prices.used, self.best.mass_kg);
            let by_price = Valued::ByPrice(&priced.unit_prices);
            let mut repaired = at_prices;
            if repaired.repair(&self.tables, &self.ceilings, None, by_price) {
                for (lightest, valued) in lightest.iter_mut().zip([Valued::ByMass, by_price]) {
                    let mut trimmed = repaired.clone();
                    self.trim(&mut trimmed, valued);
                    keep(lightest, &trimmed, improved);
                    self.offer(instance, trimmed);
                }
            }
            if !goes_on {
                break;
            }
        }
        self.prices = descent.into_best_prices();
        priced.find(&self.tables, &all, &self.prices);
        for start in lightest.into_iter().flatten() {
            let lighter = improve(&self.tables, &self.ceilings, &priced.unit_prices, start);
            self.offer(instance, lighter);
        }
    }

    /// Repairs and trims what is best at some prices, and takes it if it is lighter.
    pub(super) fn offer_repaired(&mut self, instance: &Instance, priced: &Priced) {
        let valued = Valued::ByPrice(&priced.unit_prices);
        let mut repaired = Assignment::new(&self.tables, priced.choices.clone());
        if repaired.repair(&self.tables, &self.ceilings, None, valued) {
            self.trim(&mut repaired, valued);
            self.offer(instance, repaired);
        }
    }

    /// Sizes of this mass or more do not count as lighter than the best.
    pub(super) fn not_lighter_kg(&self) -> f64 {
        self.best.mass_kg * (1.0 - LIGHTER)
    }

    pub(super) fn trim(&self, sizes: &mut Assignment, valued: Valued<'_>) {
        let all = 0..self.tables.units.len();
        sizes.trim(&self.tables, &self.ceilings, all, valued);
    }

    /// Takes sizes that are lighter than the best, if the rows themselves say that they are met.
    pub(super) fn offer(&mut self, instance: &Instance, mut found: Assignment) {
        while found.mass_kg < self.not_lighter_kg() {
            let areas_mm2 = self.tables.sizes(instance, &found.choices).areas_mm2;
            if instance.rows.iter().all(|row| row.is_met(&areas_mm2)) {
                self.best = found;
                return;
            }
            let mut tightened = false;
            for (ceiling, &row) in self.ceilings.iter_mut().zip(&self.tables.rows) {
                if *ceiling > 1.0 && !instance.rows[row].is_met(&areas_mm2) {
                    *ceiling = 1.0 - ROUNDING;
                    tightened = true;
                }
            }
            if !tightened || !found.repair(&self.tables, &self.ceilings, None, Valued::ByMass) {
                return;
            }
            self.trim(&mut found, Valued::ByMass);
        }
    }

    pub(super) fn sizes(&self, instance: &Instance) -> Sizes {
        self.tables.sizes(instance, &self.best.choices)
    }

    pub(super) fn answer(&self, instance: &Instance, rounds: usize) -> LeastCopper {
        LeastCopper {
            sizes: self.sizes(instance),
            at_least_kg: self.at_least_kg,
            governed_by: self.tables.governed_by(&self.best),
            rounds,
        }
    }
}

/// Keeps sizes among the lightest; of the same mass only the first.
fn keep(lightest: &mut Vec<Assignment>, found: &Assignment, most: usize) {
    let place = lightest.partition_point(|kept| kept.mass_kg < found.mass_kg * (1.0 - LIGHTER));
    let same = |kept: &Assignment| kept.mass_kg <= found.mass_kg * (1.0 + LIGHTER);
    if place < most && !lightest.get(place).is_some_and(same) {
        lightest.insert(place, found.clone());
        lightest.truncate(most);
    }
}
