//! The instance as the search reads it: one unit for each segment or tied group, rows divided by
//! what their limit leaves to the segments, so that every row reads *sum of shares at most 1*.

use super::answer::{GovernedBy, Sizes};
use super::assignment::{Assignment, ROUNDING};
use super::instance::{Instance, Row};

/// One size of a unit.
#[derive(Clone, Copy, Debug)]
pub(super) struct UnitChoice {
    pub(super) area_mm2: f64,
    pub(super) per_mm2: f64,
    pub(super) mass_kg: f64,
}

/// A segment, or a tied group, that takes one size.
#[derive(Clone, Debug)]
pub(super) struct Unit {
    /// Ascending in area and in mass: what is no lighter than a larger size is left out.
    pub(super) choices: Vec<UnitChoice>,
    /// The rows it counts in, with its share of each at 1 mm2.
    pub(super) rows: Vec<(usize, f64)>,
}

#[derive(Clone, Debug)]
pub(super) struct Tables {
    pub(super) units: Vec<Unit>,
    /// Place in the instance of every row that some choice of sizes breaks.
    pub(super) rows: Vec<usize>,
    /// For each of these rows, the units that count in it.
    pub(super) row_units: Vec<Vec<usize>>,
    unit_of: Vec<usize>,
}

impl Tables {
    /// Of an instance without faults whose rows are all met in the largest sizes.
    pub(super) fn of(instance: &Instance) -> Self {
        let count = instance.segments.len();
        let mut unit_of = vec![usize::MAX; count];
        let mut units = Vec::with_capacity(count);
        let tied = instance.tied.iter().filter(|members| !members.is_empty());
        for members in tied {
            for &member in members {
                unit_of[member] = units.len();
            }
            units.push(Unit::of(instance, members));
        }
        for (segment, unit) in unit_of.iter_mut().enumerate() {
            if *unit == usize::MAX {
                *unit = units.len();
                units.push(Unit::of(instance, &[segment]));
            }
        }
        let mut tables = Self {
            units,
            rows: Vec::new(),
            row_units: Vec::new(),
            unit_of,
        };
        for (index, row) in instance.rows.iter().enumerate() {
            tables.add_row(index, row);
        }
        tables
    }

    /// Takes a row in, unless even the smallest sizes meet it.
    fn add_row(&mut self, index: usize, row: &Row) {
        let free_v = row.limit_v - row.constant_v;
        let mut shares: Vec<(usize, f64)> = row
            .terms
            .iter()
            .filter(|term| term.volts_mm2 > 0.0)
            .map(|term| (self.unit_of[term.segment], term.volts_mm2 / free_v))
            .collect();
        shares.sort_by_key(|share| share.0);
        shares.dedup_by(|later, kept| {
            let same = later.0 == kept.0;
            if same {
                kept.1 += later.1;
            }
            same
        });
        let most = shares
            .iter()
            .map(|(unit, share)| share * self.units[*unit].choices[0].per_mm2)
            .sum::<f64>();
        // With nothing left over the shares are infinite, or there are none.
        if most <= 1.0 - ROUNDING || !most.is_finite() {
            return;
        }
        let place = self.rows.len();
        self.rows.push(index);
        for &(unit, share) in &shares {
            self.units[unit].rows.push((place, share));
        }
        self.row_units
            .push(shares.into_iter().map(|share| share.0).collect());
    }

    /// The largest choice of each unit.
    pub(super) fn largest(&self) -> Vec<usize> {
        let each = self.units.iter().map(|unit| unit.choices.len() - 1);
        each.collect()
    }

    /// The sizes that one choice for each unit comes to.
    pub(super) fn sizes(&self, instance: &Instance, choices: &[usize]) -> Sizes {
        let count = instance.segments.len();
        let mut sizes = Sizes {
            choices: vec![0; count],
            areas_mm2: vec![0.0; count],
            mass_kg: 0.0,
        };
        for (segment, stated) in instance.segments.iter().enumerate() {
            let unit = self.unit_of[segment];
            let area_mm2 = self.units[unit].choices[choices[unit]].area_mm2;
            let choice = instance.choice_of(segment, area_mm2).unwrap_or_default();
            sizes.choices[segment] = choice;
            sizes.areas_mm2[segment] = area_mm2;
            sizes.mass_kg += stated.choices[choice].mass_kg;
        }
        sizes
    }

    /// What keeps each segment from its next smaller size.
    pub(super) fn governed_by(&self, assignment: &Assignment) -> Vec<GovernedBy> {
        let governs = |(unit, &choice): (&Unit, &usize)| {
            let smaller = unit.choices[choice.checked_sub(1)?];
            let more = smaller.per_mm2 - unit.choices[choice].per_mm2;
            let used = unit
                .rows
                .iter()
                .map(|&(row, share)| (row, assignment.used[row] + share * more));
            used.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
                .map(|(row, _)| self.rows[row])
        };
        let of_unit: Vec<_> = self
            .units
            .iter()
            .zip(&assignment.choices)
            .map(governs)
            .collect();
        let each = self.unit_of.iter().map(|&unit| match of_unit[unit] {
            Some(row) => GovernedBy::Row(row),
            None => GovernedBy::LeastSize,
        });
        each.collect()
    }
}

impl Unit {
    fn of(instance: &Instance, members: &[usize]) -> Self {
        let mut choices: Vec<UnitChoice> = Vec::new();
        for area_mm2 in instance.shared_areas(members) {
            let mass_kg = members
                .iter()
                .filter_map(|&member| {
                    let choice = instance.choice_of(member, area_mm2)?;
                    Some(instance.segments[member].choices[choice].mass_kg)
                })
                .sum();
            while choices.last().is_some_and(|last| last.mass_kg >= mass_kg) {
                choices.pop();
            }
            choices.push(UnitChoice {
                area_mm2,
                per_mm2: 1.0 / area_mm2,
                mass_kg,
            });
        }
        Self {
            choices,
            rows: Vec::new(),
        }
    }
}
