//! Voltage drop along one conductor size, out and back.

use serde::Serialize;

use super::ampacity::{AmpacityQuestion, ampacity};
use super::resistance::{Basis, ohms_per_metre, resistance};
use crate::choices::DropBasis;
use crate::tables::conductors::{self, ConductorRow};
use crate::tables::{BundlePractice, Insulation, RuleSet, copper};
use crate::units::{Amperes, Metres, Volts, WireSize};
use crate::working::{NotEvaluated, Source, Worked, Working, significant};

/// A drop in volts and as a share of nominal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drop {
    /// Volts lost between the source and the load, feed and return together.
    pub volts: Volts,
    /// The same in percent of the nominal voltage.
    pub percent: f64,
}

/// Drop of `current` through `round_trip` of one conductor, with its working.
///
/// # Errors
/// When the basis asks for an area the size does not have.
pub fn drop(
    row: &ConductorRow,
    round_trip: Metres,
    current: Amperes,
    nominal: Volts,
    basis: &Basis,
) -> Result<Worked<Drop>, NotEvaluated> {
    let mut found = resistance(row, round_trip, basis)?;
    let volts = current * found.value;
    let percent = 100.0 * (volts / nominal);
    let constant = copper::trade_constant();
    let of_the_formula = (basis.method == DropBasis::TradeConstant).then_some(&constant.source);
    found.working.step(
        "drop out and back",
        "E = I · R",
        format!(
            "{} A × {} ohm",
            significant(current.value(), 5),
            significant(found.value.value(), 5)
        ),
        format!("{} V", significant(volts.value(), 4)),
        of_the_formula,
    );
    found.working.step(
        "drop as a share of nominal",
        "100 · E / V",
        format!(
            "100 × {} V / {} V",
            significant(volts.value(), 4),
            significant(nominal.value(), 5)
        ),
        format!("{} %", significant(percent, 4)),
        None,
    );
    Ok(Worked {
        value: Drop { volts, percent },
        working: found.working,
    })
}

/// What is asked of one given size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropQuestion {
    /// Conductor size.
    pub size: WireSize,
    /// Nominal voltage of the system.
    pub nominal: Volts,
    /// Current of the load.
    pub current: Amperes,
    /// Length out and back.
    pub round_trip: Metres,
    /// How the resistance is found.
    pub basis: Basis,
    /// Rule set of the ampacity table.
    pub rule_set: RuleSet,
    /// Temperature rating of the insulation.
    pub insulation: Insulation,
    /// Whether any part runs in an engine space.
    pub engine_space: bool,
    /// Loaded conductors lying together, this one counted.
    pub bundled_conductors: u32,
    /// How bundled conductors are reduced.
    pub bundling: BundlePractice,
}

impl DropQuestion {
    /// The ampacity asked along with the drop.
    pub const fn ampacity(&self) -> AmpacityQuestion {
        AmpacityQuestion {
            size: self.size,
            insulation: self.insulation,
            rule_set: self.rule_set,
            engine_space: self.engine_space,
            bundled_conductors: self.bundled_conductors,
            bundling: self.bundling,
        }
    }
}

/// The drop of a given size, its resistance and its ampacity.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DropAnswer {
    /// Drop out and back, volt.
    pub drop_v: f64,
    /// Drop in percent of nominal.
    pub drop_percent: f64,
    /// Resistance out and back, ohm.
    pub resistance_ohm: f64,
    /// Allowable current, ampere; null where the rule set has no answer, with the reason.
    pub ampacity_a: Option<f64>,
    /// Why there is no ampacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ampacity_not_evaluated: Option<NotEvaluated>,
    /// Whether the current is within the ampacity; null where that is not known.
    pub within_ampacity: Option<bool>,
    /// How the results were reached.
    pub working: Working,
    /// The sources used, each once.
    pub sources: Vec<Source>,
}

/// Answers a question about a given size.
///
/// # Errors
/// When the size is not in the conductor table or lacks the area asked for.
pub fn drop_answer(question: &DropQuestion) -> Result<DropAnswer, NotEvaluated> {
    let row = conductors::row(question.size).ok_or_else(|| {
        NotEvaluated::because(format!(
            "the conductor table has no row for {}: choose 18 AWG to 4/0 AWG or 0.75 mm2 to 150 mm2",
            question.size
        ))
    })?;
    let found = drop(
        row,
        question.round_trip,
        question.current,
        question.nominal,
        &question.basis,
    )?;
    let mut working = found.working;
    let allowed = ampacity(&question.ampacity());
    let (ampacity_a, reason) = match allowed {
        Ok(allowed) => {
            working.append(allowed.working);
            (Some(allowed.value), None)
        }
        Err(reason) => (None, Some(reason)),
    };
    Ok(DropAnswer {
        drop_v: found.value.volts.value(),
        drop_percent: found.value.percent,
        resistance_ohm: ohms_per_metre(row, &question.basis)? * question.round_trip.value(),
        ampacity_a: ampacity_a.map(Amperes::value),
        ampacity_not_evaluated: reason,
        within_ampacity: ampacity_a.map(|allowed| question.current <= allowed),
        sources: working.sources(),
        working,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::choices::AreaBasis;
    use crate::units::Celsius;

    fn question(size: &str) -> DropQuestion {
        DropQuestion {
            size: size.parse().unwrap(),
            nominal: Volts::new(24.0),
            current: Amperes::new(140.0),
            round_trip: Metres::from_feet(33.68),
            basis: Basis {
                method: DropBasis::TradeConstant,
                area: AreaBasis::Awg,
                temperature: Celsius::new(30.0),
            },
            rule_set: RuleSet::UsVoluntary,
            insulation: Insulation::C105,
            engine_space: false,
            bundled_conductors: 1,
            bundling: BundlePractice::ByCount,
        }
    }

    #[test]
    fn a_thruster_on_1_awg() {
        // Westlawn Institute, The Masthead no. 23: 140 A, 16 ft 10 in, 1 AWG: 0.6 V.
        let answer = drop_answer(&question("1 AWG")).unwrap();
        assert!((answer.drop_v - 0.6).abs() < 0.05, "{}", answer.drop_v);
        assert!((answer.drop_v - 140.0 * answer.resistance_ohm).abs() < 1e-12);
        assert_eq!(answer.ampacity_a, Some(245.0));
        assert_eq!(answer.within_ampacity, Some(true));
        assert!(
            answer
                .sources
                .iter()
                .any(|s| s.document == "33 CFR 183.425")
        );
    }

    #[test]
    fn a_missing_ampacity_is_said_and_not_hidden() {
        let answer = drop_answer(&question("0.75 mm2")).unwrap();
        assert_eq!((answer.ampacity_a, answer.within_ampacity), (None, None));
        assert!(
            answer
                .ampacity_not_evaluated
                .unwrap()
                .because
                .contains("0.75 mm2")
        );
        assert!(
            drop_answer(&question("30 AWG"))
                .unwrap_err()
                .because
                .contains("30 AWG")
        );
    }
}
