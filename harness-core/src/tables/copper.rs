//! Constants of annealed copper and of the drop formulas.

use std::sync::OnceLock;

use super::rows::read;
use crate::working::Cited;

struct Copper {
    resistivity_20c: Cited<f64>,
    temperature_coefficient: Cited<f64>,
    zero_resistance_temperature: Cited<f64>,
    trade_constant: Cited<f64>,
    iso_drop_constant: Cited<f64>,
    fault_constant: Cited<f64>,
}

fn table() -> &'static Copper {
    static TABLE: OnceLock<Copper> = OnceLock::new();
    TABLE.get_or_init(|| {
        let rows = read("copper.csv", include_str!("../../data/copper.csv"));
        let find = |quantity: &str| {
            rows.iter()
                .find(|row| row.text("quantity") == quantity)
                .map_or_else(
                    || panic!("copper.csv: no row {quantity}"),
                    |row| row.cited_number("value"),
                )
        };
        Copper {
            resistivity_20c: find("resistivity_20c"),
            temperature_coefficient: find("temperature_coefficient"),
            zero_resistance_temperature: find("zero_resistance_temperature"),
            trade_constant: find("trade_constant"),
            iso_drop_constant: find("iso_drop_constant"),
            fault_constant: find("fault_constant"),
        }
    })
}

/// Resistivity of annealed copper at 20 °C, ohm mm²/km.
pub fn resistivity_20c() -> &'static Cited<f64> {
    &table().resistivity_20c
}

/// Temperature coefficient of resistance at 20 °C, per kelvin.
pub fn temperature_coefficient() -> &'static Cited<f64> {
    &table().temperature_coefficient
}

/// The temperature at which the straight line of resistance meets zero, °C.
pub fn zero_resistance_temperature() -> &'static Cited<f64> {
    &table().zero_resistance_temperature
}

/// K of the US drop formula `CM = K · I · L / E`, ohm circular mil per foot, L out and back.
pub fn trade_constant() -> &'static Cited<f64> {
    &table().trade_constant
}

/// Constant of the ISO drop formula `E = c · I · L / S`, ohm mm²/m, L out and back.
pub fn iso_drop_constant() -> &'static Cited<f64> {
    &table().iso_drop_constant
}

/// Constant of the adiabatic formula, A √s / mm².
pub fn fault_constant() -> &'static Cited<f64> {
    &table().fault_constant
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_coefficient_and_the_zero_temperature_are_one_statement() {
        // 0.00393 at 20 degC and -234.5 degC are the same line: 1 / (20 + 234.5) = 0.003929.
        let from_zero = 1.0 / (20.0 - zero_resistance_temperature().value);
        assert!((from_zero - temperature_coefficient().value).abs() < 2e-6);
    }

    #[test]
    fn the_trade_constant_is_copper_at_about_29_degrees() {
        // 17.241 ohm mm2/km is 10.371 ohm CM/ft (general reference: 1/58 ohm mm2/m copper).
        let cmil_ft = resistivity_20c().value / 1000.0 * 0.3048
            / (std::f64::consts::FRAC_PI_4 * 0.0254 * 0.0254);
        assert!((cmil_ft - 10.371).abs() < 5e-4);
        let temperature =
            20.0 + (trade_constant().value / cmil_ft - 1.0) / temperature_coefficient().value;
        assert!((temperature - 29.0).abs() < 0.5);
        assert!(iso_drop_constant().value < resistivity_20c().value / 1000.0);
    }
}
