//! Tables read as a change of a boat model.

use super::columns::{self, ListOf, MODEL};
use super::overlay::{self, Change};
use super::table::{CellFault, Table, shortened};
use super::{NOT_READ, headings, is_named, words};
use crate::file_format::fault::{MOST_FAULTS, nearest};
use crate::file_format::{Document, Fault, ModelRecord};
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// What happens to things that a sheet does not list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unlisted {
    /// They stay as they are.
    Stay,
    /// They are removed from the lists of which there is a sheet.
    Removed,
}

/// What tables would make of a document.
#[derive(Clone, Debug)]
pub struct Dry<D = ModelRecord> {
    /// The document as it would be.
    pub record: D,
    /// What is added, changed, removed; empty if nothing.
    pub changes: Vec<Change>,
}

/// Lays tables over a document. Fails with every fault of the tables and of the document they
/// would make, each with its cell where it has one.
pub fn read_tables<D: Document>(
    base: &D,
    tables: &[Table],
    unlisted: Unlisted,
) -> Result<Dry<D>, Vec<CellFault>> {
    let lists = columns::lists(D::FORM);
    let mut reading = Reading {
        tables,
        words: D::WORDS,
        model: base.object(),
        faults: Vec::new(),
        changes: Vec::new(),
        origins: BTreeMap::new(),
    };
    for (place, table) in tables.iter().enumerate() {
        reading.table(&lists, place, table, unlisted);
    }
    reading.finish(&lists)
}

/// Where the things of a list came from.
struct Origin {
    table: usize,
    /// Columns of the sheet with the fields they state.
    columns: Vec<(u32, Vec<&'static str>)>,
    id_at: u32,
    rows: Vec<Option<u32>>,
}

struct Reading<'t> {
    tables: &'t [Table],
    words: &'static str,
    model: Map<String, Value>,
    faults: Vec<CellFault>,
    changes: Vec<Change>,
    origins: BTreeMap<&'static str, Origin>,
}

impl Reading<'_> {
    fn table(&mut self, lists: &[ListOf], place: usize, table: &Table, unlisted: Unlisted) {
        let is_for_people = NOT_READ
            .iter()
            .any(|name| words::key(name) == words::key(&table.name));
        let is_empty = table.headings.cells.is_empty() && table.rows.is_empty();
        if is_for_people || is_empty {
            return;
        }
        let Some(list) = lists.iter().find(|list| is_named(list, &table.name)) else {
            return self.faults.push(no_list(table, lists, self.words));
        };
        if let Some(origin) = self.origins.get(list.name) {
            let reason = format!(
                "The sheet \"{}\" holds the same list.",
                self.tables[origin.table].name
            );
            let refused = (
                reason,
                "one sheet for each list".to_owned(),
                "Put both into one.".to_owned(),
            );
            return self.faults.push(CellFault::of_sheet(&table.name, refused));
        }
        let headings = headings::read(table, list, &mut self.faults);
        if headings.id.is_none() && list.name != MODEL {
            return;
        }
        let before = match self.model.get_mut(list.name).map(Value::take) {
            _ if list.name == MODEL => vec![std::mem::take(&mut self.model)],
            Some(Value::Array(things)) => things.into_iter().filter_map(object).collect(),
            _ => Vec::new(),
        };
        let laid = overlay::lay(list, before, table, &headings, unlisted, &mut self.faults);
        self.changes.extend(laid.changes);
        let mut things = laid.things;
        if list.name == MODEL {
            self.model = things.pop().unwrap_or_default();
        } else if things.is_empty() {
            self.model.remove(list.name);
        } else {
            let things = things.into_iter().map(Value::Object).collect();
            self.model
                .insert(list.name.to_owned(), Value::Array(things));
        }
        let columns = headings.columns.iter();
        let origin = Origin {
            table: place,
            columns: columns
                .map(|known| (known.at, known.column.path.clone()))
                .collect(),
            id_at: headings.id.unwrap_or(0),
            rows: laid.rows,
        };
        self.origins.insert(list.name, origin);
    }

    fn finish<D: Document>(mut self, lists: &[ListOf]) -> Result<Dry<D>, Vec<CellFault>> {
        let ids = self.unstated(lists);
        let model = Value::Object(std::mem::take(&mut self.model));
        let read = D::read(model);
        let place = |fault: &CellFault| (fault.sheet.clone(), fault.place);
        let told: BTreeSet<_> = self.faults.iter().map(place).collect();
        let mut has_more = self.faults.len() > MOST_FAULTS;
        let rest = Fault::rest();
        for fault in read.as_ref().err().into_iter().flatten() {
            if *fault == rest {
                has_more = true;
                continue;
            }
            let placed = self.placed(fault, &ids, lists);
            // A cell that could not be read at all is not told twice.
            if placed.place.is_none() || !told.contains(&place(&placed)) {
                self.faults.push(placed);
            }
        }
        let record = match read {
            Ok(record) if self.faults.is_empty() => record,
            _ => return Err(self.told(has_more)),
        };
        Ok(Dry {
            record,
            changes: self.changes,
        })
    }

    /// All faults, those of a sheet together, and no more than are told.
    fn told(self, has_more: bool) -> Vec<CellFault> {
        let mut faults = self.faults;
        let order = |fault: &CellFault| {
            self.tables
                .iter()
                .position(|table| table.name == fault.sheet)
        };
        faults.sort_by(|a, b| order(a).cmp(&order(b)).then_with(|| a.cmp(b)));
        faults.dedup();
        if has_more || faults.len() > MOST_FAULTS {
            faults.truncate(MOST_FAULTS);
            let refused = (
                format!("There are more than {MOST_FAULTS} faults; the rest is not told."),
                "fewer faults".to_owned(),
                "Mend these first: one heading or unit may be behind most of them.".to_owned(),
            );
            faults.push(CellFault::of_sheet("", refused));
        }
        faults
    }

    /// Short names of the things that no row states, by list and number.
    fn unstated(&self, lists: &[ListOf]) -> BTreeMap<(&'static str, usize), String> {
        let mut ids = BTreeMap::new();
        for list in lists {
            let things = self.model.get(list.name).and_then(Value::as_array);
            let rows = self.origins.get(list.name).map(|origin| &origin.rows);
            for (number, thing) in things.into_iter().flatten().enumerate() {
                let is_stated =
                    rows.is_some_and(|rows| rows.get(number).is_some_and(Option::is_some));
                let id = thing.get("id").and_then(Value::as_str);
                if let (false, Some(id)) = (is_stated, id) {
                    ids.insert((list.name, number), id.to_owned());
                }
            }
        }
        ids
    }

    /// A fault of the model file in the cell that stated it.
    fn placed(
        &self,
        fault: &Fault,
        ids: &BTreeMap<(&'static str, usize), String>,
        lists: &[ListOf],
    ) -> CellFault {
        let path: Vec<String> = fault
            .pointer
            .split('/')
            .skip(1)
            .map(|token| token.replace("~1", "/").replace("~0", "~"))
            .collect();
        let (reason, next) = parted(&fault.detail);
        let told = |reason: String| (reason, fault.limit.clone(), next.clone());
        let list = path
            .first()
            .and_then(|name| lists.iter().find(|list| list.name == name));
        let (name, row, inner) = match list {
            Some(list) => {
                let index = path.get(1).and_then(|index| index.parse::<usize>().ok());
                let origin = self.origins.get(list.name);
                let row = origin
                    .zip(index)
                    .and_then(|(origin, index)| *origin.rows.get(index)?);
                (list.name, row, path.get(2..).unwrap_or_default())
            }
            None => (
                MODEL,
                self.origins
                    .get(MODEL)
                    .and_then(|origin| *origin.rows.first()?),
                path.as_slice(),
            ),
        };
        let Some((origin, row)) = self.origins.get(name).zip(row) else {
            let thing = list.zip(path.get(1)).map(|(list, index)| {
                let number = index.parse().ok();
                let id = number.and_then(|number| ids.get(&(list.name, number)));
                format!("{} \"{}\"", list.thing, id.unwrap_or(index))
            });
            let about = thing.unwrap_or_else(|| self.words.trim_start_matches("a ").to_owned());
            let reason = format!("In the {about}, which no row states: {reason}");
            return CellFault {
                given: shortened(&fault.given),
                ..CellFault::of_sheet("", told(reason))
            };
        };
        let fits = |(_, field): &&(u32, Vec<&'static str>)| {
            let shared = field.len().min(inner.len());
            shared > 0
                && field[..shared]
                    .iter()
                    .zip(inner)
                    .all(|(ours, theirs)| ours == theirs)
        };
        let table = &self.tables[origin.table];
        let column = origin
            .columns
            .iter()
            .find(fits)
            .map_or(origin.id_at, |(at, _)| *at);
        let at = table
            .rows
            .binary_search_by_key(&row, |candidate| candidate.number);
        let cell = at.ok().and_then(|at| table.rows[at].cell(column));
        let is_stated = origin.columns.iter().any(|column| fits(&column));
        let reason = match (is_stated, inner) {
            (false, [field, ..]) => format!("{field}: {reason}"),
            _ => reason,
        };
        CellFault::at(&table.name, (row, column), cell, told(reason))
    }
}

fn object(value: Value) -> Option<Map<String, Value>> {
    match value {
        Value::Object(object) => Some(object),
        _ => None,
    }
}

fn no_list(table: &Table, lists: &[ListOf], words: &str) -> CellFault {
    let names = lists.iter().map(|list| list.name);
    let next = match nearest(&table.name, names.clone()) {
        Some(near) => format!("Did you mean \"{near}\"? Otherwise remove the sheet."),
        None => "Name the sheet after the list it holds, or remove it.".to_owned(),
    };
    let reason = format!(
        "No list of {words} is named \"{}\".",
        shortened(&table.name)
    );
    CellFault::of_sheet(
        &table.name,
        (reason, names.collect::<Vec<_>>().join(", "), next),
    )
}

/// What is wrong and what to do: the last sentence of a fault is the next step.
fn parted(detail: &str) -> (String, String) {
    let sentences = detail.trim_end_matches(['.', '?']);
    match sentences.rfind(". ") {
        Some(end) => (detail[..=end].to_owned(), detail[end + 2..].to_owned()),
        None => (
            detail.to_owned(),
            "Mend it and send the file again.".to_owned(),
        ),
    }
}
