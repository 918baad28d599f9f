//! A part taken into a boat model: its figures copied field by field.

use super::shipped;
use crate::file_format::form::{Field, Form};
use crate::file_format::{Document, ModelRecord, PartsRecord};
use serde_json::{Map, Value};

/// Which list a part stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// The builder's own.
    Own,
    /// The one that comes with the service.
    Shipped,
}

impl Origin {
    /// The list in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Shipped => "shipped",
        }
    }
}

/// A part of a list, as its fields stand there.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Which list.
    pub origin: Origin,
    /// Its part number or short name.
    pub id: String,
    /// Its fields.
    pub fields: Map<String, Value>,
}

impl Part {
    /// Its description, or its short name.
    pub fn title(&self) -> &str {
        let name = self.fields.get("name").and_then(Value::as_str);
        name.unwrap_or(&self.id)
    }
}

/// Fields that belong to the thing itself and not to the part it is.
const OF_THE_THING: &[&str] = &["id", "name", "part"];
/// How a load draws: of these a thing states one.
pub(super) const DRAWS: &[&str] = &["current_a", "power_w", "resistance_ohm"];

/// The list of a parts list from which things of a list of a boat model can be taken.
pub fn part_list_of(list: &str) -> Option<&'static str> {
    match list {
        "wires" => Some("conductors"),
        _ => ["loads", "devices", "connector_types", "terminal_parts"]
            .into_iter()
            .find(|known| *known == list),
    }
}

fn form_of(form: &'static Form, list: &str) -> Option<&'static Form> {
    use crate::file_format::form::Shape;
    match form.field(list)?.shape {
        Shape::List(Shape::Record(form), _) => Some(form),
        _ => None,
    }
}

/// Fields that a thing of a list of a boat model and a part have both.
pub(super) fn shared(list: &str) -> Vec<&'static Field> {
    let Some(part_list) = part_list_of(list) else {
        return Vec::new();
    };
    let forms = form_of(ModelRecord::FORM, list).zip(form_of(PartsRecord::FORM, part_list));
    let Some((thing, part)) = forms else {
        return Vec::new();
    };
    let of_both = part
        .fields
        .iter()
        .filter(|field| !OF_THE_THING.contains(&field.name) && thing.field(field.name).is_some());
    of_both.collect()
}

/// Every part that can be taken for a list of a boat model: the builder's own first, and of the
/// shipped ones those that no own one hides.
pub fn offered(own: &PartsRecord, list: &str) -> Vec<Part> {
    let Some(part_list) = part_list_of(list) else {
        return Vec::new();
    };
    let mut parts: Vec<Part> = Vec::new();
    for (list, origin) in [(own, Origin::Own), (shipped(), Origin::Shipped)] {
        let list = list.object();
        let things = list.get(part_list).and_then(Value::as_array);
        for fields in things.into_iter().flatten().filter_map(Value::as_object) {
            let Some(id) = fields.get("id").and_then(Value::as_str) else {
                continue;
            };
            if origin == Origin::Shipped && parts.iter().any(|part| part.id == id) {
                continue;
            }
            parts.push(Part {
                origin,
                id: id.to_owned(),
                fields: fields.clone(),
            });
        }
    }
    parts
}

/// The part of this number for a list of a boat model: the builder's own before the shipped one.
pub fn find(own: &PartsRecord, list: &str, id: &str) -> Option<Part> {
    let part_list = part_list_of(list)?;
    let in_list = |parts: &PartsRecord, origin| {
        let parts = parts.object();
        let things = parts.get(part_list)?.as_array()?;
        let found = things
            .iter()
            .find(|part| part.get("id").and_then(Value::as_str) == Some(id))?;
        Some(Part {
            origin,
            id: id.to_owned(),
            fields: found.as_object()?.clone(),
        })
    };
    in_list(own, Origin::Own).or_else(|| in_list(shipped(), Origin::Shipped))
}

/// A thing of a list of a boat model with the figures of a part in the place of its own. A field
/// that the part does not state stays as it is, but of the ways to draw only the part's is kept.
pub fn taken(list: &str, thing: &Map<String, Value>, part: &Part) -> Map<String, Value> {
    let mut taken = thing.clone();
    let states = |field: &&str| part.fields.contains_key(*field);
    if list == "loads" && DRAWS.iter().any(states) {
        for field in DRAWS.iter().chain(&["stated_at_v"]) {
            taken.remove(*field);
        }
    }
    for field in shared(list) {
        if let Some(value) = part.fields.get(field.name) {
            taken.insert(field.name.to_owned(), value.clone());
        }
    }
    let thing_form = form_of(ModelRecord::FORM, list);
    let has = |field: &str| thing_form.is_some_and(|form| form.field(field).is_some());
    if has("part") {
        taken.insert("part".to_owned(), part.id.clone().into());
    }
    // Of a type the part number is its name; equipment is named by the builder.
    if matches!(list, "connector_types" | "terminal_parts") && !taken.contains_key("id") {
        taken.insert("id".to_owned(), part.id.clone().into());
    }
    if let (false, true, Some(name)) = (
        taken.contains_key("name"),
        has("name"),
        part.fields.get("name"),
    ) {
        taken.insert("name".to_owned(), name.clone());
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format::read_parts;
    use serde_json::json;

    fn own() -> PartsRecord {
        read_parts(
            r#"{"format_version": 1,
                "loads": [{"id": "pump-7", "name": "Pump", "power_w": 60, "stated_at_v": 13.6,
                           "figure_from": "measured", "figure_source": "bench, 3 May"},
                          {"id": "bilge-pump-500-gph", "current_a": 1.9}],
                "connector_types": [{"id": "K-8", "cavities": 8, "contact_rating_a": 13}]}"#,
        )
        .unwrap()
    }

    fn object(value: Value) -> Map<String, Value> {
        value.as_object().unwrap().clone()
    }

    #[test]
    fn the_part_gives_its_figures_and_where_they_come_from_and_the_rest_stays() {
        let part = find(&own(), "loads", "pump-7").unwrap();
        assert_eq!(part.origin, Origin::Own);
        let thing = object(json!({"id": "stern-pump", "current_a": 3, "min_v": 9, "point": "p"}));
        let now = taken("loads", &thing, &part);
        assert_eq!(
            Value::Object(now),
            json!({"id": "stern-pump", "name": "Pump", "power_w": 60.0, "stated_at_v": 13.6,
                   "min_v": 9, "point": "p", "figure_from": "measured",
                   "figure_source": "bench, 3 May", "part": "pump-7"})
        );
    }

    #[test]
    fn the_builders_own_part_stands_before_the_shipped_one_of_the_same_name() {
        let part = find(&own(), "loads", "bilge-pump-500-gph").unwrap();
        assert_eq!(part.origin, Origin::Own);
        let part = find(&own(), "loads", "bilge-pump-800-gph").unwrap();
        assert_eq!(part.origin, Origin::Shipped);
        assert!(find(&own(), "loads", "K-8").is_none());
        assert!(find(&own(), "zones", "K-8").is_none());
    }

    #[test]
    fn a_new_type_goes_by_the_part_number() {
        let part = find(&own(), "connector_types", "K-8").unwrap();
        let now = taken("connector_types", &Map::new(), &part);
        assert_eq!(
            Value::Object(now),
            json!({"id": "K-8", "cavities": 8, "contact_rating_a": 13.0})
        );
    }

    #[test]
    fn every_field_of_a_part_but_its_own_has_a_place_in_the_model() {
        // What only the list of parts has.
        let of_the_list = [
            ("loads", vec!["device_a"]),
            ("devices", vec![]),
            ("connector_types", vec![]),
            ("terminal_parts", vec![]),
        ];
        for (list, own) in of_the_list {
            let part = form_of(PartsRecord::FORM, part_list_of(list).unwrap()).unwrap();
            let shared: Vec<_> = shared(list).iter().map(|field| field.name).collect();
            for field in part.fields {
                let is_shared = shared.contains(&field.name);
                let is_own = own.contains(&field.name) || OF_THE_THING.contains(&field.name);
                assert!(is_shared != is_own, "{list}: {}", field.name);
            }
        }
    }
}
