//! Money to the cent, in whichever currency a question is asked.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Sub};

/// An amount of money in hundredths: whole numbers, so that sums are exact and a cost that is
/// not lower by a whole cent is not lower.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cents(i64);

impl Cents {
    /// From hundredths.
    pub const fn new(cents: i64) -> Self {
        Self(cents)
    }

    /// Hundredths.
    pub const fn value(self) -> i64 {
        self.0
    }

    /// From an amount as it is written; nothing if it is not a whole number of hundredths.
    pub fn from_amount(amount: f64) -> Option<Self> {
        let cents = (amount * 100.0).round();
        // The nearest number to a decimal of two places is found again by dividing: both are
        // rounded correctly. Beyond 2^53 not every whole number exists.
        let exact = cents.abs() < 9e15 && cents / 100.0 == amount;
        exact.then_some(Self(cents as i64))
    }

    /// The amount as it is written.
    pub fn amount(self) -> f64 {
        self.0 as f64 / 100.0
    }

    /// This amount so many times.
    pub const fn times(self, count: i64) -> Self {
        Self(self.0 * count)
    }
}

impl Add for Cents {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Cents {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Sum for Cents {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self(0), Add::add)
    }
}

impl fmt::Display for Cents {
    /// Thousands apart, cents only where there are some: `12,345.50`, `300`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, cents) = (self.0.unsigned_abs() / 100, self.0.unsigned_abs() % 100);
        if self.0 < 0 {
            f.write_str("-")?;
        }
        let digits = whole.to_string();
        for (place, digit) in digits.chars().enumerate() {
            if place > 0 && (digits.len() - place).is_multiple_of(3) {
                f.write_str(",")?;
            }
            write!(f, "{digit}")?;
        }
        match cents {
            0 => Ok(()),
            _ => write!(f, ".{cents:02}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_amount_is_taken_to_the_cent_and_given_back() {
        for cents in (0..300_000).chain([9_999_999_999, -1, -1_050]) {
            let written: f64 = format!("{}", cents as f64 / 100.0).parse().unwrap();
            assert_eq!(Cents::from_amount(written), Some(Cents(cents)), "{written}");
            assert_eq!(Cents(cents).amount(), written);
        }
        for refused in [0.005, 1.234, f64::NAN, f64::INFINITY, 1e15] {
            assert_eq!(Cents::from_amount(refused), None, "{refused}");
        }
    }

    #[test]
    fn thousands_stand_apart() {
        for (cents, text) in [
            (0, "0"),
            (5, "0.05"),
            (30_000, "300"),
            (99_999, "999.99"),
            (123_456_750, "1,234,567.50"),
            (-123_400, "-1,234"),
        ] {
            assert_eq!(Cents(cents).to_string(), text);
        }
    }
}
