//! A model file as lists of things under keys.

use super::lists::{List, SETTINGS, find_list, find_parts, lists_of};
use crate::file_format::form::Form;
use crate::file_format::{Document, Fault, ModelRecord, PartsRecord};
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Where a thing stands: its list, and its short name there. A thing without a short name, a rule
/// between options, goes by what it says.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// Name of the list; [`SETTINGS`] for the model as a whole.
    pub list: &'static str,
    /// The short name; of the model as a whole the name of the field.
    pub id: String,
}

impl Key {
    /// The thing in words: `wire w12`, `name of the model`.
    pub fn words(&self) -> String {
        // Lists of one name hold the same kind of thing in a boat model and in a parts list.
        match find_list(self.list).or_else(|| find_parts(self.list)) {
            Some(list) if list.kinds.is_empty() => list.thing(),
            Some(list) => format!("{} {}", list.thing(), self.id),
            None => format!("{} of the model", self.id.replace('_', " ")),
        }
    }
}

/// No thing of this key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoSuchThing(pub Key);

/// A document as lists of things: a boat model, or a parts list.
#[derive(Clone, Debug, PartialEq)]
pub struct Whole {
    /// What the document may hold.
    pub(super) form: &'static Form,
    /// What belongs to the model as a whole: name, about, settings.
    pub(super) model: Map<String, Value>,
    /// Each list with its things in their order.
    pub(super) lists: BTreeMap<&'static str, Vec<(String, Value)>>,
}

impl Whole {
    /// The lists of a record.
    pub fn of<D: Document>(record: &D) -> Self {
        let mut model = record.object();
        let taken = lists_of(D::FORM).map(|list| {
            let things = match model.remove(list.name) {
                Some(Value::Array(things)) => things,
                _ => Vec::new(),
            };
            (list.name, keyed(&list, things))
        });
        let lists = taken.collect();
        Self {
            form: D::FORM,
            model,
            lists,
        }
    }

    /// The boat model of these lists.
    ///
    /// # Errors
    /// Every fault of what was put in, with pointers into the whole file.
    pub fn record(&self) -> Result<ModelRecord, Vec<Fault>> {
        ModelRecord::from_value(self.value())
    }

    /// The parts list of these lists.
    ///
    /// # Errors
    /// Every fault of what was put in, with pointers into the whole file.
    pub fn parts(&self) -> Result<PartsRecord, Vec<Fault>> {
        PartsRecord::from_value(self.value())
    }

    /// What the document may hold.
    pub fn form(&self) -> &'static Form {
        self.form
    }

    /// The file as a JSON value, whatever was put in.
    pub fn value(&self) -> Value {
        let mut value = self.model.clone();
        for (name, things) in &self.lists {
            let things = things.iter().map(|(_, thing)| thing.clone());
            value.insert((*name).to_owned(), Value::Array(things.collect()));
        }
        Value::Object(value)
    }

    /// The things of a list in their order.
    pub fn things(&self, list: &str) -> &[(String, Value)] {
        self.lists.get(list).map_or(&[], Vec::as_slice)
    }

    /// A thing; of the model as a whole a field.
    pub fn get(&self, key: &Key) -> Option<&Value> {
        if key.list == SETTINGS {
            return self.model.get(&key.id);
        }
        let things = self.things(key.list).iter();
        let found = things.into_iter().find(|(id, _)| *id == key.id);
        found.map(|(_, thing)| thing)
    }

    /// Every key: of the model as a whole first, then list by list.
    pub fn keys(&self) -> Vec<Key> {
        self.entries().map(|(key, _)| key).collect()
    }

    /// Every thing under its key, in the same order.
    pub(super) fn entries(&self) -> impl Iterator<Item = (Key, &Value)> {
        let lists = lists_of(self.form).map(|list| list.name);
        let lists = std::iter::once(SETTINGS).chain(lists);
        lists.flat_map(|list| self.entries_of(list))
    }

    /// Every thing of a list under its key, in their order; of the model as a whole every field.
    pub(super) fn entries_of(&self, list: &'static str) -> impl Iterator<Item = (Key, &Value)> {
        let fields = self.model.iter().filter(move |_| list == SETTINGS);
        let things = self.things(list).iter().map(|(id, thing)| (id, thing));
        fields.chain(things).map(move |(id, value)| {
            let id = id.clone();
            (Key { list, id }, value)
        })
    }

    /// Puts a thing at its place, or at the end of its list if it is new.
    pub fn put(&mut self, key: &Key, thing: Value) {
        if key.list == SETTINGS {
            self.model.insert(key.id.clone(), thing);
            return;
        }
        let things = self.lists.entry(key.list).or_default();
        match things.iter_mut().find(|(id, _)| *id == key.id) {
            Some((_, known)) => *known = thing,
            None => things.push((key.id.clone(), thing)),
        }
    }

    /// Takes a thing out.
    ///
    /// # Errors
    /// [`NoSuchThing`].
    pub fn remove(&mut self, key: &Key) -> Result<Value, NoSuchThing> {
        let missing = || NoSuchThing(key.clone());
        if key.list == SETTINGS {
            return self.model.remove(&key.id).ok_or_else(missing);
        }
        let things = self.lists.get_mut(key.list).ok_or_else(missing)?;
        let at = things.iter().position(|(id, _)| *id == key.id);
        Ok(things.remove(at.ok_or_else(missing)?).1)
    }

    /// The key of a thing about to be put in a list.
    pub fn key_of(list: &List, thing: &Value) -> Key {
        Key {
            list: list.name,
            id: id_of(list, thing),
        }
    }

    /// What stands at a place of the file: the thing, and the pointer inside it.
    pub fn at_pointer<'p>(&self, pointer: &'p str) -> Option<(Key, &'p str)> {
        let whole = pointer.strip_prefix('/')?;
        let (first, rest) = whole.split_once('/').unwrap_or((whole, ""));
        let Some(list) = lists_of(self.form).find(|list| list.name == first) else {
            let key = Key {
                list: SETTINGS,
                id: first.to_owned(),
            };
            return Some((key, &whole[first.len()..]));
        };
        let (number, inside) = match rest.find('/') {
            Some(at) => rest.split_at(at),
            None => (rest, ""),
        };
        let number: usize = number.parse().ok()?;
        let (id, _) = self.things(list.name).get(number)?;
        let key = Key {
            list: list.name,
            id: id.clone(),
        };
        Some((key, inside))
    }
}

fn id_of(list: &List, thing: &Value) -> String {
    if !list.kinds.is_empty() {
        return match thing.get("id") {
            Some(Value::String(id)) => id.clone(),
            other => other.map(Value::to_string).unwrap_or_default(),
        };
    }
    let mut said = thing.clone();
    if let Some(fields) = said.as_object_mut() {
        fields.remove("because");
    }
    said.to_string()
}

/// Things under their keys; of two of the same key the later one gets a number.
fn keyed(list: &List, things: Vec<Value>) -> Vec<(String, Value)> {
    let mut met: BTreeMap<String, usize> = BTreeMap::new();
    things
        .into_iter()
        .map(|thing| {
            let id = id_of(list, &thing);
            let times = met.entry(id.clone()).or_default();
            *times += 1;
            let id = match times {
                1 => id,
                times => format!("{id} #{times}"),
            };
            (id, thing)
        })
        .collect()
}
