//! Every check of a boat, in one visible list. One check, one file, in folders by subject.
//!
//! Rules judge facts and cite limits from the tables; they compute no physics of their own.
//! Each gives an outcome for every thing it is about: met, fails, or not evaluated and why.

mod finding;
mod known;
mod facts;
mod drop;
mod ampacity;
mod protection;
mod conductors;
mod joining;
mod installation;
#[cfg(test)]
pub(crate) mod test_model;

pub use ampacity::Loaded;
pub(crate) use conductors::{
    counts_in_sum, hangs_on_current, hangs_on_returns, has_yellow_return, most_together,
};
pub use facts::{Facts, Greatest, Judged};
pub use finding::{Finding, LimitKey, Outcome, Place, Quantity};
use finding::{settled, within};
pub(crate) use joining::misfits_in_cavities;
pub use known::{Known, LimitUse};
pub use protection::Walks;

use crate::model::RuleSet;
use crate::working::{Source, Status};

/// What a rule is about, and the folder its file stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// Volts at the equipment.
    Drop,
    /// Current of conductors and contacts.
    Ampacity,
    /// Fuses and breakers.
    Protection,
    /// Sizes and colors of wires.
    Conductors,
    /// Connectors, studs, splices and ends.
    Joining,
    /// Runs, holes, supports, water, vapor, reach.
    Installation,
}

impl Subject {
    /// Each subject, in the order shown.
    pub const ALL: [Self; 6] = [
        Self::Drop,
        Self::Ampacity,
        Self::Protection,
        Self::Conductors,
        Self::Joining,
        Self::Installation,
    ];

    /// Name of the folder.
    pub const fn folder(self) -> &'static str {
        match self {
            Self::Drop => "drop",
            Self::Ampacity => "ampacity",
            Self::Protection => "protection",
            Self::Conductors => "conductors",
            Self::Joining => "joining",
            Self::Installation => "installation",
        }
    }

    /// Heading on a page.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Drop => "Voltage drop and supply",
            Self::Ampacity => "Current of conductors and contacts",
            Self::Protection => "Fuses and breakers",
            Self::Conductors => "Sizes and colors of wires",
            Self::Joining => "Connectors, studs and ends",
            Self::Installation => "Runs, holes, water, vapor, reach",
        }
    }
}

/// What the finding on a thing hangs on, besides what the model states of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depends {
    /// Nothing: it is the same on every boat that has the thing.
    Itself,
    /// The boats that can be ordered: the rule looks at all of them itself.
    Boats,
    /// What else is fitted and runs.
    Company,
    /// What flows, and what lies beside it: volts at loads, currents of parts and of sources. It is
    /// worst on boats that are looked for by themselves, so on each of these only the things for
    /// which it was found need be judged.
    Flow,
}

/// How a source stands to a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// The document requires it.
    Requires,
    /// The document recommends it.
    Recommends,
    /// The limit follows from the document.
    DerivedFrom,
    /// No document: our practice, because of the reason given as paraphrase.
    OurPractice,
}

impl Relation {
    /// The relation in a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Requires => "required by",
            Self::Recommends => "recommended by",
            Self::DerivedFrom => "derived from",
            Self::OurPractice => "our practice",
        }
    }
}

/// What a document says, in our words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Citation {
    /// Rule set it belongs to; `None` for general sources.
    pub rule_set: Option<RuleSet>,
    /// The document.
    pub document: &'static str,
    /// Clause, table or row.
    pub place: &'static str,
    /// How far the copy that was read is to be trusted.
    pub status: Status,
    /// How it stands to the rule.
    pub relation: Relation,
    /// What it says, in our words.
    pub says: &'static str,
}

impl Citation {
    /// As the source of a line of working.
    pub fn source(&self) -> Source {
        Source::new(self.document, self.place, self.status)
    }
}

/// Changes to the test boat: moored all is known; under way a second pump runs behind the first,
/// on the same wires, and states no current.
const UNKNOWN_UNDER_WAY: [(&str, &str); 5] = [
    ("states/+", r#"{"id": "moored"}"#),
    ("states/+", r#"{"id": "under-way"}"#),
    (
        "loads/+",
        r#"{"id": "unknown", "point": "at-pump", "runs_in": [{"state": "under-way", "share": 1.0}]}"#,
    ),
    (
        "wires/+",
        r#"{"id": "on", "from": "pump.plus", "to": "unknown.plus", "size": "12 AWG"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "back", "from": "unknown.minus", "to": "pump.minus", "size": "12 AWG"}"#,
    ),
];

/// A pump of constant power beside a load of unknown draw, which lowers the volts of the battery.
const UNDRAWN_BESIDE: [(&str, &str); 5] = [
    ("loads/pump/current_a", "null"),
    ("sources/battery/internal_ohm", "0.01"),
    ("loads/+", r#"{"id": "unknown", "point": "at-battery"}"#),
    (
        "wires/+",
        r#"{"id": "on", "from": "battery.plus", "to": "unknown.plus", "size": "12 AWG"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "back", "from": "unknown.minus", "to": "battery.minus", "size": "12 AWG"}"#,
    ),
];

/// One tried case of a rule: printed on its page, and run by the tests as it stands here.
#[derive(Debug)]
pub struct Case {
    /// What is special about it: `well inside`, `exactly at`, `just over`, `data missing` ...
    pub name: &'static str,
    /// The boat in one sentence.
    pub given: &'static str,
    /// How it differs from the test boat: place in the saved model, and value as JSON.
    pub changes: &'static [(&'static str, &'static str)],
    /// What is judged, as `wire feed`.
    pub of: &'static str,
    /// The rule set whose finding is meant; `None` for each.
    pub rule_set: Option<RuleSet>,
    /// `met`, `fails`, `not evaluated`, or `nothing` where the rule does not apply.
    pub expected: &'static str,
}

/// One check.
#[derive(Debug)]
pub struct Rule {
    /// Code, named for the fault; lasts for ever. The file has the same name.
    pub code: &'static str,
    /// The fault as a heading.
    pub title: &'static str,
    /// Subject and folder.
    pub subject: Subject,
    /// What its findings hang on.
    pub depends: Depends,
    /// The fault in one sentence.
    pub fault: &'static str,
    /// Why it matters.
    pub why: &'static str,
    /// What to do about it.
    pub what_to_do: &'static str,
    /// What the sources say.
    pub citations: &'static [Citation],
    /// Cases it has been tried on.
    pub cases: &'static [Case],
    /// Judges a boat: one finding for each thing the rule is about.
    pub judge: fn(&Facts<'_>) -> Vec<Finding>,
}

/// Every rule, in the order shown.
pub const RULES: &[&Rule] = &[
    &drop::LOAD_NOT_SUPPLIED,
    &drop::NO_OPERATING_POINT,
    &drop::DROP_OVER_LIMIT,
    &drop::SUPPLY_BELOW_MINIMUM,
    &ampacity::CONDUCTOR_OVERLOADED,
    &ampacity::CONTACT_OVERLOADED,
    &ampacity::SOURCE_OVERLOADED,
    &protection::DEVICE_MISSING,
    &protection::DEVICE_TOO_FAR_FROM_SOURCE,
    &protection::DEVICE_OVER_CONDUCTOR_RATING,
    &protection::DEVICE_BELOW_LOAD,
    &protection::INTERRUPTING_RATING_TOO_SMALL,
    &conductors::CONDUCTOR_BELOW_SMALLEST_PERMITTED,
    &conductors::RETURN_SMALLER_THAN_FEED,
    &conductors::WRONG_COLOR_FOR_FUNCTION,
    &joining::CAVITY_USED_TWICE,
    &joining::CAVITY_UNDECIDED,
    &joining::TOO_MANY_TERMINALS_ON_STUD,
    &joining::TERMINAL_DOES_NOT_FIT,
    &joining::TAIL_WITHOUT_END_TREATMENT,
    &installation::WIRE_UNROUTABLE,
    &installation::CONDUIT_OVERFULL,
    &installation::BUNDLE_OVER_HOLE,
    &installation::HOLE_WITHOUT_EDGE_PROTECTION,
    &installation::SUPPORT_SPACING_TOO_WIDE,
    &installation::DEVICE_NOT_IGNITION_PROTECTED,
    &installation::COUPLER_UNREACHABLE,
    &installation::CONNECTION_BELOW_BILGE_WATER,
];

/// Code of the rule on voltage drop, by which circuits are listed.
pub const DROP_CODE: &str = drop::DROP_OVER_LIMIT.code;

/// Code of the rule on the current of conductors.
pub const CURRENT_CODE: &str = ampacity::CONDUCTOR_OVERLOADED.code;

/// Code of the rule on the volts left at equipment.
pub const SUPPLY_CODE: &str = drop::SUPPLY_BELOW_MINIMUM.code;

/// Code of the rule on the current of devices.
pub const DEVICE_LOAD_CODE: &str = protection::DEVICE_BELOW_LOAD.code;

/// Code of the rule on terminals and their wires.
pub const TERMINAL_CODE: &str = joining::TERMINAL_DOES_NOT_FIT.code;

/// Code of the rule on the fill of conduits.
pub const CONDUIT_CODE: &str = installation::CONDUIT_OVERFULL.code;

/// Code of the rule on the bundle in a hole.
pub const HOLE_CODE: &str = installation::BUNDLE_OVER_HOLE.code;

/// Code of the rule on returns.
pub const RETURN_CODE: &str = conductors::RETURN_SMALLER_THAN_FEED.code;

/// Code of the rule that holds wires to the smallest size permitted.
pub const SMALLEST_CODE: &str = conductors::CONDUCTOR_BELOW_SMALLEST_PERMITTED.code;

/// Code of the rule on the current of sources.
pub const SOURCE_CODE: &str = ampacity::SOURCE_OVERLOADED.code;

/// The rule with a code.
pub fn rule(code: &str) -> Option<&'static Rule> {
    RULES.iter().copied().find(|rule| rule.code == code)
}

/// Every finding of every rule, in the order of the list and of the model.
pub fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    RULES.iter().flat_map(|rule| (rule.judge)(facts)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn codes_are_unique_and_subjects_stand_together() {
        let codes: BTreeSet<_> = RULES.iter().map(|rule| rule.code).collect();
        assert_eq!(codes.len(), RULES.len());
        assert!(RULES.is_sorted_by_key(|rule| rule.subject));
        for rule in RULES {
            assert!(
                rule.code
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b == b'_'),
                "{}",
                rule.code
            );
            assert_eq!(
                super::rule(rule.code).map(|found| found.title),
                Some(rule.title)
            );
        }
    }

    #[test]
    fn every_rule_meets_its_cases() {
        let mut faults = Vec::new();
        for rule in RULES {
            let tried: BTreeSet<_> = rule.cases.iter().map(|case| case.expected).collect();
            for outcome in ["met", "fails"] {
                assert!(
                    tried.contains(outcome),
                    "{} has no case {outcome}",
                    rule.code
                );
            }
            for case in rule.cases {
                assert!(
                    !case.name.is_empty() && !case.given.is_empty(),
                    "{}",
                    rule.code
                );
                faults.extend(test_model::fault(rule, case));
            }
        }
        assert!(faults.is_empty(), "{}", faults.join("\n"));
    }

    #[test]
    fn a_model_that_states_nothing_passes_nothing_that_needs_data() {
        let model = crate::file_format::read("{\"format_version\": 1, \"name\": \"Empty\"}");
        let study = crate::study::Study::of(model.unwrap(), Default::default()).unwrap();
        assert_eq!(study.findings, Vec::new());
    }
}
