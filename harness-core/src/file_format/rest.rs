//! What can still be read of a file with faults of form, so that its faults of meaning are
//! reported in the same answer. Nothing of it is ever loaded.

use super::fault::Fault;
use super::into_model;
use super::records::ModelRecord;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// Faults of meaning in the elements that have no fault of form; the others are put aside.
pub(super) fn faults(value: Value, faults_of_form: &[Fault]) -> Vec<Fault> {
    let Some((record, places)) = sound(value, faults_of_form) else {
        return Vec::new();
    };
    let mut faults = into_model::faults(&record);
    for fault in &mut faults {
        fault.pointer = original(&fault.pointer, &places);
    }
    faults
}

/// For each list, the numbers in the file of the elements that were kept.
type Places = BTreeMap<String, Vec<usize>>;

fn sound(value: Value, faults: &[Fault]) -> Option<(ModelRecord, Places)> {
    let Value::Object(stated) = value else {
        return None;
    };
    let broken: BTreeSet<(&str, Option<usize>)> =
        faults.iter().map(|fault| place(&fault.pointer)).collect();
    let mut places = Places::new();
    let mut kept = Map::from_iter([
        ("format_version".to_owned(), Value::from(1)),
        ("name".to_owned(), Value::from("unnamed")),
    ]);
    for (field, value) in stated {
        if broken.contains(&(field.as_str(), None)) {
            continue;
        }
        let value = match value {
            Value::Array(list) => {
                let is_sound = |number: usize| !broken.contains(&(field.as_str(), Some(number)));
                let (numbers, sound): (Vec<_>, Vec<_>) = (0..)
                    .zip(list)
                    .filter(|(number, _)| is_sound(*number))
                    .unzip();
                places.insert(field.clone(), numbers);
                Value::Array(sound)
            }
            // A part of the settings that is broken leaves the others as they are not needed
            // to find further faults.
            value if broken.iter().any(|(name, _)| *name == field) => {
                drop(value);
                continue;
            }
            value => value,
        };
        kept.insert(field, value);
    }
    let record = serde_json::from_value(Value::Object(kept)).ok()?;
    Some((record, places))
}

/// Field of the file and number in its list.
fn place(pointer: &str) -> (&str, Option<usize>) {
    let mut tokens = pointer.split('/').skip(1);
    let field = tokens.next().unwrap_or_default();
    (field, tokens.next().and_then(|token| token.parse().ok()))
}

/// A pointer into the sound part, as a pointer into the file.
fn original(pointer: &str, places: &Places) -> String {
    let mut tokens = pointer.splitn(4, '/').skip(1);
    let (Some(field), Some(number)) = (tokens.next(), tokens.next()) else {
        return pointer.to_owned();
    };
    let kept = number.parse::<usize>().ok();
    let Some(number) = kept.and_then(|kept| places.get(field)?.get(kept)) else {
        return pointer.to_owned();
    };
    match tokens.next() {
        Some(inner) => format!("/{field}/{number}/{inner}"),
        None => format!("/{field}/{number}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_those_of_the_file() {
        let places = Places::from([("wires".to_owned(), vec![0, 3])]);
        assert_eq!(original("/wires/1/to", &places), "/wires/3/to");
        assert_eq!(original("/wires/1", &places), "/wires/3");
        assert_eq!(
            original("/settings/rule_sets/1", &places),
            "/settings/rule_sets/1"
        );
        assert_eq!(place("/wires/12/from_end/sleeve"), ("wires", Some(12)));
        assert_eq!(place("/settings/cut_step_mm"), ("settings", None));
    }
}
