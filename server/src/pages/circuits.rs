//! The list of circuits.

use askama::Template;
use harness_core::model::{Circuit, Device, Index};
use harness_core::rules::{DROP_CODE, Outcome as CoreOutcome};
use harness_core::study::Study;
use harness_core::working::significant;

use super::findings::{FindingRow, Linked};
use super::{Bar, Frame, Outcome};
use crate::view::View;

/// One circuit in the list.
#[derive(Clone, Debug)]
pub struct CircuitRow {
    circuit: Linked,
    number: String,
    loads: String,
    device: String,
    wires: usize,
    drop: String,
    limit: String,
    bar: Option<Bar>,
    outcome: Option<Outcome>,
    failing: usize,
    unknown: usize,
}

/// The list of circuits.
#[derive(Debug, Template)]
#[template(path = "circuits/list.html")]
pub struct CircuitsPage {
    frame: Frame,
    rows: Vec<CircuitRow>,
    failing: usize,
}

impl CircuitsPage {
    /// Of the boat in view.
    pub fn new(view: &View) -> Self {
        let rows: Vec<_> = view
            .study
            .model
            .circuits
            .indices()
            .map(|at| circuit_row(view, at))
            .collect();
        Self {
            frame: Frame::of("Circuits", view, "circuits"),
            failing: rows.iter().filter(|row| row.failing > 0).count(),
            rows,
        }
    }
}

fn circuit_row(view: &View, at: Index<Circuit>) -> CircuitRow {
    let study = &*view.study;
    let model = &study.model;
    let circuit = &model.circuits[at];
    let loads = study.by_circuit.loads(at);
    let of_circuit = || study.findings_of(at);
    let worst = of_circuit()
        .filter(|finding| finding.rule == DROP_CODE && finding.value.is_some())
        .max_by(|a, b| a.severity().total_cmp(&b.severity()));
    let row = worst.map(|finding| FindingRow::of(view, finding, &[]));
    let names = loads
        .iter()
        .map(|load| model.loads[*load].title().to_owned());
    let names: Vec<_> = names.collect();
    let failing = of_circuit().filter(|finding| finding.fails()).count();
    let unknown = of_circuit()
        .filter(|finding| matches!(finding.outcome, CoreOutcome::NotEvaluated(_)))
        .count();
    CircuitRow {
        circuit: Linked {
            text: circuit.title().to_owned(),
            href: view.addresses.to(&["circuits", &circuit.id]),
        },
        number: circuit.id.clone(),
        loads: match (
            names.is_empty(),
            model.loads.iter().any(|(_, load)| load.circuit == Some(at)),
        ) {
            (false, _) => names.join(", "),
            (true, true) => "none on this boat".to_owned(),
            (true, false) => "none: it feeds others".to_owned(),
        },
        device: circuit.device.map_or_else(
            || "not stated".to_owned(),
            |device| device_words(study, device),
        ),
        wires: study.by_circuit.wires(at).len(),
        drop: row
            .as_ref()
            .map_or_else(String::new, |row| row.value.clone()),
        limit: row
            .as_ref()
            .map_or_else(String::new, |row| row.limit.clone()),
        bar: row.as_ref().and_then(|row| row.bar),
        outcome: match (failing, unknown, of_circuit().next()) {
            (1.., ..) => Some(Outcome::Fails),
            (0, 1.., _) => Some(Outcome::NotEvaluated),
            (0, 0, Some(_)) => Some(Outcome::Met),
            (0, 0, None) => None,
        },
        failing,
        unknown,
    }
}

/// A device with its kind and rating.
pub(super) fn device_words(study: &Study, at: Index<Device>) -> String {
    let device = &study.model.devices[at];
    match device.rating {
        Some(rating) => format!(
            "{} {}, {} A",
            device.kind,
            device.id,
            significant(rating.value(), 4)
        ),
        None => format!("{} {}, rating not stated", device.kind, device.id),
    }
}
