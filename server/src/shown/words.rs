//! Words of the trade as they are said in the United States and in the United Kingdom.
//!
//! `words.csv` holds the pairs that stand for each other wherever they stand. Words that mean
//! something else on the other side (*loom*, *cable*, *ground*, *spade*) are in none.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::LazyLock;

use regex::{Captures, Regex};

/// Whose words a person reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Words {
    /// Of the United States, as the pages are written.
    #[default]
    Us,
    /// Of the United Kingdom.
    Uk,
}

const PATTERN: &str = "a pattern of the service";

struct Direction {
    words: Regex,
    meant: BTreeMap<String, String>,
}

impl Direction {
    fn of(pairs: impl Iterator<Item = (String, String)>) -> Self {
        let meant: BTreeMap<String, String> =
            pairs.map(|(from, to)| (from.to_lowercase(), to)).collect();
        let mut words: Vec<&String> = meant.keys().collect();
        // Of words that begin alike the longest is meant.
        words.sort_by_key(|word| std::cmp::Reverse(word.len()));
        let words: Vec<String> = words.into_iter().map(|word| regex::escape(word)).collect();
        let words = Regex::new(&format!(r"(?i)\b(?:{})\b", words.join("|"))).expect(PATTERN);
        Self { words, meant }
    }

    fn told<'t>(&self, text: &'t str) -> Cow<'t, str> {
        self.words.replace_all(text, |found: &Captures<'_>| {
            let word = &found[0];
            let meant = self.meant.get(&word.to_lowercase());
            meant.map_or_else(|| word.to_owned(), |meant| cased(word, meant))
        })
    }
}

/// With the capitals of the word it stands for.
fn cased(word: &str, meant: &str) -> String {
    let is_capital = |letter: char| letter.is_uppercase();
    let mut letters = word.chars();
    match (letters.next().is_some_and(is_capital), letters.next()) {
        (true, Some(second)) if is_capital(second) => meant.to_uppercase(),
        (true, _) => {
            let mut letters = meant.chars();
            let first = letters.next().map(char::to_uppercase);
            first.into_iter().flatten().chain(letters).collect()
        }
        _ => meant.to_owned(),
    }
}

fn pairs() -> impl Iterator<Item = (String, String)> {
    let rows = csv::Reader::from_reader(include_str!("words.csv").as_bytes()).into_records();
    rows.map(|row| {
        let row = row.expect("the list of words is read");
        (row[0].to_owned(), row[1].to_owned())
    })
}

static TO_UK: LazyLock<Direction> = LazyLock::new(|| Direction::of(pairs()));
static TO_US: LazyLock<Direction> = LazyLock::new(|| {
    // Rows of one word twice only keep it from being taken for a shorter one.
    let told = pairs().filter(|(us, uk)| us != uk);
    Direction::of(told.map(|(us, uk)| (uk, us)))
});

/// A text in the reader's words.
pub(super) fn told(text: &str, words: Words) -> Cow<'_, str> {
    match words {
        Words::Us => Cow::Borrowed(text),
        Words::Uk => TO_UK.told(text),
    }
}

/// Whether a text is one word of those that are told, and nothing beside.
pub(super) fn is_one(text: &str) -> bool {
    TO_UK.meant.contains_key(&text.trim().to_lowercase())
}

/// A text in one spelling, so that words of both sides are found.
pub fn one_spelling(text: &str) -> Cow<'_, str> {
    TO_US.told(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_told_whole_and_with_their_capitals() {
        for (us, uk) in [
            ("Color of the gray wire", "Colour of the grey wire"),
            ("COLOR", "COLOUR"),
            (
                "a breaker, a circuit breaker",
                "a circuit breaker, a circuit breaker",
            ),
            ("Voltage drop over two splices", "Volt drop over two joints"),
            ("P-clamps", "P-clips"),
            ("wrong_color_for_function", "wrong_color_for_function"),
            (
                "Colorado, breakers' yard",
                "Colorado, circuit breakers' yard",
            ),
        ] {
            assert_eq!(told(us, Words::Uk), uk);
            assert_eq!(told(us, Words::Us), us);
        }
    }

    #[test]
    fn both_sides_come_to_one_spelling() {
        for (us, uk) in pairs() {
            let same = |text: &str| one_spelling(&text.to_lowercase()).into_owned();
            let back = same(&uk);
            assert_eq!(same(&back), back, "{uk}");
            assert!(told(&us, Words::Uk).eq_ignore_ascii_case(&uk), "{us}");
        }
        assert_eq!(one_spelling("grey colour"), "gray color");
    }
}
