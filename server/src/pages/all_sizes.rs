//! Sizes for all conductors of a model at once, with the least copper.

use askama::Template;
use harness_core::model::Identified;
use harness_core::rules::{Finding, TERMINAL_CODE};
use harness_core::sizing::{EverySizing, SizingProposal, size_every_conductor};
use harness_core::units::Kilograms;

use super::Frame;
use super::drawing::{Bar, bars};
use crate::studies::AskedBoat;
use crate::view::View;

/// Wires of the largest model that is sized while a page is asked for: each round is a study of
/// every boat.
const MOST_WIRES: usize = 1_500;

/// One wire with its size.
#[derive(Clone, Debug)]
struct SizeRow {
    wire: String,
    circuit: String,
    href: String,
    now: String,
    proposed: String,
    governed_by: &'static str,
    because: String,
    mass: String,
}

/// What was found.
#[derive(Debug)]
struct Answer {
    sentences: Vec<String>,
    chart: String,
    changed: Vec<SizeRow>,
    same: Vec<SizeRow>,
    kept: Vec<(String, String)>,
    terminals: Vec<String>,
    left: Vec<String>,
}

/// The page.
#[derive(Debug, Template)]
#[template(path = "models/sizes.html")]
pub struct AllSizesPage {
    frame: Frame,
    answer: Option<Answer>,
    why_not: String,
    every_href: String,
    is_every: bool,
}

impl AllSizesPage {
    /// Sizes the model in view for every boat.
    pub fn new(view: &View) -> Self {
        let study = &*view.study;
        let found = if study.model.wires.len() > MOST_WIRES {
            Err(format!(
                "the model has {} wires, and sizing while you wait is for up to {MOST_WIRES}",
                study.model.wires.len()
            ))
        } else {
            size_every_conductor(study).map_err(|why| why.to_string())
        };
        let (answer, why_not) = match found {
            Ok(sizing) => (Some(answer(view, &sizing)), String::new()),
            Err(why) => (None, why),
        };
        let frame = Frame::of("Sizes of all conductors", view, "failing")
            .under("Circuits that fail", view.addresses.to(&["failing"]));
        Self {
            frame,
            answer,
            why_not,
            every_href: view.addresses.of_boat(AskedBoat::Every).to(&["sizes"]),
            is_every: study.every.is_some(),
        }
    }
}

fn kilograms(mass: Kilograms) -> String {
    format!("{:.2} kg", mass.value())
}

fn answer(view: &View, sizing: &EverySizing) -> Answer {
    let model = &view.study.model;
    let row = |one: &SizingProposal| {
        let stated = &model.wires[one.wire];
        let circuit = stated.circuit.map(|at| model.circuits[at].id().to_owned());
        let circuit = circuit.unwrap_or_default();
        SizeRow {
            wire: stated.id().to_owned(),
            href: view.addresses.to(&["circuits", &circuit]),
            circuit,
            now: one
                .size_now
                .map_or_else(|| "not stated".to_owned(), |size| size.to_string()),
            proposed: one.proposed.to_string(),
            governed_by: one.governed_by.words(),
            because: one.because.clone(),
            mass: one.mass_change.map_or_else(
                || "not evaluated".to_owned(),
                |change| format!("{:+.0} g", change.value() * 1000.0),
            ),
        }
    };
    let is_changed = |one: &&SizingProposal| one.size_now != Some(one.proposed);
    let (changed, same): (Vec<_>, Vec<_>) = sizing.wires.iter().partition(is_changed);
    let is_terminal = |finding: &&Finding| finding.rule == TERMINAL_CODE;
    let (terminals, left): (Vec<_>, Vec<_>) = sizing.left.iter().partition(is_terminal);
    let messages = |findings: Vec<&Finding>| {
        let each = findings.into_iter().map(|finding| finding.message.clone());
        each.collect::<Vec<_>>()
    };
    Answer {
        sentences: sentences(sizing, changed.len()),
        chart: chart(sizing),
        changed: changed.into_iter().map(row).collect(),
        same: same.into_iter().map(row).collect(),
        kept: sizing
            .kept
            .iter()
            .map(|(wire, why)| (model.wires.id(*wire).to_owned(), why.clone()))
            .collect(),
        terminals: messages(terminals),
        left: messages(left),
    }
}

fn sentences(sizing: &EverySizing, changed: usize) -> Vec<String> {
    let now = sizing.copper_now.map_or_else(
        || "not evaluated, as some wires state no size".to_owned(),
        kilograms,
    );
    let limits = |count: usize| match count {
        1 => "1 limit that fails now is kept".to_owned(),
        count => format!("{count} limits that fail now are kept"),
    };
    vec![
        format!(
            "{changed} of {} wires change. Copper of these wires: {} instead of {now}. {} then.",
            sizing.wires.len(),
            kilograms(sizing.copper),
            limits(sizing.cleared)
        ),
        format!(
            "At the currents of these boats no sizes that keep the same limits have less than {}, \
             so at most {:.1} % could still be saved. If every load drew the least it may with other \
             sizes, that would be {}.",
            kilograms(sizing.at_least_so),
            100.0 * sizing.gap(),
            kilograms(sizing.at_least)
        ),
        format!(
            "Every limit was judged again on every buildable boat, {} times; {} drops on their \
             worst boats decided.",
            sizing.studies, sizing.rows
        ),
    ]
}

fn chart(sizing: &EverySizing) -> String {
    let bar = |label: &str, mass: Kilograms| Bar {
        label: label.to_owned(),
        value: mass.value(),
        amount: kilograms(mass),
    };
    let now = sizing.copper_now.map(|now| bar("as stated", now));
    let all: Vec<Bar> = now
        .into_iter()
        .chain([
            bar("with these sizes", sizing.copper),
            bar("no less at these currents", sizing.at_least_so),
            bar("no less at the least currents", sizing.at_least),
        ])
        .collect();
    bars(
        "Copper of the wires sized",
        "One bar for the copper as stated, with the sizes found, and for what nothing can go below.",
        &all,
    )
}
