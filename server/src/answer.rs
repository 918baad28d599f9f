//! Answers to requests that went well.

use askama::Template;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use serde::Serialize;

use crate::error::Error;

/// A page.
///
/// # Errors
/// [`Error::Answer`] when the template fails.
pub fn page(page: &impl Template) -> Result<Response, Error> {
    Ok(Html(page.render()?).into_response())
}

/// A page that takes time to work out: not on a thread that serves others.
///
/// # Errors
/// What working it out ends with; [`Error::Answer`] when that breaks, or the template fails.
pub async fn worked_out<P: Template + Send + 'static>(
    work: impl FnOnce() -> Result<P, Error> + Send + 'static,
) -> Result<Response, Error> {
    let made = tokio::task::spawn_blocking(work).await;
    page(&made.map_err(|broken| Error::Answer(Box::new(broken)))??)
}

/// Sends the reader on to `address` after a change, so that reloading does not repeat it.
pub fn go_to(address: &str) -> Response {
    Redirect::to(address).into_response()
}

/// A JSON document.
///
/// # Errors
/// [`Error::Answer`] when `value` cannot be written.
pub fn json(value: &impl Serialize) -> Result<Response, Error> {
    let kind = [(header::CONTENT_TYPE, "application/json")];
    Ok((kind, serde_json::to_vec(value)?).into_response())
}

/// A JSON document about a thing just made, which is found at `address`.
///
/// # Errors
/// [`Error::Answer`] when `value` cannot be written.
pub fn created(address: &str, value: &impl Serialize) -> Result<Response, Error> {
    let mut response = json(value)?;
    *response.status_mut() = StatusCode::CREATED;
    if let Ok(address) = HeaderValue::from_str(address) {
        response.headers_mut().insert(header::LOCATION, address);
    }
    Ok(response)
}

/// Done; there is nothing to say.
pub fn done() -> Response {
    StatusCode::NO_CONTENT.into_response()
}

/// A file to be saved as `name` (letters, digits, dot, hyphen).
pub fn file(name: &str, kind: &'static str, body: impl Into<axum::body::Body>) -> Response {
    let disposition = format!("attachment; filename=\"{name}\"");
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_DISPOSITION, disposition),
    ];
    (headers, body.into()).into_response()
}
