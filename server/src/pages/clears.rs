//! What clears a limit that fails: single changes, each tried on every boat.

use askama::Template;
use harness_core::cures::{Cure, cures, title};
use harness_core::file_format::PartsRecord;
use harness_core::rules::Finding;
use serde::Deserialize;

use super::Frame;
use super::effect::CostWords;
use super::findings::{FindingRow, Linked};
use crate::error::Error;
use crate::studies::AskedBoat;
use crate::view::{Addresses, View};

/// The limit asked about, as an address names it.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct AskedLimit {
    #[serde(default)]
    rule: String,
    #[serde(default)]
    at: String,
    #[serde(default)]
    set: String,
}

/// One change with what it does.
#[derive(Clone, Debug)]
pub struct CureRow {
    change: String,
    clears: bool,
    cleared: Vec<String>,
    created: Vec<String>,
    copper: String,
    cost: CostWords,
}

/// The page.
#[derive(Debug, Template)]
#[template(path = "models/clears.html")]
pub struct ClearsPage {
    frame: Frame,
    limit: String,
    row: Option<FindingRow>,
    rows: Vec<CureRow>,
    every_href: String,
    is_every: bool,
    back: Linked,
}

/// Address of the page for one failing limit.
pub fn address(
    to: &Addresses,
    model: &harness_core::model::BoatModel,
    finding: &Finding,
) -> String {
    let set = finding.rule_set.map_or("", |set| set.word());
    let at = finding.place.label(model);
    let every = to.of_boat(AskedBoat::Every);
    every.with(
        &["clears"],
        &[("rule", finding.rule), ("at", &at), ("set", set)],
    )
}

impl ClearsPage {
    /// Tries changes for the limit; what they cost is told by the builder's parts list.
    ///
    /// # Errors
    /// [`Error::NotFound`] when no such limit fails.
    pub fn new(view: &View, asked: &AskedLimit, list: &PartsRecord) -> Result<Self, Error> {
        let study = &*view.study;
        let is_asked = |finding: &Finding| {
            finding.fails()
                && finding.rule == asked.rule
                && finding.place.label(&study.model) == asked.at
                && finding.rule_set.map_or("", |set| set.word()) == asked.set
        };
        let number = study.findings.iter().position(is_asked).ok_or_else(|| {
            Error::NotFound(format!(
                "No limit of the rule “{}” fails at “{}”: it may have been cleared. See the \
                 circuits that fail.",
                asked.rule, asked.at
            ))
        })?;
        let finding = &study.findings[number];
        let is_every = study.every.is_some();
        let found = if is_every {
            cures(study, number)
        } else {
            Vec::new()
        };
        let back = Linked {
            text: "Circuits that fail".to_owned(),
            href: view.addresses.to(&["failing"]),
        };
        Ok(Self {
            frame: Frame::of("What clears it", view, "failing")
                .under(back.text.clone(), back.href.clone()),
            limit: format!("{}: {}", title(finding), finding.message),
            row: FindingRow::all(view, std::iter::once(finding)).pop(),
            rows: found.iter().map(|cure| row(view, cure, list)).collect(),
            every_href: address(&view.addresses, &study.model, finding),
            is_every,
            back,
        })
    }
}

fn row(view: &View, cure: &Cure, list: &PartsRecord) -> CureRow {
    CureRow {
        change: cure.change.words(&view.study.model),
        clears: cure.clears,
        cleared: cure.cleared.clone(),
        created: cure.created.clone(),
        cost: CostWords::of(&cure.conductor, list),
        copper: cure.conductor.whole_copper_kg().map_or_else(
            || "not evaluated".to_owned(),
            |kilograms| match kilograms {
                0.0 => "none".to_owned(),
                kilograms => format!("{:+.0} g", kilograms * 1000.0),
            },
        ),
    }
}
