//! The answer to a search.

use askama::Template;

use super::Frame;
use crate::store::RevisionHead;

/// What was found.
#[derive(Debug, Template)]
#[template(path = "search.html")]
pub struct SearchPage {
    frame: Frame,
    models: Vec<RevisionHead>,
}

impl SearchPage {
    /// The boat models found for `asked`.
    pub fn new(asked: &str, models: Vec<RevisionHead>) -> Self {
        let frame = Frame::new("Search").under("Boat models", "/models");
        Self {
            frame: Frame {
                search: asked.to_owned(),
                ..frame
            },
            models,
        }
    }
}
