//! Where a boat model and the parts its things were taken from say different things now.

use super::taking::{DRAWS, Origin, Part, find, shared};
use crate::file_format::{Document, ModelRecord, PartsRecord};
use serde_json::{Map, Value};

/// A field on which model and part differ.
#[derive(Clone, Debug, PartialEq)]
pub struct Differing {
    /// Name of the field, with its unit.
    pub field: &'static str,
    /// What the model says.
    pub model: Option<Value>,
    /// What the part says.
    pub part: Option<Value>,
}

/// A thing of a boat model beside its part.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// List of the boat model.
    pub list: &'static str,
    /// Short name of the thing.
    pub id: String,
    /// Its part.
    pub part: String,
    /// Which list the part stands in; `None` where none has it any more.
    pub origin: Option<Origin>,
    /// What differs; empty where all is as in the list.
    pub fields: Vec<Differing>,
}

/// Every thing of a boat model that was taken from a part, or that goes by the number of one, in
/// the order of the file.
pub fn beside_the_list(model: &ModelRecord, own: &PartsRecord) -> Vec<Beside> {
    let model = model.object();
    let mut all = Vec::new();
    for (list, names_part) in [
        ("terminal_parts", false),
        ("connector_types", false),
        ("devices", true),
        ("loads", true),
    ] {
        let things = model.get(list).and_then(Value::as_array);
        for thing in things.into_iter().flatten().filter_map(Value::as_object) {
            let text = |field: &str| thing.get(field).and_then(Value::as_str);
            let (Some(id), Some(named)) =
                (text("id"), text(if names_part { "part" } else { "id" }))
            else {
                continue;
            };
            let part = find(own, list, named);
            // A type that no list has was never a part of one.
            if part.is_none() && !names_part {
                continue;
            }
            all.push(Beside {
                list,
                id: id.to_owned(),
                part: named.to_owned(),
                origin: part.as_ref().map(|part| part.origin),
                fields: part.map_or_else(Vec::new, |part| differing(list, thing, &part)),
            });
        }
    }
    all
}

fn differing(list: &str, thing: &Map<String, Value>, part: &Part) -> Vec<Differing> {
    let draws = DRAWS.iter().any(|field| part.fields.contains_key(*field));
    let fields = shared(list).into_iter().filter(|field| {
        // What the part leaves open the model may say; how it draws, one of both says whole.
        part.fields.contains_key(field.name) || (draws && DRAWS.contains(&field.name))
    });
    let fields = fields.map(|field| Differing {
        field: field.name,
        model: thing.get(field.name).cloned(),
        part: part.fields.get(field.name).cloned(),
    });
    fields.filter(|field| field.model != field.part).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format::{read_parts, read_record};
    use serde_json::json;

    #[test]
    fn only_what_the_part_says_otherwise_is_told() {
        let own = read_parts(
            r#"{"format_version": 1,
                "loads": [{"id": "P", "current_a": 6.2, "min_v": 9},
                          {"id": "Q", "power_w": 20, "stated_at_v": 12}],
                "connector_types": [{"id": "K", "cavities": 4, "contact_rating_a": 13}]}"#,
        )
        .unwrap();
        let model = read_record(
            r#"{"format_version": 1, "name": "M",
                "connector_types": [{"id": "K", "cavities": 4, "contact_rating_a": 13},
                                    {"id": "L", "cavities": 2}],
                "loads": [{"id": "a", "part": "P", "current_a": 5.8, "min_v": 9, "max_v": 15},
                          {"id": "b", "part": "Q", "current_a": 2, "stated_at_v": 12},
                          {"id": "c", "part": "gone", "current_a": 1},
                          {"id": "d", "current_a": 1}]}"#,
        )
        .unwrap();
        let all = beside_the_list(&model, &own);
        let told: Vec<_> = all
            .iter()
            .map(|one| (one.id.as_str(), one.origin.is_some(), one.fields.len()))
            .collect();
        assert_eq!(
            told,
            [
                ("K", true, 0),
                ("a", true, 1),
                ("b", true, 2),
                ("c", false, 0)
            ]
        );
        assert_eq!(
            all[1].fields[0],
            Differing {
                field: "current_a",
                model: Some(json!(5.8)),
                part: Some(json!(6.2)),
            }
        );
        let fields: Vec<_> = all[2].fields.iter().map(|one| one.field).collect();
        assert_eq!(fields, ["current_a", "power_w"]);
    }
}
