//! The network of what solves by itself on one boat.

use super::apart::Apart;
use super::joined::Joined;
use super::{Assembly, SourceCondition};
use crate::model::{BoatModel, Index, Load};
use crate::network::{self, Network};
use crate::units::Ohms;
use crate::working::NotEvaluated;

/// The network, and what its elements stand for; conductors and sources are those of the part.
pub(super) struct Built {
    pub network: Network,
    /// Place of each node in the network.
    pub place: Vec<usize>,
    pub loads: Vec<Index<Load>>,
}

impl Built {
    /// Builds it.
    ///
    /// # Errors
    /// Where a source states no volts for the condition.
    pub fn of(
        assembly: &Assembly,
        model: &BoatModel,
        joined: &Joined,
        part: &Apart<'_>,
        condition: SourceCondition,
    ) -> Result<Self, NotEvaluated> {
        let mut built = Self {
            network: Network::default(),
            place: vec![usize::MAX; assembly.node_count()],
            loads: Vec::new(),
        };
        for &number in &part.branches {
            let branch = &assembly.branches[number];
            let conductor = network::Conductor {
                from: built.node(branch.from),
                to: built.node(branch.to),
                // Loads on the path of an unknown resistance are not evaluated.
                resistance: branch.resistance.clone().unwrap_or(Ohms::ZERO),
            };
            built.network.conductors.push(conductor);
        }
        for &source in &part.sources {
            let (source, minus, plus) = joined.active[source];
            let stated = &model.sources[source];
            let emf = condition.volts(stated).ok_or_else(|| {
                NotEvaluated::because(format!(
                    "source {} states no voltage for the condition \"{}\"",
                    stated.id,
                    condition.word()
                ))
            })?;
            let (from, to) = (built.node(minus), built.node(plus));
            if built.network.sources.is_empty() {
                built.network.reference = from;
            }
            built.network.sources.push(network::Source {
                from,
                to,
                emf,
                resistance: stated.internal.unwrap_or(Ohms::ZERO),
            });
        }
        for fed in &part.fed {
            let Some(behavior) = model.loads[fed.load].behavior else {
                continue;
            };
            built.loads.push(fed.load);
            let (from, to) = (built.node(fed.plus), built.node(fed.minus));
            built.network.loads.push(network::Load {
                from,
                to,
                behavior: behavior.into(),
            });
        }
        Ok(built)
    }

    /// The place of a node, which is put in the network where it is not yet.
    fn node(&mut self, node: usize) -> usize {
        let place = &mut self.place[node];
        if *place == usize::MAX {
            *place = self.network.node_count;
            self.network.node_count += 1;
        }
        *place
    }
}

impl From<crate::model::Behavior> for network::Behavior {
    fn from(stated: crate::model::Behavior) -> Self {
        match stated {
            crate::model::Behavior::Current(value) => Self::Current(value),
            crate::model::Behavior::Power(value) => Self::Power(value),
            crate::model::Behavior::Resistance(value) => Self::Resistance(value),
        }
    }
}
