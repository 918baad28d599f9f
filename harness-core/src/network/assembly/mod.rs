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
mod spoiled;
pub(crate) mod trace;
#[cfg(test)]
mod tests;

pub use apart::{LOADED_ABOVE, surely_draws};
pub use branches::{Branch, Part};
pub use operated::{
    AtLeast, LoadPoint, More, Operating, PathShare, SourceCondition, Supplied, SystemBalance,
    Unsupplied,
};
pub use operating::Wanted;
pub use shared::{Known, Shared};
pub(crate) use spoiled::{most_more, most_volts, states_no_draw};

use crate::boats::Boat;
use crate::model::{BoatModel, Index, Load, Pin, Pole, Source};
use crate::routing::Routing;
use nodes::Nodes;

/// The electrical side of one boat: what is fitted, and what it is joined to.
#[derive(Clone, Debug)]
pub struct Assembly {
    node_count: usize,
    /// Everything fitted that only resists, in a fixed order: wires, devices, couplers,
    /// connectors, splices.
    pub branches: Vec<Branch>,
    /// Fitted sources with the nodes of their minus and plus.
    pub sources: Vec<(Index<Source>, usize, usize)>,
    /// Fitted loads with the nodes of their plus and minus.
    pub loads: Vec<(Index<Load>, usize, usize)>,
    /// Each part with the position of its branch, by part.
    branch_of: Vec<(Part, usize)>,
}

/// Which parts and which loads are joined.
pub type Those<'w> = (&'w dyn Fn(Part) -> bool, &'w dyn Fn(Index<Load>) -> bool);

impl Assembly {
    /// Joins what this boat has.
    pub fn of(model: &BoatModel, routing: &Routing, boat: &Boat) -> Self {
        Self::of_every_boat(model, routing).on(model, boat, (&|_| true, &|_| true))
    }

    /// Joins what any boat has, as if all of it were fitted at once.
    pub fn of_every_boat(model: &BoatModel, routing: &Routing) -> Self {
        let mut nodes = Nodes::default();
        let branches = branches::of(model, routing, &mut nodes);
        let sources = model.sources.indices().map(|index| {
            let minus = nodes.of(model, Pin::Source(index, Pole::Minus));
            let plus = nodes.of(model, Pin::Source(index, Pole::Plus));
            (index, minus, plus)
        });
        let sources = sources.collect();
        let loads = model.loads.indices().map(|index| {
            let plus = nodes.of(model, Pin::Load(index, Pole::Plus));
            (index, plus, nodes.of(model, Pin::Load(index, Pole::Minus)))
        });
        let loads = loads.collect();
        let numbered = branches.iter().enumerate();
        let mut branch_of: Vec<(Part, usize)> = numbered
            .map(|(number, branch)| (branch.part, number))
            .collect();
        branch_of.sort_unstable();
        Self {
            node_count: nodes.count(),
            branches,
            sources,
            loads,
            branch_of,
        }
    }

    /// Of what any boat has, joins some parts and loads that this boat has, with its sources.
    pub fn on(&self, model: &BoatModel, boat: &Boat, (parts, loads): Those<'_>) -> Self {
        let mut places = Places {
            of: vec![usize::MAX; self.node_count],
            count: 0,
        };
        // Position of each branch on the boat.
        let mut position = vec![usize::MAX; self.branches.len()];
        let mut branches = Vec::new();
        for (number, branch) in self.branches.iter().enumerate() {
            if parts(branch.part) && branch.part.is_fitted(model, boat) {
                position[number] = branches.len();
                branches.push(Branch {
                    from: places.of(branch.from),
                    to: places.of(branch.to),
                    ..branch.clone()
                });
            }
        }
        let sources = self.sources.iter();
        let sources = sources.filter(|(at, ..)| model.sources[*at].fitted_when.holds(boat));
        let sources = sources.map(|&(at, minus, plus)| (at, places.of(minus), places.of(plus)));
        let sources = sources.collect();
        let wanted = self.loads.iter().filter(|(at, ..)| loads(*at));
        let fitted = wanted.filter(|(at, ..)| model.loads[*at].fitted_when.holds(boat));
        let fitted = fitted.map(|&(at, plus, minus)| (at, places.of(plus), places.of(minus)));
        let loads = fitted.collect();
        let by_part = self.branch_of.iter();
        let by_part = by_part.map(|&(part, number)| (part, position[number]));
        Self {
            node_count: places.count,
            branches,
            sources,
            loads,
            branch_of: by_part.filter(|(_, at)| *at != usize::MAX).collect(),
        }
    }

    /// How many nodes there are.
    pub fn node_count(&self) -> usize {
        self.node_count
    }

    /// Position of the branch of a part, if it is fitted on this boat.
    pub fn branch(&self, part: Part) -> Option<usize> {
        let after = self.branch_of.partition_point(|(known, _)| *known <= part);
        let (known, at) = *self.branch_of.get(after.checked_sub(1)?)?;
        (known == part).then_some(at)
    }
}

/// Where each node is on a boat that has only some of them, in the order they are first met.
struct Places {
    of: Vec<usize>,
    count: usize,
}

impl Places {
    fn of(&mut self, node: usize) -> usize {
        let place = &mut self.of[node];
        if *place == usize::MAX {
            *place = self.count;
            self.count += 1;
        }
        *place
    }
}
