//! Where a value comes from, and how a result was reached: citation and working as data.
//!
//! Pages, sheets and JSON all show the same records, so a number on paper can be followed back
//! to its formula, its inputs and the row of the table it was read from.

use std::borrow::Cow;
use std::fmt;

use serde::{Deserialize, Serialize};

pub use crate::units::significant;

/// How far a stated value may be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Status {
    /// Read in the document or in one copy of it.
    #[serde(rename = "sourced")]
    Sourced,
    /// Read in at least two independent copies that agree.
    #[serde(rename = "several sources")]
    SeveralSources,
    /// Follows from a stated formula.
    #[serde(rename = "computed")]
    Computed,
    /// Known in the trade, not read in a document this time: confirm before relying on it.
    #[serde(rename = "from memory")]
    FromMemory,
    /// What the trade does, without a document that says so.
    #[serde(rename = "common practice")]
    CommonPractice,
    /// A choice of this service, with its reason beside it.
    #[serde(rename = "our practice")]
    OurPractice,
}

impl Status {
    /// Every status, most trusted first.
    pub const ALL: [Self; 6] = [
        Self::SeveralSources,
        Self::Sourced,
        Self::Computed,
        Self::CommonPractice,
        Self::OurPractice,
        Self::FromMemory,
    ];

    /// The word printed beside a value and written in the tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sourced => "sourced",
            Self::SeveralSources => "several sources",
            Self::Computed => "computed",
            Self::FromMemory => "from memory",
            Self::CommonPractice => "common practice",
            Self::OurPractice => "our practice",
        }
    }

    /// The status a table row names, none for an unknown word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|status| status.word() == word)
    }
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// The document a value comes from, and the place in it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Source {
    /// Document: standard, regulation, catalogue, or the practice by name.
    pub document: String,
    /// Clause, table, row or column in it.
    pub place: String,
    /// How far to trust it.
    pub status: Status,
    /// Where the copy that was read stands, if it has an address.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub url: Option<String>,
}

impl Source {
    /// A source without an address.
    pub fn new(document: impl Into<String>, place: impl Into<String>, status: Status) -> Self {
        Self {
            document: document.into(),
            place: place.into(),
            status,
            url: None,
        }
    }
}

impl fmt::Display for Source {
    /// `document, place (status)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.document)?;
        if !self.place.is_empty() {
            write!(f, ", {}", self.place)?;
        }
        write!(f, " ({})", self.status)
    }
}

/// A value with the source it was read from.
#[derive(Clone, Debug, PartialEq)]
pub struct Cited<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub source: Source,
}

impl<T> Cited<T> {
    /// A value and its source.
    pub const fn new(value: T, source: Source) -> Self {
        Self { value, source }
    }

    /// The same source over a value derived from this one.
    pub fn map<U>(self, convert: impl FnOnce(T) -> U) -> Cited<U> {
        Cited {
            value: convert(self.value),
            source: self.source,
        }
    }
}

/// One line of a working: what is found, by which formula, with which numbers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// What this line finds.
    pub what: String,
    /// The formula in symbols, empty for a table look-up.
    pub formula: String,
    /// The formula with its numbers and units, or the row looked up.
    pub numbers: String,
    /// The result with its unit.
    pub result: String,
    /// Where the formula or the value comes from.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub source: Option<Source>,
}

/// The lines that lead to a result, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Working(Vec<Step>);

impl Working {
    /// No lines yet.
    pub const fn new() -> Self {
        Self(Vec::new())
    }

    /// Adds one line.
    pub fn step(
        &mut self,
        what: impl Into<String>,
        formula: impl Into<String>,
        numbers: impl Into<String>,
        result: impl Into<String>,
        source: Option<&Source>,
    ) {
        self.0.push(Step {
            what: what.into(),
            formula: formula.into(),
            numbers: numbers.into(),
            result: result.into(),
            source: source.cloned(),
        });
    }

    /// Adds the lines of another working after these.
    pub fn append(&mut self, other: Self) {
        self.0.extend(other.0);
    }

    /// The lines in order.
    pub fn steps(&self) -> &[Step] {
        &self.0
    }

    /// The sources used, each once, in the order of first use.
    pub fn sources(&self) -> Vec<Source> {
        let mut found: Vec<Source> = Vec::new();
        for source in self.0.iter().filter_map(|step| step.source.as_ref()) {
            if !found.contains(source) {
                found.push(source.clone());
            }
        }
        found
    }
}

/// A result and the lines that lead to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked<T> {
    /// The result.
    pub value: T,
    /// How it was reached.
    pub working: Working,
}

/// A result that cannot be given, because something it needs is missing or outside the tables.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotEvaluated {
    /// What is missing and what to do, as the end of "not evaluated, because ...".
    pub because: Cow<'static, str>,
}

impl NotEvaluated {
    /// From the reason.
    pub fn because(reason: impl Into<Cow<'static, str>>) -> Self {
        Self {
            because: reason.into(),
        }
    }
}

impl fmt::Display for NotEvaluated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not evaluated, because {}", self.because)
    }
}

impl std::error::Error for NotEvaluated {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_status_is_read_back_from_its_word() {
        for status in Status::ALL {
            assert_eq!(Status::from_word(status.word()), Some(status));
            assert_eq!(
                serde_json::to_string(&status).unwrap(),
                format!("\"{}\"", status.word())
            );
        }
        assert_eq!(Status::from_word("certain"), None);
    }

    #[test]
    fn a_source_is_listed_once() {
        let source = Source::new("33 CFR 183.425", "Table 5", Status::Sourced);
        let mut working = Working::new();
        working.step("a", "", "", "1 A", Some(&source));
        working.step("b", "", "", "2 A", Some(&source));
        working.step("c", "", "", "3 A", None);
        assert_eq!(working.sources(), vec![source]);
        assert_eq!(working.steps().len(), 3);
    }

    #[test]
    fn working_is_plain_json() {
        let mut working = Working::new();
        let source = Source::new("IEC 60028", "copper", Status::FromMemory);
        working.step("drop", "E = I R", "10 A x 0.05 ohm", "0.5 V", Some(&source));
        let json = serde_json::to_string(&working).unwrap();
        assert_eq!(
            json,
            "[{\"what\":\"drop\",\"formula\":\"E = I R\",\"numbers\":\"10 A x 0.05 ohm\",\
             \"result\":\"0.5 V\",\"source\":{\"document\":\"IEC 60028\",\"place\":\"copper\",\
             \"status\":\"from memory\"}}]"
        );
        assert_eq!(serde_json::from_str::<Working>(&json).unwrap(), working);
    }
}
