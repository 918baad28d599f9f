//! One boat: the set of its options.

use std::cmp::Ordering;
use std::fmt;

use super::rules::OptionIndex;

/// The options one boat is built with. An option that is not named is not fitted.
///
/// Boats are ordered by their option lists, compared from the first option on: a boat without
/// options comes first, `{0, 5}` before `{1}`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Boat {
    /// Bit `i % 64` of word `i / 64` is option `i`; no zero words at the end.
    words: Vec<u64>,
}

impl Boat {
    /// The boat without any option.
    pub fn bare() -> Self {
        Self::default()
    }

    /// Takes over a bit set: bit `i % 64` of word `i / 64` is option `i`.
    pub(super) fn from_words(words: &[u64]) -> Self {
        let used = words.iter().rposition(|&word| word != 0);
        Self {
            words: words[..used.map_or(0, |last| last + 1)].to_vec(),
        }
    }

    /// Whether the option is fitted.
    pub fn has(&self, option: OptionIndex) -> bool {
        self.words
            .get(option.0 / 64)
            .is_some_and(|word| word >> (option.0 % 64) & 1 == 1)
    }

    /// Fits an option.
    pub fn add(&mut self, option: OptionIndex) {
        let word = option.0 / 64;
        if word >= self.words.len() {
            self.words.resize(word + 1, 0);
        }
        self.words[word] |= 1 << (option.0 % 64);
    }

    /// Takes an option off.
    pub fn remove(&mut self, option: OptionIndex) {
        if let Some(word) = self.words.get_mut(option.0 / 64) {
            *word &= !(1 << (option.0 % 64));
        }
        while self.words.last() == Some(&0) {
            self.words.pop();
        }
    }

    /// The options fitted, in ascending order.
    pub fn options(&self) -> impl Iterator<Item = OptionIndex> + '_ {
        self.words.iter().enumerate().flat_map(|(at, &word)| {
            (0..64)
                .filter(move |bit| word >> bit & 1 == 1)
                .map(move |bit| OptionIndex(at * 64 + bit))
        })
    }

    /// How many options are fitted.
    pub fn len(&self) -> usize {
        self.words
            .iter()
            .map(|word| word.count_ones() as usize)
            .sum()
    }

    /// Whether no option is fitted.
    pub fn is_empty(&self) -> bool {
        self.words.is_empty()
    }

    /// The names of the fitted options, in the order of the option list.
    ///
    /// `names[i]` names option `i`; an option past the end of `names` is shown by its number,
    /// counted from 1, so that none is lost.
    pub fn names(&self, names: &[String]) -> Vec<String> {
        self.options()
            .map(|option| match names.get(option.0) {
                Some(name) => name.clone(),
                None => option.to_string(),
            })
            .collect()
    }

    /// The boat in words: its option names, or *no options*.
    pub fn with_names<'a>(&'a self, names: &'a [String]) -> impl fmt::Display + 'a {
        NamedBoat { boat: self, names }
    }
}

impl FromIterator<OptionIndex> for Boat {
    fn from_iter<I: IntoIterator<Item = OptionIndex>>(options: I) -> Self {
        let mut boat = Self::bare();
        for option in options {
            boat.add(option);
        }
        boat
    }
}

impl Ord for Boat {
    fn cmp(&self, other: &Self) -> Ordering {
        self.options().cmp(other.options())
    }
}

impl PartialOrd for Boat {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

struct NamedBoat<'a> {
    boat: &'a Boat,
    names: &'a [String],
}

impl fmt::Display for NamedBoat<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.boat.is_empty() {
            return f.write_str("no options");
        }
        f.write_str(&self.boat.names(self.names).join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boat(options: &[usize]) -> Boat {
        options.iter().copied().map(OptionIndex).collect()
    }

    #[test]
    fn options_come_back_sorted_across_words() {
        let boat = boat(&[130, 3, 64, 3]);
        assert_eq!(
            boat.options().collect::<Vec<_>>(),
            [OptionIndex(3), OptionIndex(64), OptionIndex(130)]
        );
        assert_eq!(boat.len(), 3);
        assert!(boat.has(OptionIndex(64)) && !boat.has(OptionIndex(65)));
        assert!(!boat.has(OptionIndex(9999)));
    }

    #[test]
    fn taking_the_last_option_off_gives_the_bare_boat() {
        let mut one = boat(&[200]);
        one.remove(OptionIndex(7));
        assert_eq!(one, boat(&[200]));
        one.remove(OptionIndex(200));
        assert_eq!(one, Boat::bare());
        assert!(one.is_empty());
    }

    #[test]
    fn boats_are_ordered_by_their_option_lists() {
        assert!(Boat::bare() < boat(&[0]));
        assert!(boat(&[0, 5]) < boat(&[1]));
        assert!(boat(&[1, 64]) < boat(&[1, 65]));
    }

    #[test]
    fn a_boat_is_shown_by_names() {
        let names = ["Radar".to_owned(), "Wiper".to_owned()];
        assert_eq!(boat(&[0, 1]).with_names(&names).to_string(), "Radar, Wiper");
        assert_eq!(Boat::bare().with_names(&names).to_string(), "no options");
        assert_eq!(boat(&[1, 2]).names(&names), ["Wiper", "option 3"]);
    }
}
