//! How a page is shown to the person who reads it: units and words.
//!
//! Pages are made once, in SI and in US words, and kept so. On the way out [`layer`] turns the
//! text of a page, and nothing else of it, into what the reader has set: the one place where that
//! happens, for pages, printed sheets, drawings and errors alike. Downloads and the programming
//! interface stay as they are. Forms ask [`Setting`] themselves, because what stands in a field
//! comes back.
//!
//! What a page may say to it, all plain HTML:
//!
//! - `data-quantity="3.81 m"` on an element whose text is a bare number: the exact value with its
//!   unit.
//! - `data-units="as-stated"`: quantities inside stay (a working, a paraphrase of a standard).
//! - `data-for="us"` with `hidden`: shown to readers with US units only.
//! - `translate="no"`: nothing inside is changed; `code`, `pre`, `cite`, `textarea` are so by
//!   themselves.
//!
//! Names, notes and ids that a builder has written stay as they are, wherever they stand:
//! [`written`] knows them from the document that a page is about. What is in no document yet, as
//! in a form that comes back, stands under `translate="no"`.

mod page;
mod quantity;
mod setting;
mod thousands;
mod words;
mod written;

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::error::Error;
pub use setting::{Setting, Sizes, remember};
pub use thousands::grouped;
pub use words::{Words, one_spelling};
pub use written::Texts;
use written::Written;

/// Answers the reader's way. Its tag tells the settings apart, so neither the shelf of kept pages
/// nor a reader's own copy ever mixes two.
pub async fn layer(setting: Setting, mut request: Request, next: Next) -> Response {
    let texts = request.extensions().get::<Texts>().cloned();
    let path = request.uri().path().to_owned();
    let mark = setting.mark();
    let asked = own_tags(request.headers(), &mark);
    request.headers_mut().remove(header::IF_NONE_MATCH);
    if let Some(asked) = asked {
        request.headers_mut().insert(header::IF_NONE_MATCH, asked);
    }
    let is_of_service = request.uri().path().starts_with("/static/");
    let mut response = next.run(request).await;
    if is_of_service {
        return response;
    }
    let headers = response.headers_mut();
    headers.append(header::VARY, HeaderValue::from_static("Cookie"));
    let tag = headers.get(header::ETAG).and_then(|tag| tag.to_str().ok());
    let marked = tag.and_then(|tag| HeaderValue::from_str(&with_mark(tag, &mark)).ok());
    if let Some(marked) = marked {
        headers.insert(header::ETAG, marked);
    }
    let is_page = headers
        .get(header::CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    if !is_page || setting == Setting::default() {
        return response;
    }
    let written = match &texts {
        Some(texts) => texts.of_page(&path).await,
        None => Ok(Written::default()),
    };
    let written = match written {
        Ok(written) => written,
        Err(fault) => return Error::Store(fault).into_response(),
    };
    let (mut parts, body) = response.into_parts();
    let told = match to_bytes(body, usize::MAX).await {
        Ok(content) => page::told(&content, setting, written),
        Err(fault) => return Error::Answer(fault.into()).into_response(),
    };
    match told {
        Ok(content) => {
            parts.headers.remove(header::CONTENT_LENGTH);
            Response::from_parts(parts, Body::from(content))
        }
        Err(fault) => Error::Answer(fault.into()).into_response(),
    }
}

/// The tag of an answer in a setting; the usual setting has the tag of the page itself.
fn with_mark(tag: &str, mark: &str) -> String {
    match tag.strip_suffix('"') {
        Some(open) if !mark.is_empty() => format!("{open}.{mark}\""),
        _ => tag.to_owned(),
    }
}

/// The tags among those asked about that are of this setting, as the pages know them.
fn own_tags(headers: &HeaderMap, mark: &str) -> Option<HeaderValue> {
    let asked = headers.get_all(header::IF_NONE_MATCH).into_iter();
    let lists = asked.filter_map(|value| value.to_str().ok());
    let tags = lists.flat_map(|list| list.split(',')).map(str::trim);
    let own = tags.filter_map(|tag| match tag.strip_suffix('"') {
        None => Some(tag.to_owned()),
        Some(open) => match (open.rsplit_once('.'), mark) {
            (None, "") => Some(tag.to_owned()),
            (Some((open, one)), mark) if one == mark => Some(format!("{open}\"")),
            _ => None,
        },
    });
    let own: Vec<String> = own.collect();
    HeaderValue::from_str(&own.join(", "))
        .ok()
        .filter(|_| !own.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_is_known_in_its_own_setting_only() {
        let asked = |list: &'static str, mark: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::IF_NONE_MATCH, HeaderValue::from_static(list));
            own_tags(&headers, mark).map(|tags| tags.to_str().unwrap().to_owned())
        };
        assert_eq!(with_mark("\"a1\"", ""), "\"a1\"");
        assert_eq!(with_mark("\"a1\"", "us-uk"), "\"a1.us-uk\"");
        assert_eq!(asked("\"a1\"", "").unwrap(), "\"a1\"");
        assert_eq!(asked("W/\"b\", \"a1.us-uk\"", "us-uk").unwrap(), "\"a1\"");
        assert_eq!(asked("\"a1.us-uk\"", ""), None);
        assert_eq!(asked("\"a1\"", "us-uk"), None);
        assert_eq!(asked("\"a1.us\"", "us-uk"), None);
        assert_eq!(asked("*", "us").unwrap(), "*");
    }
}
