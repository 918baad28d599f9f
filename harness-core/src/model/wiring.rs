//! Circuits, cables and wires.

use super::BoatModel;
use super::boat::{Harness, Point, Run, identified};
use super::electrical::Device;
use super::joining::{EndTreatment, TerminalPart};
use super::pin::Pin;
use super::table::{Identified, Index};
use crate::boats::Condition;
use crate::choices::{Function, Role};
use crate::units::{Celsius, Millimetres, WireSize};

/// Everything from one protective device to its loads and back.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// Circuit number.
    pub id: String,
    /// Name.
    pub name: Option<String>,
    /// What it does.
    pub function: Option<Function>,
    /// Device that protects it.
    pub device: Option<Index<Device>>,
    /// Switch that turns it on.
    pub switch: Option<Index<Device>>,
}

impl Circuit {
    /// Name, or the number.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }
}

/// A jacket round several wires, or wires twisted together.
#[derive(Clone, Debug, PartialEq)]
pub struct Cable {
    /// Short name.
    pub id: String,
    /// Description.
    pub name: Option<String>,
    /// Whether it has a jacket.
    pub sheathed: Option<bool>,
    /// Diameter over the jacket.
    pub outside_diameter: Option<Millimetres>,
    /// Length of one full turn, where the wires are twisted.
    pub lay: Option<Millimetres>,
}

/// How one end of a wire is made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WireEnd {
    /// Terminal or contact as stated; in a cavity `None` takes that of the connector type.
    pub terminal: Option<Index<TerminalPart>>,
    /// From the dimensioned reference face to the conductor tip, as stated.
    pub entry: Option<Millimetres>,
    /// Service or drip loop.
    pub service_loop: Option<Millimetres>,
    /// Length kept for making the end again.
    pub rework: Option<Millimetres>,
    /// Length that leaves its jacket.
    pub outside_sheath: Option<Millimetres>,
    /// Boot or sleeve over the terminal.
    pub sleeve: Option<String>,
    /// What is done with it on boats where it serves nothing.
    pub when_unused: Option<EndTreatment>,
}

/// One insulated conductor from pin to pin.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Wire number.
    pub id: String,
    /// Pin it starts at.
    pub from: Pin,
    /// Pin it ends at.
    pub to: Pin,
    /// Circuit it belongs to.
    pub circuit: Option<Index<Circuit>>,
    /// What it carries.
    pub role: Option<Role>,
    /// Conductor size.
    pub size: Option<WireSize>,
    /// Insulation class as stated.
    pub stated_insulation: Option<Celsius>,
    /// Color in words, base first.
    pub color: Option<String>,
    /// Jacket or twisted group it lies in.
    pub cable: Option<Index<Cable>>,
    /// Harness it is part of.
    pub harness: Option<Index<Harness>>,
    /// Whether it is sheathed or enclosed over its whole length.
    pub enclosed: Option<bool>,
    /// Points it must pass, in order.
    pub through: Vec<Index<Point>>,
    /// Runs it must not follow.
    pub avoid: Vec<Index<Run>>,
    /// How its first end is made.
    pub from_end: WireEnd,
    /// How its second end is made.
    pub to_end: WireEnd,
    /// When it is fitted.
    pub fitted_when: Condition,
}

impl Wire {
    /// What its circuit does, where both are stated.
    pub fn function(&self, model: &BoatModel) -> Option<Function> {
        model.circuits[self.circuit?].function
    }
}

identified!(Circuit, Cable, Wire);
