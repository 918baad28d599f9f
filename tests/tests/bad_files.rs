//! Broken boat model files, made from sound ones by walking the declarations of the format:
//! each must give a fault at the broken place, never a panic and never a model. The published
//! schema is held against the same files with a general JSON Schema validator.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::file_format::form::{Form, Need, Shape};
use harness_core::file_format::{Fault, ModelRecord, json_schema, read, read_json, write};
use serde_json::{Value, json};
use std::collections::BTreeMap;

const EVERY_FIELD: &str = include_str!("../facts/every-field.json");
const LAUNCH: &str = include_str!("../../server/samples/launch-92.json");
const TENDER: &str = include_str!("../../server/samples/tender-56.json");

/// One change of one place.
struct Change {
    kind: &'static str,
    pointer: String,
    value: Option<Value>,
    /// Whether the form alone is broken, so that the schema sees it too.
    form: bool,
}

/// Every change that breaks a record, in this record and those in it.
fn breaks(form: &Form, record: &Value, at: &str, out: &mut Vec<Change>) {
    let mut add = |kind, pointer: String, value, form| {
        out.push(Change {
            kind,
            pointer,
            value,
            form,
        });
    };
    add(
        "unknown field",
        format!("{at}/no_such_field"),
        Some(json!(1)),
        true,
    );
    if !at.is_empty() {
        add(
            "record of a wrong type",
            at.to_owned(),
            Some(json!(7)),
            true,
        );
    }
    for field in form.fields {
        let Some(value) = record.get(field.name) else {
            continue;
        };
        let pointer = format!("{at}/{}", field.name);
        if field.need == Need::Required {
            out.push(Change {
                kind: "missing",
                pointer: pointer.clone(),
                value: None,
                form: true,
            });
        }
        break_value(&field.shape, value, &pointer, out);
    }
}

fn break_value(shape: &Shape, value: &Value, at: &str, out: &mut Vec<Change>) {
    let mut add = |kind, value, form| {
        out.push(Change {
            kind,
            pointer: at.to_owned(),
            value: Some(value),
            form,
        });
    };
    add("null", json!(null), true);
    match shape {
        Shape::Number(_) | Shape::Whole(..) => add("wrong type", json!("twelve"), true),
        _ => add("wrong type", json!(12), true),
    }
    match shape {
        Shape::Number(bounds) => {
            let below = if bounds.above_min {
                bounds.min
            } else {
                bounds.min - 0.001
            };
            add("below its bound", json!(below), true);
            add("above its bound", json!(bounds.max + 0.001), true);
        }
        Shape::Whole(min, max) => {
            add("below its bound", json!(i64::from(*min) - 1), true);
            add("above its bound", json!(i64::from(*max) + 1), true);
            add("not whole", json!(f64::from(*min) + 0.5), true);
        }
        Shape::Choice(_) => add("misspelled", json!("no-such-word"), true),
        Shape::Ref(_) => add("dangling", json!("no-such-thing"), false),
        Shape::End => {
            add("dangling", json!("no-such-thing.1"), false);
            add("no pin named", json!("bank"), true);
        }
        Shape::Condition => {
            add("dangling", json!("no-such-option"), false);
            add("empty condition", json!({"all": []}), true);
        }
        Shape::Id(_) => add("bad short name", json!("a.b"), true),
        Shape::Text => add("empty text", json!("  "), true),
        Shape::Size => add("bad size", json!("thick"), true),
        Shape::List(item, least) => {
            if *least > 0 {
                add("empty list", json!([]), true);
            }
            let items = value.as_array().unwrap();
            if let Shape::Record(form) = item
                && let Some(id) = form.field("id").and(items.first())
            {
                let place = format!("{at}/{}", items.len());
                out.push(Change {
                    kind: "duplicate id",
                    pointer: place,
                    value: Some(id.clone()),
                    form: false,
                });
            }
            for (number, inner) in items.iter().enumerate() {
                break_value(item, inner, &format!("{at}/{number}"), out);
            }
        }
        Shape::Record(form) => breaks(form, value, at, out),
        Shape::Flag | Shape::Numbers(..) => {}
    }
}

fn changed(value: &Value, pointer: &str, to: Option<Value>) -> Value {
    let mut value = value.clone();
    let (parent, name) = pointer.rsplit_once('/').unwrap();
    match (value.pointer_mut(parent).unwrap(), to) {
        (Value::Object(object), Some(to)) => {
            object.insert(name.to_owned(), to);
        }
        (Value::Object(object), None) => {
            object.remove(name);
        }
        (Value::Array(list), Some(to)) => {
            let number: usize = name.parse().unwrap();
            if number < list.len() {
                list[number] = to;
            } else {
                list.push(to);
            }
        }
        (parent, to) => panic!("{pointer}: {parent} to {to:?}"),
    }
    value
}

/// At the place, or inside it where a whole record was put in.
fn is_at(fault: &Fault, pointer: &str) -> bool {
    fault.pointer == pointer || fault.pointer.starts_with(&format!("{pointer}/"))
}

fn sound() -> Value {
    serde_json::from_str(EVERY_FIELD).unwrap()
}

#[test]
fn every_broken_file_tells_the_place_and_fails_the_schema_where_its_form_is_broken() {
    let sound = sound();
    let schema = jsonschema::validator_for(&json_schema()).unwrap();
    let mut changes = Vec::new();
    breaks(ModelRecord::FORM, &sound, "", &mut changes);
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for change in &changes {
        let place = format!("{} at {}", change.kind, change.pointer);
        let broken = changed(&sound, &change.pointer, change.value.clone());
        if change.form {
            assert!(!schema.is_valid(&broken), "{place}: the schema accepts it");
        }
        let faults = read_json(broken).expect_err(&place);
        assert!(
            faults.iter().any(|fault| is_at(fault, &change.pointer)),
            "{place}: {faults:#?}"
        );
        for fault in &faults {
            assert!(
                !fault.detail.is_empty() && !fault.limit.is_empty(),
                "{place}: {fault}"
            );
        }
        *kinds.entry(change.kind).or_default() += 1;
    }
    println!("{} broken files: {kinds:#?}", changes.len());
    assert!(changes.len() >= 500, "{}", changes.len());
}

#[test]
fn text_that_is_no_model_is_refused() {
    let deep = format!("{}1{}", "[".repeat(100_000), "]".repeat(100_000));
    let mut texts = vec![
        String::new(),
        "hello".to_owned(),
        "[]".to_owned(),
        "null".to_owned(),
        "{}".to_owned(),
        "{\"format_version\": 2, \"name\": \"later\"}".to_owned(),
        "{\"format_version\": 1e999, \"name\": \"huge\"}".to_owned(),
        deep,
    ];
    let step = EVERY_FIELD.len() / 50;
    texts.extend(
        (1..50)
            .filter_map(|part| EVERY_FIELD.get(..part * step))
            .map(str::to_owned),
    );
    for text in &texts {
        let faults = read(text).expect_err("a part of a file");
        assert!(!faults.is_empty() && !faults[0].detail.is_empty());
    }
    println!("{} texts that are no model", texts.len());
}

#[test]
fn several_breaks_are_told_at_once() {
    let mut broken = sound();
    let places = [
        ("/loads/0/min_v", json!(-1)),
        ("/runs/1/from", json!("nowhere")),
        ("/wires/2/size", json!("thick")),
        ("/zones/0/colour", json!("red")),
        ("/wires/6/to", json!("neg.2")),
    ];
    for (pointer, value) in &places {
        broken = changed(&broken, pointer, Some(value.clone()));
    }
    let faults = read_json(broken).unwrap_err();
    for (pointer, _) in places {
        assert!(
            faults.iter().any(|fault| fault.pointer == pointer),
            "{pointer}: {faults:#?}"
        );
    }
}

#[test]
fn a_sound_file_passes_the_schema_and_comes_back_the_same() {
    let schema = jsonschema::validator_for(&json_schema()).unwrap();
    for text in [EVERY_FIELD, LAUNCH, TENDER] {
        let value: Value = serde_json::from_str(text).unwrap();
        let faults: Vec<_> = schema
            .iter_errors(&value)
            .map(|error| error.to_string())
            .collect();
        assert_eq!(faults, Vec::<String>::new());
        let model = read(text).unwrap();
        let written = write(&model);
        assert_eq!(read(&written).unwrap(), model);
        assert_eq!(write(&read(&written).unwrap()), written);
        assert!(schema.is_valid(&serde_json::from_str(&written).unwrap()));
    }
}

#[test]
fn a_number_at_its_bound_is_accepted_as_such() {
    let sound = sound();
    let settings = ModelRecord::FORM.field("settings").unwrap();
    let Shape::Record(form) = settings.shape else {
        panic!("settings are a record");
    };
    let mut tried = 0;
    for field in form.fields {
        if let Shape::Number(bounds) = field.shape {
            let pointer = format!("/settings/{}", field.name);
            let least = (!bounds.above_min).then_some(bounds.min);
            for value in least.into_iter().chain([bounds.max]) {
                read_json(changed(&sound, &pointer, Some(json!(value)))).expect(&pointer);
                tried += 1;
            }
        }
    }
    assert!(tried >= 9, "{tried}");
}
