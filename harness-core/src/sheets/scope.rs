//! What a sheet covers.

use crate::boats::{Boat, Condition};
use crate::model::{BoatModel, Harness, Identified, Index, Wire, Zone};

/// What a sheet covers: all boats or one, every harness part or one, every zone or one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Scope {
    /// One boat, with the words that name it; `None` is everything any boat has.
    pub boat: Option<(Boat, String)>,
    /// One harness part.
    pub harness: Option<Index<Harness>>,
    /// One zone.
    pub zone: Option<Index<Zone>>,
}

impl Scope {
    /// Whether a thing with this condition belongs.
    pub fn has(&self, condition: &Condition) -> bool {
        self.boat
            .as_ref()
            .is_none_or(|(boat, _)| condition.holds(boat))
    }

    /// Whether a wire belongs.
    pub fn has_wire(&self, wire: &Wire) -> bool {
        self.has(&wire.fitted_when) && (self.harness.is_none() || wire.harness == self.harness)
    }

    /// The wires that belong, in stated order.
    pub fn wires<'m>(
        &'m self,
        model: &'m BoatModel,
    ) -> impl Iterator<Item = (Index<Wire>, &'m Wire)> {
        model.wires.iter().filter(|(_, wire)| self.has_wire(wire))
    }

    /// What is covered, in words.
    pub fn words(&self, model: &BoatModel) -> String {
        let boat = match &self.boat {
            Some((_, words)) => words.clone(),
            None => "all buildable boats".to_owned(),
        };
        let harness = self.harness.map(|at| {
            let harness = &model.harnesses[at];
            let part = harness
                .part_number
                .as_deref()
                .unwrap_or("part number not stated");
            let title = harness.name.as_deref().unwrap_or(harness.id());
            format!("harness {title} ({part})")
        });
        let zone = self
            .zone
            .map(|at| format!("zone {}", model.zones[at].title()));
        [Some(boat), harness, zone]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// Names of the options of a model, by position.
pub fn option_names(model: &BoatModel) -> Vec<String> {
    model
        .options
        .iter()
        .map(|(_, option)| option.id.clone())
        .collect()
}
