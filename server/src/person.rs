//! Who is at work: until there are accounts, a name that a person sets once and the browser keeps.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::Response;
use percent_encoding::{NON_ALPHANUMERIC, percent_decode_str, utf8_percent_encode};

use crate::intake::{LINE_MAX, NOT_STATED};

const COOKIE: &str = "who";
/// How long the browser keeps what a person set: a year, in seconds.
pub const KEPT_FOR: u32 = 31_536_000;

/// The name the browser sent; empty when none was set.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Person(pub String);

/// The value of a cookie that was sent.
pub fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let cookies = headers.get_all(header::COOKIE).into_iter();
    let texts = cookies.filter_map(|value| value.to_str().ok());
    let mut pairs = texts
        .flat_map(|text| text.split(';'))
        .filter_map(|pair| pair.trim().split_once('='));
    let found = pairs.find(|(one, _)| *one == name);
    found.map(|(_, value)| value)
}

impl<S: Sync> FromRequestParts<S> for Person {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Self::Rejection> {
        let found = cookie(&parts.headers, COOKIE);
        let name = found.and_then(|value| percent_decode_str(value).decode_utf8().ok());
        let name = name.map_or_else(String::new, |name| name.into_owned());
        // Whoever wrote the cookie, it is no more than one line of a form.
        let fits = name.chars().count() <= LINE_MAX && !name.chars().any(char::is_control);
        Ok(Self(if fits { name } else { String::new() }))
    }
}

/// Has the browser keep the name that stood in a form.
pub fn remember(mut response: Response, who: &str) -> Response {
    if who.is_empty() || who == NOT_STATED {
        return response;
    }
    let value = utf8_percent_encode(who, NON_ALPHANUMERIC);
    let cookie = format!("{COOKIE}={value}; Path=/; Max-Age={KEPT_FOR}; HttpOnly; SameSite=Lax");
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, cookie);
    }
    response
}

#[cfg(test)]
mod tests {
    use axum::http::Request;
    use axum::response::IntoResponse;

    use super::*;

    async fn read(cookie: &str) -> String {
        let request = Request::get("/").header(header::COOKIE, cookie);
        let (mut parts, ()) = request.body(()).unwrap().into_parts();
        let Ok(Person(name)) = Person::from_request_parts(&mut parts, &()).await;
        name
    }

    #[tokio::test]
    async fn a_name_comes_back_as_it_was_given() {
        for name in ["Ada", "Zoë; Müller = 3", "名"] {
            let response = remember(().into_response(), name);
            let cookie = response.headers()[header::SET_COOKIE].to_str().unwrap();
            let (pair, _) = cookie.split_once(';').unwrap();
            assert_eq!(read(&format!("other=1; {pair}")).await, name);
        }
        assert!(
            remember(().into_response(), NOT_STATED)
                .headers()
                .is_empty()
        );
        for odd in ["", "who", "who=%00", "who=%FF", "whose=Ada"] {
            assert_eq!(read(odd).await, "", "{odd}");
        }
        assert_eq!(read(&format!("who={}", "a".repeat(LINE_MAX + 1))).await, "");
    }
}
