//! Resistance of a length of conductor, on one of three bases.

use crate::choices::{AreaBasis, DropBasis};
use crate::tables::conductors::ConductorRow;
use crate::tables::copper;
use crate::units::{Celsius, CircularMils, Metres, Ohms, SizeSeries, SquareMillimetres};
use crate::working::{Cited, NotEvaluated, Worked, Working, significant};

const METRE: Metres = Metres::new(1.0);

/// How the resistance of a conductor is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Basis {
    /// Trade constant, copper at temperature, the table's own ohm per kilometre, or ISO constant.
    pub method: DropBasis,
    /// Which area stands for a gauge number; metric sizes have their nominal area.
    pub area: AreaBasis,
    /// Temperature of the conductor; the two constants take no notice of it.
    pub temperature: Celsius,
}

/// The area a basis takes for a size.
///
/// # Errors
/// When the SAE minimum is asked of a gauge that has none (3 AWG).
pub fn area(
    row: &ConductorRow,
    basis: AreaBasis,
) -> Result<Cited<SquareMillimetres>, NotEvaluated> {
    match (basis, row.size.series()) {
        (AreaBasis::SaeMinimum, SizeSeries::Awg) => row
            .sae_minimum
            .clone()
            .map(|cited| cited.map(CircularMils::square_millimetres))
            .ok_or_else(|| {
                NotEvaluated::because(format!(
                    "the table of SAE minimum areas has no row for {}: take the AWG area",
                    row.size
                ))
            }),
        (AreaBasis::Awg | AreaBasis::SaeMinimum, _) => Ok(row.area.clone()),
    }
}

/// Resistance at `temperature` over resistance at 20 °C: `1 + α (T − 20)`.
pub fn share_at_temperature(temperature: Celsius) -> f64 {
    1.0 + copper::temperature_coefficient().value * (temperature.value() - 20.0)
}

/// Resistance of a length of conductor of a resistivity in ohm mm²/km: `R = ρ L / A`.
pub fn by_resistivity(ohm_mm2_per_km: f64, length: Metres, area: SquareMillimetres) -> Ohms {
    Ohms::new(ohm_mm2_per_km / 1000.0 * length.value() / area.value())
}

/// Resistance of a length of conductor by a constant in ohm circular mil per foot:
/// `R = K L / CM`.
pub fn by_circular_mils(constant: f64, length: Metres, area: CircularMils) -> Ohms {
    Ohms::new(constant * length.feet() / area.value())
}

/// Resistance of one metre of one conductor, ohm, without its working: for solving networks.
///
/// # Errors
/// When the basis asks for an area the size does not have.
pub fn ohms_per_metre(row: &ConductorRow, basis: &Basis) -> Result<f64, NotEvaluated> {
    Ok(match basis.method {
        DropBasis::TradeConstant => {
            let area = area(row, basis.area)?.value.circular_mils();
            by_circular_mils(copper::trade_constant().value, METRE, area).value()
        }
        DropBasis::CopperAtTemperature => {
            let area = area(row, basis.area)?.value;
            by_resistivity(copper::resistivity_20c().value, METRE, area).value()
                * row.stranding_allowance.value
                * share_at_temperature(basis.temperature)
        }
        DropBasis::TableAtTemperature => {
            row.resistance_20c_ohm_per_km.value / 1000.0 * share_at_temperature(basis.temperature)
        }
        DropBasis::IsoConstant => {
            let area = area(row, basis.area)?.value;
            by_resistivity(copper::iso_drop_constant().value * 1000.0, METRE, area).value()
        }
    })
}

/// Resistance of a length of conductor with its working.
///
/// `R = K L / CM` on the trade constant; `R = ρ20 (1 + α (T − 20)) L / A` and the stranding
/// allowance for copper at temperature; `R = r20 (1 + α (T − 20)) L` from the table;
/// `R = c L / A` on the ISO constant.
///
/// # Errors
/// When the basis asks for an area the size does not have.
pub fn resistance(
    row: &ConductorRow,
    length: Metres,
    basis: &Basis,
) -> Result<Worked<Ohms>, NotEvaluated> {
    let value = Ohms::new(ohms_per_metre(row, basis)? * length.value());
    let result = format!("{} ohm", significant(value.value(), 5));
    let mut working = Working::new();
    match basis.method {
        DropBasis::TradeConstant => {
            let cmil = area_step(&mut working, row, basis.area)?
                .circular_mils()
                .value();
            let constant = copper::trade_constant();
            working.step(
                "resistance of the length",
                "R = K · L / CM",
                format!(
                    "{} × {} ft / {} CM",
                    constant.value,
                    significant(length.feet(), 5),
                    significant(cmil, 5)
                ),
                result,
                Some(&constant.source),
            );
        }
        DropBasis::CopperAtTemperature => {
            let area = area_step(&mut working, row, basis.area)?;
            let resistivity = copper::resistivity_20c();
            let hot = temperature_step(
                &mut working,
                "resistivity of copper at temperature",
                "ρ = ρ20 · (1 + α · (T − 20))",
                resistivity,
                "ohm mm²/km",
                basis.temperature,
            );
            let allowance = &row.stranding_allowance;
            working.step(
                "allowance for stranding",
                "",
                format!("row {} of the conductor table", row.size),
                format!("× {}", allowance.value),
                Some(&allowance.source),
            );
            working.step(
                "resistance of the length",
                "R = ρ · L / A · allowance",
                format!(
                    "{} ohm mm²/km × {} m / 1000 / {} mm² × {}",
                    significant(hot, 5),
                    significant(length.value(), 5),
                    significant(area.value(), 5),
                    allowance.value
                ),
                result,
                None,
            );
        }
        DropBasis::TableAtTemperature => {
            let hot = temperature_step(
                &mut working,
                &format!("resistance of {} at temperature", row.size),
                "r = r20 · (1 + α · (T − 20))",
                &row.resistance_20c_ohm_per_km,
                "ohm/km",
                basis.temperature,
            );
            working.step(
                "resistance of the length",
                "R = r · L",
                format!(
                    "{} ohm/km × {} m / 1000",
                    significant(hot, 5),
                    significant(length.value(), 5)
                ),
                result,
                None,
            );
        }
        DropBasis::IsoConstant => {
            let area = area_step(&mut working, row, basis.area)?;
            let constant = copper::iso_drop_constant();
            working.step(
                "resistance of the length; this constant is below copper at 20 °C",
                "R = c · L / A",
                format!(
                    "{} ohm mm²/m × {} m / {} mm²",
                    constant.value,
                    significant(length.value(), 5),
                    significant(area.value(), 5)
                ),
                result,
                Some(&constant.source),
            );
        }
    }
    Ok(Worked { value, working })
}

fn area_step(
    working: &mut Working,
    row: &ConductorRow,
    basis: AreaBasis,
) -> Result<SquareMillimetres, NotEvaluated> {
    let cited = area(row, basis)?;
    working.step(
        "area of the conductor",
        "",
        format!("row {} of the conductor table", row.size),
        format!(
            "{} mm² ({} CM)",
            significant(cited.value.value(), 5),
            significant(cited.value.circular_mils().value(), 5)
        ),
        Some(&cited.source),
    );
    Ok(cited.value)
}

fn temperature_step(
    working: &mut Working,
    what: &str,
    formula: &str,
    at_20: &Cited<f64>,
    unit: &str,
    temperature: Celsius,
) -> f64 {
    let coefficient = copper::temperature_coefficient();
    let hot = at_20.value * share_at_temperature(temperature);
    working.step(
        format!("{what}: value at 20 °C"),
        "",
        "table",
        format!("{} {unit}", at_20.value),
        Some(&at_20.source),
    );
    working.step(
        what,
        formula,
        format!(
            "{} × (1 + {} × ({} − 20))",
            at_20.value,
            coefficient.value,
            temperature.value()
        ),
        format!("{} {unit}", significant(hot, 5)),
        Some(&coefficient.source),
    );
    hot
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::conductors::row;

    fn basis(method: DropBasis, temperature: f64) -> Basis {
        Basis {
            method,
            area: AreaBasis::Awg,
            temperature: Celsius::new(temperature),
        }
    }

    fn row_of(size: &str) -> &'static ConductorRow {
        row(size.parse().unwrap()).unwrap()
    }

    #[test]
    fn copper_at_30_degrees_as_a_public_worked_example_has_it() {
        // Worked example of a cable-loss page: 2 x 5 m of 2.5 mm2 at 30 degC, 17.91 ohm mm2/km.
        let found = resistance(
            row_of("2.5 mm2"),
            Metres::new(10.0),
            &basis(DropBasis::CopperAtTemperature, 30.0),
        )
        .unwrap();
        assert!((found.value.value() - 17.9186 / 1000.0 * 10.0 / 2.5).abs() < 1e-6);
        assert_eq!(found.working.steps().len(), 5);
    }

    #[test]
    fn the_trade_constant_is_ohm_circular_mil_per_foot() {
        let found = resistance(
            row_of("1 AWG"),
            Metres::from_feet(33.68),
            &basis(DropBasis::TradeConstant, 90.0),
        )
        .unwrap();
        // 10.75 x 33.68 / 83690 (a printed thruster example; the gauge area is 83 694 CM).
        assert!((found.value.value() / (10.75 * 33.68 / 83_690.0) - 1.0).abs() < 1e-3);
    }

    #[test]
    fn a_gauge_table_row_is_copper_with_its_stranding() {
        let table = basis(DropBasis::TableAtTemperature, 50.0);
        let copper = basis(DropBasis::CopperAtTemperature, 50.0);
        for row in crate::tables::conductors::rows() {
            let ratio =
                ohms_per_metre(row, &table).unwrap() / ohms_per_metre(row, &copper).unwrap();
            match row.size.series() {
                SizeSeries::Awg => assert!((ratio - 1.0).abs() < 1e-4, "{}", row.size),
                // The guaranteed maximum of a nominal area lies above plain copper.
                SizeSeries::Metric => assert!((1.1..1.2).contains(&ratio), "{}", row.size),
            }
        }
    }

    #[test]
    fn the_minimum_area_gives_more_resistance_or_a_reason() {
        let minimum = Basis {
            area: AreaBasis::SaeMinimum,
            ..basis(DropBasis::TradeConstant, 20.0)
        };
        let gauge = basis(DropBasis::TradeConstant, 20.0);
        let twelve = row_of("12 AWG");
        assert!(
            ohms_per_metre(twelve, &minimum).unwrap() > ohms_per_metre(twelve, &gauge).unwrap()
        );
        let missing = ohms_per_metre(row_of("3 AWG"), &minimum).unwrap_err();
        assert!(missing.to_string().contains("3 AWG"));
    }

    #[test]
    fn the_iso_constant_is_five_percent_below_copper() {
        let row = row_of("70 mm2");
        let iso = ohms_per_metre(row, &basis(DropBasis::IsoConstant, 80.0)).unwrap();
        assert!((iso - 0.0164 / 70.0).abs() < 1e-12);
        let copper = ohms_per_metre(row, &basis(DropBasis::CopperAtTemperature, 20.0)).unwrap();
        assert!((iso / copper - 0.951).abs() < 1e-3);
    }

    #[test]
    fn hot_copper_resists_more() {
        assert!((share_at_temperature(Celsius::new(50.0)) - 1.1179).abs() < 1e-12);
        assert_eq!(share_at_temperature(Celsius::new(20.0)), 1.0);
    }
}
