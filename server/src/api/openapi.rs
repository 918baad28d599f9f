//! `GET /api/openapi.json`: the description of the interface, made from the declarations that
//! the readers use.

use axum::response::Response;
use harness_core::file_format::form::Form;
use harness_core::file_format::{ModelRecord, PartsRecord, definitions, json_schema, schema_of};
use harness_core::requests::{
    AmpacityRequest, BoatsRequest, BundleRequest, CheckRequest, ConductorRequest, ContentsRequest,
    DropRequest, NetworkRequest, Request,
};
use serde_json::{Map, Value, json};

use crate::answer;
use crate::error::Error;

/// Where the descriptions of records stand.
const SCHEMAS: &str = "#/components/schemas/";

/// A question that is answered by POST.
struct Call {
    address: &'static str,
    summary: &'static str,
    form: &'static Form,
    answer: &'static [(&'static str, &'static str)],
}

const CALLS: &[Call] = &[
    Call {
        address: "/api/calculations/conductor",
        summary: "Smallest stocked conductor for a current, a length and a drop limit",
        form: <ConductorRequest as Request>::FORM,
        answer: &[
            ("size", "string"),
            ("reason", "string"),
            ("area_mm2", "number"),
            ("area_cmil", "number"),
            ("required_area_mm2", "number"),
            ("required_area_cmil", "number"),
            ("drop_v", "number"),
            ("drop_percent", "number"),
            ("ampacity_a", "number"),
            ("governed_by", "string"),
            ("working", "array"),
            ("sources", "array"),
            ("assumed", "array"),
        ],
    },
    Call {
        address: "/api/calculations/drop",
        summary: "Voltage drop of a given conductor",
        form: <DropRequest as Request>::FORM,
        answer: &[
            ("drop_v", "number"),
            ("drop_percent", "number"),
            ("resistance_ohm", "number"),
            ("ampacity_a", "number"),
            ("working", "array"),
            ("sources", "array"),
            ("assumed", "array"),
        ],
    },
    Call {
        address: "/api/calculations/ampacity",
        summary: "Allowable current of a given conductor",
        form: <AmpacityRequest as Request>::FORM,
        answer: &[
            ("ampacity_a", "number"),
            ("not_evaluated", "object"),
            ("steps", "array"),
            ("sources", "array"),
            ("assumed", "array"),
        ],
    },
    Call {
        address: "/api/calculations/network",
        summary: "Operating point of a network of sources, conductors and loads",
        form: <NetworkRequest as Request>::FORM,
        answer: &[
            ("status", "string"),
            ("because", "string"),
            ("collapse", "object"),
            ("nodes", "array"),
            ("conductors", "array"),
            ("loads", "array"),
            ("iterations", "integer"),
            ("current_residual_a", "number"),
            ("power_residual_w", "number"),
        ],
    },
    Call {
        address: "/api/calculations/bundle",
        summary: "Diameter of a bundle and fill of a conduit",
        form: <BundleRequest as Request>::FORM,
        answer: &[
            ("diameter_mm", "number"),
            ("fill_percent", "number"),
            ("fill_limit_percent", "number"),
            ("working", "array"),
            ("sources", "array"),
        ],
    },
    Call {
        address: "/api/calculations/boats",
        summary: "Boats that can be built from options under rules",
        form: <BoatsRequest as Request>::FORM,
        answer: &[
            ("buildable", "string"),
            ("never", "array"),
            ("always", "array"),
            ("heaviest", "object"),
            ("lightest", "object"),
            ("conflict", "array"),
            ("conflict_minimal", "boolean"),
        ],
    },
    Call {
        address: "/api/calculations/contents",
        summary: "Harnesses to make for the boats that are ordered, with the cheapest number of them",
        form: <ContentsRequest as Request>::FORM,
        answer: &[
            ("boats_per_year", "integer"),
            ("orders", "array"),
            ("levels", "array"),
            ("cheapest", "integer"),
            ("per_order", "object"),
            ("curve", "array"),
            ("main_or_add_on", "array"),
        ],
    },
    Call {
        address: "/api/check",
        summary: "Whole study of a boat model without storing it",
        form: <CheckRequest as Request>::FORM,
        answer: &[
            ("boats", "object"),
            ("counts", "object"),
            ("circuits", "array"),
            ("findings", "array"),
            ("gaps", "array"),
        ],
    },
];

/// The interface description, OpenAPI 3.1.
pub async fn openapi() -> Result<Response, Error> {
    answer::json(&description())
}

/// The schema of a boat model file, JSON Schema draft 2020-12.
pub async fn model_schema() -> Result<Response, Error> {
    answer::json(&json_schema())
}

fn description() -> Value {
    let mut paths = Map::new();
    let mut schemas = definitions(ModelRecord::FORM, SCHEMAS);
    schemas.insert(
        "ModelRecord".to_owned(),
        schema_of(ModelRecord::FORM, SCHEMAS),
    );
    schemas.insert("Problem".to_owned(), problem());
    for call in CALLS {
        schemas.extend(definitions(call.form, SCHEMAS));
        schemas.insert(call.form.name.to_owned(), schema_of(call.form, SCHEMAS));
        paths.insert(call.address.to_owned(), json!({"post": operation(call)}));
    }
    stored_models(&mut paths);
    parts_list(&mut paths, &mut schemas);
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "DC wiring harness of a boat model",
            "version": env!("CARGO_PKG_VERSION"),
            "description": harness_core::CAUTION,
        },
        "paths": paths,
        "components": {"schemas": schemas},
    })
}

fn operation(call: &Call) -> Value {
    let properties: Map<String, Value> = call
        .answer
        .iter()
        .map(|(name, kind)| ((*name).to_owned(), json!({"type": [*kind, "null"]})))
        .collect();
    json!({
        "summary": call.summary,
        "requestBody": {"required": true, "content": {"application/json": {
            "schema": {"$ref": format!("{SCHEMAS}{}", call.form.name)}}}},
        "responses": {
            "200": {"description": "The answer", "content": {"application/json": {
                "schema": {"type": "object", "properties": properties}}}},
            "422": refused(),
            "400": refused(),
        },
    })
}

fn refused() -> Value {
    json!({
        "description": "What is wrong, every fault at once (RFC 9457)",
        "content": {"application/problem+json": {"schema": {"$ref": format!("{SCHEMAS}Problem")}}},
    })
}

fn problem() -> Value {
    json!({
        "type": "object",
        "description": "Problem document, RFC 9457",
        "properties": {
            "type": {"type": "string"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "errors": {"type": "array", "items": {"type": "object", "properties": {
                "pointer": {"type": "string"},
                "detail": {"type": "string"},
                "given": {},
                "limit": {"type": "string"},
            }}},
        },
    })
}

/// The calls on stored models.
fn stored_models(paths: &mut Map<String, Value>) {
    let id = json!([{"name": "id", "in": "path", "required": true, "schema": {"type": "string"}}]);
    let answers = |text: &str| {
        json!({"200": {"description": text, "content": {"application/json": {}}},
               "404": refused(), "422": refused()})
    };
    let body = |members: &[&str]| {
        let properties: Map<String, Value> = members
            .iter()
            .map(|member| {
                let schema = match *member {
                    "model" => json!({"$ref": format!("{SCHEMAS}ModelRecord")}),
                    "expected_revision" => json!({"type": "integer"}),
                    _ => json!({"type": "string"}),
                };
                ((*member).to_owned(), schema)
            })
            .collect();
        json!({"required": true, "content": {"application/json": {"schema": {
            "type": "object", "required": ["model"], "properties": properties,
            "additionalProperties": false}}}})
    };
    paths.insert(
        "/api/models".to_owned(),
        json!({
            "get": {"summary": "Stored boat models", "responses": answers("Heads of the models")},
            "post": {"summary": "Store a new boat model",
                     "requestBody": body(&["model", "id", "who", "reason"]),
                     "responses": {"201": {"description": "Head of revision 1"}, "409": refused(),
                                   "422": refused()}},
        }),
    );
    paths.insert(
        "/api/models/{id}".to_owned(),
        json!({
            "parameters": id,
            "get": {"summary": "Latest revision with its model", "responses": answers("The model")},
            "put": {"summary": "Store a new revision",
                    "requestBody": body(&["model", "who", "reason", "expected_revision"]),
                    "responses": answers("Head of the revision")},
            "delete": {"summary": "Delete the model", "responses": {"204": {"description": "Gone"},
                       "404": refused()}},
        }),
    );
    paths.insert(
        "/api/models/{id}/revisions".to_owned(),
        json!({"parameters": id,
               "get": {"summary": "Revisions, newest first", "responses": answers("Their heads")}}),
    );
}

/// The calls on the parts list.
fn parts_list(paths: &mut Map<String, Value>, schemas: &mut Map<String, Value>) {
    schemas.extend(definitions(PartsRecord::FORM, SCHEMAS));
    let form = PartsRecord::FORM;
    schemas.insert(form.name.to_owned(), schema_of(form, SCHEMAS));
    let list = json!({"$ref": format!("{SCHEMAS}{}", form.name)});
    let kept = json!({"type": "object", "properties": {
        "revision": {"type": "integer"}, "recorded_at": {"type": "string"},
        "who": {"type": "string"}, "reason": {"type": "string"}, "stamp": {"type": "string"},
        "parts": list}});
    let answer = |text: &str, schema: &Value| json!({"description": text, "content": {"application/json": {"schema": schema}}});
    paths.insert(
        "/api/parts".to_owned(),
        json!({
            "get": {"summary": "The builder's parts list; revision 0 before anything was saved",
                    "responses": {"200": answer("The list", &kept)}},
            "put": {"summary": "Store a new revision; what others changed since expected_revision stays",
                    "requestBody": {"required": true, "content": {"application/json": {"schema": {
                        "type": "object", "required": ["parts", "expected_revision"],
                        "properties": {"parts": list, "expected_revision": {"type": "integer"},
                                       "who": {"type": "string"}, "reason": {"type": "string"}},
                        "additionalProperties": false}}}},
                    "responses": {"200": answer("The list", &kept), "404": refused(),
                                  "409": refused(), "422": refused()}},
        }),
    );
    paths.insert(
        "/api/parts/shipped".to_owned(),
        json!({"get": {"summary": "The parts that come with the service, each with its source",
                       "responses": {"200": answer("The list", &list)}}}),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reference_of_the_description_leads_somewhere() {
        let described = description();
        let schemas = described["components"]["schemas"].as_object().unwrap();
        let text = described.to_string();
        let mut count = 0;
        for reference in text.split("\"$ref\":\"").skip(1) {
            let name = reference
                .split('"')
                .next()
                .unwrap()
                .strip_prefix(SCHEMAS)
                .unwrap();
            assert!(schemas.contains_key(name), "{name}");
            count += 1;
        }
        assert!(count > 30);
    }

    #[test]
    fn a_field_is_described_with_its_bounds() {
        let described = description();
        let field =
            &described["components"]["schemas"]["ConductorRequest"]["properties"]["nominal_v"];
        assert_eq!(field["exclusiveMinimum"], json!(0.0));
        assert_eq!(field["maximum"], json!(60.0));
    }
}
