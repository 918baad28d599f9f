//! Single numbers that a rule compares with: drop, supports, sheaths, studs, fuse against wire.

use std::sync::OnceLock;

use super::RuleSet;
use super::rows::read;
use crate::units::WireSize;
use crate::working::Cited;

/// What a limit limits. The unit is part of its meaning and stands in the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Limit {
    /// Drop of a critical circuit, percent of nominal.
    DropCritical,
    /// Drop of any other circuit, percent of nominal.
    DropOther,
    /// Greatest distance between supports, mm.
    SupportSpacing,
    /// The same for sheathed and battery conductors, mm.
    SupportSpacingBattery,
    /// Greatest distance from a battery terminal to the first support, mm.
    FirstSupportBattery,
    /// Greatest length a small conductor may leave its sheath, mm.
    OutOfSheath,
    /// Greatest device rating over conductor ampacity, percent.
    DevicePercentOfConductor,
    /// The same where the next standard rating is taken, percent.
    DevicePercentNextStandard,
    /// Greatest device rating over the greatest output of an alternator, percent.
    AlternatorDevicePercent,
    /// Terminals on one stud.
    TerminalsPerStud,
    /// Greatest current through a friction terminal, A.
    FrictionTerminalCurrent,
    /// Greatest drop across a friction terminal at that current, mV.
    FrictionTerminalDrop,
    /// Least pull a friction terminal holds, N.
    FrictionTerminalPull,
    /// Bundles shorter than this are not reduced, mm.
    BundleLengthThreshold,
    /// Distance from a compass within which d.c. wires are twisted in pairs, mm.
    CompassDistance,
    /// Least bend radius over conductor diameter.
    BendRadiusTimesDiameter,
    /// Bundle diameter over the root of the sum of squared wire diameters, mixed sizes.
    BundleFactorMixed,
    /// Bore over cable diameter at which three equal cables may jam, lower end.
    JamRatioLow,
    /// The same, upper end.
    JamRatioHigh,
}

impl Limit {
    /// Every limit.
    pub const ALL: [Self; 19] = [
        Self::DropCritical,
        Self::DropOther,
        Self::SupportSpacing,
        Self::SupportSpacingBattery,
        Self::FirstSupportBattery,
        Self::OutOfSheath,
        Self::DevicePercentOfConductor,
        Self::DevicePercentNextStandard,
        Self::AlternatorDevicePercent,
        Self::TerminalsPerStud,
        Self::FrictionTerminalCurrent,
        Self::FrictionTerminalDrop,
        Self::FrictionTerminalPull,
        Self::BundleLengthThreshold,
        Self::CompassDistance,
        Self::BendRadiusTimesDiameter,
        Self::BundleFactorMixed,
        Self::JamRatioLow,
        Self::JamRatioHigh,
    ];

    const fn word(self) -> &'static str {
        match self {
            Self::DropCritical => "drop_critical",
            Self::DropOther => "drop_other",
            Self::SupportSpacing => "support_spacing",
            Self::SupportSpacingBattery => "support_spacing_battery",
            Self::FirstSupportBattery => "first_support_battery",
            Self::OutOfSheath => "out_of_sheath",
            Self::DevicePercentOfConductor => "device_percent_of_conductor",
            Self::DevicePercentNextStandard => "device_percent_next_standard",
            Self::AlternatorDevicePercent => "alternator_device_percent",
            Self::TerminalsPerStud => "terminals_per_stud",
            Self::FrictionTerminalCurrent => "friction_terminal_current",
            Self::FrictionTerminalDrop => "friction_terminal_drop",
            Self::FrictionTerminalPull => "friction_terminal_pull",
            Self::BundleLengthThreshold => "bundle_length_threshold",
            Self::CompassDistance => "compass_distance",
            Self::BendRadiusTimesDiameter => "bend_radius_times_diameter",
            Self::BundleFactorMixed => "bundle_factor_mixed",
            Self::JamRatioLow => "jam_ratio_low",
            Self::JamRatioHigh => "jam_ratio_high",
        }
    }
}

struct LimitRow {
    limit: String,
    rule_set: Option<RuleSet>,
    value: Cited<String>,
}

fn rows() -> &'static [LimitRow] {
    static TABLE: OnceLock<Vec<LimitRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("limits.csv", include_str!("../../data/limits.csv"))
            .iter()
            .map(|row| LimitRow {
                limit: row.text("limit").to_owned(),
                rule_set: row.word("rule_set", |word| {
                    (word == "any")
                        .then_some(None)
                        .or_else(|| RuleSet::from_word(word).map(Some))
                }),
                value: row.cite(row.text("value").to_owned()),
            })
            .collect()
    })
}

fn find(word: &str, rule_set: RuleSet) -> Option<&'static Cited<String>> {
    rows()
        .iter()
        .find(|row| row.limit == word && row.rule_set.is_none_or(|set| set == rule_set))
        .map(|row| &row.value)
}

/// The number of a limit under a rule set, in the unit its [`Limit`] states; none when that
/// rule set has no such limit.
pub fn number(limit: Limit, rule_set: RuleSet) -> Option<Cited<f64>> {
    let cited = find(limit.word(), rule_set)?;
    let value = cited
        .value
        .parse()
        .unwrap_or_else(|_| panic!("limits.csv: {} is no number", limit.word()));
    Some(Cited::new(value, cited.source.clone()))
}

/// The thinnest conductor a rule set permits, run singly or inside a sheath.
pub fn smallest_size(rule_set: RuleSet, in_sheath: bool) -> Option<Cited<WireSize>> {
    let word = if in_sheath {
        "smallest_in_sheath"
    } else {
        "smallest_single"
    };
    let cited = find(word, rule_set)?;
    let size = cited
        .value
        .parse()
        .unwrap_or_else(|_| panic!("limits.csv: {word} is no wire size"));
    Some(Cited::new(size, cited.source.clone()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_has_a_row_and_every_row_a_limit() {
        for limit in Limit::ALL {
            assert!(
                RuleSet::ALL.iter().any(|&set| number(limit, set).is_some()),
                "{limit:?}"
            );
        }
        for row in rows() {
            assert!(
                row.limit.starts_with("smallest_")
                    || Limit::ALL.iter().any(|limit| limit.word() == row.limit),
                "{}",
                row.limit
            );
        }
    }

    #[test]
    fn rule_sets_are_kept_apart() {
        let value = |limit, set| number(limit, set).map(|cited| cited.value);
        // 33 CFR 183.455(c)(1), ABYC E-11 11.10.2.3, ISO 10133 8.2.
        let fuse = Limit::DevicePercentOfConductor;
        assert_eq!(value(fuse, RuleSet::UsFederal), Some(150.0));
        assert_eq!(value(fuse, RuleSet::UsVoluntary), Some(100.0));
        assert_eq!(value(fuse, RuleSet::Iso), Some(100.0));
        // The federal regulation has no drop limit and no support spacing.
        assert_eq!(value(Limit::DropCritical, RuleSet::UsFederal), None);
        assert_eq!(value(Limit::SupportSpacing, RuleSet::UsFederal), None);
        assert_eq!(value(Limit::SupportSpacing, RuleSet::Iso), Some(450.0));
    }

    #[test]
    fn smallest_sizes() {
        let single = |set| smallest_size(set, false).unwrap().value.to_string();
        assert_eq!(single(RuleSet::UsFederal), "16 AWG");
        assert_eq!(single(RuleSet::Iso), "1 mm2");
        let sheathed = smallest_size(RuleSet::Iso, true).unwrap();
        assert_eq!(sheathed.value.to_string(), "0.75 mm2");
        assert_eq!(sheathed.source.place, "7.7");
    }
}
