//! Branching: the sizes left are split in two and each part is bounded by prices of its own, the
//! part with the least bound first. This raises the mass that nothing can go below; for small
//! instances up to the best sizes themselves, which are then shown to be the best there are.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::assignment::{Assignment, ROUNDING, Valued};
use super::instance::Instance;
use super::prices::{Descent, Left, Priced};
use super::search::Search;
use super::tables::Tables;

/// Steps of the prices in each part.
const STEPS: usize = 40;
/// They start from the prices of the whole and need little change.
const STRIDE: f64 = 0.5;
/// Units looked at in all steps of all parts together: bounds the work.
const MOST_LOOKS: usize = 2_500_000;
/// How much of the mean of a unit's choices its last choice is.
const LAST_IN_MEAN: f64 = 0.1;

/// A part of all combinations of sizes.
struct Part {
    /// No sizes of this part that meet the rows have less mass.
    at_least_kg: f64,
    left: Left,
    prices: Vec<f64>,
    /// The unit to split next, and the last choice of its lower half.
    split: (usize, usize),
    /// Numbered as they come, so that of equal bounds the first goes first.
    number: usize,
}

/// Raises the bound of a search, and takes lighter sizes that come up on the way.
pub(super) fn raise_bound(search: &mut Search, instance: &Instance) {
    let looks = STEPS * search.tables.units.len();
    let mut looks_left = MOST_LOOKS;
    let mut number = 0;
    let whole = Left::all(&search.tables);
    let prices = search.prices.clone();
    let mut parts = BinaryHeap::new();
    parts.extend(bounded(search, instance, whole, prices));
    while let Some(part) = parts.pop() {
        if part.at_least_kg >= search.not_lighter_kg() {
            break;
        }
        search.at_least_kg = search.at_least_kg.max(part.at_least_kg);
        if looks_left < looks {
            return;
        }
        let (unit, last) = part.split;
        let (mut lower, mut upper) = (part.left.clone(), part.left);
        lower.most[unit] = last;
        upper.least[unit] = last + 1;
        for left in [lower, upper] {
            looks_left = looks_left.saturating_sub(looks);
            let Some(mut half) = bounded(search, instance, left, part.prices.clone()) else {
                continue;
            };
            number += 1;
            half.number = number;
            half.at_least_kg = half.at_least_kg.max(part.at_least_kg);
            parts.push(half);
        }
    }
    search.at_least_kg = search.at_least_kg.max(search.not_lighter_kg());
}

/// The part with these choices left, with its bound; none if it holds nothing lighter than the
/// best sizes known.
fn bounded(
    search: &mut Search,
    instance: &Instance,
    mut left: Left,
    prices: Vec<f64>,
) -> Option<Part> {
    if !keep_to_rows(&search.tables, &mut left) {
        return None;
    }
    let mut smallest = Assignment::new(&search.tables, left.least.clone());
    if smallest.used.iter().all(|used| *used <= 1.0 + ROUNDING) {
        // The lightest of the part, unless the rows themselves find it broken by rounding.
        let mass_kg = smallest.mass_kg;
        search.trim(&mut smallest, Valued::ByMass);
        search.offer(instance, smallest);
        if mass_kg >= search.not_lighter_kg() {
            return None;
        }
    }
    let mut priced = Priced::default();
    let mut descent = Descent::from(prices, STRIDE);
    let mut at_least_kg = f64::NEG_INFINITY;
    let mut mean: Vec<f64> = Vec::new();
    for _ in 0..STEPS {
        priced.find(&search.tables, &left, &descent.prices);
        at_least_kg = at_least_kg.max(priced.at_least_kg);
        if at_least_kg >= search.not_lighter_kg() {
            return None;
        }
        let choices = priced.choices.iter().map(|&choice| choice as f64);
        if mean.is_empty() {
            mean = choices.collect();
        } else {
            for (mean, choice) in mean.iter_mut().zip(choices) {
                *mean += LAST_IN_MEAN * (choice - *mean);
            }
        }
        let at_prices = Assignment::new(&search.tables, priced.choices.clone());
        if !descent.step(priced.value_kg, &at_prices.used, search.best.mass_kg) {
            break;
        }
    }
    let prices = descent.into_best_prices();
    priced.find(&search.tables, &left, &prices);
    search.offer_repaired(instance, &priced);
    let room_kg = search.not_lighter_kg() - priced.at_least_kg;
    keep_to_costs(&search.tables, &priced, room_kg, &mut left);
    let split = widest_split(&search.tables, &left, &mean)?;
    Some(Part {
        at_least_kg,
        left,
        prices,
        split,
        number: 0,
    })
}

/// Takes out sizes too small for a row even with all others at their largest. False if a row
/// cannot be met.
fn keep_to_rows(tables: &Tables, left: &mut Left) -> bool {
    let largest = Assignment::new(tables, left.most.clone());
    for (at, unit) in tables.units.iter().enumerate() {
        let now = unit.choices[left.most[at]].per_mm2;
        let fits = |choice: &usize| {
            let more = unit.choices[*choice].per_mm2 - now;
            let with = |&(row, share): &(usize, f64)| largest.used[row] + share * more;
            unit.rows
                .iter()
                .all(|counts| with(counts) <= 1.0 + ROUNDING)
        };
        match (left.least[at]..=left.most[at]).find(fits) {
            Some(least) => left.least[at] = least,
            None => return false,
        }
    }
    true
}

/// Takes out the smallest and largest sizes that cost so much more than the best at these prices
/// that nothing lighter than the best sizes known has them.
fn keep_to_costs(tables: &Tables, priced: &Priced, room_kg: f64, left: &mut Left) {
    for (at, unit) in tables.units.iter().enumerate() {
        let cost = |choice: usize| {
            let size = unit.choices[choice];
            size.mass_kg + priced.unit_prices[at] * size.per_mm2
        };
        let best = priced.choices[at];
        let too_much = |choice: usize| cost(choice) - cost(best) > room_kg;
        while left.least[at] < best && too_much(left.least[at]) {
            left.least[at] += 1;
        }
        while left.most[at] > best && too_much(left.most[at]) {
            left.most[at] -= 1;
        }
    }
}

/// The unit that the prices can decide on least, weighed by the mass at stake, and the choice to
/// split after. None if each unit has but one choice left.
fn widest_split(tables: &Tables, left: &Left, mean: &[f64]) -> Option<(usize, usize)> {
    let mut widest: Option<(f64, (usize, usize))> = None;
    for (at, unit) in tables.units.iter().enumerate() {
        let (least, most) = (left.least[at], left.most[at]);
        if least == most {
            continue;
        }
        let mean = mean[at].clamp(least as f64, most as f64);
        let last = (mean as usize).min(most - 1);
        let part = mean - last as f64;
        let mass_kg = unit.choices[last + 1].mass_kg - unit.choices[last].mass_kg;
        // Never 0, so that what is decided at these prices is split when nothing else is left.
        let width = mass_kg * (part * (1.0 - part) + 1e-6);
        if widest.is_none_or(|(most, _)| width > most) {
            widest = Some((width, (at, last)));
        }
    }
    widest.map(|(_, split)| split)
}

impl Ord for Part {
    /// The least bound is the greatest, to come first from the heap.
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .at_least_kg
            .total_cmp(&self.at_least_kg)
            .then_with(|| other.number.cmp(&self.number))
    }
}

impl PartialOrd for Part {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Part {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Part {}
