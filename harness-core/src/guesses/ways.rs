//! The way of each load from its source and back, on one boat in one state, with nothing solved.

use crate::boats::Boat;
use crate::model::{BoatModel, Index, Load, OperatingState, Source};
use crate::network::assembly::trace::{Reach, graph};
use crate::network::assembly::{Assembly, Part};
use std::collections::BTreeMap;

/// Ways over the branches of the wiring of all boats.
#[derive(Debug, Default)]
pub(super) struct Ways {
    of_load: BTreeMap<Index<Load>, (Index<Source>, Vec<usize>)>,
    through: BTreeMap<usize, Vec<Index<Load>>>,
    active: Vec<Index<Source>>,
}

impl Ways {
    /// The ways on a boat; without a state, of all loads at once.
    pub fn of(
        model: &BoatModel,
        assembly: &Assembly,
        boat: &Boat,
        state: Option<Index<OperatingState>>,
    ) -> Self {
        let closed: Vec<bool> = assembly
            .branches
            .iter()
            .map(|branch| {
                let open = match (branch.part, state) {
                    (Part::Device(at), Some(state)) => model.devices[at].open_in.contains(&state),
                    _ => false,
                };
                !open && branch.part.fitted_when(model).holds(boat)
            })
            .collect();
        let graph = graph(assembly.node_count(), &assembly.branches, &closed);
        let gives = |source: Index<Source>| {
            let source = &model.sources[source];
            let state = state.is_none_or(|state| {
                source.active_in.is_empty() || source.active_in.contains(&state)
            });
            state && source.fitted_when.holds(boat)
        };
        let active = assembly.sources.iter().filter(|(at, ..)| gives(*at));
        let reaches: Vec<(Index<Source>, Reach, Reach)> = active
            .map(|&(at, minus, plus)| (at, Reach::from(&graph, plus), Reach::from(&graph, minus)))
            .collect();
        let mut ways = Self {
            active: reaches.iter().map(|(at, ..)| *at).collect(),
            ..Self::default()
        };
        for &(load, plus, minus) in &assembly.loads {
            let stated = &model.loads[load];
            let runs = state.is_none_or(|state| stated.runs(state));
            if !runs || !stated.fitted_when.holds(boat) {
                continue;
            }
            let both = |(_, feed, back): &&(Index<Source>, Reach, Reach)| {
                feed.reaches(plus) && back.reaches(minus)
            };
            if let Some((source, feed, back)) = reaches.iter().find(both) {
                let mut way = feed.path(plus);
                way.extend(back.path(minus));
                ways.take(load, *source, way);
            }
        }
        ways
    }

    fn take(&mut self, load: Index<Load>, source: Index<Source>, way: Vec<usize>) {
        for branch in &way {
            self.through.entry(*branch).or_default().push(load);
        }
        self.of_load.insert(load, (source, way));
    }

    /// The branches of a load's way; none where it gets no current.
    pub fn way(&self, load: Index<Load>) -> &[usize] {
        self.of_load.get(&load).map_or(&[], |(_, way)| way)
    }

    /// The source that feeds a load.
    pub fn source(&self, load: Index<Load>) -> Option<Index<Source>> {
        self.of_load.get(&load).map(|(source, _)| *source)
    }

    /// The loads whose current passes a branch.
    pub fn through(&self, branch: usize) -> impl Iterator<Item = Index<Load>> + '_ {
        self.through.get(&branch).into_iter().flatten().copied()
    }

    /// The loads that a source feeds.
    pub fn fed_by(&self, source: Index<Source>) -> impl Iterator<Item = Index<Load>> + '_ {
        let fed = self.of_load.iter();
        fed.filter(move |(_, (own, _))| *own == source)
            .map(|(load, _)| *load)
    }

    /// The sources that give.
    pub fn active(&self) -> impl Iterator<Item = Index<Source>> + '_ {
        self.active.iter().copied()
    }
}
