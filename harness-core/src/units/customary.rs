//! SI quantities as a reader in the United States writes them: feet and inches, circular mils,
//! degrees Fahrenheit, pounds and ounces.

use super::digits::significant;
use super::quantity::{Celsius, Metres, Millimetres, SquareMillimetres};

/// The units in which a person reads and writes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum UnitSystem {
    /// m, mm, mm², °C, kg.
    #[default]
    Si,
    /// ft and in, in, circular mils, °F, lb.
    Us,
}

/// An SI unit that has a customary one beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stated {
    /// Length along a run or wire.
    Metres,
    /// Small length.
    Millimetres,
    /// Cross-section.
    SquareMillimetres,
    /// Temperature.
    Celsius,
    /// Mass.
    Kilograms,
    /// Small mass.
    Grams,
}

/// Kilograms in a pound, exact by definition of the international pound.
const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;
const OUNCES_PER_POUND: f64 = 16.0;
/// Digits of an area in circular mils: tables of gauges give four.
const MIL_DIGITS: usize = 4;

impl Stated {
    /// The unit with this symbol; none for those that both sides write alike (V, A, W, Ω, %).
    pub fn of(symbol: &str) -> Option<Self> {
        Some(match symbol {
            "m" => Self::Metres,
            "mm" => Self::Millimetres,
            "mm²" | "mm2" => Self::SquareMillimetres,
            "°C" => Self::Celsius,
            "kg" => Self::Kilograms,
            "g" => Self::Grams,
            _ => return None,
        })
    }

    /// Symbol of the customary unit.
    pub const fn customary(self) -> &'static str {
        match self {
            Self::Metres => "ft",
            Self::Millimetres => "in",
            Self::SquareMillimetres => "CM",
            Self::Celsius => "°F",
            Self::Kilograms => "lb",
            Self::Grams => "oz",
        }
    }

    /// The number in the customary unit.
    pub fn value(self, si: f64) -> f64 {
        match self {
            Self::Metres => Metres::new(si).feet(),
            Self::Millimetres => Millimetres::new(si).inches(),
            Self::SquareMillimetres => SquareMillimetres::new(si).circular_mils().value(),
            Self::Celsius => Celsius::new(si).fahrenheit(),
            Self::Kilograms => si / KILOGRAMS_PER_POUND,
            Self::Grams => si / 1000.0 / KILOGRAMS_PER_POUND * OUNCES_PER_POUND,
        }
    }

    /// The bare number in the customary unit, for a number shown with so many decimals: always
    /// finer than what was shown, so that two numbers that differ still do.
    pub fn number(self, si: f64, decimals: usize) -> String {
        let decimals = match self {
            Self::Celsius => decimals,
            Self::Metres | Self::Kilograms => decimals + 1,
            Self::Millimetres | Self::Grams => decimals + 2,
            Self::SquareMillimetres => {
                return significant(self.value(si), MIL_DIGITS);
            }
        };
        bare(self.value(si), decimals)
    }

    /// The number with its customary unit; a length in metres becomes feet and inches.
    pub fn written(self, si: f64, decimals: usize) -> String {
        match self {
            Self::Metres => feet_and_inches(si, decimals.saturating_sub(1)),
            _ => format!("{} {}", self.number(si, decimals), self.customary()),
        }
    }
}

/// Without zeros at the end, and never minus nothing.
fn bare(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    match text {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

fn feet_and_inches(metres: f64, decimals: usize) -> String {
    let inches = Metres::new(metres.abs()).millimetres().inches();
    // Rounded as a whole first: 11.97 in are a foot, not 12 in.
    let inches: f64 = bare(inches, decimals).parse().unwrap_or(inches);
    let sign = if metres < 0.0 && inches > 0.0 {
        "-"
    } else {
        ""
    };
    let feet = (inches / 12.0).floor();
    let rest = bare(inches - 12.0 * feet, decimals);
    match (feet > 0.0, rest.as_str()) {
        (false, _) => format!("{sign}{rest} in"),
        (true, "0") => format!("{sign}{feet} ft"),
        (true, _) => format!("{sign}{feet} ft {rest} in"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact by definition: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 lb = 0.45359237 kg (international
    /// yard and pound, 1959); 0 °C = 32 °F, 100 °C = 212 °F; 12 AWG is 6530 CM and 3.31 mm²
    /// (ASTM B258).
    #[test]
    fn definitions_hold() {
        for (stated, si, decimals, text) in [
            (Stated::Metres, 3.81, 2, "12 ft 6 in"),
            (Stated::Metres, 3.048, 3, "10 ft"),
            (Stated::Metres, 0.254, 3, "10 in"),
            (Stated::Metres, -3.81, 2, "-12 ft 6 in"),
            (Stated::Metres, 0.304, 2, "1 ft"),
            (Stated::Metres, 0.0, 2, "0 in"),
            (Stated::Millimetres, 177.8, 1, "7 in"),
            (Stated::Millimetres, 25.0, 0, "0.98 in"),
            (Stated::SquareMillimetres, 3.31, 2, "6532 CM"),
            (Stated::Celsius, 105.0, 0, "221 °F"),
            (Stated::Celsius, -40.0, 0, "-40 °F"),
            (Stated::Celsius, 100.0, 0, "212 °F"),
            (Stated::Kilograms, 0.453_592_37, 2, "1 lb"),
            (Stated::Grams, 28.35, 0, "1 oz"),
        ] {
            assert_eq!(stated.written(si, decimals), text);
        }
    }

    #[test]
    fn what_differs_before_differs_after() {
        for stated in [Stated::Metres, Stated::Millimetres, Stated::Grams] {
            let texts: Vec<String> = (0..4000)
                .map(|number| stated.written(f64::from(number), 0))
                .collect();
            let apart: std::collections::BTreeSet<&String> = texts.iter().collect();
            assert_eq!(apart.len(), texts.len(), "{stated:?}");
        }
    }

    #[test]
    fn what_both_sides_write_alike_has_none() {
        for symbol in ["V", "A", "W", "Ω", "%", "", "ft"] {
            assert_eq!(Stated::of(symbol), None);
        }
    }
}
