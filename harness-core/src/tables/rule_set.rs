//! The rule sets a boat may be judged by.

use serde::{Deserialize, Serialize};

/// A body of rules; their numbers are kept apart, never mixed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RuleSet {
    /// US federal regulation for gasoline boats, 33 CFR 183 subpart I.
    UsFederal,
    /// The voluntary US standard for d.c. systems on boats, ABYC E-11.
    UsVoluntary,
    /// ISO standard for small craft, d.c. systems, ISO 13297.
    Iso,
}

impl RuleSet {
    /// Every rule set.
    pub const ALL: [Self; 3] = [Self::UsFederal, Self::UsVoluntary, Self::Iso];

    /// The name in files and tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::UsFederal => "us-federal",
            Self::UsVoluntary => "us-voluntary",
            Self::Iso => "iso",
        }
    }

    /// The rule set a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|set| set.word() == word)
    }

    /// The name for people.
    pub const fn title(self) -> &'static str {
        match self {
            Self::UsFederal => "US federal regulation (33 CFR 183)",
            Self::UsVoluntary => "voluntary US marine standard (ABYC E-11)",
            Self::Iso => "ISO small craft (ISO 13297)",
        }
    }

    /// The ampacity table both US sets share, or the ISO one.
    pub(super) const fn table_word(self) -> &'static str {
        match self {
            Self::UsFederal | Self::UsVoluntary => "us",
            Self::Iso => "iso",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_rule_set_is_read_back_from_its_word() {
        for set in RuleSet::ALL {
            assert_eq!(RuleSet::from_word(set.word()), Some(set));
            assert_eq!(
                serde_json::to_string(&set).unwrap(),
                format!("\"{}\"", set.word())
            );
        }
    }
}
