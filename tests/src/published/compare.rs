//! Compares our value with the published one, to the published digit.

use harness_core::tables::conductors;
use harness_core::units::WireSize;

use super::evaluate::Ours;
use super::fact::{Fact, Published};

/// Our value beside the published one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Comparison {
    /// Our value as printed.
    pub(super) ours: String,
    /// Ours less published; for sizes the number of stocked sizes ours is thicker.
    pub(super) difference: Option<f64>,
    /// The difference over the published value; none for sizes and names.
    pub(super) relative: Option<f64>,
    /// Digits in agreement, at most 15; none for sizes and names.
    pub(super) digits: Option<f64>,
    /// Whether they agree within the tolerance.
    pub(super) agrees: bool,
}

/// Half a unit of the last printed digit; a hair more, so that a value exactly on the half does
/// not depend on the last bit.
pub(super) fn tolerance(last_digit: f64) -> f64 {
    last_digit / 2.0 * (1.0 + 1e-9)
}

pub(super) fn compare(fact: &Fact, ours: &Ours) -> Comparison {
    match (&fact.published, ours) {
        (
            Published::Number {
                value, last_digit, ..
            },
            Ours::Number(ours),
        ) => number(*value, *ours, |difference| {
            difference.abs() <= tolerance(*last_digit)
        }),
        (Published::Number { value, .. }, Ours::AtMost(ours)) => {
            number(*value, *ours, |difference| difference <= 0.0)
        }
        (Published::Word(published), Ours::Word(ours)) => Comparison {
            ours: ours.clone(),
            difference: steps(published, ours),
            relative: None,
            digits: None,
            agrees: published == ours,
        },
        (Published::Number { .. }, Ours::Word(word)) => {
            panic!("{}: a number is published, we answer {word}", fact.id)
        }
        (Published::Word(word), Ours::Number(_) | Ours::AtMost(_)) => {
            panic!("{}: {word} is published, we answer with a number", fact.id)
        }
    }
}

fn number(published: f64, ours: f64, agrees: impl FnOnce(f64) -> bool) -> Comparison {
    let difference = ours - published;
    let relative = (published != 0.0).then(|| difference / published);
    Comparison {
        ours: harness_core::working::significant(ours, 7),
        difference: Some(difference),
        relative,
        digits: relative.map(|share| {
            if share == 0.0 {
                15.0
            } else {
                (-libm::log10(share.abs())).clamp(0.0, 15.0)
            }
        }),
        agrees: agrees(difference),
    }
}

/// Stocked sizes from `from` to `to`, positive where `to` is thicker.
fn steps(from: &str, to: &str) -> Option<f64> {
    let from: WireSize = from.parse().ok()?;
    let to: WireSize = to.parse().ok()?;
    let series: Vec<_> = conductors::stocked(from.series()).collect();
    let place = |size| series.iter().position(|row| row.size == size);
    let (from, to) = (place(from)? as f64, place(to)? as f64);
    Some(to - from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_unit_of_the_last_digit() {
        let near = number(14.9, 14.875, |d| d.abs() <= tolerance(0.1));
        assert!(near.agrees);
        assert!(!number(14.9, 14.84, |d| d.abs() <= tolerance(0.1)).agrees);
        // 208.25 printed as 208.3: exactly on the half.
        assert!(number(208.3, 208.25, |d| d.abs() <= tolerance(0.1)).agrees);
    }

    #[test]
    fn digits_in_agreement() {
        let digits = |published, ours| number(published, ours, |_| true).digits.unwrap();
        assert_eq!(digits(10.0, 10.0), 15.0);
        assert!((digits(1.0, 1.001) - 3.0).abs() < 0.01);
        assert!((digits(1.0, 1.02) - 1.7).abs() < 0.01);
        assert_eq!(digits(1.0, 3.0), 0.0);
    }

    #[test]
    fn sizes_count_in_steps_of_the_series() {
        assert_eq!(steps("12 AWG", "10 AWG"), Some(1.0));
        assert_eq!(steps("1/0 AWG", "2 AWG"), Some(-2.0));
        assert_eq!(steps("D", "DE"), None);
    }
}
