//! Reading a JSON body.

use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{FromRequest, Request};
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use serde::de::DeserializeOwned;
use serde_path_to_error::{Path, Segment};

use crate::error::{Error, Fault};

/// A JSON body read into `T`. What is not JSON at all is refused with line and column; what is
/// JSON but not a `T`, with a pointer to the place.
#[derive(Clone, Copy, Debug)]
pub struct ApiJson<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for ApiJson<T> {
    type Rejection = Error;

    async fn from_request(request: Request, state: &S) -> Result<Self, Error> {
        let kind = request
            .headers()
            .get(header::CONTENT_TYPE)
            .and_then(|kind| kind.to_str().ok());
        if !kind.is_some_and(is_json) {
            let given = kind.unwrap_or("none");
            let detail = format!("JSON is wanted: Content-Type: application/json, not {given}.");
            return Err(Error::MediaType(detail));
        }
        let bytes = Bytes::from_request(request, state).await.map_err(unread)?;
        parse(&bytes).map(Self)
    }
}

fn is_json(kind: &str) -> bool {
    let essence = kind
        .split(';')
        .next()
        .unwrap_or_default()
        .trim()
        .to_ascii_lowercase();
    essence == "application/json"
        || (essence.starts_with("application/") && essence.ends_with("+json"))
}

fn unread(rejection: BytesRejection) -> Error {
    match rejection.into_response().status() {
        StatusCode::PAYLOAD_TOO_LARGE => Error::TooLarge,
        _ => Error::Unreadable("The body arrived broken.".to_owned()),
    }
}

fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Error> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|fault| {
        let pointer = pointer(fault.path());
        explain(pointer, fault.inner())
    })?;
    reader
        .end()
        .map_err(|fault| explain(String::new(), &fault))?;
    Ok(value)
}

fn explain(mut pointer: String, fault: &serde_json::Error) -> Error {
    let text = fault.to_string();
    if !fault.is_data() {
        return Error::Unreadable(format!("The body is not JSON: {text}."));
    }
    // serde points at the object; the name of the member stands in its text only.
    for start in ["unknown field `", "missing field `"] {
        let member = text
            .strip_prefix(start)
            .and_then(|rest| rest.split('`').next());
        let escaped = member
            .map(escape)
            .filter(|member| !pointer.ends_with(&format!("/{member}")));
        pointer.extend(escaped.map(|member| format!("/{member}")));
    }
    Error::Faults(vec![Fault::new(pointer, text)])
}

/// JSON pointer (RFC 6901) of a place that serde names.
fn pointer(path: &Path) -> String {
    path.iter().fold(String::new(), |mut pointer, segment| {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } | Segment::Enum { variant: key } => {
                pointer.push_str(&format!("/{}", escape(key)));
            }
            Segment::Unknown => {}
        }
        pointer
    })
}

fn escape(member: &str) -> String {
    member.replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code, reason = "only reading is tested")]
    struct Sent {
        rows: Vec<BTreeMap<String, u8>>,
    }

    fn faulty(text: &str) -> Vec<Fault> {
        match parse::<Sent>(text.as_bytes()) {
            Err(Error::Faults(faults)) => faults,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_fault_points_to_its_place() {
        assert_eq!(
            faulty(r#"{"rows": [{}, {"a/b~c": "x"}]}"#)[0].pointer,
            "/rows/1/a~1b~0c"
        );
        assert_eq!(faulty(r#"{"rows": [], "colour": 1}"#)[0].pointer, "/colour");
        assert_eq!(faulty("{}")[0].pointer, "/rows");
        assert_eq!(faulty("[]")[0].pointer, "");
    }

    #[test]
    fn what_is_not_json_is_told_with_its_place() {
        for text in ["", "{", "{\"rows\": []} x", "{\"rows\": [\u{1}]}"] {
            match parse::<Sent>(text.as_bytes()) {
                Err(Error::Unreadable(detail)) => assert!(detail.contains("line 1"), "{detail}"),
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn kinds_that_are_json() {
        assert!(is_json("Application/JSON; charset=utf-8") && is_json("application/x+json"));
        assert!(!is_json("text/plain") && !is_json("text/json") && !is_json(""));
    }
}
