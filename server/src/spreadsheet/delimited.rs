//! Values with delimiters between them (CSV), in and out.

use csv::{ReaderBuilder, StringRecord, WriterBuilder};
use harness_core::file_format::Document;
use harness_core::tabular::{Cell, CellFault, Row, Table, list_named};

use super::gathering::Gathering;
use super::{Sent, refused};

/// Characters before which a spreadsheet takes a text for a formula.
const STARTS_FORMULA: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\n'];
/// Byte order mark, which some editors put before the text.
const MARK: char = '\u{feff}';

/// Reads a file of values. Its list is the one named, or follows from the name of the file.
pub(super) fn read<D: Document>(
    file_name: &str,
    list: &str,
    bytes: &[u8],
) -> Result<Sent, Vec<CellFault>> {
    let text = decoded(bytes)?;
    let Some(list) = list_named::<D>(list).or_else(|| list_of_file::<D>(file_name)) else {
        return Err(refused(
            &format!("It is not clear which list the file \"{file_name}\" holds."),
            "a list chosen in the form, or a name such as loads.csv",
            "Choose the list, or name the file after it.",
        ));
    };
    let delimiter = delimiter(text);
    let mut numbers = RowNumbers::of(text, delimiter);
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut record = StringRecord::new();
    let mut gathering = Gathering::default();
    gathering.sheet(list);
    let mut number = 0;
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(fault) => {
                return Err(refused(
                    &format!("The file cannot be read: {fault}."),
                    "values with , ; or tabs between them",
                    "Save it anew as CSV UTF-8 and send that.",
                ));
            }
        }
        number = numbers.next().unwrap_or(number + 1);
        gathering.count(record.len())?;
        let cells = (0..).zip(&record).filter(|(_, text)| !text.is_empty());
        let cells = cells.map(|(at, text)| (at, Cell::Text(unguarded(text).to_owned())));
        let cells = cells.collect();
        gathering.row::<D>(Row { number, cells })?;
    }
    Ok(gathering.end())
}

/// The rows of a spreadsheet on which the records stand: the reader passes over empty lines, which
/// are rows nevertheless, and a cell in quotes may hold line ends.
struct RowNumbers<'t> {
    bytes: std::iter::Peekable<std::str::Bytes<'t>>,
    delimiter: u8,
    row: u32,
}

impl<'t> RowNumbers<'t> {
    fn of(text: &'t str, delimiter: u8) -> Self {
        Self {
            bytes: text.bytes().peekable(),
            delimiter,
            row: 0,
        }
    }
}

impl Iterator for RowNumbers<'_> {
    type Item = u32;

    fn next(&mut self) -> Option<u32> {
        self.row += 1;
        let (mut is_quoted, mut at_start, mut is_empty) = (false, true, true);
        while let Some(byte) = self.bytes.next() {
            match byte {
                // Two quotes in a row are one that is part of the cell.
                b'"' if is_quoted => is_quoted = self.bytes.next_if_eq(&b'"').is_some(),
                _ if is_quoted => {}
                b'\r' | b'\n' => {
                    if byte == b'\r' {
                        self.bytes.next_if_eq(&b'\n');
                    }
                    if !is_empty {
                        return Some(self.row);
                    }
                    self.row += 1;
                    at_start = true;
                }
                _ => {
                    is_quoted = byte == b'"' && at_start;
                    at_start = byte == self.delimiter;
                    is_empty = false;
                }
            }
        }
        (!is_empty).then_some(self.row)
    }
}

/// The text of a file, which has to be UTF-8.
fn decoded(bytes: &[u8]) -> Result<&str, Vec<CellFault>> {
    let next = "Save it as \"CSV UTF-8\" and send that.";
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(refused(
            "The file is written in UTF-16.",
            "a CSV file in UTF-8",
            next,
        ));
    }
    let text = str::from_utf8(bytes).map_err(|fault| {
        let line = 1 + bytes[..fault.valid_up_to()]
            .iter()
            .filter(|byte| **byte == b'\n')
            .count();
        let byte = bytes.get(fault.valid_up_to()).copied().unwrap_or_default();
        refused(
            &format!("The file is not written in UTF-8: line {line} holds the byte {byte:02X}."),
            "a CSV file in UTF-8, or an .xlsx workbook",
            next,
        )
    })?;
    if text.contains('\0') {
        return Err(refused(
            "The file holds zero characters: it is no text.",
            "a CSV file in UTF-8, or an .xlsx workbook",
            next,
        ));
    }
    Ok(text.trim_start_matches(MARK))
}

/// What parts the values: the mark that stands most often in the headings.
fn delimiter(text: &str) -> u8 {
    let mut quoted = false;
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    let line = text
        .lines()
        .find(|line| !line.trim().is_empty())
        .unwrap_or_default();
    for byte in line.bytes() {
        quoted ^= byte == b'"';
        for (mark, count) in &mut counts {
            *count += usize::from(byte == *mark && !quoted);
        }
    }
    let most = counts.iter().rev().max_by_key(|(_, count)| *count);
    most.map_or(b',', |(mark, _)| *mark)
}

/// The list a file is named for: `launch-92-revision-3-loads.csv`, `Wires (2).csv`.
fn list_of_file<D: Document>(name: &str) -> Option<&'static str> {
    let name = name.rsplit(['/', '\\']).next()?;
    let stem = name
        .rsplit_once('.')
        .map_or(name, |(stem, _)| stem)
        .trim_end();
    let stem = match stem.rsplit_once('(') {
        Some((before, number)) if number.trim_end_matches(')').parse::<u32>().is_ok() => {
            before.trim_end()
        }
        _ => stem,
    };
    let starts = stem
        .char_indices()
        .filter(|(at, _)| *at == 0 || stem[..*at].ends_with(['-', '_', ' ', '.']));
    starts.map(|(at, _)| &stem[at..]).find_map(list_named::<D>)
}

/// A table as a file of values. A text that a spreadsheet would take for a formula gets a quote
/// before it, which is taken away when it is read.
///
/// # Errors
/// None in practice: it is written into memory.
pub fn written(table: &Table) -> Result<Vec<u8>, csv::Error> {
    // Spreadsheets know by the mark that the file is UTF-8.
    let mut writer = WriterBuilder::new().from_writer(MARK.to_string().into_bytes());
    let width = table.headings.cells.last().map_or(0, |(at, _)| at + 1);
    for row in std::iter::once(&table.headings).chain(&table.rows) {
        let cells = (0..width).map(|at| match row.cell(at) {
            Some(Cell::Text(text)) => guarded(text),
            Some(cell) => cell.to_string(),
            None => String::new(),
        });
        writer.write_record(cells)?;
    }
    writer
        .into_inner()
        .map_err(|fault| csv::Error::from(fault.into_error()))
}

fn is_like_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(STARTS_FORMULA)
}

fn guarded(text: &str) -> String {
    if is_like_formula(text) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(inner) if is_like_formula(inner) => inner,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use harness_core::file_format::ModelRecord;

    use super::*;

    fn texts(row: &Row) -> Vec<(u32, String)> {
        row.cells
            .iter()
            .map(|(at, cell)| (*at, cell.to_string()))
            .collect()
    }

    #[test]
    fn a_text_like_a_formula_comes_back_as_it_was() {
        let names = [
            "+12V",
            "=A1",
            "-5",
            "@x",
            "'=A1",
            "''+",
            "'plain",
            "plain",
            "a\nb",
            "a,\"b\";c",
        ];
        let row = |number, text: &str| Row {
            number,
            cells: vec![(0, Cell::Text(text.to_owned()))],
        };
        let rows = (2..)
            .zip(names)
            .map(|(number, name)| row(number, name))
            .collect();
        let table = Table {
            name: "loads".to_owned(),
            headings: row(1, "id"),
            rows,
        };
        let bytes = written(&table).unwrap();
        assert!(String::from_utf8_lossy(&bytes).contains("'+12V"));
        let sent = read::<ModelRecord>("loads.csv", "", &bytes).unwrap();
        let back: Vec<_> = sent.tables[0]
            .rows
            .iter()
            .map(|row| texts(row)[0].1.clone())
            .collect();
        assert_eq!(back, names);
    }

    #[test]
    fn each_delimiter_is_found_and_empty_lines_keep_their_numbers() {
        for text in [
            "id,name\n\n a1,\"x;y\"\n\n\nb,z\n",
            "id;name\r\n\r\n a1;x,y\r\n\r\n\r\nb;z",
            "id\tname\n\n a1\tx\n\n\nb\tz",
            "id,name\n\n\"a\n\"\"1\"\"\n\",x\n\n\nb 12\" long,z\n",
        ] {
            let sent = read::<ModelRecord>("x", "loads", text.as_bytes()).unwrap();
            let table = &sent.tables[0];
            assert_eq!(
                texts(&table.headings),
                [(0, "id".to_owned()), (1, "name".to_owned())]
            );
            let numbers: Vec<_> = table.rows.iter().map(|row| row.number).collect();
            assert_eq!(numbers, [3, 6], "{text:?}");
        }
    }

    #[test]
    fn the_list_follows_from_the_name_of_the_file() {
        for (name, list) in [
            ("launch-92-revision-3-loads.csv", Some("loads")),
            ("C:\\boats\\Option rules (2).csv", Some("option_rules")),
            ("connector_types.csv", Some("connector_types")),
            ("boat.csv", None),
        ] {
            assert_eq!(list_of_file::<ModelRecord>(name), list, "{name}");
        }
    }
}
