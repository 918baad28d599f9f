//! The saved JSON form of a boat model, version 1.
//!
//! [`read`] gives a whole model or every fault of the text with its place; nothing is ever half
//! loaded. [`write`] gives the same bytes for the same model. [`json_schema`] is the published
//! schema, made from the declarations that the reader uses.

pub mod form;
pub mod fault;
pub mod check;
pub mod records;
mod into_model;

pub use fault::Fault;
pub use into_model::model;
pub use records::ModelRecord;

use crate::model::BoatModel;
use serde_json::Value;

/// Reads a saved model. Fails with every fault of the text, each with its place.
pub fn read(text: &str) -> Result<BoatModel, Vec<Fault>> {
    read_record(text).and_then(|record| model(&record))
}

/// Reads the records of a saved model and checks them as far as they stand by themselves.
pub fn read_record(text: &str) -> Result<ModelRecord, Vec<Fault>> {
    let value: Value = serde_json::from_str(text).map_err(|error| vec![not_json(&error)])?;
    record_from(value)
}

/// The records from a JSON value that may hold anything.
pub fn record_from(value: Value) -> Result<ModelRecord, Vec<Fault>> {
    let faults = check::faults(ModelRecord::FORM, &value);
    if !faults.is_empty() {
        return Err(faults);
    }
    serde_json::from_value(value).map_err(|error| {
        vec![Fault {
            pointer: String::new(),
            detail: format!("The file could not be taken in: {error}."),
            given: String::new(),
            limit: "a boat model file, version 1".to_owned(),
        }]
    })
}

fn not_json(error: &serde_json::Error) -> Fault {
    Fault {
        pointer: String::new(),
        detail: format!(
            "The text is not JSON: {error}. Nothing was loaded. Send a boat model file."
        ),
        given: String::new(),
        limit: "JSON text (RFC 8259)".to_owned(),
    }
}
