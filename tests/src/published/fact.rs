//! Reads the facts: what was published, where, and to which digit.

use std::collections::BTreeMap;

/// Every file of facts, in the order of the report.
const FILES: [(&str, &str); 9] = [
    (
        "table_values.csv",
        include_str!("../../facts/table_values.csv"),
    ),
    ("ampacity.csv", include_str!("../../facts/ampacity.csv")),
    (
        "size_charts.csv",
        include_str!("../../facts/size_charts.csv"),
    ),
    ("runs.csv", include_str!("../../facts/runs.csv")),
    (
        "drop_examples.csv",
        include_str!("../../facts/drop_examples.csv"),
    ),
    ("conductors.csv", include_str!("../../facts/conductors.csv")),
    ("bundles.csv", include_str!("../../facts/bundles.csv")),
    (
        "worked_examples.csv",
        include_str!("../../facts/worked_examples.csv"),
    ),
    (
        "distributors.csv",
        include_str!("../../facts/distributors.csv"),
    ),
];

/// One published value and the question it answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Short name, unique over all files.
    pub id: String,
    /// Kind of calculation.
    pub kind: String,
    /// The question in one line.
    pub question: String,
    /// Inputs by name; the unit is in the name.
    pub inputs: BTreeMap<String, String>,
    /// The inputs as written in the file.
    pub inputs_text: String,
    /// What was published.
    pub published: Published,
    /// Unit of the published number, empty for a size, a ratio or a name.
    pub unit: String,
    /// Key of the source.
    pub source: String,
    /// What else a reader should know.
    pub remark: String,
}

/// A published value.
#[derive(Clone, Debug, PartialEq)]
pub enum Published {
    /// A number, and the worth of its last printed digit.
    Number {
        /// The number.
        value: f64,
        /// As printed.
        text: String,
        /// One unit of the last digit that carries meaning.
        last_digit: f64,
    },
    /// A conductor size or a name.
    Word(String),
}

/// Where a value was published.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PublishedSource {
    /// Document.
    pub title: String,
    /// Table, page or example in it.
    pub place: String,
    /// Address of the copy read, empty if none.
    pub url: String,
    /// Standard, regulation, handbook, textbook example, maker's chart, trade chart ...
    pub reference_kind: String,
}

impl Fact {
    /// All facts of all files.
    ///
    /// # Panics
    /// When a file is malformed, with its name and line.
    pub fn all() -> Vec<Self> {
        FILES
            .iter()
            .flat_map(|(name, text)| rows(name, text))
            .map(|row| Self::from_row(&row))
            .collect()
    }

    fn from_row(row: &BTreeMap<String, String>) -> Self {
        let text = |column: &str| row[column].clone();
        let inputs = row["inputs"]
            .split("; ")
            .filter(|pair| !pair.is_empty())
            .map(|pair| {
                let (name, value) = pair
                    .split_once('=')
                    .unwrap_or_else(|| panic!("{}: input {pair} is no name=value", row["id"]));
                (name.to_owned(), value.to_owned())
            })
            .collect();
        Self {
            id: text("id"),
            kind: text("kind"),
            question: text("question"),
            inputs,
            inputs_text: text("inputs"),
            published: published(&row["published"], &row["last_digit"]),
            unit: text("unit"),
            source: text("source"),
            remark: text("remark"),
        }
    }

    /// Text of an input, none if it is not stated.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.inputs.get(name).map(String::as_str)
    }

    /// Number of an input, none if it is not stated.
    ///
    /// # Panics
    /// When it is stated and no number.
    pub fn optional(&self, name: &str) -> Option<f64> {
        self.text(name).map(|text| {
            text.parse()
                .unwrap_or_else(|_| panic!("{}: input {name}={text} is no number", self.id))
        })
    }

    /// Number of an input that must be stated.
    ///
    /// # Panics
    /// When it is not stated or no number.
    pub fn number(&self, name: &str) -> f64 {
        self.optional(name)
            .unwrap_or_else(|| panic!("{}: input {name} is not stated", self.id))
    }

    /// Numbers of an input that lists several, separated by spaces.
    ///
    /// # Panics
    /// When one of them is no number.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        self.text(name)
            .unwrap_or_default()
            .split_whitespace()
            .map(|text| {
                text.parse()
                    .unwrap_or_else(|_| panic!("{}: input {name}: {text} is no number", self.id))
            })
            .collect()
    }
}

fn published(text: &str, last_digit: &str) -> Published {
    let Ok(value) = text.parse() else {
        return Published::Word(text.to_owned());
    };
    let last_digit = last_digit.parse().unwrap_or_else(|_| {
        let decimals = text.split_once('.').map_or(0, |(_, digits)| digits.len());
        (0..decimals).fold(1.0, |unit, _| unit / 10.0)
    });
    Published::Number {
        value,
        text: text.to_owned(),
        last_digit,
    }
}

/// The sources by key.
///
/// # Panics
/// When the file is malformed.
pub(super) fn sources() -> BTreeMap<String, PublishedSource> {
    rows("sources.csv", include_str!("../../facts/sources.csv"))
        .map(|row| {
            let source = PublishedSource {
                title: row["title"].clone(),
                place: row["place"].clone(),
                url: row["url"].clone(),
                reference_kind: row["reference_kind"].clone(),
            };
            (row["source"].clone(), source)
        })
        .collect()
}

/// Rows of a file by column name.
pub(super) fn rows(
    name: &str,
    text: &'static str,
) -> impl Iterator<Item = BTreeMap<String, String>> + use<> {
    let name = name.to_owned();
    csv::Reader::from_reader(text.as_bytes())
        .into_deserialize()
        .map(move |row| row.unwrap_or_else(|error| panic!("{name}: {error}")))
}
