//! Holds a JSON value against a [`Form`]: every fault, with its place, in one pass.

use super::fault::{Fault, in_order, keep, nearest, shown, step};
use super::form::{Field, Form, Kind, Need, Shape};
use crate::units::WireSize;
use crate::units::bounds::Bounds;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// Longest list accepted, so that a hostile file is refused before it is worked on.
pub(super) const LONGEST_LIST: usize = 200_000;
/// Longest text accepted, in characters.
pub(super) const LONGEST_TEXT: usize = 10_000;
/// Longest short name, in characters.
pub(super) const LONGEST_ID: usize = 60;
/// Deepest nesting of conditions accepted.
const DEEPEST_CONDITION: usize = 16;
/// How many names are compared in search of a near one, over the whole file: a hostile file
/// full of unknown names gets its faults without suggestions.
const COMPARISONS: usize = 500_000;

/// Every fault of `value` as a `form`: unknown and missing fields, wrong types, values out of
/// bounds, duplicate ids, dangling references. In order of place.
pub fn faults(form: &Form, value: &Value) -> Vec<Fault> {
    let Checked { form, references } = check(form, value);
    in_order(form.into_iter().chain(references).collect())
}

/// Faults of a value, those that keep a record from being taken in apart from the others.
pub(super) struct Checked {
    /// Fields unknown, missing, of a wrong type, out of bounds; ids used twice.
    pub form: Vec<Fault>,
    /// Names of things that are not in the file.
    pub references: Vec<Fault>,
}

/// Checks a value as a `form`; see [`faults`].
pub(super) fn check(form: &Form, value: &Value) -> Checked {
    let mut check = Check::default();
    check.record(form, value, "");
    let form = std::mem::take(&mut check.faults);
    check.references();
    Checked {
        form,
        references: check.faults,
    }
}

#[derive(Default)]
struct Check {
    faults: Vec<Fault>,
    ids: BTreeMap<Kind, BTreeMap<String, String>>,
    references: Vec<(Kind, String, String)>,
    compared: usize,
}

impl Check {
    fn fault(&mut self, pointer: &str, detail: String, given: Option<&Value>, limit: String) {
        let given = given.map(shown).unwrap_or_default();
        let fault = Fault {
            pointer: pointer.to_owned(),
            detail,
            given,
            limit,
        };
        keep(&mut self.faults, fault);
    }

    fn record(&mut self, form: &Form, value: &Value, pointer: &str) {
        let Some(object) = value.as_object() else {
            return self.wrong(value, pointer, &accepted_record(form));
        };
        for field in form.fields {
            self.field(field, object, pointer);
        }
        for (name, given) in object {
            if form.field(name).is_some() {
                continue;
            }
            let names = form.fields.iter().map(|field| field.name);
            let hint = self.hint(name, names.clone());
            let hint = hint.unwrap_or_else(|| "Remove it, or use a field of the list.".to_owned());
            let detail = format!("A {} has no field \"{name}\". {hint}", form.words());
            let limit = names.collect::<Vec<_>>().join(", ");
            self.fault(&step(pointer, name), detail, Some(given), limit);
        }
    }

    fn field(&mut self, field: &Field, object: &Map<String, Value>, pointer: &str) {
        match object.get(field.name) {
            Some(value) => self.value(&field.shape, value, &step(pointer, field.name), 0),
            None if field.need == Need::Required => {
                let detail = format!(
                    "\"{}\" is missing: {} Add it.",
                    field.name,
                    field.about.trim()
                );
                self.fault(
                    &step(pointer, field.name),
                    detail,
                    None,
                    accepted(&field.shape),
                );
            }
            None => {}
        }
    }

    fn value(&mut self, shape: &Shape, value: &Value, pointer: &str, depth: usize) {
        match shape {
            Shape::Id(kinds) => self.id(kinds, value, pointer),
            Shape::Ref(kind) => {
                if let Some(id) = self.text(value, pointer, shape) {
                    self.references
                        .push((*kind, id.to_owned(), pointer.to_owned()));
                }
            }
            Shape::End => self.end(value, pointer),
            Shape::Text => {
                self.text(value, pointer, shape);
            }
            Shape::Flag => {
                if !value.is_boolean() {
                    self.wrong(value, pointer, &accepted(shape));
                }
            }
            Shape::Number(bounds) => self.number(bounds, value, pointer),
            Shape::Whole(min, max) => {
                let range = u64::from(*min)..=u64::from(*max);
                if value.as_u64().is_some_and(|number| range.contains(&number)) {
                    return;
                }
                if value.as_i64().is_some() || value.as_u64().is_some() {
                    let detail = "The number is out of bounds.".to_owned();
                    self.fault(pointer, detail, Some(value), accepted(shape));
                } else if value.is_number() {
                    let detail =
                        "A whole number, written without a fraction, is needed.".to_owned();
                    self.fault(pointer, detail, Some(value), accepted(shape));
                } else {
                    self.wrong(value, pointer, &accepted(shape));
                }
            }
            Shape::Choice(words) => {
                let Some(given) = self.text(value, pointer, shape) else {
                    return;
                };
                if !words.contains(&given) {
                    let hint = self.hint(given, words.iter().copied());
                    let hint = hint.unwrap_or_else(|| "Choose one of the list.".to_owned());
                    let detail = format!("\"{given}\" is not one of the words here. {hint}");
                    self.fault(pointer, detail, Some(value), words.join(", "));
                }
            }
            Shape::Size => {
                let Some(given) = self.text(value, pointer, shape) else {
                    return;
                };
                if let Err(error) = given.parse::<WireSize>() {
                    let mut detail = error.to_string();
                    detail.push('.');
                    self.fault(pointer, detail, Some(value), accepted(shape));
                }
            }
            Shape::Condition => self.condition(value, pointer, depth),
            Shape::List(item, least) => {
                let Some(list) = value.as_array() else {
                    return self.wrong(value, pointer, &accepted(shape));
                };
                if list.len() < *least || list.len() > LONGEST_LIST {
                    let detail = if list.len() < *least {
                        format!(
                            "The list holds {} values. Add some, or leave it out.",
                            list.len()
                        )
                    } else {
                        format!("The list holds {} values. Shorten it.", list.len())
                    };
                    let limit = format!("{least} to {LONGEST_LIST} values");
                    return self.fault(pointer, detail, None, limit);
                }
                for (place, given) in list.iter().enumerate() {
                    self.value(item, given, &step(pointer, &place.to_string()), depth);
                }
                if item.is_listed_once() {
                    self.repeats(list, pointer);
                }
            }
            Shape::Numbers(kind, bounds) => {
                let Some(object) = value.as_object() else {
                    return self.wrong(value, pointer, &accepted(shape));
                };
                for (name, given) in object {
                    let place = step(pointer, name);
                    if let Some(kind) = kind {
                        self.references.push((*kind, name.clone(), place.clone()));
                    }
                    self.number(bounds, given, &place);
                }
            }
            Shape::Record(form) => self.record(form, value, pointer),
        }
    }

    fn wrong(&mut self, value: &Value, pointer: &str, accepted: &str) {
        let detail = format!("This is {}. Write {accepted}.", type_word(value));
        self.fault(pointer, detail, Some(value), accepted.to_owned());
    }

    /// "Did you mean ...?", if a known name is near.
    fn hint<'a>(&mut self, given: &str, known: impl Iterator<Item = &'a str>) -> Option<String> {
        let left = COMPARISONS.saturating_sub(self.compared);
        let compared = &mut self.compared;
        let known = known.take(left).inspect(|_| *compared += 1);
        nearest(given, known).map(|near| format!("Did you mean \"{near}\"?"))
    }

    fn repeats(&mut self, list: &[Value], pointer: &str) {
        let mut known = BTreeSet::new();
        for (place, given) in list.iter().enumerate() {
            if let Some(name) = given.as_str()
                && !known.insert(name)
            {
                let detail = format!("\"{name}\" stands in this list twice. Remove one.");
                let pointer = step(pointer, &place.to_string());
                self.fault(&pointer, detail, Some(given), "each name once".to_owned());
            }
        }
    }

    fn text<'v>(&mut self, value: &'v Value, pointer: &str, shape: &Shape) -> Option<&'v str> {
        let Some(text) = value.as_str() else {
            self.wrong(value, pointer, &accepted(shape));
            return None;
        };
        if text.trim().is_empty() {
            let detail = "The text is empty. Fill it in, or leave the field out.".to_owned();
            self.fault(pointer, detail, Some(value), accepted(shape));
            return None;
        }
        let length = text.chars().count();
        if length > LONGEST_TEXT {
            let detail = format!("The text has {length} characters. Shorten it.");
            let limit = format!("at most {LONGEST_TEXT} characters");
            self.fault(pointer, detail, Some(value), limit);
            return None;
        }
        if text.contains('\0') {
            let detail = "The text holds a zero character. Remove it.".to_owned();
            self.fault(pointer, detail, Some(value), accepted(shape));
            return None;
        }
        Some(text)
    }

    fn number(&mut self, bounds: &Bounds, value: &Value, pointer: &str) {
        let Some(number) = value.as_f64() else {
            return self.wrong(value, pointer, &format!("a number {}", bounds.text()));
        };
        if !bounds.contains(number) {
            let detail = "The number is out of bounds. Check its unit.".to_owned();
            self.fault(pointer, detail, Some(value), bounds.text());
        }
    }

    fn id(&mut self, kinds: &[Kind], value: &Value, pointer: &str) {
        let shape = Shape::Id(&[]);
        let Some(id) = self.text(value, pointer, &shape) else {
            return;
        };
        let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
        if !id.chars().all(plain) || id.chars().count() > LONGEST_ID {
            let detail = "A short name may hold letters, digits, - and _ (a point parts equipment \
                          from pin). Choose another."
                .to_owned();
            return self.fault(pointer, detail, Some(value), accepted(&shape));
        }
        for kind in kinds {
            let known = self.ids.entry(*kind).or_default();
            if let Some(first) = known.get(id) {
                let detail = format!(
                    "There are two of kind {} named \"{id}\"; the first stands at {first}. Rename \
                     one.",
                    kind.words()
                );
                return self.fault(pointer, detail, Some(value), "a name used once".to_owned());
            }
            known.insert(id.to_owned(), pointer.to_owned());
        }
    }

    fn end(&mut self, value: &Value, pointer: &str) {
        let Some(end) = self.text(value, pointer, &Shape::End) else {
            return;
        };
        match end.rsplit_once('.') {
            Some((equipment, pin)) if !equipment.is_empty() && !pin.is_empty() => {
                self.references
                    .push((Kind::Equipment, equipment.to_owned(), pointer.to_owned()));
            }
            _ => {
                let detail = format!(
                    "\"{end}\" does not say which pin of which equipment. Join both with a point."
                );
                self.fault(pointer, detail, Some(value), accepted(&Shape::End));
            }
        }
    }

    fn condition(&mut self, value: &Value, pointer: &str, depth: usize) {
        if let Some(option) = value.as_str() {
            return self
                .references
                .push((Kind::Option, option.to_owned(), pointer.to_owned()));
        }
        if depth >= DEEPEST_CONDITION {
            let detail = "The condition is nested too deep. State it more simply.".to_owned();
            let limit = format!("at most {DEEPEST_CONDITION} levels");
            return self.fault(pointer, detail, Some(value), limit);
        }
        let single = value.as_object().filter(|object| object.len() == 1);
        let Some((word, inner)) = single.and_then(|object| object.iter().next()) else {
            return self.wrong(value, pointer, &accepted(&Shape::Condition));
        };
        let place = step(pointer, word);
        match (word.as_str(), inner.as_array()) {
            ("not", _) => self.condition(inner, &place, depth + 1),
            ("all" | "any", Some(parts)) if !parts.is_empty() => {
                for (number, part) in parts.iter().enumerate() {
                    self.condition(part, &step(&place, &number.to_string()), depth + 1);
                }
            }
            _ => self.wrong(value, pointer, &accepted(&Shape::Condition)),
        }
    }

    fn references(&mut self) {
        let ids = std::mem::take(&mut self.ids);
        for (kind, id, pointer) in std::mem::take(&mut self.references) {
            let known = ids.get(&kind);
            if known.is_some_and(|ids| ids.contains_key(&id)) {
                continue;
            }
            let names = known
                .into_iter()
                .flat_map(|ids| ids.keys().map(String::as_str));
            let hint = self.hint(&id, names);
            let hint = hint.unwrap_or_else(|| "Add it, or name another.".to_owned());
            let detail = format!("There is no {} \"{id}\". {hint}", kind.words());
            let limit = format!("the short name of a {} of this model", kind.words());
            self.fault(&pointer, detail, Some(&Value::String(id)), limit);
        }
    }
}

/// What a shape accepts, in words.
pub(crate) fn accepted(shape: &Shape) -> String {
    match shape {
        Shape::Id(_) => {
            format!("a short name of letters, digits, - and _, at most {LONGEST_ID} characters")
        }
        Shape::Ref(kind) => format!("the short name of a {}", kind.words()),
        Shape::End => "equipment.pin, such as \"C12.3\" or \"bow-light.plus\"".to_owned(),
        Shape::Text => "a text that is not empty".to_owned(),
        Shape::Flag => "true or false".to_owned(),
        Shape::Number(bounds) => format!("a number {}", bounds.text()),
        Shape::Whole(min, max) => format!("a whole number from {min} to {max}"),
        Shape::Choice(words) => words.join(", "),
        Shape::Size => "a size such as \"12 AWG\", \"1/0 AWG\" or \"2.5 mm2\"".to_owned(),
        Shape::Condition => {
            "an option, or {\"all\": [...]}, {\"any\": [...]}, {\"not\": ...} of such".to_owned()
        }
        Shape::List(..) => "a list".to_owned(),
        Shape::Numbers(..) => "an object of names and numbers".to_owned(),
        Shape::Record(form) => accepted_record(form),
    }
}

fn accepted_record(form: &Form) -> String {
    format!("an object that states a {}", form.words())
}

fn type_word(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "a text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}
