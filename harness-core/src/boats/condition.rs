//! When something is fitted: a condition over options.

use std::collections::BTreeSet;

use super::boat::Boat;
use super::rules::OptionIndex;

/// A condition over the options of one boat. Kept symbolic: whether it holds is asked per boat.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Condition {
    /// On every boat.
    #[default]
    Always,
    /// On boats with this option.
    Option(OptionIndex),
    /// On boats that meet each of these; an empty list is met by every boat.
    All(Vec<Condition>),
    /// On boats that meet at least one of these; an empty list is met by none.
    Any(Vec<Condition>),
    /// On boats that do not meet this.
    Not(Box<Condition>),
}

impl Condition {
    /// The condition no boat meets.
    pub fn never() -> Self {
        Self::Any(Vec::new())
    }

    /// On boats without this option.
    pub fn without(option: OptionIndex) -> Self {
        Self::Not(Box::new(Self::Option(option)))
    }

    /// Whether this boat meets the condition.
    pub fn holds(&self, boat: &Boat) -> bool {
        match self {
            Self::Always => true,
            Self::Option(option) => boat.has(*option),
            Self::All(parts) => parts.iter().all(|part| part.holds(boat)),
            Self::Any(parts) => parts.iter().any(|part| part.holds(boat)),
            Self::Not(part) => !part.holds(boat),
        }
    }

    /// Every option the condition mentions.
    pub fn options(&self) -> BTreeSet<OptionIndex> {
        let mut mentioned = BTreeSet::new();
        self.collect_options(&mut mentioned);
        mentioned
    }

    fn collect_options(&self, into: &mut BTreeSet<OptionIndex>) {
        match self {
            Self::Always => {}
            Self::Option(option) => {
                into.insert(*option);
            }
            Self::All(parts) | Self::Any(parts) => {
                for part in parts {
                    part.collect_options(into);
                }
            }
            Self::Not(part) => part.collect_options(into),
        }
    }

    /// What is left to ask once it is known whether one option is fitted, in its simplest form:
    /// [`Condition::Always`] or [`Condition::never`] when nothing is.
    pub fn given(&self, option: OptionIndex, fitted: bool) -> Self {
        match self {
            Self::Always => Self::Always,
            Self::Option(asked) if *asked == option && fitted => Self::Always,
            Self::Option(asked) if *asked == option => Self::never(),
            Self::Option(asked) => Self::Option(*asked),
            Self::All(parts) => all(parts.iter().map(|part| part.given(option, fitted))),
            Self::Any(parts) => any(parts.iter().map(|part| part.given(option, fitted))),
            Self::Not(part) => not(part.given(option, fitted)),
        }
    }

    /// The same condition in its simplest form: nested lists joined, repeats and constants gone.
    pub fn simplified(&self) -> Self {
        match self {
            Self::Always | Self::Option(_) => self.clone(),
            Self::All(parts) => all(parts.iter().map(Self::simplified)),
            Self::Any(parts) => any(parts.iter().map(Self::simplified)),
            Self::Not(part) => not(part.simplified()),
        }
    }

    /// Met when both are.
    pub fn and(&self, other: &Self) -> Self {
        all([self.simplified(), other.simplified()].into_iter())
    }

    /// Met when this one is not.
    pub fn negated(&self) -> Self {
        not(self.simplified())
    }

    /// The condition in words; `names[i]` names option `i`.
    pub fn words(&self, names: &[String]) -> String {
        let name = |option: &OptionIndex| {
            names
                .get(option.0)
                .cloned()
                .unwrap_or_else(|| option.to_string())
        };
        let part_words = |part: &Self| match part {
            Self::All(_) | Self::Any(_) => format!("({})", part.words(names)),
            _ => part.words(names),
        };
        let joined = |parts: &[Self], word: &str| {
            parts.iter().map(part_words).collect::<Vec<_>>().join(word)
        };
        match self {
            Self::Always => "every boat".to_owned(),
            Self::Option(option) => name(option),
            Self::Any(parts) if parts.is_empty() => "no boat".to_owned(),
            Self::All(parts) => joined(parts, " and "),
            Self::Any(parts) => joined(parts, " or "),
            Self::Not(part) => format!("not {}", part_words(part)),
        }
    }

    fn is_never(&self) -> bool {
        matches!(self, Self::Any(parts) if parts.is_empty())
    }
}

/// All of some parts that are themselves in simplest form.
fn all(parts: impl Iterator<Item = Condition>) -> Condition {
    let mut kept = BTreeSet::new();
    for part in parts {
        match part {
            Condition::Always => {}
            Condition::All(inner) => kept.extend(inner),
            part if part.is_never() => return Condition::never(),
            part => {
                kept.insert(part);
            }
        }
    }
    match kept.len() {
        0 => Condition::Always,
        1 => kept.into_iter().next().unwrap_or_default(),
        _ => Condition::All(kept.into_iter().collect()),
    }
}

/// Any of some parts that are themselves in simplest form.
fn any(parts: impl Iterator<Item = Condition>) -> Condition {
    let mut kept = BTreeSet::new();
    for part in parts {
        match part {
            Condition::Always => return Condition::Always,
            Condition::Any(inner) => kept.extend(inner),
            part => {
                kept.insert(part);
            }
        }
    }
    match kept.len() {
        1 => kept.into_iter().next().unwrap_or_default(),
        _ => Condition::Any(kept.into_iter().collect()),
    }
}

/// The opposite of a part that is itself in simplest form.
fn not(part: Condition) -> Condition {
    match part {
        Condition::Always => Condition::never(),
        Condition::Not(inner) => *inner,
        part if part.is_never() => Condition::Always,
        part => Condition::Not(Box::new(part)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn option(index: usize) -> Condition {
        Condition::Option(OptionIndex(index))
    }

    #[test]
    fn negation_and_lists_hold_as_written() {
        let boat: Boat = [OptionIndex(0), OptionIndex(2)].into_iter().collect();
        let not_one = Condition::without(OptionIndex(1));
        assert!(Condition::All(vec![option(0), not_one.clone()]).holds(&boat));
        assert!(!Condition::Not(Box::new(not_one)).holds(&boat));
        assert!(Condition::All(Vec::new()).holds(&boat));
        assert!(!Condition::never().holds(&boat));
        assert!(Condition::Any(vec![option(1), option(2)]).holds(&boat));
    }

    #[test]
    fn options_mentioned_are_found_at_any_depth() {
        let condition = Condition::Any(vec![
            Condition::Not(Box::new(Condition::All(vec![option(4), option(1)]))),
            option(4),
            Condition::Always,
        ]);
        let mentioned: Vec<usize> = condition.options().into_iter().map(|o| o.0).collect();
        assert_eq!(mentioned, [1, 4]);
    }

    #[test]
    fn conditions_speak_by_names() {
        let names = ["Radar".to_owned(), "Mast".to_owned(), "Arch".to_owned()];
        let says = |condition: &Condition| condition.words(&names);
        let either = Condition::Any(vec![option(1), option(2)]);
        assert_eq!(says(&either), "Mast or Arch");
        assert_eq!(
            says(&Condition::All(vec![option(0), either.clone()])),
            "Radar and (Mast or Arch)"
        );
        assert_eq!(says(&either.negated()), "not (Mast or Arch)");
        assert_eq!(says(&Condition::without(OptionIndex(0))), "not Radar");
        assert_eq!(says(&Condition::never()), "no boat");
        assert_eq!(says(&Condition::Always), "every boat");
        assert_eq!(says(&option(3)), "option 4");
    }

    #[test]
    fn simplest_form_drops_constants_and_repeats() {
        let nested = Condition::All(vec![
            Condition::All(vec![option(2), Condition::Always]),
            option(1),
            option(2),
            Condition::Not(Box::new(Condition::never())),
        ]);
        assert_eq!(
            nested.simplified(),
            Condition::All(vec![option(1), option(2)])
        );
        assert_eq!(nested.given(OptionIndex(1), false), Condition::never());
        assert_eq!(nested.given(OptionIndex(1), true), option(2));
        let twice = Condition::Not(Box::new(Condition::without(OptionIndex(3))));
        assert_eq!(twice.simplified(), option(3));
    }
}
