//! How long a conductor stands a fault current before its insulation is hurt.

use crate::tables::copper;
use crate::units::{Amperes, Celsius, SquareMillimetres};
use crate::working::{NotEvaluated, Worked, Working, significant};

/// Longest time the adiabatic formula may be used for, s: beyond it heat escapes and the
/// opening time of the device decides.
const ADIABATIC_LIMIT_S: f64 = 5.0;

/// Factor k of the adiabatic formula, A √s / mm², between a starting and a final temperature:
/// `k = 226 √(ln((234.5 + Tf) / (234.5 + Ti)))` for copper (IEC 60364-5-54).
pub fn adiabatic_k(initial: Celsius, last: Celsius) -> f64 {
    let zero = copper::zero_resistance_temperature().value;
    let ratio = (last.value() - zero) / (initial.value() - zero);
    copper::fault_constant().value * libm::log(ratio).sqrt()
}

/// Time a conductor stands a fault current, s: `t = (k S / I)²`.
///
/// # Errors
/// When the time is above 5 s, where the formula no longer holds.
pub fn withstand(
    area: SquareMillimetres,
    fault: Amperes,
    initial: Celsius,
    last: Celsius,
) -> Result<Worked<f64>, NotEvaluated> {
    let k = adiabatic_k(initial, last);
    let root = k * area.value() / fault.value();
    let seconds = root * root;
    if seconds > ADIABATIC_LIMIT_S {
        return Err(NotEvaluated::because(format!(
            "{} A through {} mm² would take {} s to the limit of the insulation, and the formula \
             holds up to {ADIABATIC_LIMIT_S} s: judge by the opening time of the device",
            significant(fault.value(), 4),
            significant(area.value(), 4),
            significant(seconds, 3)
        )));
    }
    let mut working = Working::new();
    working.step(
        "factor of the insulation",
        "k = 226 · √(ln((234.5 + Tf) / (234.5 + Ti)))",
        format!("Ti {} °C, Tf {} °C", initial.value(), last.value()),
        format!("{} A √s/mm²", significant(k, 4)),
        Some(&copper::fault_constant().source),
    );
    working.step(
        "time to the limit of the insulation",
        "t = (k · S / I)²",
        format!(
            "({} × {} mm² / {} A)²",
            significant(k, 4),
            significant(area.value(), 4),
            significant(fault.value(), 4)
        ),
        format!("{} s", significant(seconds, 3)),
        Some(&copper::fault_constant().source),
    );
    Ok(Worked {
        value: seconds,
        working,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn k(initial: f64, last: f64) -> f64 {
        adiabatic_k(Celsius::new(initial), Celsius::new(last))
    }

    #[test]
    fn tabled_factors() {
        // IEC 60364-4-43 table 43A: PVC 115 and 103, XLPE 143, rubber 141 (from memory).
        for (initial, last, tabled) in [
            (70.0, 160.0, 115.0),
            (70.0, 140.0, 103.0),
            (90.0, 250.0, 143.0),
            (60.0, 200.0, 141.0),
        ] {
            assert!(
                (k(initial, last) - tabled).abs() < 0.5,
                "{initial} to {last}"
            );
        }
        assert!((k(105.0, 160.0) - 87.57).abs() < 0.005);
    }

    #[test]
    fn a_short_time_is_given_and_a_long_one_refused() {
        let time = |amperes| {
            withstand(
                SquareMillimetres::new(1.3087),
                Amperes::new(amperes),
                Celsius::new(70.0),
                Celsius::new(160.0),
            )
        };
        let found = time(150.0).unwrap().value;
        // k = 115 and S = 1.3087 mm2 (16 AWG): (115 x 1.3087 / 150)^2 = 1.0067 s.
        assert!((found - 1.0067).abs() < 2e-3, "{found}");
        // 53 A: 8.1 s, outside the range of the formula.
        assert!(time(53.0).unwrap_err().because.contains("opening time"));
    }
}
