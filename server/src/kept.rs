//! Pages kept as they were sent, until a boat model changes.
//!
//! A page is made from the store alone, and the store changes only through this process, which
//! counts its changes: a page made at one count is right as long as the count stands. The shelf
//! is bounded and emptied when full, which costs no more than making the pages again.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use axum::body::{Body, Bytes, HttpBody, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::conditional;
use crate::error::Error;
use crate::router::AppState;

/// Most bytes of pages kept.
const MOST_BYTES: usize = 32 * 1024 * 1024;
/// Largest page kept.
const LARGEST_PAGE: usize = 2 * 1024 * 1024;
/// Longest address kept: longer ones are questions typed by somebody, seldom asked twice.
const LONGEST_ADDRESS: usize = 200;

/// The shelf of kept pages.
#[derive(Clone, Debug, Default)]
pub struct Kept(Arc<Mutex<Shelf>>);

#[derive(Debug, Default)]
struct Shelf {
    /// Count of changes of the store at which the pages were made.
    changes: u64,
    bytes: usize,
    pages: BTreeMap<String, Page>,
}

#[derive(Clone, Debug)]
struct Page {
    headers: HeaderMap,
    content: Bytes,
    tag: String,
}

impl Kept {
    fn find(&self, address: &str, changes: u64) -> Option<Page> {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        (shelf.changes == changes)
            .then(|| shelf.pages.get(address).cloned())
            .flatten()
    }

    fn put(&self, address: String, page: Page, changes: u64) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let size = page.content.len() + address.len();
        if changes > shelf.changes || shelf.bytes + size > MOST_BYTES {
            *shelf = Shelf {
                changes,
                ..Shelf::default()
            };
        }
        if shelf.changes == changes && shelf.pages.insert(address, page).is_none() {
            shelf.bytes += size;
        }
    }
}

impl Page {
    /// The page, or that the reader has it already.
    fn answer(self, asked: &HeaderMap) -> Response {
        if let Some(mut unchanged) = conditional::seen(asked, &self.tag) {
            let control = self.headers.get(header::CACHE_CONTROL).cloned();
            unchanged
                .headers_mut()
                .extend(control.map(|value| (header::CACHE_CONTROL, value)));
            return unchanged;
        }
        let mut response = Response::new(Body::from(self.content));
        *response.headers_mut() = self.headers;
        response
    }
}

/// Whether the answer to this address depends on the store and the address alone.
fn is_kept(request: &Request) -> bool {
    let address = request.uri();
    let path = address.path();
    let long = address
        .path_and_query()
        .map_or(0, |whole| whole.as_str().len());
    let pages = path == "/" || path.starts_with("/models") || path.starts_with("/api/models");
    let fixed = path.starts_with("/rules") || path.starts_with("/verification");
    // Their forms hold the reader's own name.
    let own = ["/edit", "/revisions", "/options/add", "/spreadsheet"];
    let own = own.iter().any(|part| path.contains(part));
    request.method() == Method::GET && (pages || fixed) && !own && long <= LONGEST_ADDRESS
}

/// Answers from the shelf where it can, and keeps what it could not.
pub async fn layer(State(state): State<AppState>, mut request: Request, next: Next) -> Response {
    if !is_kept(&request) {
        return next.run(request).await;
    }
    let address = request.uri().to_string();
    let changes = state.store.changes();
    // What is kept is the whole page, so the reader's own copy is asked about afterwards.
    let mut asked = HeaderMap::new();
    if let Some(tag) = request.headers_mut().remove(header::IF_NONE_MATCH) {
        asked.insert(header::IF_NONE_MATCH, tag);
    }
    if let Some(page) = state.kept.find(&address, changes) {
        return page.answer(&asked);
    }
    let response = next.run(request).await;
    let size = response.body().size_hint().exact();
    let tag = response
        .headers()
        .get(header::ETAG)
        .and_then(|tag| tag.to_str().ok());
    let (Some(tag), Some(size), StatusCode::OK) = (tag, size, response.status()) else {
        return response;
    };
    let tag = tag.to_owned();
    let (parts, body) = response.into_parts();
    let content = match to_bytes(body, usize::MAX).await {
        Ok(content) => content,
        Err(fault) => return Error::Answer(fault.into()).into_response(),
    };
    let page = Page {
        headers: parts.headers,
        content,
        tag,
    };
    if size <= LARGEST_PAGE as u64 && changes == state.store.changes() {
        state.kept.put(address, page.clone(), changes);
    }
    page.answer(&asked)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(size: usize) -> Page {
        let content = Bytes::from(vec![b'x'; size]);
        Page {
            headers: HeaderMap::new(),
            content,
            tag: "\"1\"".to_owned(),
        }
    }

    #[test]
    fn a_change_of_the_store_empties_the_shelf() {
        let kept = Kept::default();
        kept.put("/a".to_owned(), page(1), 1);
        assert!(kept.find("/a", 1).is_some());
        assert!(kept.find("/a", 2).is_none());
        kept.put("/b".to_owned(), page(1), 2);
        assert!(kept.find("/a", 2).is_none() && kept.find("/b", 2).is_some());
        // A page made before the change comes too late.
        kept.put("/a".to_owned(), page(1), 1);
        assert!(kept.find("/a", 1).is_none() && kept.find("/a", 2).is_none());
    }

    #[test]
    fn the_shelf_stays_bounded() {
        let kept = Kept::default();
        for number in 0..40 {
            kept.put(format!("/{number}"), page(LARGEST_PAGE), 1);
        }
        let shelf = kept.0.lock().unwrap();
        assert!(shelf.bytes <= MOST_BYTES && !shelf.pages.is_empty());
    }
}
