//! The model file as tables, for spreadsheets: out with [`tables_of`], in with [`read_tables`].
//!
//! One conversion for every list of the file, made from the declared forms: a field is a column,
//! a record inside a thing becomes columns such as `hole.diameter_mm`, a list one cell. What
//! comes in is laid over a boat model, read with the reader of the file, and told as changes or
//! as faults of cells; nothing is stored here.

mod table;
mod words;
mod measure;
mod condition;
mod columns;
mod cells;
mod headings;
mod uses;
mod overlay;
mod read;
mod entry;
#[cfg(test)]
mod tests;

pub use crate::file_format::fault::MOST_FAULTS;
pub use entry::{Choices, Entry, entries};
pub use measure::measured;
pub use overlay::{Change, FieldChange, What};
pub use read::{Dry, Unlisted, read_tables};
pub use table::{Cell, CellFault, Row, Table, address};
pub use uses::{Use, Uses};

use crate::file_format::Document;
use crate::file_format::form::{Need, Shape};
use columns::{ListOf, MODEL, NUMBER};
use serde_json::{Map, Value};

/// Sheets that hold words for people, and are not read.
pub const NOT_READ: &[&str] = &["read me", "faults"];

/// A document as tables: what is stated once, then each list of things, empty ones too.
pub fn tables_of<D: Document>(record: &D) -> Vec<Table> {
    let model = record.object();
    columns::lists(D::FORM)
        .iter()
        .map(|list| table_of(list, &model))
        .collect()
}

/// The tables of an empty document: headings alone.
pub fn template<D: Document>() -> Vec<Table> {
    let empty = Map::new();
    let lists = columns::lists(D::FORM);
    let tables = lists.iter().map(|list| table_of(list, &empty));
    tables
        .map(|table| Table {
            rows: Vec::new(),
            ..table
        })
        .collect()
}

/// The name under which a list stands in the document, if a sheet or file of this name means
/// one: letter case, spaces and `s` at the end do not matter.
pub fn list_named<D: Document>(name: &str) -> Option<&'static str> {
    columns::lists(D::FORM)
        .iter()
        .find(|list| is_named(list, name))
        .map(|list| list.name)
}

fn is_named(list: &ListOf, name: &str) -> bool {
    let key = words::key(name);
    let own = words::key(list.name);
    !key.is_empty()
        && (key == own || key == words::key(&list.thing) || own.strip_suffix('s') == Some(&key))
}

/// What a column means, for the sheet that explains the others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explained {
    /// Name of the sheet.
    pub sheet: &'static str,
    /// What the sheet holds, one sentence.
    pub about_sheet: &'static str,
    /// Heading of the column.
    pub heading: String,
    /// What it means, one sentence.
    pub about: &'static str,
    /// What may stand in it.
    pub accepted: String,
    /// Whether each row needs it.
    pub is_required: bool,
    /// Whether its cells hold text, also where it looks like a number.
    pub is_text: bool,
}

/// What every column of every sheet means.
pub fn explained<D: Document>() -> Vec<Explained> {
    let mut all = Vec::new();
    for list in columns::lists(D::FORM) {
        if list.offset() > 0 {
            all.push(Explained {
                sheet: list.name,
                about_sheet: list.about,
                heading: NUMBER.to_owned(),
                about: "Which row of the model it is, from 1; left empty, it is a new one.",
                accepted: "a whole number".to_owned(),
                is_required: false,
                is_text: false,
            });
        }
        all.extend(list.columns.iter().map(|column| Explained {
            sheet: list.name,
            about_sheet: list.about,
            heading: column.heading(),
            about: column.field.about.trim(),
            accepted: cells::wanted(&column.field.shape),
            is_required: column.field.need == Need::Required && column.path.len() == 1,
            is_text: !matches!(
                column.field.shape,
                Shape::Number(_) | Shape::Whole(..) | Shape::Flag
            ),
        }));
    }
    all
}

fn table_of(list: &ListOf, model: &Map<String, Value>) -> Table {
    let offset = list.offset();
    let headings = (0..).zip(&list.columns);
    let mut heading_cells: Vec<_> = headings
        .map(|(at, column)| (at + offset, Cell::Text(column.heading())))
        .collect();
    if offset > 0 {
        heading_cells.insert(0, (0, Cell::Text(NUMBER.to_owned())));
    }
    let none = Vec::new();
    let things: Vec<&Map<String, Value>> = if list.name == MODEL {
        vec![model]
    } else {
        let things = model
            .get(list.name)
            .and_then(Value::as_array)
            .unwrap_or(&none);
        things.iter().filter_map(Value::as_object).collect()
    };
    let row = |(number, thing): (u32, &&Map<String, Value>)| {
        let cells = (offset..)
            .zip(&list.columns)
            .filter_map(|(at, column)| Some((at, column.cell(thing)?)));
        let number_cell = (offset > 0).then(|| (0, Cell::Number(f64::from(number - 1))));
        Row {
            number,
            cells: number_cell.into_iter().chain(cells).collect(),
        }
    };
    Table {
        name: list.name.to_owned(),
        headings: Row {
            number: 1,
            cells: heading_cells,
        },
        rows: (2..).zip(&things).map(row).collect(),
    }
}
