//! Options and the rules between them, as the builder states them.

use std::fmt;

use super::boat::Boat;

/// An option by its place in the option list, counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct OptionIndex(pub usize);

impl fmt::Display for OptionIndex {
    /// The option by number, counted from 1, where no name is at hand.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "option {}", self.0 + 1)
    }
}

/// What must hold between options on every boat that can be ordered.
///
/// Packages are requires (the package requires each of its parts); standard equipment is
/// [`OptionRule::Always`].
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum OptionRule {
    /// A boat with the first option has the second.
    Requires(OptionIndex, OptionIndex),
    /// No boat has both. An option that excludes itself is in no boat.
    Excludes(OptionIndex, OptionIndex),
    /// A boat with the first option has at least one of the others. With no others, or only the
    /// first itself, it asks what that says: no boat has it, or nothing at all.
    OnlyWithAnyOf(OptionIndex, Vec<OptionIndex>),
    /// Every boat has one and only one of these; an option named twice counts once. No boat
    /// meets an empty list.
    ExactlyOneOf(Vec<OptionIndex>),
    /// No boat has two of these; an option named twice counts once.
    AtMostOneOf(Vec<OptionIndex>),
    /// Every boat has it.
    Always(OptionIndex),
}

impl OptionRule {
    /// The options named, as listed.
    pub fn options(&self) -> Vec<OptionIndex> {
        match self {
            Self::Requires(a, b) | Self::Excludes(a, b) => vec![*a, *b],
            Self::OnlyWithAnyOf(a, others) => [&[*a], &others[..]].concat(),
            Self::ExactlyOneOf(group) | Self::AtMostOneOf(group) => group.clone(),
            Self::Always(a) => vec![*a],
        }
    }

    /// Whether this boat keeps the rule.
    pub fn holds(&self, boat: &Boat) -> bool {
        let fitted = |group: &[OptionIndex]| {
            let on: Boat = group.iter().copied().filter(|&o| boat.has(o)).collect();
            on.len()
        };
        match self {
            Self::Requires(a, b) => !boat.has(*a) || boat.has(*b),
            Self::Excludes(a, b) => !(boat.has(*a) && boat.has(*b)),
            Self::OnlyWithAnyOf(a, others) => !boat.has(*a) || others.iter().any(|&o| boat.has(o)),
            Self::ExactlyOneOf(group) => fitted(group) == 1,
            Self::AtMostOneOf(group) => fitted(group) <= 1,
            Self::Always(a) => boat.has(*a),
        }
    }

    /// The rule in words. `names[i]` names option `i`; one past the end is shown by number.
    pub fn says(&self, names: &[String]) -> String {
        let name = |option: &OptionIndex| match names.get(option.0) {
            Some(name) => name.clone(),
            None => option.to_string(),
        };
        let list = |group: &[OptionIndex]| group.iter().map(name).collect::<Vec<_>>().join(", ");
        match self {
            Self::Requires(a, b) => format!("{} requires {}", name(a), name(b)),
            Self::Excludes(a, b) => format!("{} excludes {}", name(a), name(b)),
            Self::OnlyWithAnyOf(a, others) => match others.as_slice() {
                [] => format!("{} only with an option that is not there", name(a)),
                [one] => format!("{} only with {}", name(a), name(one)),
                _ => format!("{} only with at least one of {}", name(a), list(others)),
            },
            Self::ExactlyOneOf(group) => format!("exactly one of {}", list(group)),
            Self::AtMostOneOf(group) => format!("at most one of {}", list(group)),
            Self::Always(a) => format!("always {}", name(a)),
        }
    }
}

/// A rule that names an option which is not in the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownOption {
    /// Place of the rule in the rule list, counted from 0.
    pub rule: usize,
    /// The option it names.
    pub option: OptionIndex,
    /// How many options there are.
    pub count: usize,
}

impl fmt::Display for UnknownOption {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "rule {} names {}, but there are only {} options",
            self.rule + 1,
            self.option,
            self.count
        )
    }
}

impl std::error::Error for UnknownOption {}

/// How many options a boat model has, and the rules between them. Every rule names options that
/// exist.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Options {
    count: usize,
    rules: Vec<OptionRule>,
}

impl Options {
    /// Options `0 .. count` under these rules.
    ///
    /// # Errors
    /// Every place where a rule names an option at or past `count`.
    pub fn new(count: usize, rules: Vec<OptionRule>) -> Result<Self, Vec<UnknownOption>> {
        let unknown: Vec<UnknownOption> = rules
            .iter()
            .enumerate()
            .flat_map(|(rule, stated)| {
                stated
                    .options()
                    .into_iter()
                    .filter(|option| option.0 >= count)
                    .map(move |option| UnknownOption {
                        rule,
                        option,
                        count,
                    })
            })
            .collect();
        if unknown.is_empty() {
            Ok(Self { count, rules })
        } else {
            Err(unknown)
        }
    }

    /// Options `0 .. count` under rules whose options are known to be among them.
    ///
    /// # Panics
    /// In debug builds, if a rule names another option.
    pub fn of_known(count: usize, rules: Vec<OptionRule>) -> Self {
        debug_assert!(
            rules
                .iter()
                .flat_map(OptionRule::options)
                .all(|option| option.0 < count)
        );
        Self { count, rules }
    }

    /// How many options there are.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The rules, as stated.
    pub fn rules(&self) -> &[OptionRule] {
        &self.rules
    }

    /// Whether this boat keeps every rule and has no option outside the list.
    pub fn allow(&self, boat: &Boat) -> bool {
        boat.options().all(|option| option.0 < self.count)
            && self.rules.iter().all(|rule| rule.holds(boat))
    }

    /// The same options with some of the rules, given by their places in the rule list, and others
    /// beside them. Others that name an unknown option are no rule any boat can keep: `None`.
    pub(super) fn with_only(&self, kept: &[usize], others: &[OptionRule]) -> Option<Self> {
        let kept = kept.iter().map(|&rule| &self.rules[rule]);
        Self::new(self.count, kept.chain(others).cloned().collect()).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unknown_option_is_reported() {
        let rules = vec![
            OptionRule::Requires(OptionIndex(0), OptionIndex(3)),
            OptionRule::Always(OptionIndex(1)),
            OptionRule::AtMostOneOf(vec![OptionIndex(5), OptionIndex(1), OptionIndex(4)]),
        ];
        let faults = Options::new(3, rules).unwrap_err();
        let places: Vec<(usize, usize)> = faults.iter().map(|f| (f.rule, f.option.0)).collect();
        assert_eq!(places, [(0, 3), (2, 5), (2, 4)]);
        assert_eq!(
            faults[0].to_string(),
            "rule 1 names option 4, but there are only 3 options"
        );
    }

    #[test]
    fn rules_speak_by_names() {
        let names = ["Radar".to_owned(), "Mast".to_owned()];
        let (radar, mast) = (OptionIndex(0), OptionIndex(1));
        assert_eq!(
            OptionRule::Requires(radar, mast).says(&names),
            "Radar requires Mast"
        );
        assert_eq!(
            OptionRule::ExactlyOneOf(vec![radar, mast]).says(&names),
            "exactly one of Radar, Mast"
        );
        let only =
            |others: &[OptionIndex]| OptionRule::OnlyWithAnyOf(radar, others.to_vec()).says(&names);
        assert_eq!(only(&[mast]), "Radar only with Mast");
        assert_eq!(only(&[]), "Radar only with an option that is not there");
        assert_eq!(
            only(&[mast, OptionIndex(2)]),
            "Radar only with at least one of Mast, option 3"
        );
    }
}
