//! A feeder that splits into branches: which part of the drop each takes for least copper.

use harness_core::conductor::area_for_drop;
use harness_core::units::{Amperes, Metres, Volts, Watts};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

pub(super) fn least_copper(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let nominal = Volts::new(fact.number("nominal_v"));
    let limit = nominal * (fact.number("drop_limit_percent") / 100.0);
    let case = Case {
        resistivity: fact.optional("ohm_mm2_per_km").unwrap_or(20.0),
        limit,
        feeder: Metres::new(fact.number("feeder_m")),
        branches: fact
            .numbers("branches_m")
            .into_iter()
            .zip(fact.numbers("branches_w"))
            .map(|(length, watts)| (Metres::new(length), Watts::new(watts) / nominal))
            .collect(),
    };
    let split = case.best_split();
    let areas = case.areas(split);
    let cm2 = |index: usize| areas[index] / 100.0;
    Ok(Ours::Number(match fact.text("find") {
        None | Some("V_first_section") => split.value(),
        Some("A_cm2") => cm2(0),
        Some("A1_cm2") => cm2(1),
        Some("A2_cm2") => cm2(2),
        Some(other) => panic!("{}: cannot find {other}", fact.id),
    }))
}

struct Case {
    resistivity: f64,
    limit: Volts,
    feeder: Metres,
    branches: Vec<(Metres, Amperes)>,
}

impl Case {
    /// Areas in mm² of the feeder and of each branch, if the feeder takes `split` of the drop;
    /// one conductor counted, as the examples do.
    fn areas(&self, split: Volts) -> Vec<f64> {
        let whole: Amperes = self.branches.iter().map(|&(_, current)| current).sum();
        let rest = self.limit - split;
        std::iter::once((self.feeder, whole, split))
            .chain(
                self.branches
                    .iter()
                    .map(|&(length, current)| (length, current, rest)),
            )
            .map(|(length, current, drop)| {
                area_for_drop(self.resistivity, length, current, drop).value()
            })
            .collect()
    }

    fn copper(&self, split: Volts) -> f64 {
        let lengths = std::iter::once(self.feeder).chain(self.branches.iter().map(|&(m, _)| m));
        self.areas(split)
            .into_iter()
            .zip(lengths)
            .map(|(area, length)| area * length.value())
            .sum()
    }

    /// Copper has one minimum between none and all of the drop: cut the interval in thirds.
    fn best_split(&self) -> Volts {
        let (mut low, mut high) = (Volts::ZERO, self.limit);
        for _ in 0..200 {
            let third = (high - low) / 3.0;
            if self.copper(low + third) < self.copper(high - third) {
                high -= third;
            } else {
                low += third;
            }
        }
        (low + high) / 2.0
    }
}
