//! The columns of a kind of thing, made from its declared form.

use super::measure::{self, Unit};
use super::table::Cell;
use super::{cells, words};
use crate::file_format::form::{Field, Form, Shape};
use serde_json::{Map, Value};

/// One column: a field, or a field of a record inside it.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// Names from the outer record inward.
    pub path: Vec<&'static str>,
    /// The innermost field.
    pub field: Field,
    /// Whether it is the first field of a record inside the thing.
    pub opens_record: bool,
    /// All words of the heading in one, with the unit: `holediametermm`.
    pub whole_key: String,
    /// The same without the unit: `holediameter`.
    pub bare_key: String,
}

impl Column {
    fn new(path: Vec<&'static str>, field: Field) -> Self {
        let words: Vec<_> = path.iter().flat_map(|name| words::of(name)).collect();
        let mut bare = words.clone();
        let unit = unit_of(&field.shape);
        if unit.is_some()
            && words
                .last()
                .and_then(|word| measure::unit(word))
                .is_some_and(|last| Some(last) == unit)
        {
            bare.pop();
        }
        Self {
            path,
            field,
            opens_record: false,
            whole_key: words.concat(),
            bare_key: bare.concat(),
        }
    }

    /// The heading as it is written: `hole.diameter_mm`.
    pub fn heading(&self) -> String {
        self.path.join(".")
    }

    /// The unit the file states the field in.
    pub fn unit(&self) -> Option<&'static Unit> {
        unit_of(&self.field.shape)
    }

    /// What the field of a thing holds.
    pub fn value<'v>(&self, thing: &'v Map<String, Value>) -> Option<&'v Value> {
        let (first, inner) = self.path.split_first()?;
        let mut value = thing.get(*first)?;
        for name in inner {
            value = value.get(name)?;
        }
        Some(value)
    }

    /// The cell of the field of a thing. A record with nothing in it is stated nevertheless (an end
    /// of a wire without any allowance), which the first of its columns says.
    pub fn cell(&self, thing: &Map<String, Value>) -> Option<Cell> {
        if let Some(value) = self.value(thing) {
            return Some(cells::cell(&self.field.shape, value));
        }
        let is_empty = self.record(thing).is_some_and(Map::is_empty);
        (self.opens_record && is_empty).then(|| Cell::Text(EMPTY.to_owned()))
    }

    /// States the record around the field, if it is not stated.
    pub fn open(&self, thing: &mut Map<String, Value>) {
        let is_open = self.path.len() < 2 || self.record(thing).is_some();
        if let (false, Some((_, outer))) = (is_open, self.path.split_last()) {
            set(thing, outer, Value::Object(Map::new()));
        }
    }

    /// Removes the record around the field, if nothing is in it.
    pub fn close(&self, thing: &mut Map<String, Value>) {
        let is_empty = self.record(thing).is_some_and(Map::is_empty);
        if let (true, Some((_, outer))) = (is_empty, self.path.split_last()) {
            remove(thing, outer);
        }
    }

    fn record<'v>(&self, thing: &'v Map<String, Value>) -> Option<&'v Map<String, Value>> {
        let (_, outer) = self.path.split_last()?;
        let (first, inner) = outer.split_first()?;
        let record = inner
            .iter()
            .try_fold(thing.get(*first)?, |value, name| value.get(name))?;
        record.as_object()
    }

    /// Fills in the field of a thing.
    pub fn set(&self, thing: &mut Map<String, Value>, value: Value) {
        set(thing, &self.path, value);
    }

    /// Removes the field of a thing, and the records around it that it leaves empty.
    pub fn remove(&self, thing: &mut Map<String, Value>) {
        remove(thing, &self.path);
    }
}

/// Stands in the first column of a record that is stated with nothing in it.
pub(super) const EMPTY: &str = "(stated, empty)";

fn set(thing: &mut Map<String, Value>, path: &[&str], value: Value) {
    match path {
        [] => {}
        [name] => {
            thing.insert((*name).to_owned(), value);
        }
        [name, inner @ ..] => {
            let record = thing
                .entry(*name)
                .or_insert_with(|| Value::Object(Map::new()));
            if let Some(record) = record.as_object_mut() {
                set(record, inner, value);
            }
        }
    }
}

fn remove(thing: &mut Map<String, Value>, path: &[&str]) -> bool {
    match path {
        [] => false,
        [name] => thing.remove(*name).is_some(),
        [name, inner @ ..] => {
            let Some(record) = thing.get_mut(*name).and_then(Value::as_object_mut) else {
                return false;
            };
            let removed = remove(record, inner);
            if removed && record.is_empty() {
                thing.remove(*name);
            }
            removed
        }
    }
}

fn unit_of(shape: &Shape) -> Option<&'static Unit> {
    match shape {
        Shape::Number(bounds) => measure::unit(bounds.unit),
        _ => None,
    }
}

/// The columns of a form, records inside it taken apart.
pub(super) fn of_form(form: &'static Form) -> Vec<Column> {
    let mut columns = Vec::new();
    walk(form.fields, &[], &mut columns);
    columns
}

fn walk(fields: &'static [Field], outer: &[&'static str], columns: &mut Vec<Column>) {
    for (place, field) in fields.iter().enumerate() {
        let path = [outer, &[field.name]].concat();
        match field.shape {
            Shape::Record(inner) => walk(inner.fields, &path, columns),
            _ => columns.push(Column {
                opens_record: place == 0 && !outer.is_empty(),
                ..Column::new(path, *field)
            }),
        }
    }
}

/// Name of the table of what is stated once: name of the model, settings.
pub(super) const MODEL: &str = "model";
/// Heading of the column that numbers things without a short name.
pub(super) const NUMBER: &str = "number";

/// A list of things of the model, and its columns.
#[derive(Clone, Debug)]
pub(super) struct ListOf {
    /// Name of the list in the file; [`MODEL`] for what is stated once.
    pub name: &'static str,
    /// What the list holds, one sentence.
    pub about: &'static str,
    /// What one of it is called.
    pub thing: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Whether each has a short name; otherwise they are told apart by their number.
    pub has_id: bool,
}

impl ListOf {
    /// Column of the number before those of the fields.
    pub fn offset(&self) -> u32 {
        u32::from(!self.has_id && self.name != MODEL)
    }
}

/// Every list of a document, first what is stated once, if anything is.
pub(super) fn lists(form: &'static Form) -> Vec<ListOf> {
    let (once, lists): (Vec<&'static Field>, Vec<&'static Field>) = form
        .fields
        .iter()
        .partition(|field| !matches!(field.shape, Shape::List(Shape::Record(_), _)));
    let mut columns = Vec::new();
    for field in once {
        match field.shape {
            Shape::Record(inner) => walk(inner.fields, &[field.name], &mut columns),
            // The version of the format is no matter of the sheet's writer.
            Shape::Whole(..) => {}
            _ => columns.push(Column::new(vec![field.name], *field)),
        }
    }
    let model = (!columns.is_empty()).then(|| ListOf {
        name: MODEL,
        about: "Name of the boat model, and how it is judged and cut.",
        thing: "boat model".to_owned(),
        columns,
        has_id: false,
    });
    let list = |field: &'static Field| match field.shape {
        Shape::List(Shape::Record(form), _) => Some(ListOf {
            name: field.name,
            about: field.about.trim(),
            thing: form.words(),
            columns: of_form(form),
            has_id: form.field("id").is_some(),
        }),
        _ => None,
    };
    model
        .into_iter()
        .chain(lists.into_iter().filter_map(list))
        .collect()
}
