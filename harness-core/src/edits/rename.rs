//! A new short name for a thing, wherever it is spoken of.

use super::lists::lists_of;
use super::whole::{Key, Whole};
use crate::file_format::form::{Form, Kind, Shape};
use serde_json::Value;

/// The same model in which things of these kinds that are called `from` are spoken of as `to`. The
/// thing itself keeps its place and gets the new name too.
pub fn renamed(whole: &Whole, kinds: &[Kind], from: &str, to: &str) -> Whole {
    let mut renamed = whole.clone();
    let mut walk = Walk {
        kinds,
        from,
        to: Some(to),
        met: 0,
    };
    for list in lists_of(whole.form) {
        for (id, thing) in renamed.lists.entry(list.name).or_default() {
            walk.record(list.form, thing);
            if let Some(Value::String(now)) = thing.get("id") {
                id.clone_from(now);
            }
        }
    }
    renamed
}

/// The things that speak of one of these kinds called so, besides itself.
pub fn mentions(whole: &Whole, kinds: &[Kind], called: &str) -> Vec<Key> {
    let mut found = Vec::new();
    for list in lists_of(whole.form) {
        for (id, thing) in whole.things(list.name) {
            let own = list.kinds.iter().any(|kind| kinds.contains(kind)) && id == called;
            let mut walk = Walk {
                kinds,
                from: called,
                to: None,
                met: 0,
            };
            let mut thing = thing.clone();
            walk.record(list.form, &mut thing);
            if walk.met > 0 && !own {
                found.push(Key {
                    list: list.name,
                    id: id.clone(),
                });
            }
        }
    }
    found
}

/// Finds the places in which a name is spoken, and changes them if there is another.
struct Walk<'a> {
    kinds: &'a [Kind],
    from: &'a str,
    to: Option<&'a str>,
    met: usize,
}

impl Walk<'_> {
    fn record(&mut self, form: &Form, value: &mut Value) {
        for field in form.fields {
            if let Some(value) = value.get_mut(field.name) {
                self.shape(&field.shape, value);
            }
        }
    }

    fn shape(&mut self, shape: &Shape, value: &mut Value) {
        match shape {
            Shape::Id(kinds) if kinds.iter().any(|kind| self.kinds.contains(kind)) => {
                self.name(value);
            }
            Shape::Ref(kind) if self.kinds.contains(kind) => self.name(value),
            Shape::End if self.kinds.contains(&Kind::Equipment) => self.end(value),
            Shape::Condition if self.kinds.contains(&Kind::Option) => self.condition(value),
            Shape::List(shape, _) => {
                for value in value.as_array_mut().into_iter().flatten() {
                    self.shape(shape, value);
                }
            }
            Shape::Numbers(Some(kind), _) if self.kinds.contains(kind) => {
                let Some(numbers) = value.as_object_mut() else {
                    return;
                };
                if let Some(number) = numbers.get(self.from).cloned() {
                    self.met += 1;
                    if let Some(to) = self.to {
                        numbers.remove(self.from);
                        numbers.insert(to.to_owned(), number);
                    }
                }
            }
            Shape::Record(form) => self.record(form, value),
            _ => {}
        }
    }

    fn name(&mut self, value: &mut Value) {
        if value.as_str() == Some(self.from) {
            self.met += 1;
            if let Some(to) = self.to {
                *value = Value::String(to.to_owned());
            }
        }
    }

    /// The equipment of `equipment.pin`.
    fn end(&mut self, value: &mut Value) {
        let end = value.as_str().and_then(|end| end.rsplit_once('.'));
        if let Some((_, pin)) = end.filter(|(equipment, _)| *equipment == self.from) {
            self.met += 1;
            if let Some(to) = self.to {
                *value = Value::String(format!("{to}.{pin}"));
            }
        }
    }

    fn condition(&mut self, value: &mut Value) {
        match value {
            Value::String(_) => self.name(value),
            Value::Array(parts) => parts.iter_mut().for_each(|part| self.condition(part)),
            Value::Object(parts) => parts.values_mut().for_each(|part| self.condition(part)),
            _ => {}
        }
    }
}
