//! What a reader has set, kept by the browser.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use harness_core::units::UnitSystem;

use super::Words;
use crate::person::{KEPT_FOR, cookie};

const COOKIE: &str = "shown";

/// How the size of a conductor is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sizes {
    /// As the boat model states it.
    #[default]
    AsOrdered,
    /// As the boat model states it, with mm² beside a gauge and circular mils beside mm².
    Both,
}

/// How one person reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Setting {
    /// Units of lengths, areas, temperatures and masses.
    pub units: UnitSystem,
    /// Sizes of conductors.
    pub sizes: Sizes,
    /// Words of the trade.
    pub words: Words,
}

impl Setting {
    /// From the parts of a mark, whoever wrote it: what is unknown leaves the usual.
    pub fn of_mark(mark: &str) -> Self {
        let has = |wanted: &str| mark.split('-').any(|part| part == wanted);
        Self {
            units: match has("us") {
                true => UnitSystem::Us,
                false => UnitSystem::Si,
            },
            sizes: match has("both") {
                true => Sizes::Both,
                false => Sizes::AsOrdered,
            },
            words: match has("uk") {
                true => Words::Uk,
                false => Words::Us,
            },
        }
    }

    /// What differs from the usual, joined by `-`; empty for the usual.
    pub fn mark(self) -> String {
        let units = (self.units == UnitSystem::Us).then_some("us");
        let sizes = (self.sizes == Sizes::Both).then_some("both");
        let words = (self.words == Words::Uk).then_some("uk");
        let parts: Vec<&str> = [units, sizes, words].into_iter().flatten().collect();
        parts.join("-")
    }
}

impl<S: Sync> FromRequestParts<S> for Setting {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Self::Rejection> {
        Ok(cookie(&parts.headers, COOKIE).map_or_else(Self::default, Self::of_mark))
    }
}

/// Has the browser keep a setting.
pub fn remember(mut response: Response, setting: Setting) -> Response {
    let mark = setting.mark();
    let text = format!("{COOKIE}={mark}; Path=/; Max-Age={KEPT_FOR}; HttpOnly; SameSite=Lax");
    if let Ok(cookie) = HeaderValue::from_str(&text) {
        response.headers_mut().append(header::SET_COOKIE, cookie);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_setting_comes_back_from_its_mark() {
        for units in [UnitSystem::Si, UnitSystem::Us] {
            for sizes in [Sizes::AsOrdered, Sizes::Both] {
                for words in [Words::Us, Words::Uk] {
                    let setting = Setting {
                        units,
                        sizes,
                        words,
                    };
                    assert_eq!(Setting::of_mark(&setting.mark()), setting);
                }
            }
        }
        for odd in ["", "x", "usuk", "US", "-"] {
            assert_eq!(Setting::of_mark(odd), Setting::default(), "{odd}");
        }
    }
}
