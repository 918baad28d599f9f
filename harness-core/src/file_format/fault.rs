//! What is wrong with a file, where, and what to do.

use serde::Serialize;
use std::fmt;

/// One fault of a file. All faults of a file are reported together.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Fault {
    /// JSON pointer (RFC 6901) to the place.
    pub pointer: String,
    /// What is wrong and the next step, in one or two sentences.
    pub detail: String,
    /// The value given, as JSON, shortened when long; empty if there is none.
    pub given: String,
    /// What would be accepted.
    pub limit: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = if self.pointer.is_empty() {
            "the file"
        } else {
            &self.pointer
        };
        write!(f, "{place}: {}", self.detail)?;
        if !self.given.is_empty() {
            write!(f, " Given: {}.", self.given)?;
        }
        if !self.limit.is_empty() {
            write!(f, " Accepted: {}.", self.limit)?;
        }
        Ok(())
    }
}

/// Most faults told of one file: a million of them would fill the memory and help nobody.
pub const MOST_FAULTS: usize = 20_000;

/// Keeps a fault, but no more than one beyond those that are told: by it one knows that there are
/// more.
pub(crate) fn keep<T>(faults: &mut Vec<T>, fault: T) {
    if faults.len() <= MOST_FAULTS {
        faults.push(fault);
    }
}

impl Fault {
    /// Stands after [`MOST_FAULTS`] for all that are not told.
    pub(crate) fn rest() -> Self {
        Self {
            pointer: String::new(),
            detail: format!(
                "There are more than {MOST_FAULTS} faults; the rest is not told. Mend these first: \
                 one cause may be behind most of them."
            ),
            given: String::new(),
            limit: "fewer faults".to_owned(),
        }
    }
}

/// Longest text of a given value that is repeated in a message.
const GIVEN_LENGTH: usize = 80;

/// A given value as shown in a message.
pub(crate) fn shown(value: &serde_json::Value) -> String {
    let text = value.to_string();
    if text.chars().count() <= GIVEN_LENGTH {
        return text;
    }
    let head: String = text.chars().take(GIVEN_LENGTH).collect();
    format!("{head}...")
}

/// Appends one step to a JSON pointer, escaped as RFC 6901 asks.
pub(crate) fn step(pointer: &str, token: &str) -> String {
    format!("{pointer}/{}", token.replace('~', "~0").replace('/', "~1"))
}

/// Faults in order of place, elements of a list by number; each once, and no more than are told.
pub(crate) fn in_order(mut faults: Vec<Fault>) -> Vec<Fault> {
    let token = |token: &str| (token.parse::<usize>().ok(), token.to_owned());
    faults.sort_by_cached_key(|fault| {
        let place: Vec<_> = fault.pointer.split('/').map(token).collect();
        (place, fault.detail.clone())
    });
    faults.dedup();
    if faults.len() > MOST_FAULTS {
        faults.truncate(MOST_FAULTS);
        faults.push(Fault::rest());
    }
    faults
}

/// Longest text for which a near name is looked for: longer ones are no slip of the finger.
const LONGEST_SLIP: usize = 60;

/// The known name nearest to a mistyped one, if any is near: at most one edit for every three
/// letters.
pub(crate) fn nearest<'a>(given: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let length = given.chars().count();
    let allowed = (length / 3).max(1);
    known
        .filter(|name| length <= LONGEST_SLIP && name.chars().count().abs_diff(length) <= allowed)
        .map(|name| (edits(given, name), name))
        .filter(|(distance, _)| *distance <= allowed)
        .min()
        .map(|(_, name)| name)
}

/// Levenshtein distance, letter case ignored.
fn edits(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.to_lowercase().chars().collect();
    let b: Vec<char> = b.to_lowercase().chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let changed = diagonal + usize::from(from != to);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mistyped_name_finds_its_neighbor() {
        let known = ["nominal_v", "running_v", "rested_v"];
        assert_eq!(
            nearest("nominal_volt", known.into_iter()),
            Some("nominal_v")
        );
        assert_eq!(nearest("Nominal_V", known.into_iter()), Some("nominal_v"));
        assert_eq!(nearest("capacity", known.into_iter()), None);
    }

    #[test]
    fn the_tenth_element_comes_after_the_second() {
        let fault = |pointer: &str| Fault {
            pointer: pointer.to_owned(),
            detail: String::new(),
            given: String::new(),
            limit: String::new(),
        };
        let places = ["/wires/10/to", "/wires/2/to", "/name", "/wires/2/to", ""];
        let ordered = in_order(places.map(fault).to_vec());
        let ordered: Vec<_> = ordered.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(ordered, ["", "/name", "/wires/2/to", "/wires/10/to"]);
    }

    #[test]
    fn pointers_are_escaped() {
        assert_eq!(step("/wires", "a/b~c"), "/wires/a~1b~0c");
    }
}
