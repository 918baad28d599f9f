//! Prices on the rows. At given prices each unit finds its own best size, and what all of them
//! cost together is a mass that no sizes meeting the rows can go below.

use super::tables::Tables;

/// The choices of each unit that are left to choose from: from the least to the most.
#[derive(Clone, Debug)]
pub(super) struct Left {
    pub(super) least: Vec<usize>,
    pub(super) most: Vec<usize>,
}

impl Left {
    pub(super) fn all(tables: &Tables) -> Self {
        Self {
            least: vec![0; tables.units.len()],
            most: tables.largest(),
        }
    }
}

/// Best sizes at some prices.
#[derive(Clone, Debug, Default)]
pub(super) struct Priced {
    /// The best choice of each unit.
    pub(super) choices: Vec<usize>,
    /// What a unit's volts are worth: kg mm2, to be divided by its area.
    pub(super) unit_prices: Vec<f64>,
    /// Mass of the choices and price of the volts they use, less the price of all limits.
    pub(super) value_kg: f64,
    /// The value less all that rounding can have added to it.
    pub(super) at_least_kg: f64,
}

impl Priced {
    /// Finds the best sizes at these prices, in kg for the whole of a row's limit, among the
    /// choices left.
    pub(super) fn find(&mut self, tables: &Tables, left: &Left, prices: &[f64]) {
        self.choices.clear();
        self.unit_prices.clear();
        let mut sum = 0.0;
        let mut additions = prices.len();
        for ((unit, &least), &most) in tables.units.iter().zip(&left.least).zip(&left.most) {
            let mut price = 0.0;
            for &(row, share) in &unit.rows {
                price += prices[row] * share;
            }
            let (mut best, mut choice) = (f64::INFINITY, least);
            for (at, size) in (least..).zip(&unit.choices[least..=most]) {
                let cost = size.mass_kg + price * size.per_mm2;
                if cost < best {
                    (best, choice) = (cost, at);
                }
            }
            sum += best;
            additions += unit.rows.len() + 4;
            self.choices.push(choice);
            self.unit_prices.push(price);
        }
        let limits: f64 = prices.iter().sum();
        self.value_kg = sum - limits;
        let rounding = additions as f64 * f64::EPSILON * (sum + limits);
        self.at_least_kg = self.value_kg - rounding;
    }
}

/// The way of the prices: step by step in the direction of the rows that the best sizes break.
#[derive(Clone, Debug)]
pub(super) struct Descent {
    /// The present prices.
    pub(super) prices: Vec<f64>,
    /// The prices of the greatest value so far.
    best_prices: Vec<f64>,
    best_kg: f64,
    direction: Vec<f64>,
    stride: f64,
    failures: usize,
}

/// Part of the step that would close the gap if the value were linear; halved and more on the way.
pub(super) const FIRST_STRIDE: f64 = 1.5;
/// Below this stride the prices stand still.
const LAST_STRIDE: f64 = 3e-4;
const STRIDE_SHRINKS_TO: f64 = 0.7;
/// Steps without a better value before the stride shrinks.
const PATIENCE: usize = 30;
/// Part of the last direction that is kept: rows that are broken by turns do not throw the prices
/// back and forth.
const KEPT_DIRECTION: f64 = 0.75;
/// A value counts as better when it is greater by this part.
const BETTER: f64 = 1e-7;

impl Descent {
    pub(super) fn from(prices: Vec<f64>, stride: f64) -> Self {
        Self {
            best_prices: prices.clone(),
            best_kg: f64::NEG_INFINITY,
            direction: vec![0.0; prices.len()],
            stride,
            failures: 0,
            prices,
        }
    }

    pub(super) fn into_best_prices(self) -> Vec<f64> {
        self.best_prices
    }

    /// One step from what was found at the present prices: `used` is the part of each limit that
    /// the best sizes use, `target_kg` a mass that is known to be possible. False where no step
    /// is left.
    pub(super) fn step(&mut self, value_kg: f64, used: &[f64], target_kg: f64) -> bool {
        if value_kg > self.best_kg + BETTER * value_kg.abs() {
            self.best_kg = value_kg;
            self.best_prices.copy_from_slice(&self.prices);
            self.failures = 0;
        } else {
            self.failures += 1;
        }
        if self.failures == PATIENCE {
            self.failures = 0;
            self.stride *= STRIDE_SHRINKS_TO;
            self.prices.copy_from_slice(&self.best_prices);
            self.direction.fill(0.0);
            return self.stride >= LAST_STRIDE;
        }
        let mut square = 0.0;
        for ((direction, &used), &price) in self.direction.iter_mut().zip(used).zip(&self.prices) {
            *direction = used - 1.0 + KEPT_DIRECTION * *direction;
            if price == 0.0 && *direction < 0.0 {
                *direction = 0.0;
            }
            square += *direction * *direction;
        }
        let step = self.stride * (target_kg - value_kg) / square;
        if !step.is_finite() || step <= 0.0 {
            return false;
        }
        for (price, direction) in self.prices.iter_mut().zip(&self.direction) {
            *price = (*price + step * direction).max(0.0);
        }
        true
    }
}
