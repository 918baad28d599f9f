//! `/api/calculations/...` and `/api/check`: the core's questions over HTTP.

use axum::response::Response;
use harness_core::requests::{self, Request as Question};
use serde_json::Value;

use super::ApiJson;
use crate::answer;
use crate::error::{Error, Fault};

/// Answers one kind of question: the body is the question, the answer its JSON.
///
/// # Errors
/// Every fault of the question, each with a pointer into it.
pub async fn calculate<Q>(ApiJson(question): ApiJson<Value>) -> Result<Response, Error>
where
    Q: Question + 'static,
    Q::Answer: Send,
{
    // A large network or a tangle of options takes its time: not on a thread that serves others.
    let answered = tokio::task::spawn_blocking(move || requests::answer::<Q>(question));
    let answered = answered
        .await
        .map_err(|broken| Error::Answer(Box::new(broken)))?;
    match answered {
        Ok(found) => answer::json(&found),
        Err(faults) => Err(Error::Faults(faults.into_iter().map(Fault::from).collect())),
    }
}
