//! The wiring of all boats, taken apart into systems that solve by themselves.

use super::splitting::Splitting;
use crate::boats::{BoatSet, Condition, TooWide};
use crate::model::{BoatModel, Index, Load, OperatingState, Source};
use crate::network::Prepared;
use crate::network::assembly::{Assembly, Shared, SourceCondition};
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// Loads joined by closed branches and active sources, in one state at one condition of the
/// sources, on the boats on which the loops and the sources are the same.
#[derive(Debug)]
pub struct System {
    /// The state; `None` for a model that states none.
    pub state: Option<Index<OperatingState>>,
    /// The condition of the sources.
    pub condition: SourceCondition,
    /// What gives it its shape: conditions that are met or unmet.
    pub shape: Met,
    /// All its loads at once.
    pub network: Prepared,
    /// The same with sources of 0 V and loads of 1 A, for factors.
    pub unit: Prepared,
    /// Its sources, with the nodes of minus and plus.
    pub sources: Vec<(Index<Source>, usize, usize)>,
    /// Its loads, in the order of the network.
    pub loads: Vec<Consumer>,
    /// Loads of unknown draw; they are not in the network.
    pub unknown: Vec<Consumer>,
    /// The branches of all boats, in the order of the network's conductors.
    pub branches: Vec<usize>,
    /// Which of its branches and sources share what flows.
    pub shared: Shared,
}

impl System {
    /// What a load's current passes of what shares what flows.
    pub(crate) fn passed(&self, consumer: &Consumer) -> BTreeSet<usize> {
        let way = consumer.way.iter().map(|(branch, _)| *branch);
        self.shared.passed(way, consumer.source)
    }
}

/// Conditions with whether they are met.
pub type Met = Vec<(Condition, bool)>;

/// A load with the way of its current.
#[derive(Clone, Debug)]
pub struct Consumer {
    /// The load.
    pub load: Index<Load>,
    /// Boats on which it is fitted and supplied.
    pub when: Condition,
    /// Place of its source in [`System::sources`].
    pub source: usize,
    /// Branches of its way out and back, with whether the current runs from `from` to `to`.
    pub way: Vec<(usize, bool)>,
    /// So many of them lead out, the others back.
    pub out: usize,
}

impl Consumer {
    /// Branches through which its current comes back.
    pub(super) fn back(&self) -> impl Iterator<Item = usize> {
        self.way.iter().skip(self.out).map(|(branch, _)| *branch)
    }
}

/// A load that is fitted, and should run, on boats on which no circuit leads to it.
pub type Unsupplied = (Index<Load>, Condition);

/// Everything the states come apart into.
#[derive(Debug, Default)]
pub struct Systems {
    /// The systems.
    pub systems: Vec<System>,
    /// Loads without a circuit on some boats.
    pub unsupplied: Vec<Unsupplied>,
    /// Parts that could not be prepared, in words; boats show why.
    pub given_up: Vec<String>,
    /// When each load of such a part runs, with the shape of the part.
    pub not_prepared: Vec<Met>,
}

impl Systems {
    /// Takes the wiring apart for each state, at nominal and at the lowest volts.
    ///
    /// # Errors
    /// [`TooWide`] where the conditions of one shape cannot be followed.
    pub fn of(model: &BoatModel, assembly: &Assembly, boats: &BoatSet) -> Result<Self, TooWide> {
        let mut systems = Self::default();
        let states: Vec<_> = match model.states.is_empty() {
            true => vec![None],
            false => model.states.indices().map(Some).collect(),
        };
        let when: Vec<Condition> = assembly
            .branches
            .iter()
            .map(|branch| branch.part.fitted_when(model))
            .collect();
        for state in states {
            Splitting {
                model,
                assembly,
                boats,
                when: &when,
                state,
            }
            .split(&mut systems)?;
        }
        Ok(systems)
    }

    /// The systems in groups, in their order: two that have a source in common are in one. Sources
    /// are counted by the model.
    pub(super) fn groups(&self, source_count: usize) -> Vec<Vec<&System>> {
        let mut sharing = UnionFind::<usize>::new(source_count);
        for system in &self.systems {
            for pair in system.sources.windows(2) {
                sharing.union(pair[0].0.number(), pair[1].0.number());
            }
        }
        let mut groups: BTreeMap<Option<usize>, Vec<&System>> = BTreeMap::new();
        for system in &self.systems {
            let first = system.sources.first();
            let group = first.map(|(source, ..)| sharing.find(source.number()));
            groups.entry(group).or_default().push(system);
        }
        groups.into_values().collect()
    }
}

/// A condition where these others are met so, too.
pub(super) fn met_so(when: Condition, others: &[(Condition, bool)]) -> Condition {
    others
        .iter()
        .fold(when, |when, (condition, met)| match met {
            true => when.and(condition),
            false => when.and(&condition.negated()),
        })
}
