//! The rule sets a boat may be judged by; their numbers are kept apart, never mixed.

pub use crate::choices::RuleSet;

/// The name of a rule set for people.
pub const fn title(rule_set: RuleSet) -> &'static str {
    match rule_set {
        RuleSet::UsFederal => "US federal regulation (33 CFR 183)",
        RuleSet::UsVoluntary => "voluntary US marine standard (ABYC E-11)",
        RuleSet::Iso => "ISO small craft (ISO 13297)",
    }
}

/// The ampacity table both US sets share, or the ISO one.
pub(super) const fn table_word(rule_set: RuleSet) -> &'static str {
    match rule_set {
        RuleSet::UsFederal | RuleSet::UsVoluntary => "us",
        RuleSet::Iso => "iso",
    }
}
