//! The saved JSON form of a boat model, version 1.
//!
//! [`read`] gives a whole model or every fault of the text with its place; nothing is ever half
//! loaded. [`write()`] gives the same bytes for the same model. [`json_schema`] is the published
//! schema, made from the declarations that the reader uses.

pub mod form;
pub mod fault;
pub mod check;
pub mod records;
mod text;
mod rest;
mod into_model;
mod from_model;
mod json_schema;
mod document;
mod parts_list;
#[cfg(test)]
mod faults_of_meaning;

pub use document::{Document, read_parts, write_parts};
pub use fault::Fault;
pub use from_model::record;
pub use into_model::model;
pub use json_schema::{definitions, json_schema, parts_schema, schema_of};
pub use records::{ModelRecord, PartsRecord};

use crate::model::BoatModel;
use serde_json::Value;

/// Reads a saved model. Fails with every fault of the text, each with its place.
pub fn read(text: &str) -> Result<BoatModel, Vec<Fault>> {
    let (value, repeated) = text::parse(text).map_err(|error| vec![not_json(&error)])?;
    read_value(value, repeated).map(|(_, model)| model)
}

/// Reads a saved model from a JSON value that may hold anything. Fails with every fault.
pub fn read_json(value: Value) -> Result<BoatModel, Vec<Fault>> {
    read_value(value, Vec::new()).map(|(_, model)| model)
}

/// Reads the records of a saved model and checks them as far as they stand by themselves.
pub fn read_record(text: &str) -> Result<ModelRecord, Vec<Fault>> {
    let (value, repeated) = text::parse(text).map_err(|error| vec![not_json(&error)])?;
    if repeated.is_empty() {
        return record_from(value);
    }
    let faults = check::faults(ModelRecord::FORM, &value);
    Err(fault::in_order(
        repeated.into_iter().chain(faults).collect(),
    ))
}

/// The records from a JSON value that may hold anything, checked as far as they stand by
/// themselves.
pub fn record_from(value: Value) -> Result<ModelRecord, Vec<Fault>> {
    ModelRecord::from_value(value)
}

/// Writes a model: the same bytes for the same model, one element of a list a line.
pub fn write(model: &BoatModel) -> String {
    write_record(&record(model))
}

/// Writes the records of a model; see [`write()`].
pub fn write_record(record: &ModelRecord) -> String {
    text::write(record).expect("each map of a record has keys that are text")
}

fn read_value(value: Value, repeated: Vec<Fault>) -> Result<(ModelRecord, BoatModel), Vec<Fault>> {
    let checked = check::check(ModelRecord::FORM, &value);
    let mut faults = if checked.form.is_empty() {
        let record: ModelRecord = taken_in(value, ModelRecord::WORDS)?;
        if checked.references.is_empty() && repeated.is_empty() {
            let model = model(&record)?;
            return Ok((record, model));
        }
        into_model::faults(&record)
    } else {
        rest::faults(value, &checked.form)
    };
    faults.extend(repeated);
    faults.extend(checked.form);
    faults.extend(checked.references);
    Err(fault::in_order(faults))
}

/// The records of a value in which `check` has found no fault of form.
fn taken_in<D: Document>(value: Value, words: &str) -> Result<D, Vec<Fault>> {
    serde_json::from_value(value).map_err(|error| {
        vec![Fault {
            pointer: String::new(),
            detail: format!("The file could not be taken in: {error}."),
            given: String::new(),
            limit: format!("{words}, version 1"),
        }]
    })
}

fn not_json(error: &serde_json::Error) -> Fault {
    Fault {
        pointer: String::new(),
        detail: format!(
            "The text is not JSON: {error}. Nothing was loaded. Mend that place, or send another \
             file."
        ),
        given: String::new(),
        limit: "JSON text (RFC 8259)".to_owned(),
    }
}
