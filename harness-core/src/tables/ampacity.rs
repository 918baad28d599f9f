//! Allowable current of one conductor in free air at 30 °C, and the engine-space factors.

use std::fmt;
use std::sync::OnceLock;

use super::rows::{Row, read};
use super::rule_set::{RuleSet, table_word};
use crate::units::{Amperes, Celsius, WireSize};
use crate::working::{Cited, Source, Status};

/// Temperature rating of a conductor's insulation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Insulation {
    /// 60 °C.
    C60,
    /// 70 °C, an ISO class.
    C70,
    /// 75 °C, a US class.
    C75,
    /// 80 °C, a US class.
    C80,
    /// 85 °C, read with 90 °C in the ISO table.
    C85,
    /// 90 °C.
    C90,
    /// 105 °C, usual for boat cable.
    C105,
    /// 125 °C.
    C125,
    /// 200 °C.
    C200,
}

impl Insulation {
    /// Every rating, coolest first.
    pub const ALL: [Self; 9] = [
        Self::C60,
        Self::C70,
        Self::C75,
        Self::C80,
        Self::C85,
        Self::C90,
        Self::C105,
        Self::C125,
        Self::C200,
    ];

    /// Rated temperature.
    pub const fn celsius(self) -> Celsius {
        Celsius::new(match self {
            Self::C60 => 60.0,
            Self::C70 => 70.0,
            Self::C75 => 75.0,
            Self::C80 => 80.0,
            Self::C85 => 85.0,
            Self::C90 => 90.0,
            Self::C105 => 105.0,
            Self::C125 => 125.0,
            Self::C200 => 200.0,
        })
    }

    /// The rating of exactly this many degrees Celsius; none if no table knows it.
    pub fn from_degc(degc: f64) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|insulation| insulation.celsius().value() == degc)
    }

    /// The column of a rule set's table to read: this rating if it has one, else the next cooler.
    pub const fn column(self, rule_set: RuleSet) -> Self {
        match (rule_set, self) {
            (RuleSet::Iso, Self::C75 | Self::C80) => Self::C70,
            (RuleSet::Iso, Self::C90) => Self::C85,
            (RuleSet::UsFederal | RuleSet::UsVoluntary, Self::C70) => Self::C60,
            (RuleSet::UsFederal | RuleSet::UsVoluntary, Self::C85) => Self::C80,
            (_, own) => own,
        }
    }
}

impl fmt::Display for Insulation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.celsius().fmt(f)
    }
}

struct AmpacityRow {
    rule_set: String,
    size: WireSize,
    insulation: Insulation,
    amperes: Cited<Amperes>,
}

struct EngineSpaceRow {
    rule_set: String,
    insulation: Insulation,
    factor: Cited<f64>,
}

fn insulation_of(row: &Row) -> Insulation {
    row.word("insulation_degc", |text| {
        text.parse().ok().and_then(Insulation::from_degc)
    })
}

fn ampacities() -> &'static [AmpacityRow] {
    static TABLE: OnceLock<Vec<AmpacityRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("ampacity.csv", include_str!("../../data/ampacity.csv"))
            .iter()
            .map(|row| AmpacityRow {
                rule_set: row.text("rule_set").to_owned(),
                size: row.value("size"),
                insulation: insulation_of(row),
                amperes: row.cited_number("amps_a").map(Amperes::new),
            })
            .collect()
    })
}

fn engine_spaces() -> &'static [EngineSpaceRow] {
    static TABLE: OnceLock<Vec<EngineSpaceRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "engine_space.csv",
            include_str!("../../data/engine_space.csv"),
        )
        .iter()
        .map(|row| EngineSpaceRow {
            rule_set: row.text("rule_set").to_owned(),
            insulation: insulation_of(row),
            factor: row.cited_number("factor"),
        })
        .collect()
    })
}

/// Allowable current of a single conductor outside engine spaces, 30 °C ambient.
///
/// The column is the insulation's own or the next cooler one ([`Insulation::column`]). None when
/// the rule set's table has no row for this size: the US tables list gauges, ISO lists metric
/// areas.
pub fn table(rule_set: RuleSet, size: WireSize, insulation: Insulation) -> Option<Cited<Amperes>> {
    let column = insulation.column(rule_set);
    ampacities()
        .iter()
        .find(|row| {
            row.rule_set == table_word(rule_set) && row.size == size && row.insulation == column
        })
        .map(|row| row.amperes.clone())
}

/// Factor on the table value in an engine space (50 °C). None when the rule set gives this class
/// no factor: such a conductor does not belong there.
pub fn engine_space_factor(rule_set: RuleSet, insulation: Insulation) -> Option<Cited<f64>> {
    let column = insulation.column(rule_set);
    engine_spaces()
        .iter()
        .find(|row| row.rule_set == table_word(rule_set) && row.insulation == column)
        .map(|row| row.factor.clone())
}

/// Factor for an ambient other than 30 °C by `√((T − Ta) / (T − 30))`, at most 1; none at or
/// above the rated temperature. The tables rule where they have a factor of their own.
pub fn ambient_factor(insulation: Insulation, ambient: Celsius) -> Option<Cited<f64>> {
    let (rated, ambient) = (insulation.celsius().value(), ambient.value());
    if ambient >= rated || !ambient.is_finite() {
        return None;
    }
    let factor = ((rated - ambient.max(30.0)) / (rated - 30.0)).sqrt();
    Some(Cited::new(
        factor,
        Source::new(
            "steady heat balance of a conductor",
            "losses by the square of the current, heat loss by the temperature difference",
            Status::Computed,
        ),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(text: &str) -> WireSize {
        text.parse().unwrap()
    }

    #[test]
    fn table_5_cells() {
        // 33 CFR 183.425 Table 5.
        for (gauge, insulation, amperes) in [
            ("18 AWG", Insulation::C60, 10.0),
            ("16 AWG", Insulation::C105, 25.0),
            ("3 AWG", Insulation::C90, 155.0),
            ("1/0 AWG", Insulation::C75, 230.0),
            ("4/0 AWG", Insulation::C200, 510.0),
        ] {
            let cell = table(RuleSet::UsFederal, size(gauge), insulation).unwrap();
            assert_eq!(cell.value, Amperes::new(amperes), "{gauge} {insulation}");
            assert_eq!(cell.source.document, "33 CFR 183.425");
        }
    }

    #[test]
    fn every_size_has_every_column_of_its_table() {
        for row in crate::tables::conductors::rows() {
            let set = match row.size.series() {
                crate::units::SizeSeries::Awg => RuleSet::UsVoluntary,
                crate::units::SizeSeries::Metric => RuleSet::Iso,
            };
            let mut last = Amperes::ZERO;
            for insulation in Insulation::ALL {
                let cell = table(set, row.size, insulation).unwrap();
                assert!(cell.value >= last, "{} {insulation}", row.size);
                last = cell.value;
            }
        }
    }

    #[test]
    fn a_rating_without_a_column_reads_the_next_cooler() {
        let us = |insulation| {
            table(RuleSet::UsFederal, size("12 AWG"), insulation)
                .unwrap()
                .value
        };
        assert_eq!(us(Insulation::C70), us(Insulation::C60));
        assert_eq!(us(Insulation::C85), us(Insulation::C80));
        let iso = |insulation| {
            table(RuleSet::Iso, size("10 mm2"), insulation)
                .unwrap()
                .value
        };
        assert_eq!(iso(Insulation::C80), iso(Insulation::C70));
        assert_eq!(iso(Insulation::C90), iso(Insulation::C85));
        assert!(table(RuleSet::Iso, size("12 AWG"), Insulation::C105).is_none());
    }

    #[test]
    fn engine_space_factors_follow_a_50_degree_space() {
        // 33 CFR 183.425 Table 5 note 1; the formula gives 0.94 where the note has 1.00 at 200 degC.
        for insulation in [
            Insulation::C60,
            Insulation::C75,
            Insulation::C105,
            Insulation::C125,
        ] {
            let note = engine_space_factor(RuleSet::UsFederal, insulation)
                .unwrap()
                .value;
            let formula = ambient_factor(insulation, Celsius::new(50.0))
                .unwrap()
                .value;
            assert!(
                (note - formula).abs() < 0.0075,
                "{insulation}: {note} {formula}"
            );
        }
        assert!(engine_space_factor(RuleSet::Iso, Insulation::C60).is_none());
        assert_eq!(
            engine_space_factor(RuleSet::Iso, Insulation::C90)
                .unwrap()
                .value,
            0.82
        );
    }

    #[test]
    fn no_factor_at_the_rated_temperature() {
        assert!(ambient_factor(Insulation::C60, Celsius::new(60.0)).is_none());
        assert_eq!(
            ambient_factor(Insulation::C60, Celsius::new(10.0))
                .unwrap()
                .value,
            1.0
        );
    }
}
