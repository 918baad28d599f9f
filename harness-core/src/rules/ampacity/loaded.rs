//! How many loaded conductors lie together along the way of a wire.

use crate::model::{Index, Run, Wire};
use crate::network::assembly::{LOADED_ABOVE, Part, SourceCondition};
use crate::rules::Facts;
use std::sync::{Arc, OnceLock};

/// Loaded conductors of each run on a boat, in the state in which there are most; counted when
/// first asked for, or known beforehand.
#[derive(Clone, Debug, Default)]
pub struct Loaded(Arc<OnceLock<Vec<u32>>>);

impl Loaded {
    /// Their numbers, by run. A wire whose current is unknown counts as loaded.
    pub(crate) fn runs(&self, facts: &Facts<'_>) -> &[u32] {
        self.0.get_or_init(|| counted(facts))
    }

    /// The same where they are counted.
    pub(crate) fn known(&self) -> Option<Self> {
        self.0.get().map(|_| self.clone())
    }

    /// The run on a wire's way with most loaded conductors, and their number, the wire itself
    /// counted; no run for a wire that leaves no point or has no path.
    pub(super) fn fullest(
        &self,
        facts: &Facts<'_>,
        wire: Index<Wire>,
    ) -> (u32, Option<Index<Run>>) {
        let legs = facts.routing.path(wire).map_or(&[][..], |path| &path.legs);
        let runs = self.runs(facts);
        let mut fullest = (1, None);
        for leg in legs {
            let count = runs[leg.run.number()];
            if count > fullest.0 || fullest.1.is_none() {
                fullest = (count.max(1), Some(leg.run));
            }
        }
        fullest
    }
}

fn counted(facts: &Facts<'_>) -> Vec<u32> {
    let mut runs = vec![0; facts.model.runs.len()];
    let mut loaded = vec![false; facts.model.wires.len()];
    for operating in facts.at(SourceCondition::Nominal) {
        let branches = facts.assembly.branches.iter();
        for (branch, current) in branches.zip(&operating.branch_currents) {
            if let Part::Wire(wire) = branch.part {
                loaded[wire.number()] = current
                    .as_ref()
                    .map_or(true, |current| current.abs() > LOADED_ABOVE);
            }
        }
        for bundle in facts.bundles {
            let wires = bundle.wires.iter();
            let here = wires.filter(|wire| loaded[wire.number()]).count();
            let most = &mut runs[bundle.run.number()];
            *most = u32::try_from(here).unwrap_or(u32::MAX).max(*most);
        }
    }
    runs
}
