//! What every request passes before, and every answer after, the routes.

use std::net::IpAddr;

use axum::extract::Request;
use axum::http::header::HOST;
use axum::http::uri::Authority;
use axum::http::{HeaderName, HeaderValue};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tower_http::csrf::ProtectionError;

use crate::error::Error;

/// Sent with every answer. Pages load nothing from elsewhere, run no inline script, and stand in
/// no frame.
pub const HEADERS: &[(&str, &str)] = &[
    (
        "content-security-policy",
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; \
         form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    (
        "permissions-policy",
        "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    ),
];

/// Adds [`HEADERS`].
pub async fn headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    for &(name, value) in HEADERS {
        let name = HeaderName::from_static(name);
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}

/// Refuses requests meant for another host. The service listens on this machine only; without
/// this check a page elsewhere could point a name of its own at this machine and read everything.
pub async fn this_machine(request: Request, next: Next) -> Response {
    let host = request.headers().get(HOST).map(HeaderValue::as_bytes);
    match host.is_none_or(is_this_machine) {
        true => next.run(request).await,
        false => Error::OtherHost.into_response(),
    }
}

fn is_this_machine(host: &[u8]) -> bool {
    let Ok(authority) = Authority::try_from(host) else {
        return false;
    };
    let name = authority
        .host()
        .trim_start_matches('[')
        .trim_end_matches(']');
    match name.parse::<IpAddr>() {
        Ok(address) => address.is_loopback(),
        Err(_) => {
            let name = name.trim_end_matches('.').to_ascii_lowercase();
            name == "localhost" || name.ends_with(".localhost")
        }
    }
}

/// Answer to a change sent by a page of another site.
pub fn cross_site(_: ProtectionError) -> Response {
    Error::CrossSite.into_response()
}

#[cfg(test)]
mod tests {
    use super::is_this_machine;

    #[test]
    fn names_of_this_machine() {
        for own in [
            "localhost:8080",
            "LOCALHOST",
            "a.localhost",
            "127.0.0.1:1",
            "127.8.8.8",
            "[::1]:80",
        ] {
            assert!(is_this_machine(own.as_bytes()), "{own}");
        }
        for other in [
            "",
            "example.org",
            "localhost.example.org",
            "10.0.0.1",
            "[::2]:80",
            "notlocalhost",
        ] {
            assert!(!is_this_machine(other.as_bytes()), "{other}");
        }
    }
}
