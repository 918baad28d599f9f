//! Allowable current of one conductor: table value, engine space, bundle.

use serde::Serialize;

use crate::tables::ampacity::{engine_space_factor, table};
use crate::tables::bundling::{self, bundle_factor};
use crate::tables::conductors;
use crate::tables::{BundlePractice, Insulation, RuleSet, rule_set};
use crate::units::{Amperes, SizeSeries, WireSize};
use crate::working::{Cited, NotEvaluated, Source, Status, Worked, Working, significant};

/// What the ampacity of a conductor depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AmpacityQuestion {
    /// Conductor size.
    pub size: WireSize,
    /// Temperature rating of its insulation.
    pub insulation: Insulation,
    /// Rule set whose table is read.
    pub rule_set: RuleSet,
    /// Whether any part runs in an engine space.
    pub engine_space: bool,
    /// Loaded conductors lying together, this one counted.
    pub bundled_conductors: u32,
    /// How bundled conductors are reduced.
    pub bundling: BundlePractice,
}

impl AmpacityQuestion {
    /// The answer in the form the API gives it.
    pub fn answer(&self) -> AmpacityAnswer {
        match ampacity(self) {
            Ok(found) => AmpacityAnswer {
                ampacity_a: Some(found.value.value()),
                not_evaluated: None,
                sources: found.working.sources(),
                steps: found.working,
            },
            Err(reason) => AmpacityAnswer {
                ampacity_a: None,
                not_evaluated: Some(reason),
                steps: Working::new(),
                sources: Vec::new(),
            },
        }
    }
}

/// Allowable current, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AmpacityAnswer {
    /// Allowable current, ampere; null with a reason where the rule set has no answer.
    pub ampacity_a: Option<f64>,
    /// Why there is no ampacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_evaluated: Option<NotEvaluated>,
    /// How it was reached.
    pub steps: Working,
    /// The sources used, each once.
    pub sources: Vec<Source>,
}

/// Allowable current without its working: for checking many conductors.
///
/// # Errors
/// As [`ampacity`].
pub fn allowable(question: &AmpacityQuestion) -> Result<Amperes, NotEvaluated> {
    let base = base(question)?;
    let engine = engine(question)?.map_or(1.0, |cited| cited.value);
    let bundle = bundle_factor(question.bundling, question.bundled_conductors).value;
    Ok(reduced(reduced(base.cell.value, engine), bundle))
}

/// Allowable current: `table value × engine-space factor × bundle factor`, with its working.
///
/// A size the rule set's table does not list takes the row of the next smaller area in the
/// series it lists: less current, never more.
///
/// # Errors
/// When the table has no row at or below this size, or gives the class no engine-space factor.
pub fn ampacity(question: &AmpacityQuestion) -> Result<Worked<Amperes>, NotEvaluated> {
    let base = base(question)?;
    let engine = engine(question)?;
    let bundle = cited_bundle_factor(question);
    let mut working = Working::new();
    if base.row != question.size {
        working.step(
            format!("row for {} in a table without it", question.size),
            "next smaller area",
            format!(
                "{} has no row; {} is the next below",
                question.size, base.row
            ),
            base.row.to_string(),
            Some(&Source::new(
                "sizes of the other series",
                "the row of the next smaller area, because it never allows too much",
                Status::OurPractice,
            )),
        );
    }
    let column = question.insulation.column(question.rule_set);
    let column_note = if column == question.insulation {
        format!("{column} column")
    } else {
        format!("{column} column, next cooler than {}", question.insulation)
    };
    working.step(
        "single conductor outside engine spaces, 30 °C",
        "",
        format!(
            "{}: {}, {column_note}",
            rule_set::title(question.rule_set),
            base.row
        ),
        base.cell.value.to_string(),
        Some(&base.cell.source),
    );
    let mut value = base.cell.value;
    if let Some(engine) = engine {
        value = reduced(value, engine.value);
        working.step(
            "engine space, 50 °C",
            "I · factor",
            format!(
                "factor for {} insulation: {}",
                question.insulation, engine.value
            ),
            format!("{} A", significant(value.value(), 5)),
            Some(&engine.source),
        );
    }
    value = reduced(value, bundle.value);
    working.step(
        format!(
            "{} loaded conductors together",
            question.bundled_conductors.max(1)
        ),
        "I · factor",
        format!(
            "{}: factor {}",
            bundling::title(question.bundling),
            bundle.value
        ),
        format!("{} A", significant(value.value(), 5)),
        Some(&bundle.source),
    );
    Ok(Worked { value, working })
}

/// A current times a tabled factor of up to four decimals, so that 45 A × 0.70 is 31.5 A to the
/// last bit and a load of 31.5 A is within it.
fn reduced(current: Amperes, factor: f64) -> Amperes {
    current * (factor * 10_000.0).round() / 10_000.0
}

struct Base {
    row: WireSize,
    cell: Cited<Amperes>,
}

fn base(question: &AmpacityQuestion) -> Result<Base, NotEvaluated> {
    let AmpacityQuestion {
        size,
        rule_set,
        insulation,
        ..
    } = *question;
    if let Some(cell) = table(rule_set, size, insulation) {
        return Ok(Base { row: size, cell });
    }
    let series = match rule_set {
        RuleSet::UsFederal | RuleSet::UsVoluntary => SizeSeries::Awg,
        RuleSet::Iso => SizeSeries::Metric,
    };
    conductors::row(size)
        .and_then(|row| conductors::next_smaller(series, row.area.value))
        .and_then(|row| {
            table(rule_set, row.size, insulation).map(|cell| Base {
                row: row.size,
                cell,
            })
        })
        .ok_or_else(|| {
            NotEvaluated::because(format!(
                "the ampacity table of the {} has no row for {size} or below it: choose a thicker \
                 conductor or the other rule set",
                rule_set::title(rule_set)
            ))
        })
}

fn engine(question: &AmpacityQuestion) -> Result<Option<Cited<f64>>, NotEvaluated> {
    if !question.engine_space {
        return Ok(None);
    }
    engine_space_factor(question.rule_set, question.insulation)
        .map(Some)
        .ok_or_else(|| {
            NotEvaluated::because(format!(
                "the {} gives {} insulation no factor for engine spaces: choose insulation rated \
                 at least 70 °C",
                rule_set::title(question.rule_set),
                question.insulation
            ))
        })
}

fn cited_bundle_factor(question: &AmpacityQuestion) -> Cited<f64> {
    let mut factor = bundle_factor(question.bundling, question.bundled_conductors);
    if question.rule_set == RuleSet::Iso && factor.value < 1.0 {
        factor.source = Source::new(
            "bundling under the ISO rule set",
            "the US factors are used, because no ISO factor could be read",
            Status::OurPractice,
        );
    }
    factor
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(size: &str) -> AmpacityQuestion {
        AmpacityQuestion {
            size: size.parse().unwrap(),
            insulation: Insulation::C105,
            rule_set: RuleSet::UsVoluntary,
            engine_space: false,
            bundled_conductors: 1,
            bundling: BundlePractice::ByCount,
        }
    }

    fn amperes(question: &AmpacityQuestion) -> f64 {
        let worked = ampacity(question).unwrap().value.value();
        assert_eq!(worked, allowable(question).unwrap().value());
        worked
    }

    #[test]
    fn three_conductors_in_an_engine_space() {
        // Boat cable ampacity chart (UL 1426 maker's reprint): 16 AWG, 3 bundled, engine: 14.9 A.
        let found = amperes(&AmpacityQuestion {
            engine_space: true,
            bundled_conductors: 3,
            ..question("16 AWG")
        });
        assert!((found - 14.875).abs() < 1e-9);
    }

    #[test]
    fn the_other_series_takes_the_row_below() {
        // 2.5 mm2 lies between 14 AWG (2.08 mm2) and 12 AWG (3.31 mm2).
        assert_eq!(amperes(&question("2.5 mm2")), 35.0);
        let iso = AmpacityQuestion {
            rule_set: RuleSet::Iso,
            ..question("12 AWG")
        };
        let worked = ampacity(&iso).unwrap();
        assert!(worked.working.steps()[0].numbers.contains("2.5 mm2"));
    }

    #[test]
    fn what_no_table_answers_is_not_evaluated() {
        let thin = ampacity(&question("0.75 mm2")).unwrap_err();
        assert!(thin.because.contains("0.75 mm2"));
        let rubber = ampacity(&AmpacityQuestion {
            rule_set: RuleSet::Iso,
            insulation: Insulation::C60,
            engine_space: true,
            ..question("4 mm2")
        })
        .unwrap_err();
        assert!(rubber.because.contains("60"));
    }

    #[test]
    fn the_answer_carries_steps_and_sources() {
        let answer = AmpacityQuestion {
            engine_space: true,
            bundled_conductors: 7,
            ..question("6 AWG")
        }
        .answer();
        assert_eq!(answer.ampacity_a, Some(51.0));
        assert_eq!(answer.steps.steps().len(), 3);
        assert_eq!(answer.sources.len(), 3);
    }

    #[test]
    fn milder_practices_allow_more() {
        let at = |bundling| {
            amperes(&AmpacityQuestion {
                bundled_conductors: 12,
                bundling,
                ..question("12 AWG")
            })
        };
        assert_eq!(at(BundlePractice::ByCount), 22.5);
        assert_eq!(at(BundlePractice::Flat70), 31.5);
        assert_eq!(at(BundlePractice::NoneBelow50V), 45.0);
    }
}
