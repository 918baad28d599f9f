//! How far from the source of power the first protective device may stand.
//!
//! Three rule sets, kept apart: 7 and 40 in with 72 in for batteries (federal), 7, 40 and 72 in
//! (voluntary), 200 mm (ISO).

use std::sync::OnceLock;

use super::RuleSet;
use super::rows::read;
use crate::units::Millimetres;
use crate::working::Cited;

/// How the unprotected length of conductor runs, and what it is connected to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SourceCase {
    /// Neither sheathed nor enclosed.
    Bare,
    /// Sheathed or enclosed all the way.
    Covered,
    /// On a battery, not sheathed.
    Battery,
    /// On a battery, and sheathed or enclosed all the way.
    BatteryCovered,
    /// The output of a charger or alternator.
    Charging,
}

impl SourceCase {
    /// Every case.
    pub const ALL: [Self; 5] = [
        Self::Bare,
        Self::Covered,
        Self::Battery,
        Self::BatteryCovered,
        Self::Charging,
    ];

    fn word(self) -> &'static str {
        match self {
            Self::Bare => "bare",
            Self::Covered => "covered",
            Self::Battery => "battery",
            Self::BatteryCovered => "battery-covered",
            Self::Charging => "charging",
        }
    }

    /// The rows that apply to this case, the most generous first.
    fn applicable(self) -> &'static [Self] {
        match self {
            Self::Bare => &[Self::Bare],
            Self::Covered => &[Self::Covered, Self::Bare],
            Self::Battery => &[Self::Battery, Self::Bare],
            Self::BatteryCovered => &[
                Self::BatteryCovered,
                Self::Battery,
                Self::Covered,
                Self::Bare,
            ],
            Self::Charging => &[Self::Charging, Self::Bare],
        }
    }
}

struct DistanceRow {
    rule_set: RuleSet,
    case: String,
    length: Cited<Millimetres>,
}

fn rows() -> &'static [DistanceRow] {
    static TABLE: OnceLock<Vec<DistanceRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "source_distance.csv",
            include_str!("../../data/source_distance.csv"),
        )
        .iter()
        .map(|row| DistanceRow {
            rule_set: row.word("rule_set", RuleSet::from_word),
            case: row.text("case").to_owned(),
            length: row.cited_number("length_mm").map(Millimetres::new),
        })
        .collect()
    })
}

/// Greatest length along the conductor from the source to its first device.
///
/// ISO sets no length for a conductor covered all the way: none is returned, and the rule is met.
pub fn greatest(rule_set: RuleSet, case: SourceCase) -> Option<Cited<Millimetres>> {
    let covered = matches!(case, SourceCase::Covered | SourceCase::BatteryCovered);
    if rule_set == RuleSet::Iso && covered {
        return None;
    }
    case.applicable().iter().find_map(|applicable| {
        rows()
            .iter()
            .find(|row| row.rule_set == rule_set && row.case == applicable.word())
            .map(|row| row.length.clone())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(rule_set: RuleSet, case: SourceCase) -> f64 {
        greatest(rule_set, case).unwrap().value.value() / 25.4
    }

    #[test]
    fn seven_forty_seventy_two_inches() {
        // 33 CFR 183.455(b) and 183.460(a); ABYC E-11 11.10.1.1.1.
        for set in [RuleSet::UsFederal, RuleSet::UsVoluntary] {
            assert!((inches(set, SourceCase::Bare) - 7.0).abs() < 1e-9);
            assert!((inches(set, SourceCase::Covered) - 40.0).abs() < 1e-9);
            assert!((inches(set, SourceCase::BatteryCovered) - 72.0).abs() < 1e-9);
        }
        // The federal 72 in for a battery does not ask for a sheath; the voluntary one does.
        assert!((inches(RuleSet::UsFederal, SourceCase::Battery) - 72.0).abs() < 1e-9);
        assert!((inches(RuleSet::UsVoluntary, SourceCase::Battery) - 7.0).abs() < 1e-9);
    }

    #[test]
    fn iso_distances() {
        let length = |case| greatest(RuleSet::Iso, case).map(|cited| cited.value.value());
        assert_eq!(length(SourceCase::Bare), Some(200.0));
        assert_eq!(length(SourceCase::Charging), Some(1800.0));
        assert_eq!(length(SourceCase::Covered), None);
    }

    #[test]
    fn every_row_belongs_to_a_case() {
        for row in rows() {
            assert!(SourceCase::ALL.iter().any(|case| case.word() == row.case));
        }
    }
}
