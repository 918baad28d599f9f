//! The published schema (JSON Schema, draft 2020-12), made from the declarations that the
//! reader uses. It states the form of a file; that references lead somewhere and that parts
//! fit each other only the reader can tell.

use super::check::{LONGEST_ID, LONGEST_LIST, LONGEST_TEXT};
use super::form::{Field, Form, Need, Shape};
use super::records::{ModelRecord, PartsRecord};
use crate::units::bounds::Bounds;
use serde_json::{Map, Value, json};

/// Name of the definition of conditions, which is not a record.
const CONDITION: &str = "Condition";
/// Where the definitions of the file schema stand.
const DEFS: &str = "#/$defs/";

/// The schema of a boat model file, version 1.
pub fn json_schema() -> Value {
    of_file(ModelRecord::FORM, "Boat model file, version 1")
}

/// The schema of a parts list, version 1.
pub fn parts_schema() -> Value {
    of_file(PartsRecord::FORM, "Parts list, version 1")
}

fn of_file(form: &Form, title: &str) -> Value {
    let mut schema = schema_of(form, DEFS);
    if let Some(object) = schema.as_object_mut() {
        let dialect = "https://json-schema.org/draft/2020-12/schema";
        object.insert("$schema".to_owned(), dialect.into());
        object.insert("title".to_owned(), title.into());
        let definitions = definitions(form, DEFS);
        object.insert("$defs".to_owned(), Value::Object(definitions));
    }
    schema
}

/// The schema of one record. Records in it are references: `prefix` and their name, such as
/// `#/$defs/WireRecord`; [`definitions`] gives what they lead to.
pub fn schema_of(form: &Form, prefix: &str) -> Value {
    let properties: Map<String, Value> = form
        .fields
        .iter()
        .map(|field| (field.name.to_owned(), schema_of_field(field, prefix)))
        .collect();
    let required: Vec<&str> = form
        .fields
        .iter()
        .filter(|field| field.need == Need::Required)
        .map(|field| field.name)
        .collect();
    let mut schema = json!({
        "type": "object",
        "description": form.about.trim(),
        "properties": properties,
        "additionalProperties": false,
    });
    if !required.is_empty() {
        schema["required"] = json!(required);
    }
    schema
}

/// The schemas of every record that `form` refers to, however deep, by name.
pub fn definitions(form: &Form, prefix: &str) -> Map<String, Value> {
    let mut found = Map::new();
    define(form, prefix, &mut found);
    found
}

fn define(form: &Form, prefix: &str, found: &mut Map<String, Value>) {
    for field in form.fields {
        let mut shape = &field.shape;
        while let Shape::List(item, _) = shape {
            shape = item;
        }
        match shape {
            Shape::Record(inner) if !found.contains_key(inner.name) => {
                found.insert(inner.name.to_owned(), schema_of(inner, prefix));
                define(inner, prefix, found);
            }
            Shape::Condition => {
                found.insert(CONDITION.to_owned(), condition(prefix));
            }
            _ => {}
        }
    }
}

fn schema_of_field(field: &Field, prefix: &str) -> Value {
    let mut schema = schema_of_shape(&field.shape, prefix);
    let mut about = field.about.trim().to_owned();
    if let Some(remark) = remark(&field.shape) {
        about.push(' ');
        about.push_str(&remark);
    }
    schema["description"] = about.into();
    schema
}

/// What the schema's own words cannot state.
fn remark(shape: &Shape) -> Option<String> {
    match shape {
        Shape::Id(_) => Some("Unique in the file.".to_owned()),
        Shape::Ref(kind) => Some(format!("Short name of a {}.", kind.words())),
        Shape::List(Shape::Ref(kind), _) => {
            Some(format!("Short names, each of a {}.", kind.words()))
        }
        Shape::End => Some("Equipment and its pin, joined by a point.".to_owned()),
        Shape::Number(bounds) if !bounds.unit.is_empty() => Some(format!("In {}.", bounds.unit)),
        _ => None,
    }
}

fn schema_of_shape(shape: &Shape, prefix: &str) -> Value {
    match shape {
        Shape::Id(_) => text(&format!(
            "^[\\p{{Alphabetic}}\\p{{N}}_-]{{1,{LONGEST_ID}}}$"
        )),
        Shape::End => text(r"^.+\.[^.]+$"),
        Shape::Ref(_) | Shape::Text => text(r"^[^\u0000]*[^\s\u0000][^\u0000]*$"),
        Shape::Flag => json!({"type": "boolean"}),
        Shape::Number(bounds) => number(bounds),
        Shape::Whole(min, max) => json!({"type": "integer", "minimum": min, "maximum": max}),
        Shape::Choice(words) => json!({"type": "string", "enum": words}),
        Shape::Size => size(),
        Shape::Condition => json!({"$ref": format!("{prefix}{CONDITION}")}),
        Shape::List(item, least) => {
            let mut schema = json!({
                "type": "array",
                "items": schema_of_shape(item, prefix),
                "maxItems": LONGEST_LIST,
            });
            if *least > 0 {
                schema["minItems"] = json!(least);
            }
            if item.is_listed_once() {
                schema["uniqueItems"] = json!(true);
            }
            schema
        }
        Shape::Numbers(_, bounds) => {
            json!({"type": "object", "additionalProperties": number(bounds)})
        }
        Shape::Record(form) => json!({"$ref": format!("{prefix}{}", form.name)}),
    }
}

fn text(pattern: &str) -> Value {
    json!({"type": "string", "pattern": pattern, "maxLength": LONGEST_TEXT})
}

fn number(bounds: &Bounds) -> Value {
    let least = if bounds.above_min {
        "exclusiveMinimum"
    } else {
        "minimum"
    };
    json!({"type": "number", least: bounds.min, "maximum": bounds.max})
}

/// The usual spellings of a size; the reader forgives a few more.
fn size() -> Value {
    let gauge = "(?:[0-9]{1,2}|0{2,4}|[1-4]/0)";
    let awg = "[Aa][Ww][Gg]";
    let area = r"[0-9]+(?:[.,][0-9]{1,2})? *[Mm][Mm](?:2|²|\^2)";
    let mut schema = text(&format!("^ *(?:{gauge} *{awg}|{awg} *{gauge}|{area}) *$"));
    schema["examples"] = json!(["12 AWG", "1/0 AWG", "2.5 mm2"]);
    schema
}

fn condition(prefix: &str) -> Value {
    let itself = json!({"$ref": format!("{prefix}{CONDITION}")});
    let parts = json!({"type": "array", "items": itself.clone(), "minItems": 1});
    let single = |word: &str, value: &Value| {
        json!({
            "type": "object",
            "properties": {word: value},
            "required": [word],
            "additionalProperties": false,
        })
    };
    json!({
        "description": "When a thing is fitted: the short name of an option, or all, any, not of \
                        such.",
        "oneOf": [
            {"type": "string", "minLength": 1},
            single("all", &parts),
            single("any", &parts),
            single("not", &itself),
        ],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every `$ref` in a value.
    fn references(value: &Value, found: &mut Vec<String>) {
        match value {
            Value::Object(object) => {
                for (name, inner) in object {
                    match inner.as_str() {
                        Some(target) if name == "$ref" => found.push(target.to_owned()),
                        _ => references(inner, found),
                    }
                }
            }
            Value::Array(list) => list.iter().for_each(|inner| references(inner, found)),
            _ => {}
        }
    }

    #[test]
    fn every_reference_leads_to_a_definition() {
        let schema = json_schema();
        let mut found = Vec::new();
        references(&schema, &mut found);
        assert!(found.len() > 30, "{}", found.len());
        for target in found {
            let name = target.strip_prefix(DEFS).unwrap();
            assert!(schema["$defs"].get(name).is_some(), "{name}");
        }
    }

    #[test]
    fn limits_are_those_of_the_reader() {
        let schema = json_schema();
        let source = &schema["$defs"]["SourceRecord"]["properties"]["nominal_v"];
        assert_eq!(source["exclusiveMinimum"], 0.0);
        assert_eq!(source["maximum"], 60.0);
        assert_eq!(source["description"], "Nominal voltage. In V.");
        assert_eq!(
            schema["$defs"]["WireRecord"]["required"],
            json!(["id", "from", "to"])
        );
        assert_eq!(schema["additionalProperties"], false);
    }
}
