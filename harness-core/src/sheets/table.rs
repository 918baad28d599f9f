//! A sheet as a table of typed cells: what every printed, downloaded and drawn form is made of.

use crate::working::significant;
use serde::Serialize;
use std::fmt;

/// One cell. There is no blank cell: what is not there says why.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A count.
    Count(u64),
    /// A number in the unit of its column.
    Number(f64),
    /// Several entries.
    List(Vec<String>),
    /// Nothing is meant to be here: printed as a word.
    Word(Word),
}

/// Why a cell holds nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Word {
    /// There is none.
    #[serde(rename = "none")]
    None,
    /// The model does not state it.
    #[serde(rename = "not stated")]
    NotStated,
    /// It is on other boats.
    #[serde(rename = "not fitted on this boat")]
    NotFitted,
    /// To be written in by hand.
    #[serde(rename = "to be filled in")]
    ToFillIn,
}

impl Word {
    /// The word as printed.
    pub const fn text(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::NotStated => "not stated",
            Self::NotFitted => "not fitted on this boat",
            Self::ToFillIn => "........",
        }
    }
}

impl Cell {
    /// A text, or *not stated*.
    pub fn stated(text: Option<impl Into<String>>) -> Self {
        text.map_or(Self::Word(Word::NotStated), |text| Self::Text(text.into()))
    }

    /// A text, or *none*.
    pub fn or_none(text: Option<impl Into<String>>) -> Self {
        text.map_or(Self::Word(Word::None), |text| Self::Text(text.into()))
    }

    /// A list, or *none*.
    pub fn list(entries: Vec<String>) -> Self {
        if entries.is_empty() {
            Self::Word(Word::None)
        } else {
            Self::List(entries)
        }
    }

    /// A number, or *not stated*.
    pub fn number(value: Option<f64>) -> Self {
        value.map_or(Self::Word(Word::NotStated), Self::Number)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Text(text) => f.write_str(text),
            Self::Count(count) => write!(f, "{count}"),
            Self::Number(number) => f.write_str(&significant(*number, 6)),
            Self::List(entries) => f.write_str(&entries.join(", ")),
            Self::Word(word) => f.write_str(word.text()),
        }
    }
}

/// One column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Key in JSON and CSV, with the unit in the name.
    pub key: &'static str,
    /// Heading on paper, with the unit.
    pub title: &'static str,
    /// Whether it holds numbers, set to the right.
    pub numeric: bool,
}

impl Column {
    /// A column of words.
    pub const fn words(key: &'static str, title: &'static str) -> Self {
        Self {
            key,
            title,
            numeric: false,
        }
    }

    /// A column of numbers.
    pub const fn numbers(key: &'static str, title: &'static str) -> Self {
        Self {
            key,
            title,
            numeric: true,
        }
    }
}

/// One table of a sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Table {
    /// What it lists.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, each with as many cells as there are columns.
    pub rows: Vec<Vec<Cell>>,
}

/// A sheet: what is printed under one title block.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sheet {
    /// Name in addresses.
    pub id: &'static str,
    /// Title on paper.
    pub title: String,
    /// What it covers: every boat, one boat, one harness part, one zone.
    pub covers: String,
    /// Conventions a reader needs: units, view face, rounding.
    pub conventions: Vec<String>,
    /// Its tables in reading order.
    pub tables: Vec<Table>,
}
