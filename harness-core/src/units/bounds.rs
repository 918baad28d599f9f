//! What a number may be, declared once: the file reader, the forms, the API and the published
//! schema all take their limits from here.

/// The range of values one kind of number may take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Least value accepted.
    pub min: f64,
    /// Greatest value accepted.
    pub max: f64,
    /// Printed unit, empty for a bare number.
    pub unit: &'static str,
    /// Whether `min` itself is refused.
    pub above_min: bool,
}

impl Bounds {
    const fn from_to(min: f64, max: f64, unit: &'static str) -> Self {
        Self {
            min,
            max,
            unit,
            above_min: false,
        }
    }

    const fn above(min: f64, max: f64, unit: &'static str) -> Self {
        Self {
            min,
            max,
            unit,
            above_min: true,
        }
    }

    /// Whether a value lies within; NaN and infinity never do.
    pub fn contains(&self, value: f64) -> bool {
        value.is_finite()
            && value <= self.max
            && if self.above_min {
                value > self.min
            } else {
                value >= self.min
            }
    }

    /// The limit in words, for a message.
    pub fn text(&self) -> String {
        let from = if self.above_min { "above" } else { "from" };
        let unit = if self.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", self.unit)
        };
        format!("{from} {} to {}{unit}", self.min, self.max)
    }
}

/// Nominal and stated voltages of an extra-low-voltage system: below 60 V d.c.
pub const VOLTS: Bounds = Bounds::above(0.0, 60.0, "V");
/// Voltage a device is rated for: parts for higher voltages are used as well.
pub const RATED_VOLTS: Bounds = Bounds::above(0.0, 1000.0, "V");
/// Voltage of a source or load where zero or reverse is allowed.
pub const ANY_VOLTS: Bounds = Bounds::from_to(-1000.0, 1000.0, "V");
/// Current of a load in a network question; negative feeds the network.
pub const ANY_AMPERES: Bounds = Bounds::from_to(-1e6, 1e6, "A");
/// Power of a load in a network question; negative feeds the network.
pub const ANY_WATTS: Bounds = Bounds::from_to(-1e9, 1e9, "W");
/// A load or rating current on a small craft.
pub const AMPERES: Bounds = Bounds::above(0.0, 5000.0, "A");
/// A current that may be none.
pub const AMPERES_OR_NONE: Bounds = Bounds::from_to(0.0, 5000.0, "A");
/// Fault currents and interrupting ratings.
pub const FAULT_AMPERES: Bounds = Bounds::above(0.0, 200_000.0, "A");
/// Cold cranking current of a battery bank.
pub const CRANKING_AMPERES: Bounds = Bounds::above(0.0, 20_000.0, "A");
/// Capacity of a battery bank.
pub const AMPERE_HOURS: Bounds = Bounds::above(0.0, 10_000.0, "Ah");
/// Power of one load.
pub const WATTS: Bounds = Bounds::above(0.0, 100_000.0, "W");
/// Standby current.
pub const MILLIAMPERES: Bounds = Bounds::from_to(0.0, 100_000.0, "mA");
/// A resistance that may be none.
pub const OHMS: Bounds = Bounds::from_to(0.0, 1_000_000.0, "ohm");
/// Resistance of a load.
pub const OHMS_ABOVE_NONE: Bounds = Bounds::above(0.0, 1_000_000.0, "ohm");
/// Contact, device and splice resistances.
pub const MILLIOHMS: Bounds = Bounds::from_to(0.0, 100_000.0, "mohm");
/// Duration of an inrush.
pub const MILLISECONDS: Bounds = Bounds::above(0.0, 600_000.0, "ms");
/// Length of a run or wire.
pub const METRES: Bounds = Bounds::above(0.0, 500.0, "m");
/// Round-trip length in feet.
pub const FEET: Bounds = Bounds::above(0.0, 1640.0, "ft");
/// A place in the boat.
pub const COORDINATE_MM: Bounds = Bounds::from_to(-100_000.0, 100_000.0, "mm");
/// A small length that may be none.
pub const MILLIMETRES: Bounds = Bounds::from_to(0.0, 100_000.0, "mm");
/// A diameter or bore.
pub const DIAMETER_MM: Bounds = Bounds::above(0.0, 1000.0, "mm");
/// Distance between supports.
pub const SUPPORT_MM: Bounds = Bounds::above(0.0, 20_000.0, "mm");
/// Resistance of a kilometer of conductor.
pub const OHMS_PER_KM: Bounds = Bounds::above(0.0, 1_000.0, "ohm/km");
/// Mass of a kilometer of conductor.
pub const KILOGRAMS_PER_KM: Bounds = Bounds::above(0.0, 20_000.0, "kg/km");
/// A conductor cross-section.
pub const AREA_MM2: Bounds = Bounds::above(0.0, 1000.0, "mm2");
/// Ambient or conductor temperature.
pub const CELSIUS: Bounds = Bounds::from_to(-40.0, 250.0, "degC");
/// A percentage above nothing.
pub const PERCENT: Bounds = Bounds::above(0.0, 100.0, "%");
/// A share from none to all.
pub const SHARE: Bounds = Bounds::from_to(0.0, 1.0, "");
/// An angle on the assembly board.
pub const DEGREES: Bounds = Bounds::from_to(-360.0, 360.0, "degrees");
/// A weight in a question about boats.
pub const WEIGHT: Bounds = Bounds::from_to(-1e12, 1e12, "");
/// A cost, in whichever currency.
pub const MONEY: Bounds = Bounds::from_to(0.0, 1e6, "");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ends_of_a_bound() {
        assert!(!VOLTS.contains(0.0) && VOLTS.contains(0.001));
        assert!(VOLTS.contains(60.0) && !VOLTS.contains(60.001));
        assert!(!VOLTS.contains(f64::NAN) && !VOLTS.contains(f64::INFINITY));
        assert_eq!(SHARE.text(), "from 0 to 1");
        assert_eq!(VOLTS.text(), "above 0 to 60 V");
    }
}
