//! From pins and wires to networks: the electrical side of one boat.
//!
//! Nodes are pins joined without resistance; branches are wires, contacts, closed devices and
//! splices; sources and loads close the loops. Presence is computed from the boat: the model
//! keeps its conditions.

mod nodes;
pub mod branches;
mod joined;
mod apart;
mod built;
mod operated;
mod operating;
mod shared;
pub(crate) mod trace;
#[cfg(test)]
mod tests;

pub use apart::{LOADED_ABOVE, surely_draws};
pub use branches::{Branch, Part};
pub use operated::{
    LoadPoint, Operating, PathShare, SourceCondition, Supplied, SystemBalance, Unsupplied,
};
pub use operating::Wanted;
pub use shared::{Known, Shared};

use crate::boats::{Boat, Condition};
use crate::model::{BoatModel, Index, Load, Pin, Pole, Source};
use crate::routing::Routing;
use nodes::Nodes;
use std::collections::BTreeMap;

/// The electrical side of one boat: what is fitted, and what it is joined to.
#[derive(Clone, Debug)]
pub struct Assembly {
    nodes: Nodes,
    /// Everything fitted that only resists, in a fixed order: wires, devices, couplers,
    /// connectors, splices.
    pub branches: Vec<Branch>,
    /// Fitted sources with the nodes of their minus and plus.
    pub sources: Vec<(Index<Source>, usize, usize)>,
    /// Fitted loads with the nodes of their plus and minus.
    pub loads: Vec<(Index<Load>, usize, usize)>,
    branch_of: BTreeMap<Part, usize>,
}

/// Which parts and which loads are joined.
pub type Those<'w> = (&'w dyn Fn(Part) -> bool, &'w dyn Fn(Index<Load>) -> bool);

impl Assembly {
    /// Joins what this boat has.
    pub fn of(model: &BoatModel, routing: &Routing, boat: &Boat) -> Self {
        let fitted = |condition: &Condition| condition.holds(boat);
        Self::where_fitted(model, routing, &fitted, (&|_| true, &|_| true))
    }

    /// Joins some parts of what this boat has, with its sources and some loads.
    pub fn of_some(model: &BoatModel, routing: &Routing, boat: &Boat, wanted: Those<'_>) -> Self {
        Self::where_fitted(model, routing, &|condition| condition.holds(boat), wanted)
    }

    /// Joins what any boat has, as if all of it were fitted at once.
    pub fn of_every_boat(model: &BoatModel, routing: &Routing) -> Self {
        Self::where_fitted(model, routing, &|_| true, (&|_| true, &|_| true))
    }

    fn where_fitted(
        model: &BoatModel,
        routing: &Routing,
        fitted: &dyn Fn(&Condition) -> bool,
        (parts, loads): Those<'_>,
    ) -> Self {
        let mut nodes = Nodes::default();
        let branches = branches::of(model, routing, fitted, parts, &mut nodes);
        let sources = model
            .sources
            .iter()
            .filter(|(_, source)| fitted(&source.fitted_when))
            .map(|(index, _)| {
                let minus = nodes.of(model, Pin::Source(index, Pole::Minus));
                (
                    index,
                    minus,
                    nodes.of(model, Pin::Source(index, Pole::Plus)),
                )
            })
            .collect();
        let loads = model
            .loads
            .iter()
            .filter(|(index, _)| loads(*index))
            .filter(|(_, load)| fitted(&load.fitted_when))
            .map(|(index, _)| {
                let plus = nodes.of(model, Pin::Load(index, Pole::Plus));
                (index, plus, nodes.of(model, Pin::Load(index, Pole::Minus)))
            })
            .collect();
        let branch_of = branches
            .iter()
            .enumerate()
            .map(|(number, branch)| (branch.part, number))
            .collect();
        Self {
            nodes,
            branches,
            sources,
            loads,
            branch_of,
        }
    }

    /// How many nodes there are.
    pub fn node_count(&self) -> usize {
        self.nodes.count()
    }

    /// Position of the branch of a part, if it is fitted on this boat.
    pub fn branch(&self, part: Part) -> Option<usize> {
        self.branch_of.get(&part).copied()
    }
}
