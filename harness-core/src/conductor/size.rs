//! The smallest stocked conductor that keeps a drop limit and carries its current.

use serde::Serialize;

use super::ampacity::{AmpacityQuestion, allowable, ampacity};
use super::drop::drop;
use super::resistance::{Basis, area, ohms_per_metre, share_at_temperature};
use crate::choices::DropBasis;
use crate::tables::conductors::{self, ConductorRow};
use crate::tables::{BundlePractice, Insulation, RuleSet, copper};
use crate::units::{Amperes, CircularMils, Metres, SizeSeries, SquareMillimetres, Volts};
use crate::working::{NotEvaluated, Source, Working, significant};

/// What a conductor has to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConductorQuestion {
    /// Nominal voltage of the system.
    pub nominal: Volts,
    /// Current of the load.
    pub current: Amperes,
    /// Length out and back.
    pub round_trip: Metres,
    /// Greatest drop, percent of nominal.
    pub drop_limit_percent: f64,
    /// How the resistance is found.
    pub basis: Basis,
    /// Series to choose from.
    pub series: SizeSeries,
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
    /// Leave the ampacity out of the choice; it is still stated.
    pub governed_only_by_drop: bool,
}

/// The size found, or why there is none, with everything that led to it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ConductorAnswer {
    /// The smallest stocked size that serves; null if none does.
    pub size: Option<String>,
    /// Why no size is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Area of the size on the basis asked, mm².
    pub area_mm2: Option<f64>,
    /// The same in circular mils.
    pub area_cmil: Option<f64>,
    /// Area the drop limit asks for, mm²; null on the table basis, which has no area in it.
    pub required_area_mm2: Option<f64>,
    /// The same in circular mils.
    pub required_area_cmil: Option<f64>,
    /// Drop of the size, volt.
    pub drop_v: Option<f64>,
    /// Drop of the size, percent of nominal.
    pub drop_percent: Option<f64>,
    /// Allowable current of the size, ampere; null where the rule set has no answer.
    pub ampacity_a: Option<f64>,
    /// Whether the current is within the ampacity; null where that is not known.
    pub within_ampacity: Option<bool>,
    /// What decided: `drop`, `ampacity` or `smallest stocked size`.
    pub governed_by: Option<&'static str>,
    /// How the results were reached.
    pub working: Working,
    /// The sources used, each once.
    pub sources: Vec<Source>,
}

/// Finds the smallest stocked size for a question.
pub fn size(question: &ConductorQuestion) -> ConductorAnswer {
    let limit = question.nominal * (question.drop_limit_percent / 100.0);
    let mut answer = ConductorAnswer::default();
    answer.working.step(
        "greatest drop permitted",
        "E = V · limit / 100",
        format!(
            "{} V × {} % / 100",
            significant(question.nominal.value(), 5),
            significant(question.drop_limit_percent, 5)
        ),
        format!("{} V", significant(limit.value(), 4)),
        None,
    );
    if let Some(required) = required_area(question, limit, &mut answer.working) {
        answer.required_area_mm2 = Some(required.value());
        answer.required_area_cmil = Some(required.circular_mils().value());
    }
    match choose(question, limit) {
        Ok(choice) => describe(question, &choice, &mut answer),
        Err(reason) => answer.reason = Some(reason.because.into_owned()),
    }
    answer.sources = answer.working.sources();
    answer
}

struct Choice {
    row: &'static ConductorRow,
    governed_by: &'static str,
}

fn choose(question: &ConductorQuestion, limit: Volts) -> Result<Choice, NotEvaluated> {
    let rows: Vec<_> = conductors::stocked(question.series).collect();
    let by_drop = rows
        .iter()
        .position(|row| drop_of(question, row).is_ok_and(|volts| volts <= limit))
        .ok_or_else(|| too_long(question, limit, &rows))?;
    if question.governed_only_by_drop {
        return Ok(Choice {
            row: rows[by_drop],
            governed_by: if by_drop == 0 { SMALLEST } else { "drop" },
        });
    }
    let by_ampacity = rows
        .iter()
        .position(|row| {
            allowable(&ampacity_of(question, row)).is_ok_and(|allowed| question.current <= allowed)
        })
        .ok_or_else(|| too_much_current(question, &rows))?;
    let index = by_drop.max(by_ampacity);
    let row = rows[index];
    let governed_by = if index == 0 {
        SMALLEST
    } else if by_drop > by_ampacity {
        "drop"
    } else if by_ampacity > by_drop || fuller_by_ampacity(question, row, limit) {
        "ampacity"
    } else {
        "drop"
    };
    Ok(Choice { row, governed_by })
}

const SMALLEST: &str = "smallest stocked size";

/// Whether a size is nearer to its ampacity than to the drop limit, where both ask for it.
fn fuller_by_ampacity(question: &ConductorQuestion, row: &ConductorRow, limit: Volts) -> bool {
    let of_drop = drop_of(question, row).map(|volts| volts / limit);
    let of_ampacity = allowable(&ampacity_of(question, row)).map(|a| question.current / a);
    matches!((of_drop, of_ampacity), (Ok(drop), Ok(ampacity)) if ampacity > drop)
}

fn drop_of(question: &ConductorQuestion, row: &ConductorRow) -> Result<Volts, NotEvaluated> {
    let ohms = ohms_per_metre(row, &question.basis)? * question.round_trip.value();
    Ok(Volts::new(question.current.value() * ohms))
}

const fn ampacity_of(question: &ConductorQuestion, row: &ConductorRow) -> AmpacityQuestion {
    AmpacityQuestion {
        size: row.size,
        insulation: question.insulation,
        rule_set: question.rule_set,
        engine_space: question.engine_space,
        bundled_conductors: question.bundled_conductors,
        bundling: question.bundling,
    }
}

fn too_long(
    question: &ConductorQuestion,
    limit: Volts,
    rows: &[&'static ConductorRow],
) -> NotEvaluated {
    let largest = rows.last().map_or_else(String::new, |row| {
        drop_of(question, row).map_or_else(
            |reason| reason.because.into_owned(),
            |volts| {
                format!(
                    "{}, the thickest stocked, drops {} V",
                    row.size,
                    significant(volts.value(), 4)
                )
            },
        )
    });
    NotEvaluated::because(format!(
        "no stocked size keeps the drop within {} V: {largest}; shorten the run, split the load, \
         lay conductors in parallel or permit more drop",
        significant(limit.value(), 4)
    ))
}

fn too_much_current(question: &ConductorQuestion, rows: &[&'static ConductorRow]) -> NotEvaluated {
    let Some(row) = rows.last() else {
        return NotEvaluated::because("no size of this series is stocked");
    };
    match allowable(&ampacity_of(question, row)) {
        Ok(allowed) => NotEvaluated::because(format!(
            "no stocked size carries {} A: {}, the thickest stocked, is allowed {} A; split the \
             load, lay fewer conductors together or choose insulation of a higher rating",
            significant(question.current.value(), 4),
            row.size,
            significant(allowed.value(), 4)
        )),
        Err(reason) => reason,
    }
}

/// Area at which `current` through `length` of a resistivity in ohm mm²/km drops just `drop`:
/// `A = ρ L I / E`.
pub fn area_for_drop(
    ohm_mm2_per_km: f64,
    length: Metres,
    current: Amperes,
    drop: Volts,
) -> SquareMillimetres {
    SquareMillimetres::new(
        ohm_mm2_per_km / 1000.0 * length.value() * current.value() / drop.value(),
    )
}

/// The area the drop limit asks for: `CM = K I L / E`, or `A = ρ L I / E` with the allowance.
fn required_area(
    question: &ConductorQuestion,
    limit: Volts,
    working: &mut Working,
) -> Option<SquareMillimetres> {
    let (current, length) = (question.current.value(), question.round_trip);
    match question.basis.method {
        DropBasis::TradeConstant => {
            let constant = copper::trade_constant();
            let cmil = constant.value * current * length.feet() / limit.value();
            working.step(
                "area the drop limit asks for",
                "CM = K · I · L / E",
                format!(
                    "{} × {} A × {} ft / {} V",
                    constant.value,
                    significant(current, 5),
                    significant(length.feet(), 5),
                    significant(limit.value(), 4)
                ),
                format!("{} CM", significant(cmil, 4)),
                Some(&constant.source),
            );
            Some(CircularMils::new(cmil).square_millimetres())
        }
        DropBasis::CopperAtTemperature => {
            let resistivity = copper::resistivity_20c();
            let allowance = &conductors::stocked(question.series)
                .next()?
                .stranding_allowance;
            let hot = resistivity.value * share_at_temperature(question.basis.temperature);
            let mm2 = area_for_drop(hot, length, question.current, limit).value() * allowance.value;
            working.step(
                "area the drop limit asks for",
                "A = ρ20 · (1 + α · (T − 20)) · L · I / E · allowance",
                format!(
                    "{} ohm mm²/km at {} °C × {} m / 1000 × {} A / {} V × {}",
                    significant(hot, 5),
                    question.basis.temperature.value(),
                    significant(length.value(), 5),
                    significant(current, 5),
                    significant(limit.value(), 4),
                    allowance.value
                ),
                format!("{} mm²", significant(mm2, 4)),
                Some(&resistivity.source),
            );
            Some(SquareMillimetres::new(mm2))
        }
        DropBasis::TableAtTemperature => None,
        DropBasis::IsoConstant => {
            let constant = copper::iso_drop_constant();
            let area = area_for_drop(constant.value * 1000.0, length, question.current, limit);
            working.step(
                "area the drop limit asks for; this constant is below copper at 20 °C",
                "A = c · L · I / E",
                format!(
                    "{} ohm mm²/m × {} m × {} A / {} V",
                    constant.value,
                    significant(length.value(), 5),
                    significant(current, 5),
                    significant(limit.value(), 4)
                ),
                format!("{} mm²", significant(area.value(), 4)),
                Some(&constant.source),
            );
            Some(area)
        }
    }
}

fn describe(question: &ConductorQuestion, choice: &Choice, answer: &mut ConductorAnswer) {
    let row = choice.row;
    answer.size = Some(row.size.to_string());
    answer.governed_by = Some(choice.governed_by);
    if let Ok(area) = area(row, question.basis.area) {
        answer.area_mm2 = Some(area.value.value());
        answer.area_cmil = Some(area.value.circular_mils().value());
    }
    answer.working.step(
        "smallest stocked size that serves",
        "",
        "first row, thin to thick, that keeps every limit asked",
        format!("{}, governed by {}", row.size, choice.governed_by),
        Some(&row.stocked.source),
    );
    if let Ok(found) = drop(
        row,
        question.round_trip,
        question.current,
        question.nominal,
        &question.basis,
    ) {
        answer.drop_v = Some(found.value.volts.value());
        answer.drop_percent = Some(found.value.percent);
        answer.working.append(found.working);
    }
    match ampacity(&ampacity_of(question, row)) {
        Ok(allowed) => {
            let within = question.current <= allowed.value;
            answer.ampacity_a = Some(allowed.value.value());
            answer.within_ampacity = Some(within);
            answer.working.append(allowed.working);
            if !within {
                answer.working.step(
                    "caution: the current is above the ampacity",
                    "I ≤ ampacity",
                    format!(
                        "{} A against {} A",
                        significant(question.current.value(), 5),
                        significant(allowed.value.value(), 5)
                    ),
                    "not met, and left out of the choice as asked",
                    None,
                );
            }
        }
        Err(reason) => answer.working.step(
            "ampacity of this size",
            "",
            "table",
            reason.to_string(),
            None,
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::choices::AreaBasis;
    use crate::units::Celsius;

    fn question(nominal: f64, percent: f64, amperes: f64, feet: f64) -> ConductorQuestion {
        ConductorQuestion {
            nominal: Volts::new(nominal),
            current: Amperes::new(amperes),
            round_trip: Metres::from_feet(feet),
            drop_limit_percent: percent,
            basis: Basis {
                method: DropBasis::TradeConstant,
                area: AreaBasis::Awg,
                temperature: Celsius::new(30.0),
            },
            series: SizeSeries::Awg,
            rule_set: RuleSet::UsVoluntary,
            insulation: Insulation::C105,
            engine_space: false,
            bundled_conductors: 1,
            bundling: BundlePractice::ByCount,
            governed_only_by_drop: false,
        }
    }

    #[test]
    fn a_bilge_pump_10_feet_away() {
        // Boat chandler's note on a 3 % drop: 10 A, 21 ft, 12 V: 6271 CM, 12 AWG.
        let answer = size(&question(12.0, 3.0, 10.0, 21.0));
        assert_eq!(answer.size.as_deref(), Some("12 AWG"));
        assert!((answer.required_area_cmil.unwrap() - 6271.0).abs() < 0.5);
        assert_eq!(answer.governed_by, Some("drop"));
        // With the SAE minimum area the same need takes one size more.
        let mut minimum = question(12.0, 3.0, 10.0, 21.0);
        minimum.basis.area = AreaBasis::SaeMinimum;
        assert_eq!(size(&minimum).size.as_deref(), Some("10 AWG"));
    }

    #[test]
    fn ampacity_may_govern() {
        // Cable catalogue 3 % chart: 24 V, 10 ft, 100 A: 6 AWG, since 8 AWG carries 80 A.
        let asked = question(24.0, 3.0, 100.0, 10.0);
        let answer = size(&asked);
        assert_eq!(answer.size.as_deref(), Some("6 AWG"));
        assert_eq!(answer.governed_by, Some("ampacity"));
        let by_drop = size(&ConductorQuestion {
            governed_only_by_drop: true,
            ..asked
        });
        assert_eq!(by_drop.size.as_deref(), Some("8 AWG"));
        assert_eq!(by_drop.within_ampacity, Some(false));
        assert!(
            by_drop
                .working
                .steps()
                .iter()
                .any(|s| s.what.starts_with("caution"))
        );
    }

    #[test]
    fn no_size_comes_with_a_reason() {
        let far = size(&question(12.0, 3.0, 100.0, 400.0));
        assert_eq!((far.size, far.drop_v, far.ampacity_a), (None, None, None));
        assert!(far.reason.unwrap().contains("4/0 AWG"));
        assert!(far.required_area_cmil.unwrap() > 211_600.0);
        let strong = size(&question(12.0, 10.0, 600.0, 2.0));
        assert!(strong.reason.unwrap().contains("445 A"));
    }

    #[test]
    fn small_needs_take_the_smallest_size() {
        let answer = size(&question(12.0, 3.0, 0.5, 4.0));
        assert_eq!(answer.size.as_deref(), Some("18 AWG"));
        assert_eq!(answer.governed_by, Some("smallest stocked size"));
    }

    #[test]
    fn three_awg_is_not_offered() {
        // 41 900 CM to 52 600 CM would be 3 AWG: the trade takes 2 AWG.
        let answer = size(&question(12.0, 3.0, 80.0, 20.0));
        assert_eq!(answer.size.as_deref(), Some("2 AWG"));
    }

    #[test]
    fn metric_sizes_at_temperature_from_iso() {
        let mut asked = question(12.0, 5.0, 2.1, 0.0);
        asked.round_trip = Metres::new(36.0);
        asked.series = SizeSeries::Metric;
        asked.rule_set = RuleSet::Iso;
        asked.basis.method = DropBasis::CopperAtTemperature;
        let answer = size(&asked);
        // 17.241 x 1.0393 x 36 x 2.1 / 0.6 / 1000 = 2.26 mm2.
        assert!((answer.required_area_mm2.unwrap() - 2.2577).abs() < 1e-3);
        assert_eq!(answer.size.as_deref(), Some("2.5 mm2"));
        asked.basis.method = DropBasis::TableAtTemperature;
        let by_table = size(&asked);
        assert_eq!(by_table.size.as_deref(), Some("4 mm2"));
        assert_eq!(by_table.required_area_mm2, None);
    }

    #[test]
    fn the_size_keeps_the_limit_and_the_next_thinner_does_not() {
        for amperes in [1.0, 7.0, 23.0, 60.0, 120.0] {
            for feet in [5.0, 22.0, 61.0] {
                let mut asked = question(12.0, 3.0, amperes, feet);
                asked.governed_only_by_drop = true;
                let answer = size(&asked);
                let Some(found) = answer.size else { continue };
                assert!(answer.drop_percent.unwrap() <= 3.0);
                let rows: Vec<_> = conductors::stocked(SizeSeries::Awg).collect();
                let index = rows
                    .iter()
                    .position(|r| r.size.to_string() == found)
                    .unwrap();
                if index > 0 {
                    assert!(drop_of(&asked, rows[index - 1]).unwrap() > Volts::new(0.36));
                }
            }
        }
    }
}
