//! The smallest conductors for one circuit that break no rule on the judged boat.
//!
//! No limit is stated here. Sizes are tried on a copy of the boat, which is solved again and
//! judged by the rules themselves, so a proposal and a finding cannot disagree.

mod proposal;
mod scope;
mod trial;
mod search;
pub mod least_copper;
mod every_conductor;
#[cfg(test)]
mod tests;

pub use every_conductor::{EverySizing, size_every_conductor};
pub use proposal::{CircuitSizing, Governor, NoSize, SizingProposal};

use crate::model::{Circuit, Index, Role, Wire};
use crate::rules::Facts;

/// The smallest sizes for a circuit's own wires, feed and return, on the judged boat. They are
/// raised together as far as its loads ask, and each by itself as far as the wire asks. Wires of
/// other circuits, such as shared feeders, stay as they are.
///
/// # Errors
/// When no stocked size is enough, or data are missing.
pub fn size_circuit(facts: &Facts<'_>, circuit: Index<Circuit>) -> Result<CircuitSizing, NoSize> {
    let own: Vec<_> = facts
        .wires()
        .filter(|(_, wire)| wire.circuit == Some(circuit))
        .filter(|(_, wire)| !matches!(wire.role, Some(Role::Bonding | Role::Signal)))
        .map(|(wire, _)| wire)
        .collect();
    search::smallest(facts, &own)
}

/// The smallest size for one wire on the judged boat, all others staying as they are.
///
/// # Errors
/// When no stocked size is enough, or data are missing.
pub fn size_wire(facts: &Facts<'_>, wire: Index<Wire>) -> Result<CircuitSizing, NoSize> {
    let wires = [wire];
    let fitted = facts.model.wires[wire].fitted_when.holds(facts.boat);
    search::smallest(facts, if fitted { &wires } else { &[] })
}
