//! One size for each unit, with what it uses of each row: raised until every row is met, lowered
//! as far as the rows let it.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::tables::{Tables, UnitChoice};

/// How far the running sum of a row may stand over 1 before it counts as broken: far above
/// rounding, far below anything that matters. In the end the row itself says whether it is met.
pub(super) const ROUNDING: f64 = 1e-12;
/// The least part of its mass that a raise counts with, whatever the prices pay for it: keeps
/// raises that the prices pay for in full comparable.
const LEAST_COST: f64 = 0.1;

#[derive(Clone, Debug)]
pub(super) struct Assignment {
    /// The choice of each unit.
    pub(super) choices: Vec<usize>,
    /// The part of each row's limit that is used.
    pub(super) used: Vec<f64>,
    pub(super) mass_kg: f64,
}

/// How a change of size is valued: by its mass, or by its mass less what the prices pay for the
/// volts, at a price in kg mm2 for each unit.
#[derive(Clone, Copy, Debug)]
pub(super) enum Valued<'a> {
    ByMass,
    ByPrice(&'a [f64]),
}

impl Valued<'_> {
    /// What the larger of two sizes of a unit costs beyond the smaller.
    fn cost(self, unit: usize, smaller: UnitChoice, larger: UnitChoice) -> f64 {
        let mass_kg = larger.mass_kg - smaller.mass_kg;
        match self {
            Self::ByMass => mass_kg,
            Self::ByPrice(prices) => mass_kg - prices[unit] * (smaller.per_mm2 - larger.per_mm2),
        }
    }
}

impl Assignment {
    pub(super) fn new(tables: &Tables, choices: Vec<usize>) -> Self {
        let mut new = Self {
            choices,
            used: vec![0.0; tables.rows.len()],
            mass_kg: 0.0,
        };
        new.sum_anew(tables);
        new
    }

    /// Sums everything from nothing, so that the rounding of many moves does not pile up.
    pub(super) fn sum_anew(&mut self, tables: &Tables) {
        self.used.fill(0.0);
        self.mass_kg = 0.0;
        for (unit, &choice) in tables.units.iter().zip(&self.choices) {
            let size = unit.choices[choice];
            self.mass_kg += size.mass_kg;
            for &(row, share) in &unit.rows {
                self.used[row] += share * size.per_mm2;
            }
        }
    }

    pub(super) fn move_to(&mut self, tables: &Tables, at: usize, choice: usize) {
        let unit = &tables.units[at];
        let (from, to) = (unit.choices[self.choices[at]], unit.choices[choice]);
        let more = to.per_mm2 - from.per_mm2;
        for &(row, share) in &unit.rows {
            self.used[row] += share * more;
        }
        self.mass_kg += to.mass_kg - from.mass_kg;
        self.choices[at] = choice;
    }

    /// Whether a unit can take its next smaller size without breaking a row.
    fn can_be_lowered(&self, tables: &Tables, ceilings: &[f64], at: usize) -> bool {
        let unit = &tables.units[at];
        let choice = self.choices[at];
        let Some(smaller) = choice.checked_sub(1) else {
            return false;
        };
        let more = unit.choices[smaller].per_mm2 - unit.choices[choice].per_mm2;
        unit.rows
            .iter()
            .all(|&(row, share)| self.used[row] + share * more <= ceilings[row])
    }

    /// Raises units one size at a time until every row is met, each time the one that clears
    /// most of what is broken for its cost; the unit `held` stays. False where no raise is left
    /// that helps.
    pub(super) fn repair(
        &mut self,
        tables: &Tables,
        ceilings: &[f64],
        held: Option<usize>,
        valued: Valued<'_>,
    ) -> bool {
        let is_over = |used: &[f64], row: usize| used[row] > ceilings[row];
        let mut waiting = BinaryHeap::new();
        for (at, unit) in tables.units.iter().enumerate() {
            let helps = unit.rows.iter().any(|&(row, _)| is_over(&self.used, row));
            if helps && Some(at) != held {
                waiting.extend(self.raise(tables, ceilings, at, valued));
            }
        }
        while (0..self.used.len()).any(|row| is_over(&self.used, row)) {
            // Raises of others make a raise worth less, never more: what still comes first when
            // valued anew is the best of all.
            let Some(Ranked { at, .. }) = waiting.pop() else {
                return false;
            };
            let Some(now) = self.raise(tables, ceilings, at, valued) else {
                continue;
            };
            if waiting.peek().is_some_and(|next| now < *next) {
                waiting.push(now);
                continue;
            }
            self.move_to(tables, at, self.choices[at] + 1);
            waiting.extend(self.raise(tables, ceilings, at, valued));
        }
        true
    }

    /// What raising a unit by one size clears of what is broken, for its cost; none if it clears
    /// nothing or there is no larger size.
    fn raise(
        &self,
        tables: &Tables,
        ceilings: &[f64],
        at: usize,
        valued: Valued<'_>,
    ) -> Option<Ranked> {
        let unit = &tables.units[at];
        let now = unit.choices[self.choices[at]];
        let next = *unit.choices.get(self.choices[at] + 1)?;
        let less = now.per_mm2 - next.per_mm2;
        let mut cleared = 0.0;
        for &(row, share) in &unit.rows {
            let broken_by = self.used[row] - ceilings[row];
            if broken_by > 0.0 {
                cleared += broken_by.min(share * less);
            }
        }
        let least = LEAST_COST * (next.mass_kg - now.mass_kg);
        let value = cleared / valued.cost(at, now, next).max(least);
        (cleared > 0.0).then_some(Ranked { value, at })
    }

    /// Lowers units one size at a time as long as every row stays met, what saves most first.
    /// Only units in `among` are lowered, each named once.
    pub(super) fn trim(
        &mut self,
        tables: &Tables,
        ceilings: &[f64],
        among: impl Iterator<Item = usize>,
        valued: Valued<'_>,
    ) {
        let saving = |choices: &[usize], at: usize| {
            let offered = &tables.units[at].choices;
            let smaller = choices[at].checked_sub(1)?;
            let value = valued.cost(at, offered[smaller], offered[choices[at]]);
            Some(Ranked { value, at })
        };
        // A unit that has no room once never will: what the others use only grows.
        let mut waiting: BinaryHeap<_> = among
            .filter(|&at| self.can_be_lowered(tables, ceilings, at))
            .filter_map(|at| saving(&self.choices, at))
            .collect();
        while let Some(Ranked { at, .. }) = waiting.pop() {
            if self.can_be_lowered(tables, ceilings, at) {
                self.move_to(tables, at, self.choices[at] - 1);
                waiting.extend(saving(&self.choices, at));
            }
        }
    }
}

/// A unit and what moving it by one size is worth: the most first, of equal ones the first unit.
struct Ranked {
    value: f64,
    at: usize,
}

impl Ord for Ranked {
    fn cmp(&self, other: &Self) -> Ordering {
        self.value
            .total_cmp(&other.value)
            .then_with(|| other.at.cmp(&self.at))
    }
}

impl PartialOrd for Ranked {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Ranked {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ranked {}
