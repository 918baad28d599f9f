//! What is saved whole: a boat model, or a parts list.

use super::fault::{Fault, in_order};
use super::form::Form;
use super::{ModelRecord, check, not_json, parts_list, taken_in, text};
use crate::file_format::records::PartsRecord;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// A document that is read with every fault, changed thing by thing, and saved whole.
pub trait Document: Clone + Serialize + DeserializeOwned {
    /// What it may hold.
    const FORM: &'static Form;
    /// What it is, for a sentence: `a boat model`.
    const WORDS: &'static str;

    /// The document of a value that may hold anything.
    ///
    /// # Errors
    /// Everything wrong with it.
    fn read(value: Value) -> Result<Self, Vec<Fault>>;

    /// The document of a value that may hold anything, as far as its parts stand by themselves.
    ///
    /// # Errors
    /// Every fault of what its declaration says; [`Document::read`] tells more.
    fn from_value(value: Value) -> Result<Self, Vec<Fault>> {
        let faults = check::faults(Self::FORM, &value);
        if faults.is_empty() {
            taken_in(value, Self::WORDS)
        } else {
            Err(faults)
        }
    }

    /// The document as a JSON object.
    fn object(&self) -> Map<String, Value> {
        match serde_json::to_value(self) {
            Ok(Value::Object(object)) => object,
            _ => Map::new(),
        }
    }
}

impl Document for ModelRecord {
    const FORM: &'static Form = Self::FORM;
    const WORDS: &'static str = "a boat model";

    fn read(value: Value) -> Result<Self, Vec<Fault>> {
        super::read_value(value, Vec::new()).map(|(record, _)| record)
    }
}

impl Document for PartsRecord {
    const FORM: &'static Form = Self::FORM;
    const WORDS: &'static str = "a parts list";

    fn read(value: Value) -> Result<Self, Vec<Fault>> {
        let list = Self::from_value(value)?;
        let faults = parts_list::faults(&list);
        if faults.is_empty() {
            Ok(list)
        } else {
            Err(in_order(faults))
        }
    }
}

/// Reads a saved parts list. Fails with every fault of the text, each with its place.
///
/// # Errors
/// Every fault.
pub fn read_parts(text: &str) -> Result<PartsRecord, Vec<Fault>> {
    let (value, mut faults) = text::parse(text).map_err(|error| vec![not_json(&error)])?;
    match PartsRecord::read(value) {
        Ok(list) if faults.is_empty() => return Ok(list),
        Ok(_) => {}
        Err(found) => faults.extend(found),
    }
    Err(in_order(faults))
}

/// Writes a parts list: the same bytes for the same list, one element of a list a line.
pub fn write_parts(list: &PartsRecord) -> String {
    text::write(list).expect("each map of a record has keys that are text")
}
