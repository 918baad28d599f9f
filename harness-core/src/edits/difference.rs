//! What differs between two states of a model, in words.

use super::lists::{SETTINGS, find_list, find_parts, lists_of};
use super::whole::{Key, Whole};
use serde_json::Value;
use std::collections::BTreeMap;

/// A thing that differs.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Which.
    pub key: Key,
    /// How.
    pub what: What,
}

/// How a thing differs.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// It is new.
    Added(Value),
    /// It is gone.
    Removed(Value),
    /// Some of its fields are others.
    Changed(Vec<FieldChange>),
    /// The things of the list stand in another order.
    Reordered,
}

/// A field that differs.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldChange {
    /// Its name in the file, with its unit.
    pub field: String,
    /// What it held.
    pub before: Option<Value>,
    /// What it holds.
    pub after: Option<Value>,
}

impl Change {
    /// The thing in words: `wire w12`, `name of the model`.
    pub fn thing(&self) -> String {
        let list = find_list(self.key.list).or_else(|| find_parts(self.key.list));
        match (&self.what, list) {
            (What::Reordered, Some(list)) => format!("order of the {}", list.words()),
            _ => self.key.words(),
        }
    }

    /// What happened to it, in words: `size: 16 AWG, now 14 AWG`.
    pub fn words(&self) -> String {
        match &self.what {
            What::Added(thing) => format!("added: {}", stated(thing)),
            What::Removed(thing) => format!("removed: {}", stated(thing)),
            What::Reordered => "changed".to_owned(),
            What::Changed(fields) => {
                let fields = fields.iter().map(FieldChange::words);
                fields.collect::<Vec<_>>().join("; ")
            }
        }
    }
}

impl FieldChange {
    /// The change in words.
    pub fn words(&self) -> String {
        let [before, after] = [&self.before, &self.after].map(Option::as_ref);
        let any = after.or(before).unwrap_or(&Value::Null);
        let (field, _) = told(&self.field, any);
        let shown = |value| told(&self.field, value).1;
        match (before, after) {
            (Some(before), Some(after)) => {
                format!("{field}: {}, now {}", shown(before), shown(after))
            }
            (None, Some(after)) => format!("{field}: {}, was not stated", shown(after)),
            (Some(before), None) => format!("{field}: not stated any more, was {}", shown(before)),
            (None, None) => field,
        }
    }
}

/// A field in words with its value; a unit in its name stands behind the number instead.
fn told(field: &str, value: &Value) -> (String, String) {
    const UNITS: &[(&str, &str)] = &[
        ("mm", "mm"),
        ("m", "m"),
        ("mm2", "mm²"),
        ("degc", "°C"),
        ("v", "V"),
        ("a", "A"),
        ("ma", "mA"),
        ("ah", "Ah"),
        ("w", "W"),
        ("ohm", "Ω"),
        ("mohm", "mΩ"),
        ("ms", "ms"),
        ("percent", "%"),
    ];
    let with_unit = field.rsplit_once('_').and_then(|(name, ending)| {
        let (_, unit) = UNITS.iter().find(|(one, _)| *one == ending)?;
        Some((name, value.as_f64()?, unit))
    });
    match with_unit {
        Some((name, number, unit)) => (name.replace('_', " "), format!("{number} {unit}")),
        None => (field.replace('_', " "), shown(value)),
    }
}

/// A value in words: lists with commas, fields of records by name.
pub(super) fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Array(items) if items.is_empty() => "none".to_owned(),
        Value::Array(items) => items.iter().map(shown).collect::<Vec<_>>().join(", "),
        Value::Object(_) => stated(value),
        Value::Null | Value::Number(_) => value.to_string(),
    }
}

fn stated(thing: &Value) -> String {
    let Some(fields) = thing.as_object() else {
        return shown(thing);
    };
    let fields = fields.iter().map(|(name, value)| {
        let (name, value) = told(name, value);
        format!("{name} {value}")
    });
    fields.collect::<Vec<_>>().join(", ")
}

/// Everything that differs, in the order of the file: what is new stands where it is now, what is
/// gone after it.
pub fn difference(before: &Whole, after: &Whole) -> Vec<Change> {
    let mut changes = Vec::new();
    let known: BTreeMap<Key, &Value> = by_key(before);
    let now: BTreeMap<Key, &Value> = by_key(after);
    let lists = lists_of(after.form).map(|list| list.name);
    for list in std::iter::once(SETTINGS).chain(lists) {
        let gone = before.entries_of(list);
        let gone = gone.filter(|(key, _)| !now.contains_key(key));
        for (key, _) in after.entries_of(list).chain(gone) {
            let what = match (known.get(&key), now.get(&key)) {
                (Some(before), Some(after)) if before == after => continue,
                (Some(before), Some(after)) => What::Changed(fields(&key, before, after)),
                (None, Some(after)) => What::Added((*after).clone()),
                (Some(before), None) => What::Removed((*before).clone()),
                (None, None) => continue,
            };
            changes.push(Change { key, what });
        }
        if list != SETTINGS && order(before, list, &now) != order(after, list, &known) {
            changes.push(Change {
                key: Key {
                    list,
                    id: String::new(),
                },
                what: What::Reordered,
            });
        }
    }
    changes
}

pub(super) fn by_key(whole: &Whole) -> BTreeMap<Key, &Value> {
    whole.entries().collect()
}

/// Things of a list that the other state has too, in their order.
fn order<'w>(whole: &'w Whole, list: &'static str, other: &BTreeMap<Key, &Value>) -> Vec<&'w str> {
    let things = whole.things(list).iter();
    let both = things.filter(|(id, _)| {
        other.contains_key(&Key {
            list,
            id: id.clone(),
        })
    });
    both.map(|(id, _)| id.as_str()).collect()
}

fn fields(key: &Key, before: &Value, after: &Value) -> Vec<FieldChange> {
    let (Some(one), Some(other)) = (before.as_object(), after.as_object()) else {
        return vec![FieldChange {
            field: key.id.clone(),
            before: Some(before.clone()),
            after: Some(after.clone()),
        }];
    };
    let mut names: Vec<&String> = one.keys().chain(other.keys()).collect();
    names.sort_unstable();
    names.dedup();
    let differing = names
        .into_iter()
        .filter(|name| one.get(*name) != other.get(*name));
    differing
        .map(|name| FieldChange {
            field: name.clone(),
            before: one.get(name).cloned(),
            after: other.get(name).cloned(),
        })
        .collect()
}
