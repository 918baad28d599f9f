//! The page that says what went wrong.

use askama::Template;

use super::Frame;
use crate::error::Fault;

/// What went wrong and what to do next.
#[derive(Debug, Template)]
#[template(path = "error.html")]
pub struct ErrorPage<'a> {
    frame: Frame,
    detail: &'a str,
    next: &'a str,
    faults: &'a [Fault],
}

impl<'a> ErrorPage<'a> {
    /// A page headed `heading`.
    pub fn new(heading: &str, detail: &'a str, next: &'a str, faults: &'a [Fault]) -> Self {
        let frame = Frame::new(heading).under("Boat models", "/models");
        Self {
            frame,
            detail,
            next,
            faults,
        }
    }
}
