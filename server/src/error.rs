//! Everything that can go wrong, and what the caller is told: the only place with the status
//! codes of failures.
//!
//! Code below the routes returns values of [`Error`]; [`dress`], the outermost layer, turns them
//! into `application/problem+json` (RFC 9457) for the API and into a page for people. What went
//! wrong inside is logged and never shown.

use std::any::Any;
use std::fmt;

use askama::Template;
use axum::extract::Request;
use axum::extract::multipart::{MultipartError, MultipartRejection};
use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use harness_core::units::Stated;
use serde::Serialize;
use serde_json::Value;

use crate::pages::ErrorPage;
use crate::store::StoreError;

/// One thing wrong with what was sent.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fault {
    /// Where: JSON pointer (RFC 6901) into what was sent; empty for the whole of it.
    pub pointer: String,
    /// What is wrong and how to mend it.
    pub detail: String,
    /// What was given there, when that helps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub given: Option<Value>,
    /// The limit it breaks, with its unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit: Option<String>,
}

impl Fault {
    /// A fault at `pointer`.
    pub fn new(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self {
            pointer: pointer.into(),
            detail: detail.into(),
            given: None,
            limit: None,
        }
    }

    /// Says what was given.
    #[must_use]
    pub fn given(mut self, given: impl Into<Value>) -> Self {
        self.given = Some(given.into());
        self
    }

    /// Says which limit it breaks.
    #[must_use]
    pub fn limit(mut self, limit: impl Into<String>) -> Self {
        self.limit = Some(limit.into());
        self
    }

    /// Moves the fault under `place`, for a value that stands inside another.
    #[must_use]
    pub fn under(mut self, place: &str) -> Self {
        self.pointer.insert_str(0, place);
        self
    }
}

impl From<harness_core::file_format::Fault> for Fault {
    fn from(fault: harness_core::file_format::Fault) -> Self {
        let stated = |text: String| (!text.is_empty()).then_some(text);
        Self {
            pointer: fault.pointer,
            detail: fault.detail,
            given: stated(fault.given).map(Value::from),
            limit: stated(fault.limit),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.pointer.is_empty() {
            write!(f, " {}", self.pointer)?;
        }
        write!(f, ": {}", self.detail)?;
        // A number stands with the unit of its limit, so that both are read alike.
        let unit = self
            .limit
            .as_deref()
            .and_then(|limit| limit.rsplit(' ').next());
        let unit = unit.filter(|unit| Stated::of(unit).is_some());
        match &self.given {
            Some(Value::String(text)) => write!(f, " (given: {text}")?,
            Some(Value::Number(number)) if unit.is_some() => {
                write!(f, " (given: {number} {}", unit.unwrap_or_default())?;
            }
            Some(value) => write!(f, " (given: {value}")?,
            None => {}
        }
        match (&self.given, &self.limit) {
            (Some(_), Some(limit)) => write!(f, "; wanted: {limit})"),
            (Some(_), None) => write!(f, ")"),
            (None, Some(limit)) => write!(f, " (wanted: {limit})"),
            (None, None) => Ok(()),
        }
    }
}

/// Why a request is not answered as asked.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No page, call or thing has this address.
    #[error("{0}")]
    NotFound(String),
    /// The body cannot be read at all.
    #[error("{0}")]
    Unreadable(String),
    /// The body was read and holds faults.
    #[error("{} faults", .0.len())]
    Faults(Vec<Fault>),
    /// The body is not of a kind that is taken here.
    #[error("{0}")]
    MediaType(String),
    /// The body is larger than [`crate::router::BODY_LIMIT`].
    #[error("the body is too large")]
    TooLarge,
    /// The request names a host that this service is not.
    #[error("the host is not this machine")]
    OtherHost,
    /// A page of another site sent the request.
    #[error("sent from another site")]
    CrossSite,
    /// The boat asked for cannot be shown: each fault says why.
    #[error("no such boat")]
    NoBoat(Vec<Fault>),
    /// The store refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The store does not work: the answer to [`crate::routes::health`].
    #[error("the store does not work: {0}")]
    StoreDown(StoreError),
    /// It takes longer than a reader waits, and goes on: [`crate::unfinished`].
    #[error("still being worked out")]
    Unfinished,
    /// A page or document could not be made.
    #[error("the answer cannot be made: {0}")]
    Answer(Box<dyn std::error::Error + Send + Sync>),
    /// Our own code broke.
    #[error("panicked: {0}")]
    Panicked(String),
}

/// Seconds after which an unfinished answer is asked for again; asking waits for it.
const ASK_AGAIN_AFTER: &str = "2";

impl Error {
    /// For [`tower_http::catch_panic`].
    pub fn of_panic(panic: Box<dyn Any + Send>) -> Response {
        let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
        let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
        Self::Panicked(text.unwrap_or_else(|| "no text".to_owned())).into_response()
    }

    fn told(self) -> Told {
        let (status, heading, detail, next) = match self {
            Self::NotFound(detail) => (
                StatusCode::NOT_FOUND,
                "Not found",
                detail,
                "Start from the list of boat models.",
            ),
            Self::Unreadable(detail) => (
                StatusCode::BAD_REQUEST,
                "This cannot be read",
                detail,
                "Mend what was sent and send it again.",
            ),
            Self::Faults(faults) => {
                let count = faults.len();
                let detail = match count {
                    1 => "One thing is wrong with what was sent.".to_owned(),
                    _ => format!("{count} things are wrong with what was sent."),
                };
                let status = StatusCode::UNPROCESSABLE_ENTITY;
                let next = "Mend each of them and send it again; nothing was stored.";
                return Told {
                    status,
                    heading: "Not accepted",
                    detail,
                    next,
                    faults,
                };
            }
            Self::NoBoat(faults) => {
                return Told {
                    status: StatusCode::UNPROCESSABLE_ENTITY,
                    heading: "This boat cannot be shown",
                    detail: "The address asks for a boat of this model that does not exist."
                        .to_owned(),
                    next: "Take another hull or other options, or leave them out of the address.",
                    faults,
                };
            }
            Self::MediaType(detail) => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "This kind of file is not taken",
                detail,
                "Send it as named above.",
            ),
            Self::TooLarge => return Told::plain(StatusCode::PAYLOAD_TOO_LARGE),
            Self::OtherHost => (
                StatusCode::MISDIRECTED_REQUEST,
                "This address is not served",
                "The service answers only to the names of this machine.".to_owned(),
                "Open it as localhost or 127.0.0.1, with its port.",
            ),
            Self::CrossSite => return Told::plain(StatusCode::FORBIDDEN),
            Self::Store(fault) => return Told::of_store(&fault),
            Self::StoreDown(_) => (
                StatusCode::SERVICE_UNAVAILABLE,
                "The store does not work",
                "Boat models can be neither read nor saved.".to_owned(),
                "See the log of the service: is the disk full or the data folder gone?",
            ),
            Self::Unfinished => (
                StatusCode::SERVICE_UNAVAILABLE,
                "Still being worked out",
                "This takes longer than usual and is still being worked out: in a large boat model \
                 every limit is judged on every boat that can be ordered."
                    .to_owned(),
                "Nothing is lost, and the work goes on. A browser asks again by itself; else reload \
                 after a while.",
            ),
            Self::Answer(_) | Self::Panicked(_) => {
                return Told::plain(StatusCode::INTERNAL_SERVER_ERROR);
            }
        };
        Told {
            status,
            heading,
            detail,
            next,
            faults: Vec::new(),
        }
    }
}

impl IntoResponse for Error {
    fn into_response(self) -> Response {
        let cause = self.to_string();
        let again = matches!(self, Self::Unfinished);
        let told = self.told();
        if told.status.is_server_error() && !again {
            tracing::error!(status = told.status.as_u16(), cause, "request failed");
        }
        let mut response = told.status.into_response();
        if again {
            let headers = response.headers_mut();
            headers.insert(
                header::RETRY_AFTER,
                HeaderValue::from_static(ASK_AGAIN_AFTER),
            );
        }
        response.extensions_mut().insert(told);
        response
    }
}

impl From<askama::Error> for Error {
    fn from(fault: askama::Error) -> Self {
        Self::Answer(fault.into())
    }
}

impl From<serde_json::Error> for Error {
    fn from(fault: serde_json::Error) -> Self {
        Self::Answer(fault.into())
    }
}

impl From<QueryRejection> for Error {
    fn from(fault: QueryRejection) -> Self {
        Self::Faults(vec![Fault::new("", fault.body_text())])
    }
}

impl From<FormRejection> for Error {
    fn from(fault: FormRejection) -> Self {
        match fault.status() {
            StatusCode::PAYLOAD_TOO_LARGE => Self::TooLarge,
            StatusCode::UNSUPPORTED_MEDIA_TYPE => {
                Self::MediaType("A form is wanted: application/x-www-form-urlencoded.".to_owned())
            }
            _ => Self::Faults(vec![Fault::new("", fault.body_text())]),
        }
    }
}

impl From<MultipartRejection> for Error {
    fn from(_: MultipartRejection) -> Self {
        Self::MediaType("A form with a file is wanted: multipart/form-data.".to_owned())
    }
}

impl From<MultipartError> for Error {
    fn from(fault: MultipartError) -> Self {
        match fault.status() {
            StatusCode::PAYLOAD_TOO_LARGE => Self::TooLarge,
            _ => Self::Unreadable("The form arrived broken.".to_owned()),
        }
    }
}

/// A page that shows a form again, filled in as sent, with what is wrong.
pub fn form_again(page: &impl Template) -> Result<Response, Error> {
    let html = axum::response::Html(page.render()?);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, html).into_response())
}

/// What the caller is told; travels with the response until [`dress`] writes it out.
#[derive(Clone, Debug)]
struct Told {
    status: StatusCode,
    heading: &'static str,
    detail: String,
    next: &'static str,
    faults: Vec<Fault>,
}

impl Told {
    /// For answers of which only the status is known: those of the layers and of the framework.
    fn plain(status: StatusCode) -> Self {
        let (heading, detail, next) = match status {
            StatusCode::NOT_FOUND => (
                "Not found",
                "Nothing has this address.",
                "Check the address, or start from the list of boat models.",
            ),
            StatusCode::METHOD_NOT_ALLOWED => (
                "Not done at this address",
                "This address does not take this kind of request.",
                "The header `Allow` names those it takes.",
            ),
            StatusCode::FORBIDDEN => (
                "Refused",
                "A page of another site sent this request: nothing was changed.",
                "Open the page here and send it again.",
            ),
            StatusCode::PAYLOAD_TOO_LARGE => (
                "Too large",
                "What was sent is larger than 32 MiB.",
                "Boat models are far smaller: check that this is the right file.",
            ),
            StatusCode::SERVICE_UNAVAILABLE => (
                "Took too long",
                "There was no answer within 30 seconds.",
                "A change may be saved all the same: look under Revisions before sending it again. If \
                 it happens again, see the log of the service.",
            ),
            StatusCode::INTERNAL_SERVER_ERROR => (
                "Our fault",
                "Something broke inside the service. What was saved before is safe.",
                "Try again; if it happens again, see the log of the service.",
            ),
            _ => (
                "Not understood",
                "The request is not one this service knows.",
                "Check it.",
            ),
        };
        Self {
            status,
            heading,
            detail: detail.to_owned(),
            next,
            faults: Vec::new(),
        }
    }

    fn of_store(fault: &StoreError) -> Self {
        let (status, heading, next) = match fault {
            StoreError::NoModel { .. } | StoreError::NoRevision { .. } => (
                StatusCode::NOT_FOUND,
                "Not found",
                "Start from the list of boat models.",
            ),
            StoreError::IdTaken { .. } => (
                StatusCode::CONFLICT,
                "Already there",
                "Replace that boat model, or give the new one another short name.",
            ),
            StoreError::NoPartsRevision { .. } => (
                StatusCode::NOT_FOUND,
                "Not found",
                "Start from the revisions of the parts list.",
            ),
            StoreError::Conflict { .. } | StoreError::PartsConflict { .. } => (
                StatusCode::CONFLICT,
                "Changed by somebody else",
                "Look at the latest revision, then decide again; nothing was changed.",
            ),
            StoreError::Folder { .. }
            | StoreError::Open { .. }
            | StoreError::Migrate(_)
            | StoreError::Database(_) => return Self::plain(StatusCode::INTERNAL_SERVER_ERROR),
        };
        let mut detail = fault.to_string();
        detail.push('.');
        if let Some(first) = detail.get(..1).map(str::to_uppercase) {
            detail.replace_range(..1, &first);
        }
        Self {
            status,
            heading,
            detail,
            next,
            faults: Vec::new(),
        }
    }

    /// RFC 9457, with the members `next_step` and `errors` of our own.
    fn problem(&self) -> Value {
        let mut problem = serde_json::json!({
            "type": "about:blank",
            "title": self.status.canonical_reason(),
            "status": self.status.as_u16(),
            "detail": self.detail,
            "next_step": self.next,
        });
        if !self.faults.is_empty() {
            problem["errors"] = serde_json::json!(self.faults);
        }
        problem
    }

    fn page(&self) -> String {
        let page = ErrorPage::new(self.heading, &self.detail, self.next, &self.faults);
        page.render().unwrap_or_else(|fault| {
            tracing::error!(%fault, "the error page cannot be made");
            self.heading.to_owned()
        })
    }
}

/// Outermost layer: writes out every failure, ours or the framework's, as a problem document or a
/// page.
pub async fn dress(request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let for_programs = path.starts_with("/api/") || path == "/health";
    let mut response = next.run(request).await;
    let told = match response.extensions_mut().remove::<Told>() {
        Some(told) => told,
        None if is_bare_failure(&response) => Told::plain(response.status()),
        None => return response,
    };
    let (kind, body) = match for_programs {
        true => ("application/problem+json", told.problem().to_string()),
        false => ("text/html; charset=utf-8", told.page()),
    };
    let mut dressed = (told.status, body).into_response();
    let headers = dressed.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    if let Some(allow) = response.headers().get(header::ALLOW) {
        headers.insert(header::ALLOW, allow.clone());
    }
    if let Some(after) = response.headers().get(header::RETRY_AFTER) {
        headers.insert(header::RETRY_AFTER, after.clone());
        if !for_programs {
            headers.insert(header::REFRESH, after.clone());
        }
    }
    dressed
}

fn is_bare_failure(response: &Response) -> bool {
    let is_page = response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    !is_page && (response.status().is_client_error() || response.status().is_server_error())
}
