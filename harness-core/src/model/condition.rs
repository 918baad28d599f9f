//! When a thing is fitted: a statement about the options of a boat.

/// Position of an option in the model's option table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct OptionIndex(pub usize);

/// A statement that holds or not for each set of options.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Condition {
    /// On every boat.
    #[default]
    Always,
    /// With this option.
    Option(OptionIndex),
    /// With each of these.
    All(Vec<Condition>),
    /// With at least one of these.
    Any(Vec<Condition>),
    /// Without this.
    Not(Box<Condition>),
}

impl Condition {
    /// Whether it holds on a boat, given which options that boat has.
    pub fn holds(&self, has: &impl Fn(OptionIndex) -> bool) -> bool {
        match self {
            Self::Always => true,
            Self::Option(option) => has(*option),
            Self::All(parts) => parts.iter().all(|part| part.holds(has)),
            Self::Any(parts) => parts.iter().any(|part| part.holds(has)),
            Self::Not(part) => !part.holds(has),
        }
    }

    /// Holds when both do.
    pub fn and(&self, other: &Self) -> Self {
        match (self, other) {
            (Self::Always, kept) | (kept, Self::Always) => kept.clone(),
            (a, b) if a == b => a.clone(),
            (a, b) => Self::All(vec![a.clone(), b.clone()]),
        }
    }

    /// Holds when this one does not.
    pub fn negated(&self) -> Self {
        match self {
            Self::Not(part) => (**part).clone(),
            part => Self::Not(Box::new(part.clone())),
        }
    }

    /// The options it mentions, in order of mention, repeats included.
    pub fn options(&self) -> Vec<OptionIndex> {
        match self {
            Self::Always => Vec::new(),
            Self::Option(option) => vec![*option],
            Self::All(parts) | Self::Any(parts) => parts.iter().flat_map(Self::options).collect(),
            Self::Not(part) => part.options(),
        }
    }

    /// The condition in words, naming options by `name`.
    pub fn words(&self, name: &impl Fn(OptionIndex) -> String) -> String {
        let joined = |parts: &[Self], word: &str| {
            let texts: Vec<String> = parts
                .iter()
                .map(|part| match part {
                    Self::All(_) | Self::Any(_) => format!("({})", part.words(name)),
                    _ => part.words(name),
                })
                .collect();
            texts.join(word)
        };
        match self {
            Self::Always => "every boat".to_owned(),
            Self::Option(option) => name(*option),
            Self::All(parts) => joined(parts, " and "),
            Self::Any(parts) => joined(parts, " or "),
            Self::Not(part) => match **part {
                Self::All(_) | Self::Any(_) => format!("not ({})", part.words(name)),
                _ => format!("not {}", part.words(name)),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_condition_holds_as_its_words_say() {
        let radar_without_roof = Condition::All(vec![
            Condition::Option(OptionIndex(0)),
            Condition::Option(OptionIndex(1)).negated(),
        ]);
        let name = |option: OptionIndex| ["radar", "roof"][option.0].to_owned();
        assert_eq!(radar_without_roof.words(&name), "radar and not roof");
        assert!(radar_without_roof.holds(&|option| option.0 == 0));
        assert!(!radar_without_roof.holds(&|_| true));
        assert_eq!(radar_without_roof.negated().negated(), radar_without_roof);
    }
}
