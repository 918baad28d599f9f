//! Whether the wiring of an option belongs in the main harness or in an add-on.
//!
//! In the main harness it is given away on every boat without the option; as an add-on it costs
//! a coupler, its fitting and a part number. One option by itself: where options share a feeder
//! or a trunk, state what leaving this one out would save.

use super::money::Cents;
use crate::working::{NotEvaluated, Source, Status, Worked, Working, significant};

/// What is known about one option.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WorthQuestion {
    /// Share of boats ordered with it, 0 to 1.
    pub take_rate: Option<f64>,
    /// What its wiring adds to the full harness.
    pub in_main: Option<Cents>,
    /// What it costs more as an add-on: coupler pair, handling, minutes, stock.
    pub extra_as_add_on: Option<Cents>,
    /// Yearly cost of one more part number.
    pub part_number: Option<Cents>,
    /// Boats a year.
    pub boats: Option<u32>,
}

/// Where the wiring of an option belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// In the harness of every boat.
    MainHarness,
    /// In a harness of its own, on the boats that have the option.
    AddOn,
}

impl Place {
    /// In words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::MainHarness => "main harness",
            Self::AddOn => "add-on",
        }
    }
}

/// The verdict on one option.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// Where its wiring costs less.
    pub place: Place,
    /// Take rate from which the main harness costs no more; 0 if it never does.
    pub threshold: f64,
    /// Wiring a year on boats without the option, if it is in the main harness.
    pub given_away: f64,
    /// Extra cost a year as an add-on, with its part number.
    pub as_add_on: f64,
}

impl WorthQuestion {
    /// Weighs the main harness against an add-on.
    ///
    /// # Errors
    /// Not evaluated when something is missing or cannot be meant; all of it is named.
    pub fn weigh(&self) -> Result<Worked<Worth>, NotEvaluated> {
        let named = [
            (self.take_rate.is_some(), "the take rate"),
            (
                self.in_main.is_some(),
                "the cost of its wiring in the full harness",
            ),
            (
                self.extra_as_add_on.is_some(),
                "the extra cost as an add-on",
            ),
            (
                self.part_number.is_some(),
                "the yearly cost of one more part number",
            ),
            (self.boats.is_some(), "the number of boats a year"),
        ];
        let missing: Vec<&str> = named
            .iter()
            .filter(|(known, _)| !known)
            .map(|(_, what)| *what)
            .collect();
        let (Some(t), Some(main), Some(extra), Some(part), Some(boats)) = (
            self.take_rate,
            self.in_main,
            self.extra_as_add_on,
            self.part_number,
            self.boats,
        ) else {
            let missing = missing.join(" and ");
            return Err(NotEvaluated::because(format!("{missing} is not stated")));
        };
        if !(0.0..=1.0).contains(&t) {
            let reason = format!("a take rate of {} is no share of boats", significant(t, 4));
            return Err(NotEvaluated::because(reason));
        }
        if [main, extra, part]
            .iter()
            .any(|cost| *cost < Cents::default())
        {
            return Err(NotEvaluated::because("a cost is negative"));
        }
        if boats == 0 {
            return Err(NotEvaluated::because("no boats a year are expected"));
        }
        Ok(weighed(t, main, extra, part, boats))
    }
}

fn weighed(t: f64, main: Cents, extra: Cents, part: Cents, boats: u32) -> Worked<Worth> {
    let (m, a, k, n) = (
        main.amount(),
        extra.amount(),
        part.amount(),
        f64::from(boats),
    );
    let always = m <= k / n;
    let threshold = if always { 0.0 } else { (m - k / n) / (m + a) };
    let given_away = (1.0 - t) * m * n;
    let as_add_on = t * a * n + k;
    let place = if given_away <= as_add_on {
        Place::MainHarness
    } else {
        Place::AddOn
    };
    let percent = |share: f64| format!("{} %", significant(share * 100.0, 3));
    let money = |amount: f64| Cents::new((amount * 100.0).round() as i64).to_string();
    let source = Source::new(
        "Give-away against add-on",
        "cost a year, one option by itself",
        Status::Computed,
    );
    let mut working = Working::new();
    if always {
        working.step(
            "part number against wiring",
            "K / N",
            format!("{part} / {boats} a boat; wiring {main}"),
            "the part number alone costs no less than the wiring: always the main harness",
            Some(&source),
        );
    } else {
        working.step(
            "take rate from which the main harness costs no more",
            "(m - K / N) / (m + a)",
            format!("({main} - {part} / {boats}) / ({main} + {extra})"),
            percent(threshold),
            Some(&source),
        );
    }
    working.step(
        "given away a year in the main harness",
        "(1 - t) m N",
        format!("(1 - {}) × {main} × {boats}", percent(t)),
        money(given_away),
        Some(&source),
    );
    working.step(
        "extra a year as an add-on",
        "t a N + K",
        format!("{} × {extra} × {boats} + {part}", percent(t)),
        money(as_add_on),
        Some(&source),
    );
    Worked {
        value: Worth {
            place,
            threshold,
            given_away,
            as_add_on,
        },
        working,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn windlass(take_rate: f64) -> WorthQuestion {
        WorthQuestion {
            take_rate: Some(take_rate),
            in_main: Some(Cents::new(1_800)),
            extra_as_add_on: Some(Cents::new(1_400)),
            part_number: Some(Cents::new(150_000)),
            boats: Some(300),
        }
    }

    #[test]
    fn the_worked_example() {
        // m = 18, a = 14, K = 1500, N = 300: (18 - 5) / (18 + 14) = 40.6 %.
        let found = windlass(0.35).weigh().unwrap();
        assert!((found.value.threshold - 0.40625).abs() < 1e-12);
        assert_eq!(found.working.steps()[0].result, "40.6 %");
        assert_eq!(found.value.place, Place::AddOn);
        // 0.65 · 18 · 300 against 0.35 · 14 · 300 + 1500.
        assert!((found.value.given_away - 3_510.0).abs() < 1e-9);
        assert!((found.value.as_add_on - 2_970.0).abs() < 1e-9);
    }

    #[test]
    fn the_verdict_turns_at_the_threshold() {
        let at = |t| windlass(t).weigh().unwrap().value.place;
        assert_eq!(at(0.40624), Place::AddOn);
        assert_eq!(at(0.40625), Place::MainHarness);
        assert_eq!(at(0.40626), Place::MainHarness);
        assert_eq!(at(0.0), Place::AddOn);
        assert_eq!(at(1.0), Place::MainHarness);
    }

    #[test]
    fn wiring_no_dearer_than_its_part_number_is_always_in_the_main_harness() {
        for cost in [0, 500] {
            let question = WorthQuestion {
                in_main: Some(Cents::new(cost)),
                ..windlass(0.0)
            };
            let found = question.weigh().unwrap();
            assert_eq!(found.value.place, Place::MainHarness);
            assert_eq!(found.value.threshold, 0.0);
            assert!(found.working.steps()[0].result.contains("always"));
        }
        let dearer = WorthQuestion {
            in_main: Some(Cents::new(501)),
            ..windlass(0.0)
        };
        assert_eq!(dearer.weigh().unwrap().value.place, Place::AddOn);
    }

    #[test]
    fn what_is_missing_is_named() {
        let said = |question: WorthQuestion| question.weigh().unwrap_err().to_string();
        assert_eq!(
            said(WorthQuestion {
                extra_as_add_on: None,
                ..windlass(0.3)
            }),
            "not evaluated, because the extra cost as an add-on is not stated"
        );
        let nothing = said(WorthQuestion::default());
        for what in [
            "take rate",
            "full harness",
            "add-on",
            "part number",
            "boats a year",
        ] {
            assert!(nothing.contains(what), "{nothing}");
        }
        assert!(said(windlass(1.01)).contains("1.01"));
        assert!(
            said(WorthQuestion {
                boats: Some(0),
                ..windlass(0.3)
            })
            .contains("no boats")
        );
        assert!(
            said(WorthQuestion {
                in_main: Some(Cents::new(-1)),
                ..windlass(0.3)
            })
            .contains("negative")
        );
    }
}
