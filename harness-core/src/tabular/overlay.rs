//! Rows laid over the things of a list: what stands in a row changes the thing of that name, a
//! new name adds one.

use super::cells::{self, KEPT, Refused};
use super::columns::{Column, EMPTY, ListOf, MODEL};
use super::headings::{Headings, Understood};
use super::read::Unlisted;
use super::table::{Cell, CellFault, Row, Table};
use crate::file_format::fault::keep;
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// A field that a sheet changes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FieldChange {
    /// Heading of its column.
    pub field: String,
    /// What it held.
    pub before: Option<Cell>,
    /// What it will hold.
    pub after: Option<Cell>,
}

/// Changes that are told field by field; of those after them only how many fields they have.
const MOST_TOLD: usize = 1_000;

/// What becomes of a thing; beyond so many changes without their fields.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// It is new, with these fields.
    Added(Vec<FieldChange>),
    /// These fields change.
    Changed(Vec<FieldChange>),
    /// It goes.
    Removed,
}

/// A thing that a sheet adds, changes or removes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// List of the model file.
    pub list: &'static str,
    /// What it is: `load`, `wire`.
    pub thing: String,
    /// Its short name, or its number.
    pub id: String,
    /// What becomes of it.
    pub what: What,
    /// How many of its fields are added or changed.
    pub fields: usize,
}

/// A list with its rows laid over it.
#[derive(Debug, Default)]
pub(super) struct Overlaid {
    /// The things.
    pub things: Vec<Map<String, Value>>,
    /// The row each was stated in, if in any.
    pub rows: Vec<Option<u32>>,
    /// What the rows change.
    pub changes: Vec<Change>,
}

/// Lays the rows of `table` over the things of `list`; what is wrong is put with the faults.
pub(super) fn lay(
    list: &ListOf,
    before: Vec<Map<String, Value>>,
    table: &Table,
    headings: &Headings,
    unlisted: Unlisted,
    faults: &mut Vec<CellFault>,
) -> Overlaid {
    let mut laid = Laying {
        list,
        headings,
        table,
        known: known(list, &before),
        rows: vec![None; before.len()],
        things: before.clone(),
        stated: BTreeMap::new(),
        faults,
    };
    for row in &table.rows {
        laid.row(row);
    }
    let (things, rows) = (laid.things, laid.rows);
    let mut result = Overlaid::default();
    for (place, (thing, row)) in things.into_iter().zip(rows).enumerate() {
        let old = before.get(place);
        let is_gone = row.is_none() && unlisted == Unlisted::Removed && list.name != MODEL;
        let mut changed = match old {
            _ if is_gone => Vec::new(),
            None => differences(list, &Map::new(), &thing),
            Some(old) => differences(list, old, &thing),
        };
        let fields = changed.len();
        if result.changes.len() >= MOST_TOLD {
            changed = Vec::new();
        }
        let what = match old {
            _ if is_gone => Some(What::Removed),
            None => Some(What::Added(changed)),
            Some(_) => (fields > 0).then_some(What::Changed(changed)),
        };
        if let Some(what) = what {
            let id = thing.get("id").and_then(Value::as_str);
            result.changes.push(Change {
                list: list.name,
                thing: list.thing.clone(),
                id: match id {
                    Some(id) => id.to_owned(),
                    None if list.name == MODEL => String::new(),
                    None => (place + 1).to_string(),
                },
                what,
                fields,
            });
        }
        if !is_gone {
            result.things.push(thing);
            result.rows.push(row);
        }
    }
    result
}

/// Places of the things by what tells them apart.
fn known(list: &ListOf, things: &[Map<String, Value>]) -> BTreeMap<String, usize> {
    let name = |(place, thing): (usize, &Map<String, Value>)| {
        let name = if list.has_id {
            thing.get("id")?.as_str()?.to_owned()
        } else {
            (place + 1).to_string()
        };
        Some((name, place))
    };
    things.iter().enumerate().filter_map(name).collect()
}

fn differences(
    list: &ListOf,
    before: &Map<String, Value>,
    after: &Map<String, Value>,
) -> Vec<FieldChange> {
    let change = |column: &Column| {
        let (old, new) = (column.value(before), column.value(after));
        let (before, after) = (column.cell(before), column.cell(after));
        // A text too long for a cell is shown as such on both sides, so the values decide there.
        let differ = before != after || (is_kept(before.as_ref()) && old != new);
        differ.then(|| FieldChange {
            field: column.heading(),
            before,
            after,
        })
    };
    list.columns.iter().filter_map(change).collect()
}

fn is_kept(cell: Option<&Cell>) -> bool {
    matches!(cell, Some(Cell::Text(text)) if text == KEPT)
}

fn is_empty_record(cell: &Cell) -> bool {
    matches!(cell, Cell::Text(text) if text.trim() == EMPTY)
}

struct Laying<'l> {
    list: &'l ListOf,
    headings: &'l Headings<'l>,
    table: &'l Table,
    known: BTreeMap<String, usize>,
    things: Vec<Map<String, Value>>,
    rows: Vec<Option<u32>>,
    /// Rows by what they are about.
    stated: BTreeMap<String, u32>,
    faults: &'l mut Vec<CellFault>,
}

impl Laying<'_> {
    fn fault(&mut self, row: u32, column: u32, cell: Option<&Cell>, refused: Refused) {
        let fault = CellFault::at(&self.table.name, (row, column), cell, refused);
        keep(self.faults, fault);
    }

    fn row(&mut self, row: &Row) {
        let Some(place) = self.place(row) else {
            return;
        };
        self.rows[place] = Some(row.number);
        let headings = self.headings;
        for (at, cell) in &row.cells {
            if self.table.headings.cell(*at).is_none() {
                let refused = (
                    "This stands under no heading.".to_owned(),
                    "a heading in the first row above it".to_owned(),
                    "Head the column, or empty the cell.".to_owned(),
                );
                self.fault(row.number, *at, Some(cell), refused);
            }
        }
        for understood in &headings.columns {
            self.cell(place, row, understood);
        }
        // Last, since a record that loses its fields on the way is removed.
        for Understood { at, column, .. } in &headings.columns {
            if column.opens_record && row.cell(*at).is_some_and(is_empty_record) {
                column.open(&mut self.things[place]);
            }
        }
    }

    /// The thing a row is about, made if it is new.
    fn place(&mut self, row: &Row) -> Option<usize> {
        if self.list.name == MODEL {
            if let Some(first) = self.stated.insert(MODEL.to_owned(), row.number) {
                let refused = (
                    format!("The model is stated once, and row {first} does."),
                    "one row".to_owned(),
                    "Remove the row.".to_owned(),
                );
                self.fault(row.number, 0, None, refused);
                return None;
            }
            return Some(0);
        }
        let id_at = self.headings.id?;
        let cell = row.cell(id_at);
        let id = cell
            .map(|cell| cell.to_string().trim().to_owned())
            .filter(|id| !id.is_empty());
        let Some(id) = id else {
            if self.list.has_id {
                let refused = (
                    format!(
                        "The row does not say which {} it is about.",
                        self.list.thing
                    ),
                    cells::wanted(&self.list.columns[0].field.shape),
                    "Fill in its short name, or empty the row.".to_owned(),
                );
                self.fault(row.number, id_at, None, refused);
                return None;
            }
            return Some(self.added());
        };
        if !self.list.has_id && id.parse::<u32>().is_err() {
            let refused = (
                "This is no number of a row.".to_owned(),
                "a whole number from 1, or an empty cell".to_owned(),
                "Leave it empty for a new one.".to_owned(),
            );
            self.fault(row.number, id_at, cell, refused);
            return None;
        }
        if let Some(first) = self.stated.get(&id).copied() {
            let refused = (
                format!(
                    "Two rows are about {} \"{id}\"; the first is row {first}.",
                    self.list.thing
                ),
                "one row for each".to_owned(),
                "Remove one, or rename it.".to_owned(),
            );
            self.fault(row.number, id_at, cell, refused);
            return None;
        }
        self.stated.insert(id.clone(), row.number);
        match self.known.get(&id) {
            Some(place) => Some(*place),
            None => Some(self.added()),
        }
    }

    fn added(&mut self) -> usize {
        self.things.push(Map::new());
        self.rows.push(None);
        self.things.len() - 1
    }

    fn cell(&mut self, place: usize, row: &Row, understood: &Understood) {
        let column = understood.column;
        let cell = row
            .cell(understood.at)
            .filter(|cell| !matches!(cell, Cell::Text(text) if text.trim().is_empty()));
        let Some(cell) = cell else {
            column.remove(&mut self.things[place]);
            if column.opens_record {
                column.close(&mut self.things[place]);
            }
            return;
        };
        if is_empty_record(cell) && column.opens_record {
            return column.remove(&mut self.things[place]);
        }
        let shape = &column.field.shape;
        let before = column.cell(&self.things[place]);
        let own = column.unit();
        let is_in_own_unit = understood.unit.is_none() || understood.unit == own;
        // What was written out and comes back as it was leaves the value as it was, however it is
        // written in the file.
        if is_in_own_unit && before.is_some_and(|before| before.to_string() == cell.to_string()) {
            return;
        }
        if is_kept(Some(cell)) {
            let refused = (
                "There is no such value in the model that could be kept.".to_owned(),
                cells::wanted(shape),
                "Fill it in, or empty the cell.".to_owned(),
            );
            return self.fault(row.number, understood.at, Some(cell), refused);
        }
        match cells::value(shape, understood.unit, cell) {
            Ok(value) if value.as_array().is_some_and(Vec::is_empty) => {
                column.remove(&mut self.things[place])
            }
            Ok(value) => column.set(&mut self.things[place], value),
            Err(refused) => {
                // Something stands there, so that the reader does not call the field missing.
                column.set(&mut self.things[place], Value::String(cell.to_string()));
                self.fault(row.number, understood.at, Some(cell), refused);
            }
        }
    }
}
