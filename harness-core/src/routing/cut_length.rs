//! The length a wire is cut to, term by term.
//!
//! `ceil_step( Σ runs · (1 + slack) · twist + entry A + entry B + loop A + loop B + rework A +
//! rework B )`, rounded up only: a wire cut short is scrap. Our formula; the twist factor is
//! geometry.

use super::path::{Path, Unroutable};
use crate::model::{BoatModel, Identified, Index, Pin, Wire, WireEnd};
use crate::tables;
use crate::units::Millimetres;
use crate::working::NotEvaluated;
use serde::{Serialize, Serializer};

/// One term of a cut length.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Term {
    /// What it stands for.
    pub what: String,
    /// Its length.
    #[serde(rename = "length_mm", serialize_with = "bare_number")]
    pub length: Millimetres,
}

/// The field's name tells the unit.
fn bare_number<S: Serializer>(length: &Millimetres, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(length.value())
}

/// The terms of one end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndTerms {
    /// From the dimensioned reference face to the conductor tip.
    pub entry: Millimetres,
    /// Service or drip loop.
    pub service_loop: Millimetres,
    /// Length kept for making the end again.
    pub rework: Millimetres,
}

/// A cut length with everything it is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct CutLength {
    /// Sum of the run lengths.
    pub routed: Millimetres,
    /// Share added for dressing.
    pub slack_share: f64,
    /// Factor for twisting, 1 for a straight wire.
    pub twist_factor: f64,
    /// First end.
    pub from: EndTerms,
    /// Second end.
    pub to: EndTerms,
    /// Step it is rounded up to.
    pub step: Millimetres,
    /// The length to cut.
    pub total: Millimetres,
}

impl CutLength {
    /// Every term in the order of the formula; they sum to the total.
    pub fn terms(&self) -> Vec<Term> {
        let slack = self.routed * self.slack_share;
        let twist = (self.routed + slack) * (self.twist_factor - 1.0);
        let mut terms = vec![
            Term {
                what: "runs".to_owned(),
                length: self.routed,
            },
            Term {
                what: format!("slack {} %", self.slack_share * 100.0),
                length: slack,
            },
            Term {
                what: format!("twist, factor {:.3}", self.twist_factor),
                length: twist,
            },
        ];
        for (end, side) in [(self.from, "A"), (self.to, "B")] {
            terms.push(Term {
                what: format!("entry {side}"),
                length: end.entry,
            });
            terms.push(Term {
                what: format!("loop {side}"),
                length: end.service_loop,
            });
            terms.push(Term {
                what: format!("rework {side}"),
                length: end.rework,
            });
        }
        let sum = terms.iter().map(|term| term.length).sum::<Millimetres>();
        let what = format!("rounded up to {} mm", self.step.value());
        terms.push(Term {
            what,
            length: self.total - sum,
        });
        terms
    }
}

pub(super) fn of(
    model: &BoatModel,
    index: Index<Wire>,
    path: &Result<Path, Unroutable>,
) -> Result<CutLength, NotEvaluated> {
    let path = path
        .as_ref()
        .map_err(|unroutable| NotEvaluated::because(unroutable.to_string()))?;
    let wire = &model.wires[index];
    let from = end_terms(model, wire, wire.from, &wire.from_end)?;
    let to = end_terms(model, wire, wire.to, &wire.to_end)?;
    let twist_factor = twist_factor(model, wire)?;
    let (slack_share, step) = (model.settings.slack_share, model.settings.cut_step);
    let routed = path.length.millimetres();
    let ends = [from, to].map(|end| end.entry + end.service_loop + end.rework);
    let exact = routed * ((1.0 + slack_share) * twist_factor) + ends[0] + ends[1];
    // A length that is a whole number of steps but for rounding noise is not lengthened.
    let steps = (exact / step - 1e-9).ceil().max(0.0);
    let total = step * steps;
    Ok(CutLength {
        routed,
        slack_share,
        twist_factor,
        from,
        to,
        step,
        total,
    })
}

fn end_terms(
    model: &BoatModel,
    wire: &Wire,
    pin: Pin,
    end: &WireEnd,
) -> Result<EndTerms, NotEvaluated> {
    let connector_type = match pin {
        Pin::Cavity(connector, _) => {
            Some(&model.connector_types[model.connectors[connector].connector_type])
        }
        _ => None,
    };
    let terminal = end
        .terminal
        .or(connector_type.and_then(|part| part.contact));
    let entry = end
        .entry
        .or(connector_type.and_then(|part| part.entry))
        .or(terminal.and_then(|part| model.terminal_parts[part].entry))
        // A splice is crimped at the dimensioned place itself.
        .or(matches!(pin, Pin::Splice(..)).then_some(Millimetres::ZERO))
        .ok_or_else(|| {
            NotEvaluated::because(format!(
                "the end of wire {} on {} states no entry length and no terminal that has one",
                wire.id(),
                pin.label(model)
            ))
        })?;
    Ok(EndTerms {
        entry,
        service_loop: end.service_loop.unwrap_or(Millimetres::ZERO),
        rework: end.rework.unwrap_or(Millimetres::ZERO),
    })
}

/// Wire length over pair length: `√(1 + (2πR/H)²)`, R the distance of the wire axis from the
/// axis of the group (one insulated radius for a pair), H the length of one turn. Geometry of
/// the helix.
fn twist_factor(model: &BoatModel, wire: &Wire) -> Result<f64, NotEvaluated> {
    let Some(lay) = wire.cable.and_then(|cable| model.cables[cable].lay) else {
        return Ok(1.0);
    };
    let Some(row) = wire.size.and_then(tables::conductors::row) else {
        return Err(NotEvaluated::because(format!(
            "wire {} is twisted but states no size, so its twist is unknown",
            wire.id()
        )));
    };
    let radius = row.diameter.value / 2.0;
    let turn = 2.0 * std::f64::consts::PI * (radius / lay);
    Ok((1.0 + turn * turn).sqrt())
}
