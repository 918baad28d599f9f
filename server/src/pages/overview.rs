//! The first page of a boat model, and the list of what it does not state yet.

use std::collections::BTreeSet;

use askama::Template;
use harness_core::gaps::{Gap, gaps};
use harness_core::guesses::{Doubtful, Guesses, Trust};
use harness_core::network::assembly::branches::conductor_row;
use harness_core::report::Counts;
use harness_core::rules::Outcome as CoreOutcome;
use harness_core::study::Study;

use super::drawing::{Lit, Plan, plan};
use super::findings::{FindingRow, Linked};
use super::{Bar, Frame};
use crate::shown::grouped;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::View;

/// Density of copper, kg/m³, at 20 °C: 8.89 g/cm³, IEC 60028 (from memory).
const COPPER_KG_PER_M3: f64 = 8890.0;
/// How many margins and revisions are shown.
const SHOWN: usize = 3;

/// Wire of the boat in view.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Copper {
    /// Wires fitted.
    pub wires: usize,
    /// Their cut lengths together, m.
    pub length_m: f64,
    /// Their conductors together, kg.
    pub mass_kg: f64,
    /// Wires left out because a length or size is missing.
    pub left_out: usize,
}

impl Copper {
    fn of(study: &Study) -> Self {
        let mut copper = Self::default();
        let fitted = study
            .model
            .wires
            .iter()
            .filter(|(_, wire)| wire.fitted_when.holds(&study.boat));
        for (at, _) in fitted {
            copper.wires += 1;
            let length = study.routing.electrical_length(&study.model, at);
            match (length, conductor_row(&study.model, at)) {
                (Ok(length), Ok(row)) => {
                    copper.length_m += length.value();
                    let area_m2 = row.area.value.value() * 1e-6;
                    copper.mass_kg += length.value() * area_m2 * COPPER_KG_PER_M3;
                }
                _ => copper.left_out += 1,
            }
        }
        copper
    }
}

/// The overview.
#[derive(Debug, Template)]
#[template(path = "models/overview.html")]
pub struct OverviewPage {
    frame: Frame,
    about: String,
    plan: Plan,
    buildable: String,
    counts: Counts,
    circuits: usize,
    copper: Copper,
    margins: Vec<FindingRow>,
    zones: Vec<Linked>,
    gaps: Vec<Gap>,
    gaps_href: String,
    failing_href: String,
    circuits_href: String,
    boats_href: String,
    revisions: Vec<RevisionHead>,
}

impl OverviewPage {
    /// Of the boat in view; `revisions` newest first.
    pub fn new(view: &View, mut revisions: Vec<RevisionHead>) -> Self {
        let study = &*view.study;
        let model = &study.model;
        let mut rows = FindingRow::all(
            view,
            study
                .findings
                .iter()
                .filter(|finding| finding.outcome == CoreOutcome::Met && finding.limit.is_some()),
        );
        // Closest to the limit first, whether the limit is a greatest or a least value; what stands
        // exactly at a limit, such as a smallest size, has no margin to speak of.
        rows.retain(|row| {
            row.bar
                .is_some_and(|bar| bar.value > 0.0 && bar.closeness() < 1.0)
        });
        rows.sort_by(|a, b| closeness(b).total_cmp(&closeness(a)));
        // One margin for one thing: the same under two rule sets says nothing new.
        let mut told = BTreeSet::new();
        rows.retain(|row| told.insert((row.at.clone(), row.rule.text.clone())));
        rows.truncate(SHOWN);
        revisions.truncate(SHOWN);
        let to = &view.addresses;
        Self {
            frame: Frame::of("Overview", view, ""),
            about: model.about.clone().unwrap_or_default(),
            plan: plan(study, to, &Lit::default()),
            buildable: grouped(study.boats.count()),
            counts: Counts::of(study.findings.iter()),
            circuits: model.circuits.len(),
            copper: Copper::of(study),
            margins: rows,
            zones: model
                .zones
                .iter()
                .map(|(_, zone)| Linked {
                    text: zone.title().to_owned(),
                    href: to.to(&["zones", &zone.id]),
                })
                .collect(),
            gaps: gaps(model),
            gaps_href: to.to(&["gaps"]),
            failing_href: to.to(&["failing"]),
            circuits_href: to.to(&["circuits"]),
            boats_href: to.to(&["boats"]),
            revisions,
        }
    }
}

fn closeness(row: &FindingRow) -> f64 {
    row.bar.map_or(0.0, Bar::closeness)
}

/// What the model does not state yet.
#[derive(Debug, Template)]
#[template(path = "models/gaps.html")]
pub struct GapsPage {
    frame: Frame,
    id: String,
    gaps: Vec<Gap>,
    guesses: Vec<DoubtfulRow>,
    unsourced: Vec<DoubtfulRow>,
}

/// A figure that is not to be relied on, with the limits that rest on it.
#[derive(Clone, Debug)]
struct DoubtfulRow {
    figure: Linked,
    failing: usize,
    close: usize,
    limits: usize,
}

impl GapsPage {
    /// Every gap of the model in view.
    pub fn new(view: &View) -> Self {
        let frame = Frame::of("What is not stated yet", view, "gaps");
        let model = &view.study.model;
        let found = Guesses::of(&view.study);
        let of_kind = |trust: Trust| {
            let figures = found.figures.iter().filter(|one| one.trust == trust);
            let row = |one: &Doubtful| DoubtfulRow {
                figure: Linked {
                    text: one.figure.words(model),
                    href: match one.figure.stated_at(model) {
                        Some((list, id)) => {
                            let every = view.addresses.of_boat(AskedBoat::Every);
                            every.with(&["edit", list, "thing"], &[("id", id)])
                        }
                        None => view.addresses.to(&["edit", "model", "thing"]),
                    },
                },
                failing: one.failing,
                close: one.close,
                limits: one.limits,
            };
            figures.map(row).collect()
        };
        Self {
            frame: frame.under("Overview", view.addresses.to(&[])),
            id: view.head.model_id.clone(),
            gaps: gaps(&view.study.model),
            guesses: of_kind(Trust::Guess),
            unsourced: of_kind(Trust::NotStated),
        }
    }
}
