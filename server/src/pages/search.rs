//! The answer to a search.

use askama::Template;

use super::Frame;
use super::findings::Linked;
use crate::view::View;

/// One thing found.
#[derive(Clone, Debug)]
pub struct Found {
    /// Its name, and where it leads.
    pub thing: Linked,
    /// What it is.
    pub kind: &'static str,
    /// More words about it; may be empty.
    pub about: String,
}

/// What was found.
#[derive(Debug, Template)]
#[template(path = "search.html")]
pub struct SearchPage {
    frame: Frame,
    found: Vec<Found>,
    hidden: usize,
    all: Linked,
}

/// Most things shown; who finds more needs another word.
const SHOWN: usize = 200;

impl SearchPage {
    /// The boat models found for `asked`.
    pub fn of_models(asked: &str, found: Vec<Found>) -> Self {
        let frame = Frame::new("Search").under("Boat models", "/models");
        let all = Linked {
            text: "All boat models".to_owned(),
            href: "/models".to_owned(),
        };
        Self::new(frame, asked, found, all)
    }

    /// The things of one boat model found for `asked`.
    pub fn in_model(view: &View, asked: &str, found: Vec<Found>) -> Self {
        let all = Linked {
            text: "All circuits".to_owned(),
            href: view.addresses.to(&["circuits"]),
        };
        Self::new(Frame::of("Search", view, "search"), asked, found, all)
    }

    fn new(frame: Frame, asked: &str, mut found: Vec<Found>, all: Linked) -> Self {
        let hidden = found.len().saturating_sub(SHOWN);
        found.truncate(SHOWN);
        Self {
            frame: Frame {
                search: asked.to_owned(),
                ..frame
            },
            found,
            hidden,
            all,
        }
    }
}
