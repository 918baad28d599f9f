//! Answers not sent twice (RFC 9110, 13): an answer unchanged since the last visit is 304.
//!
//! [`layer`] does it for every answer by itself. A page that costs much to make asks [`seen`]
//! first, with everything it depends on.

use std::sync::LazyLock;
use std::time::SystemTime;

use axum::body::{Body, HttpBody, to_bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use crate::error::Error;

/// Tells apart answers of another run, which may have been another version of the service.
static RUN: LazyLock<String> = LazyLock::new(|| format!("{:?}", SystemTime::now()));

/// Quoted entity tag of some content.
pub fn tag(content: &[u8]) -> String {
    let digest = Sha256::digest(content);
    let hex: String = digest
        .iter()
        .take(12)
        .map(|byte| format!("{byte:02x}"))
        .collect();
    format!("\"{hex}\"")
}

/// Entity tag of a page that depends on `parts` only (model stamp, boat in view, page ...).
pub fn tag_of(parts: &[&str]) -> String {
    let mut content = RUN.clone();
    for part in parts {
        content.push('\n');
        content.push_str(part);
    }
    tag(content.as_bytes())
}

/// The answer 304, when the reader already has the page with this tag; otherwise the page must be
/// made and sent through [`tagged`].
pub fn seen(headers: &HeaderMap, tag: &str) -> Option<Response> {
    let matches = headers.get_all(header::IF_NONE_MATCH).iter().any(|value| {
        value.to_str().is_ok_and(|list| {
            list.split(',')
                .map(str::trim)
                .any(|one| one == "*" || one.trim_start_matches("W/") == tag)
        })
    });
    matches.then(|| tagged(StatusCode::NOT_MODIFIED.into_response(), tag))
}

/// Marks an answer with its tag.
pub fn tagged(mut response: Response, tag: &str) -> Response {
    if let Ok(tag) = HeaderValue::from_str(tag) {
        response.headers_mut().insert(header::ETAG, tag);
    }
    response
}

/// Tags every answer to GET that carries no tag yet and answers 304 where the reader has it. The
/// reader may keep an answer, but asks each time whether it still holds.
pub async fn layer(request: Request, next: Next) -> Response {
    if request.method() != Method::GET {
        return next.run(request).await;
    }
    let asked = request.headers().clone();
    let mut response = next.run(request).await;
    if !(response.status().is_success() || response.status() == StatusCode::NOT_MODIFIED) {
        return response;
    }
    let headers = response.headers_mut();
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-cache"));
    // A body of unknown size is a stream: it is not held back to be counted.
    if headers.contains_key(header::ETAG) || response.body().size_hint().exact().is_none() {
        return response;
    }
    let (parts, body) = response.into_parts();
    let content = match to_bytes(body, usize::MAX).await {
        Ok(content) => content,
        Err(fault) => return Error::Answer(fault.into()).into_response(),
    };
    let tag = tag(&content);
    match seen(&asked, &tag) {
        Some(mut unchanged) => {
            let kept = parts.headers.get(header::CACHE_CONTROL).cloned();
            unchanged
                .headers_mut()
                .extend(kept.map(|value| (header::CACHE_CONTROL, value)));
            unchanged
        }
        None => tagged(Response::from_parts(parts, Body::from(content)), &tag),
    }
}
