//! Units and words of a person.

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Query};
use axum::http::{HeaderMap, Uri, header};
use axum::response::Response;
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::SettingsPage;
use crate::shown::{self, Setting};

/// Address of the page.
const HERE: &str = "/settings";

/// Query of [`settings`].
#[derive(Debug, Default, Deserialize)]
pub struct Asked {
    #[serde(default)]
    saved: String,
    #[serde(default)]
    back: String,
}

/// `GET /settings`
pub async fn settings(
    setting: Setting,
    headers: HeaderMap,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    let from = headers
        .get(header::REFERER)
        .and_then(|from| from.to_str().ok());
    let back = match (asked.back.as_str(), from) {
        ("", Some(from)) => own_page(from),
        (back, _) => own_page(back),
    };
    answer::page(&SettingsPage::new(setting, back, !asked.saved.is_empty()))
}

/// Form of [`keep`].
#[derive(Debug, Deserialize)]
pub struct Chosen {
    #[serde(default)]
    units: String,
    #[serde(default)]
    sizes: String,
    #[serde(default)]
    words: String,
    #[serde(default)]
    back: String,
}

/// `POST /settings`: form of `units` (si, us), `sizes` (ordered, both), `words` (us, uk), and
/// `back`, the page to return to.
pub async fn keep(form: Result<Form<Chosen>, FormRejection>) -> Result<Response, Error> {
    let Form(chosen) = form?;
    let units = if chosen.units == "us" { "us" } else { "" };
    let sizes = if chosen.sizes == "both" { "both" } else { "" };
    let words = if chosen.words == "uk" { "uk" } else { "" };
    let setting = Setting::of_mark(&[units, sizes, words].join("-"));
    let to = match own_page(&chosen.back) {
        back if back == HERE => format!("{HERE}?saved=yes"),
        back => back,
    };
    Ok(shown::remember(answer::go_to(&to), setting))
}

/// Path and query of a page of this service: the reader is sent nowhere else.
fn own_page(address: &str) -> String {
    let uri = address.parse::<Uri>().ok();
    let path = uri.as_ref().and_then(Uri::path_and_query);
    match path.map(|path| path.as_str()) {
        Some(path) if path.starts_with('/') && !path.starts_with("//") && !is_here(path) => {
            path.to_owned()
        }
        _ => HERE.to_owned(),
    }
}

fn is_here(path: &str) -> bool {
    path.split('?').next() == Some(HERE)
}

#[cfg(test)]
mod tests {
    use super::own_page;

    #[test]
    fn the_reader_is_sent_back_to_a_page_of_the_service_only() {
        for (address, page) in [
            ("/models/a?hull=1", "/models/a?hull=1"),
            ("http://localhost:8080/models", "/models"),
            ("http://example.org/models", "/models"),
            ("//example.org/x", "/settings"),
            ("http://example.org//evil.example", "/settings"),
            ("javascript:alert(1)", "/settings"),
            ("", "/settings"),
            ("http://localhost/settings?saved=yes", "/settings"),
        ] {
            assert_eq!(own_page(address), page, "{address}");
        }
    }
}
