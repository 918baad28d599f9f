//! Newtypes over `f64`, one for each physical quantity, with only the products physics allows.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of this quantity.
            pub const ZERO: Self = Self(0.0);
            /// Printed unit.
            pub const UNIT: &'static str = $symbol;

            /// The quantity from a bare number in this unit.
            pub const fn new(value: f64) -> Self {
                Self(value)
            }

            /// The bare number in this unit.
            pub const fn value(self) -> f64 {
                self.0
            }

            /// The larger of two; a NaN on either side gives the other.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The smaller of two; a NaN on either side gives the other.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// Magnitude without sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl fmt::Display for $name {
            /// Number and unit; the precision of the format string is kept (`{:.2}`).
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                write!(f, " {}", $symbol)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
                items.fold(Self::ZERO, Add::add)
            }
        }
    };
}

quantity!(
    /// Electrical potential difference, volt.
    Volts,
    "V"
);
quantity!(
    /// Current, ampere.
    Amperes,
    "A"
);
quantity!(
    /// Resistance, ohm.
    Ohms,
    "Ω"
);
quantity!(
    /// Power, watt.
    Watts,
    "W"
);
quantity!(
    /// Length along a run or wire, metre.
    Metres,
    "m"
);
quantity!(
    /// Small length (diameter, coordinate, wire end), millimetre.
    Millimetres,
    "mm"
);
quantity!(
    /// Cross-section, square millimetre.
    SquareMillimetres,
    "mm²"
);
quantity!(
    /// Cross-section, circular mil: the area of a circle one thousandth of an inch across.
    CircularMils,
    "CM"
);
quantity!(
    /// Mass, kilogram.
    Kilograms,
    "kg"
);
quantity!(
    /// Temperature, degree Celsius.
    Celsius,
    "°C"
);

/// Metres in a foot, exact by definition of the international foot.
const METRES_PER_FOOT: f64 = 0.3048;
/// Square millimetres in a circular mil: π/4 · (0.0254 mm)².
const MM2_PER_CIRCULAR_MIL: f64 = std::f64::consts::FRAC_PI_4 * 0.0254 * 0.0254;

impl Metres {
    /// From feet.
    pub const fn from_feet(feet: f64) -> Self {
        Self::new(feet * METRES_PER_FOOT)
    }

    /// In feet.
    pub fn feet(self) -> f64 {
        self.value() / METRES_PER_FOOT
    }

    /// The same length in millimetres.
    pub fn millimetres(self) -> Millimetres {
        Millimetres::new(self.value() * 1000.0)
    }
}

impl Millimetres {
    /// The same length in metres.
    pub fn metres(self) -> Metres {
        Metres::new(self.value() / 1000.0)
    }

    /// From inches.
    pub const fn from_inches(inches: f64) -> Self {
        Self::new(inches * 25.4)
    }

    /// In inches.
    pub fn inches(self) -> f64 {
        self.value() / 25.4
    }

    /// Area of a circle with this diameter.
    pub fn circle_area(self) -> SquareMillimetres {
        SquareMillimetres::new(std::f64::consts::FRAC_PI_4 * self.value() * self.value())
    }
}

impl Celsius {
    /// In degrees Fahrenheit.
    pub fn fahrenheit(self) -> f64 {
        self.value() * 9.0 / 5.0 + 32.0
    }
}

impl CircularMils {
    /// The same area in square millimetres.
    pub fn square_millimetres(self) -> SquareMillimetres {
        SquareMillimetres::new(self.value() * MM2_PER_CIRCULAR_MIL)
    }
}

impl SquareMillimetres {
    /// The same area in circular mils.
    pub fn circular_mils(self) -> CircularMils {
        CircularMils::new(self.value() / MM2_PER_CIRCULAR_MIL)
    }
}

impl Mul<Ohms> for Amperes {
    type Output = Volts;
    fn mul(self, resistance: Ohms) -> Volts {
        Volts::new(self.value() * resistance.value())
    }
}

impl Div<Ohms> for Volts {
    type Output = Amperes;
    fn div(self, resistance: Ohms) -> Amperes {
        Amperes::new(self.value() / resistance.value())
    }
}

impl Div<Amperes> for Volts {
    type Output = Ohms;
    fn div(self, current: Amperes) -> Ohms {
        Ohms::new(self.value() / current.value())
    }
}

impl Mul<Amperes> for Volts {
    type Output = Watts;
    fn mul(self, current: Amperes) -> Watts {
        Watts::new(self.value() * current.value())
    }
}

impl Div<Volts> for Watts {
    type Output = Amperes;
    fn div(self, potential: Volts) -> Amperes {
        Amperes::new(self.value() / potential.value())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ohms_law_ties_the_types_together() {
        let drop = Amperes::new(10.0) * Ohms::new(0.05);
        assert_eq!(drop, Volts::new(0.5));
        assert_eq!(drop / Ohms::new(0.05), Amperes::new(10.0));
        assert_eq!(Volts::new(12.0) * Amperes::new(5.0), Watts::new(60.0));
    }

    #[test]
    fn a_circular_mil_is_the_circle_one_mil_across() {
        // Definition; 1 CM = 5.067e-4 mm².
        let area = CircularMils::new(1000.0).square_millimetres();
        assert!((area.value() - 0.506_707).abs() < 1e-6);
        assert!((area.circular_mils().value() - 1000.0).abs() < 1e-9);
    }

    #[test]
    fn a_foot_is_304_8_millimetres() {
        assert!((Metres::from_feet(10.0).value() - 3.048).abs() < 1e-12);
        assert!((Millimetres::from_inches(7.0).value() - 177.8).abs() < 1e-9);
    }
}
