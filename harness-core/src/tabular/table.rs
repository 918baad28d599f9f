//! Tables as a spreadsheet has them: cells with a place, nothing known of what they mean.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A value in a cell. An empty cell is no cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Cell {
    /// True or false.
    Flag(bool),
    /// A number.
    Number(f64),
    /// A text that is not empty.
    Text(String),
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(flag) => write!(f, "{flag}"),
            Self::Number(number) => write!(f, "{number}"),
            Self::Text(text) => f.write_str(text),
        }
    }
}

/// A row with its place in the sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Number of the row, from 1.
    pub number: u32,
    /// Columns (from 0, in order) and what stands in them. Only what is filled in takes room: a
    /// hostile file may have one cell in each of its farthest columns.
    pub cells: Vec<(u32, Cell)>,
}

impl Row {
    /// What stands in a column; nothing in an empty cell.
    pub fn cell(&self, column: u32) -> Option<&Cell> {
        let at = self.cells.binary_search_by_key(&column, |(at, _)| *at);
        at.ok().map(|at| &self.cells[at].1)
    }
}

/// A sheet of a workbook, or a file of values with delimiters.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// Name of the sheet.
    pub name: String,
    /// The first row that is not empty.
    pub headings: Row,
    /// The rows below it that are not empty.
    pub rows: Vec<Row>,
}

/// The address of a cell as a spreadsheet shows it: column from 0, row from 1; `(0, 1)` is `A1`.
pub fn address(column: u32, row: u32) -> String {
    let mut letters = Vec::new();
    let mut left = column + 1;
    while left > 0 {
        let letter = (left - 1) % 26;
        letters.push(char::from(b'A' + u8::try_from(letter).unwrap_or(0)));
        left = (left - 1) / 26;
    }
    letters.iter().rev().collect::<String>() + &row.to_string()
}

/// Something wrong in a table. All of them are told together.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct CellFault {
    /// Name of the sheet; empty when the fault lies in no sheet that was sent.
    pub sheet: String,
    /// Row, from 1, and column, from 0; nothing when it is no single cell.
    pub place: Option<(u32, u32)>,
    /// What stands there, shortened when long; empty if nothing.
    pub given: String,
    /// What is wrong.
    pub reason: String,
    /// What would be accepted.
    pub limit: String,
    /// What to do.
    pub next_step: String,
}

/// Longest value that is repeated in a fault, in characters.
const GIVEN_LENGTH: usize = 80;

impl CellFault {
    /// A fault of a cell: what is wrong, what is accepted, what to do.
    pub fn at(
        sheet: &str,
        (row, column): (u32, u32),
        cell: Option<&Cell>,
        (reason, limit, next_step): (String, String, String),
    ) -> Self {
        let given = cell.map(ToString::to_string).unwrap_or_default();
        Self {
            place: Some((row, column)),
            given: shortened(&given),
            ..Self::of_sheet(sheet, (reason, limit, next_step))
        }
    }

    /// A fault of a whole sheet.
    pub fn of_sheet(sheet: &str, (reason, limit, next_step): (String, String, String)) -> Self {
        Self {
            sheet: sheet.to_owned(),
            place: None,
            given: String::new(),
            reason,
            limit,
            next_step,
        }
    }

    /// The address of the cell, as `B7`; empty when it is no single cell.
    pub fn cell(&self) -> String {
        self.place
            .map(|(row, column)| address(column, row))
            .unwrap_or_default()
    }
}

pub(super) fn shortened(text: &str) -> String {
    if text.chars().count() <= GIVEN_LENGTH {
        return text.to_owned();
    }
    let head: String = text.chars().take(GIVEN_LENGTH).collect();
    format!("{head}...")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_those_of_a_spreadsheet() {
        let expected = [
            (0, 1, "A1"),
            (25, 2, "Z2"),
            (26, 3, "AA3"),
            (701, 4, "ZZ4"),
            (702, 5, "AAA5"),
            (16383, 6, "XFD6"),
        ];
        for (column, row, text) in expected {
            assert_eq!(address(column, row), text);
        }
    }
}
