//! How many loaded conductors lie together along the way of a wire.

use crate::model::{Index, Run, Wire};
use crate::network::assembly::{Part, SourceCondition};
use crate::rules::Facts;
use crate::units::Amperes;

/// A conductor counts as loaded above this current: solver noise and dead wires stay below it.
const LOADED_ABOVE: Amperes = Amperes::new(0.001);

/// Loaded conductors of each run on this boat, in the state in which there are most.
pub(super) struct LoadedConductors {
    runs: Vec<u32>,
}

impl LoadedConductors {
    /// Counts them. A wire whose current is unknown counts as loaded.
    pub fn of(facts: &Facts<'_>) -> Self {
        let mut runs = vec![0; facts.model.runs.len()];
        let mut loaded = vec![false; facts.model.wires.len()];
        for operating in facts.at(SourceCondition::Nominal) {
            for (branch, current) in facts
                .assembly
                .branches
                .iter()
                .zip(&operating.branch_currents)
            {
                if let Part::Wire(wire) = branch.part {
                    loaded[wire.number()] = current
                        .as_ref()
                        .map_or(true, |current| current.abs() > LOADED_ABOVE);
                }
            }
            for bundle in facts.bundles {
                let here = bundle
                    .wires
                    .iter()
                    .filter(|wire| loaded[wire.number()])
                    .count();
                let most = &mut runs[bundle.run.number()];
                *most = u32::try_from(here).unwrap_or(u32::MAX).max(*most);
            }
        }
        Self { runs }
    }

    /// The run on a wire's way with most loaded conductors, and their number, the wire itself
    /// counted; no run for a wire that leaves no point or has no path.
    pub fn fullest(&self, facts: &Facts<'_>, wire: Index<Wire>) -> (u32, Option<Index<Run>>) {
        let legs = facts.routing.path(wire).map_or(&[][..], |path| &path.legs);
        let mut fullest = (1, None);
        for leg in legs {
            let count = self.runs[leg.run.number()];
            if count > fullest.0 || fullest.1.is_none() {
                fullest = (count.max(1), Some(leg.run));
            }
        }
        fullest
    }
}
