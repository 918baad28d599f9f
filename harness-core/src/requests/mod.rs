//! The questions of the programming interface as plain records, declared once: the reader finds
//! every fault from the declaration, and the published interface description is made from it.
//!
//! Knows no HTTP. A default that was taken because a field was left out is part of the answer.

mod conductor;
mod network;
mod boats;
mod contents;
mod check;

pub use boats::{BoatsRequest, RuleRequest};
pub use check::CheckRequest;
pub use conductor::{AmpacityRequest, Assumed, BundleRequest, ConductorRequest, DropRequest};
pub use contents::{ContentsRequest, ModuleRequest, OrderRequest, SharedRequest};
pub use network::{ConductorElement, LoadElement, NetworkAnswer, NetworkRequest, SourceElement};

use crate::file_format::check::faults;
use crate::file_format::fault::Fault;
use crate::file_format::form::Form;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// A question with its declaration and its answer.
pub trait Request: DeserializeOwned {
    /// The answer.
    type Answer: Serialize;
    /// What the question may hold.
    const FORM: &'static Form;

    /// Answers the question.
    ///
    /// # Errors
    /// Every fault that only shows when the fields are taken together.
    fn answer(self) -> Result<Self::Answer, Vec<Fault>>;
}

/// Reads and answers a question.
///
/// # Errors
/// Every fault of the question, each with its place.
pub fn answer<R: Request>(question: Value) -> Result<R::Answer, Vec<Fault>> {
    let found = faults(R::FORM, &question);
    if !found.is_empty() {
        return Err(found);
    }
    let read: R = serde_json::from_value(question).map_err(|error| {
        vec![Fault {
            pointer: String::new(),
            detail: format!("The question could not be taken in: {error}."),
            given: String::new(),
            limit: format!("a {}", R::FORM.name),
        }]
    })?;
    read.answer()
}
