//! What is done at each end of a wire: terminal, strip, seal, sleeve, where it goes.

use crate::model::{
    BoatModel, ConnectorType, EndTreatment, Index, Pin, TerminalPart, Wire, WireEnd,
};
use serde::Serialize;

/// One end of a wire, ready to be made.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct EndRow {
    /// Pin it goes to, `equipment.pin`.
    pub goes_to: String,
    /// Terminal or contact part; `None` is not stated.
    pub terminal: Option<String>,
    /// Insulation removed, tenths of a millimetre so that rows can be compared exactly.
    pub strip_tenths_mm: Option<i64>,
    /// Seal on the wire; `None` is none.
    pub seal: Option<String>,
    /// Boot or sleeve; `None` is none.
    pub sleeve: Option<String>,
}

impl EndRow {
    /// Insulation removed, millimetres.
    pub fn strip_mm(&self) -> Option<f64> {
        self.strip_tenths_mm.map(|tenths| tenths as f64 / 10.0)
    }

    /// What is done, without where it goes: equal for pieces that are made alike.
    pub fn preparation(&self) -> Self {
        Self {
            goes_to: String::new(),
            ..self.clone()
        }
    }
}

/// Which end of a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhichEnd {
    /// The first.
    From,
    /// The second.
    To,
}

/// The pin and the stated making of one end.
pub fn stated(wire: &Wire, which: WhichEnd) -> (Pin, &WireEnd) {
    match which {
        WhichEnd::From => (wire.from, &wire.from_end),
        WhichEnd::To => (wire.to, &wire.to_end),
    }
}

/// The connector part of a pin that is a cavity.
pub fn connector_type(model: &BoatModel, pin: Pin) -> Option<&ConnectorType> {
    match pin {
        Pin::Cavity(at, _) => Some(&model.connector_types[model.connectors[at].connector_type]),
        _ => None,
    }
}

/// The terminal of an end: as stated, or the contact of its connector type.
pub fn terminal(model: &BoatModel, wire: &Wire, which: WhichEnd) -> Option<Index<TerminalPart>> {
    let (pin, end) = stated(wire, which);
    end.terminal.or_else(|| connector_type(model, pin)?.contact)
}

/// One end as a row.
pub fn end(model: &BoatModel, wire: &Wire, which: WhichEnd) -> EndRow {
    let (pin, stated) = stated(wire, which);
    let terminal = terminal(model, wire, which).map(|at| &model.terminal_parts[at]);
    let seal = connector_type(model, pin)
        .filter(|part| part.sealed == Some(true))
        .map(|part| {
            part.wire_seal
                .clone()
                .unwrap_or_else(|| "seal not stated".to_owned())
        });
    let splice = matches!(pin, Pin::Splice(..)).then(|| "splice, by process sheet".to_owned());
    EndRow {
        goes_to: pin.label(model),
        terminal: terminal.map(|part| part.id.clone()).or(splice),
        strip_tenths_mm: terminal
            .and_then(|part| part.strip)
            .map(|strip| (strip.value() * 10.0).round() as i64),
        seal,
        sleeve: stated.sleeve.clone(),
    }
}

/// What is done with an end on boats where it serves nothing: as stated on the wire, or on its
/// connector.
pub fn treatment(model: &BoatModel, wire: &Wire, which: WhichEnd) -> Option<EndTreatment> {
    let (pin, stated) = stated(wire, which);
    stated.when_unused.clone().or_else(|| match pin {
        Pin::Cavity(at, _) => model.connectors[at].when_unused.clone(),
        _ => None,
    })
}
