//! Reads a table that is compiled in: named columns, and the source columns every table ends with.

use std::str::FromStr;

use crate::working::{Cited, Source, Status};

/// One row of a table, by column name.
pub(super) struct Row {
    table: &'static str,
    line: u64,
    cells: Vec<(String, String)>,
}

/// All rows of a table.
///
/// # Panics
/// When the compiled-in table is malformed: a fault of the program.
pub(super) fn read(table: &'static str, text: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let headers = match reader.headers() {
        Ok(headers) => headers.clone(),
        Err(error) => panic!("{table}: {error}"),
    };
    reader
        .records()
        .map(|record| match record {
            Ok(record) => Row {
                table,
                line: record.position().map_or(0, csv::Position::line),
                cells: headers
                    .iter()
                    .map(str::to_owned)
                    .zip(record.iter().map(|cell| cell.trim().to_owned()))
                    .collect(),
            },
            Err(error) => panic!("{table}: {error}"),
        })
        .collect()
}

impl Row {
    /// The text of a column, empty if the cell is.
    pub(super) fn text(&self, column: &str) -> &str {
        self.cells
            .iter()
            .find(|(name, _)| name == column)
            .map_or_else(|| self.fail(column, "no such column"), |(_, cell)| cell)
    }

    /// The value of a column that may not be empty.
    pub(super) fn value<T: FromStr>(&self, column: &str) -> T {
        self.text(column)
            .parse()
            .unwrap_or_else(|_| self.fail(column, "cannot be read"))
    }

    /// The value of a column, none if the cell is empty.
    pub(super) fn optional<T: FromStr>(&self, column: &str) -> Option<T> {
        (!self.text(column).is_empty()).then(|| self.value(column))
    }

    /// A word of a column turned into a value by a closed list.
    pub(super) fn word<T>(&self, column: &str, known: impl FnOnce(&str) -> Option<T>) -> T {
        known(self.text(column)).unwrap_or_else(|| self.fail(column, "is not in the list of words"))
    }

    /// The source columns of this row.
    pub(super) fn source(&self) -> Source {
        let url = self.text("url");
        Source {
            document: self.text("document").to_owned(),
            place: self.text("place").to_owned(),
            status: self.word("status", Status::from_word),
            url: (!url.is_empty()).then(|| url.to_owned()),
        }
    }

    /// A value with the source of this row.
    pub(super) fn cite<T>(&self, value: T) -> Cited<T> {
        Cited::new(value, self.source())
    }

    /// The number of a column with the source of this row.
    pub(super) fn cited_number(&self, column: &str) -> Cited<f64> {
        self.cite(self.value(column))
    }

    fn fail(&self, column: &str, why: &str) -> ! {
        panic!("{}: line {}: column {column}: {why}", self.table, self.line)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "size,amps_a,status,document,place,url,remark\n\
                        12 AWG,45,sourced,33 CFR 183.425,Table 5,,\n\
                        10 AWG,,sourced,33 CFR 183.425,Table 5,https://example.org,\n";

    #[test]
    fn cells_are_found_by_name() {
        let rows = read("sample", TEXT);
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0].cited_number("amps_a").value, 45.0);
        assert_eq!(rows[1].optional::<f64>("amps_a"), None);
        assert_eq!(rows[0].source().url, None);
        assert_eq!(rows[1].source().url.as_deref(), Some("https://example.org"));
    }

    #[test]
    #[should_panic(expected = "sample: line 3: column amps_a")]
    fn a_bad_cell_is_named_by_line_and_column() {
        read("sample", TEXT)[1].value::<f64>("amps_a");
    }
}
