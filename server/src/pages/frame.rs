//! The frame around every page: what stands above and below its own content.

use harness_core::model::{BoatOption, Index, OptionIndex};
use harness_core::tables;

use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::{Addresses, View};

/// Pages of a boat model, in the order of the row of links: end of the address, words shown.
const MODEL_PAGES: &[(&str, &str)] = &[
    ("", "Overview"),
    ("failing", "Circuits that fail"),
    ("circuits", "Circuits"),
    ("zones", "Zones"),
    ("options", "Options"),
    ("boats", "Boats"),
    ("sheets", "Sheets"),
    ("rules", "Rules"),
    ("edit", "Change"),
    ("revisions", "Revisions"),
];

/// Pages of no boat model.
const SITE_PAGES: &[(&str, &str)] = &[
    ("/models", "Boat models"),
    ("/models/import", "Import a boat model"),
    ("/parts", "Parts list"),
    ("/one-circuit", "One circuit"),
    ("/harness-contents", "Harness contents"),
    ("/rules", "Rules"),
    ("/verification", "Verification"),
];

/// Address of the page of a boat model that a reader sees first.
pub fn first_page(id: &str) -> String {
    Addresses::new(id, AskedBoat::Every).to(&[])
}

/// A link of the row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Where it leads.
    pub href: String,
    /// Its words.
    pub text: &'static str,
    /// Whether it is the page shown.
    pub is_here: bool,
}

/// A step of the way from the list of boat models to the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crumb {
    /// Where it leads.
    pub href: String,
    /// Its words.
    pub text: String,
}

/// The boat model on the page, at which revision, and which of its boats.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InView {
    /// Id of the boat model.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Revision shown.
    pub revision: i64,
    /// When it was recorded, RFC 3339.
    pub recorded_at: String,
    /// Who recorded it.
    pub who: String,
    /// The boat in view, in words.
    pub boat: String,
    /// Addresses of its pages; each keeps the boat.
    pub addresses: Addresses,
    /// Options of the boat in view, in words.
    pub options: Vec<String>,
    /// Hulls that can be put in view; none on pages that show no boat.
    pub hulls: Vec<String>,
}

impl InView {
    /// Address of the search in this model; the form carries the boat in a field of its own.
    pub fn search_href(&self) -> String {
        self.addresses.of_boat(AskedBoat::Every).to(&["search"])
    }

    /// The hull in view; empty when there is none.
    pub fn hull(&self) -> &str {
        match self.addresses.boat() {
            AskedBoat::Hull(hull) => hull,
            _ => "",
        }
    }

    /// Codes of the options asked for; empty when none were.
    pub fn asked_options(&self) -> String {
        match self.addresses.boat() {
            AskedBoat::Options(codes) => codes.join(","),
            _ => String::new(),
        }
    }
}

impl From<&RevisionHead> for InView {
    /// All buildable boats are in view.
    fn from(head: &RevisionHead) -> Self {
        Self {
            id: head.model_id.clone(),
            name: head.name.clone(),
            revision: head.number,
            recorded_at: head.recorded_at.clone(),
            who: head.who.clone(),
            boat: "all buildable boats".to_owned(),
            addresses: Addresses::new(head.model_id.clone(), AskedBoat::Every),
            options: Vec::new(),
            hulls: Vec::new(),
        }
    }
}

impl From<&View> for InView {
    fn from(view: &View) -> Self {
        let model = &view.study.model;
        let option = |(at, option): (Index<BoatOption>, &BoatOption)| {
            let fitted = view.study.boat.has(OptionIndex(at.number()));
            let name = option.name.as_deref().unwrap_or("no name stated");
            fitted.then(|| format!("{}: {name}", option.id))
        };
        Self {
            boat: view.boat_words(),
            addresses: view.addresses.clone(),
            options: model.options.iter().filter_map(option).collect(),
            hulls: model
                .hulls
                .iter()
                .map(|(_, hull)| hull.id.clone())
                .collect(),
            ..Self::from(&view.head)
        }
    }
}

/// The frame of one page. Every template that extends `layout.html` has it as `frame`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Frame {
    /// Heading of the page, and its title.
    pub title: String,
    /// The page shows a form that was not accepted.
    pub is_form_again: bool,
    /// Way from the list of boat models.
    pub crumbs: Vec<Crumb>,
    /// The boat model on the page.
    pub model: Option<InView>,
    /// Text in the search box.
    pub search: String,
    /// What the results on the page rest on: tables with their versions, rule sets.
    pub rests_on: Vec<String>,
    /// The page shown, as it stands in the row of links.
    pub here: &'static str,
}

impl Frame {
    /// Frame of a page headed `title`.
    pub fn new(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            ..Self::default()
        }
    }

    /// Puts a boat model in view; `here` is the end of the address in the row of links.
    #[must_use]
    pub fn of_model(mut self, model: impl Into<InView>, here: &'static str) -> Self {
        self.model = Some(model.into());
        self.here = here;
        self.under("Boat models", "/models")
    }

    /// Marks a page of no boat model as the one shown in the row of links.
    #[must_use]
    pub fn at(mut self, here: &'static str) -> Self {
        self.here = here;
        self
    }

    /// Frame of a page of a boat model with a boat in view.
    pub fn of(title: impl Into<String>, view: &View, here: &'static str) -> Self {
        let settings = &view.study.model.settings;
        let sets = settings.rule_sets.iter();
        let sets: Vec<_> = sets.map(|set| tables::rule_set::title(*set)).collect();
        let mut frame = Self::new(title).of_model(view, here);
        frame.rests_on = vec![
            format!("rule sets: {}", sets.join(", ")),
            format!("resistance: {}", settings.drop_basis.word()),
            format!("bundles: {}", settings.dc_bundling.word()),
            format!("stamp {}", view.head.stamp),
        ];
        frame
    }

    /// Adds a step to the way to this page.
    #[must_use]
    pub fn under(mut self, text: impl Into<String>, href: impl Into<String>) -> Self {
        self.crumbs.push(Crumb {
            href: href.into(),
            text: text.into(),
        });
        self
    }

    /// Over or on which boats limits are judged, for a sentence.
    pub fn limits_on(&self) -> &'static str {
        match self.is_every() {
            true => "over all buildable boats",
            false => "on the boat in view",
        }
    }

    /// The boat that is drawn and counted where one has to be.
    pub fn boat_drawn(&self) -> &'static str {
        match self.is_every() {
            true => "the buildable boat with the most options",
            false => "the boat in view",
        }
    }

    /// Whether all buildable boats are in view.
    pub fn is_every(&self) -> bool {
        let model = self.model.as_ref();
        model.is_some_and(|model| *model.addresses.boat() == AskedBoat::Every)
    }

    /// The row of links.
    pub fn links(&self) -> Vec<Link> {
        let pages = if self.model.is_some() {
            MODEL_PAGES
        } else {
            SITE_PAGES
        };
        let link = |&(end, text): &(&'static str, &'static str)| Link {
            href: match &self.model {
                Some(model) if end.is_empty() => model.addresses.to(&[]),
                Some(model) => model.addresses.to(&[end]),
                None => end.to_owned(),
            },
            text,
            is_here: end == self.here,
        };
        pages.iter().map(link).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_boat_in_view_is_kept_in_every_link() {
        let model = InView {
            id: "launch-92".to_owned(),
            name: "Launch".to_owned(),
            revision: 3,
            recorded_at: "2026-01-02T03:04:05Z".to_owned(),
            who: "A".to_owned(),
            boat: "hull 0147".to_owned(),
            addresses: Addresses::new("launch-92", AskedBoat::Hull("0147".to_owned())),
            options: Vec::new(),
            hulls: Vec::new(),
        };
        let frame = Frame::new("Revisions").of_model(model, "revisions");
        let links = frame.links();
        assert!(links.iter().all(|link| link.href.ends_with("?hull=0147")));
        assert_eq!(links.iter().filter(|link| link.is_here).count(), 1);
        assert_eq!(first_page("a"), "/models/a");
    }
}
