//! The smallest sizes that would serve one circuit.

use askama::Template;
use harness_core::model::{Circuit, Identified, Index};
use harness_core::sizing::{CircuitSizing, NoSize, size_circuit};
use harness_core::working::Working;

use super::Frame;
use crate::view::View;

/// One wire with its proposal.
#[derive(Clone, Debug)]
pub struct SizeRow {
    wire: String,
    now: String,
    proposed: String,
    is_changed: bool,
    governed_by: &'static str,
    because: String,
    mass: String,
}

/// The proposal for one circuit.
#[derive(Debug, Template)]
#[template(path = "circuits/sizes.html")]
pub struct SizesPage {
    frame: Frame,
    lead: String,
    rows: Vec<SizeRow>,
    left: Vec<String>,
    then_fails: Vec<String>,
    working: Working,
}

impl SizesPage {
    /// Searched on the boat in view.
    pub fn new(view: &View, at: Index<Circuit>) -> Self {
        let study = &*view.study;
        let circuit = &study.model.circuits[at];
        let back = view.addresses.to(&["circuits", circuit.id()]);
        let frame = Frame::of(
            format!("Sizes for circuit {}", circuit.id()),
            view,
            "circuits",
        )
        .under("Circuits", view.addresses.to(&["circuits"]))
        .under(circuit.title(), back);
        match size_circuit(&study.facts(), at) {
            Ok(sizing) => Self::of(frame, view, lead(&sizing), &sizing),
            Err(NoSize::NotEvaluated(why)) => Self::without(frame, why.to_string()),
            Err(none) => {
                let mut words = none.to_string();
                if let Some(first) = words.get_mut(..1) {
                    first.make_ascii_uppercase();
                }
                match none {
                    NoSize::NoneEnough {
                        with_other_contacts: Some(sizing),
                        ..
                    } => Self::of(frame, view, words, &sizing),
                    _ => Self::without(frame, words),
                }
            }
        }
    }

    fn without(frame: Frame, lead: String) -> Self {
        let (rows, left, then_fails) = (Vec::new(), Vec::new(), Vec::new());
        Self {
            frame,
            lead,
            rows,
            left,
            then_fails,
            working: Working::new(),
        }
    }

    fn of(frame: Frame, view: &View, lead: String, sizing: &CircuitSizing) -> Self {
        let model = &view.study.model;
        let rows = sizing.wires.iter().map(|wire| SizeRow {
            wire: model.wires.id(wire.wire).to_owned(),
            now: wire
                .size_now
                .map_or_else(|| "not stated".to_owned(), |size| size.to_string()),
            proposed: wire.proposed.to_string(),
            is_changed: wire.size_now != Some(wire.proposed),
            governed_by: wire.governed_by.words(),
            because: wire.because.clone(),
            mass: wire.mass_change.map_or_else(
                || "not evaluated".to_owned(),
                |change| format!("{:+.0} g", change.value() * 1000.0),
            ),
        });
        let messages = |findings: &[harness_core::rules::Finding]| {
            findings
                .iter()
                .map(|finding| finding.message.clone())
                .collect()
        };
        Self {
            frame,
            lead,
            rows: rows.collect(),
            left: messages(&sizing.left),
            then_fails: messages(&sizing.then_fails),
            working: sizing.working.clone(),
        }
    }
}

fn lead(sizing: &CircuitSizing) -> String {
    if !sizing.changes_anything() {
        return "The sizes it has are the smallest that break no rule there.".to_owned();
    }
    match sizing.mass_change {
        Some(change) => format!(
            "The smallest stocked sizes that break no rule there change its wire by \
             {:+.0} g.",
            change.value() * 1000.0
        ),
        None => "The smallest stocked sizes that break no rule there.".to_owned(),
    }
}
