//! From one moulding to another: free cavities of the couplers on the way.

use super::places::Distances;
use crate::boats::Condition;
use crate::model::{
    BoatModel, Connector, ConnectorType, Coupler, Identified, Index, Moulding, Pin, Point,
};
use std::collections::BTreeSet;

/// Most couplers in a row: more is a harness to be thought about by a person.
const MOST_CROSSED: usize = 3;

/// A coupler on the way with the cavities taken, the half nearer to the block first.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Crossing {
    pub coupler: Index<Coupler>,
    pub near: Index<Connector>,
    pub far: Index<Connector>,
    pub feed: u32,
    pub back: u32,
}

/// A way from a block to the component.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Way {
    pub crossings: Vec<Crossing>,
    /// Meters of runs, one way.
    pub length: f64,
    /// It passes from one moulding to another without a connector.
    pub past_connectors: bool,
}

/// Moulding of a point.
pub(super) fn moulding_of(model: &BoatModel, point: Index<Point>) -> Option<Index<Moulding>> {
    model.zones[model.points[point].zone?].moulding
}

fn part(model: &BoatModel, connector: Index<Connector>) -> &ConnectorType {
    &model.connector_types[model.connectors[connector].connector_type]
}

/// Cavities that no wire of any boat takes in either half.
fn free_cavities(model: &BoatModel, coupler: &Coupler) -> Vec<u32> {
    let halves = [coupler.first, coupler.second];
    let mut taken = BTreeSet::new();
    for (_, wire) in model.wires.iter() {
        for pin in [wire.from, wire.to] {
            if let Pin::Cavity(connector, cavity) = pin
                && halves.contains(&connector)
            {
                taken.insert(cavity);
            }
        }
    }
    let count = halves.map(|half| part(model, half).cavities);
    let both = count[0].min(count[1]);
    (1..=both)
        .filter(|cavity| !taken.contains(cavity))
        .collect()
}

/// What a coupler must be to take the wires.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted<'a> {
    /// Amperes of the component.
    pub amperes: f64,
    /// When the block is fitted: a half may come with it.
    pub fitted: &'a Condition,
}

impl Wanted<'_> {
    fn takes(&self, model: &BoatModel, coupler: &Coupler) -> bool {
        [coupler.first, coupler.second].into_iter().all(|half| {
            let stated = &model.connectors[half];
            let rated = part(model, half)
                .contact_rating
                .map(|rating| rating.value());
            let there =
                stated.fitted_when == Condition::Always || stated.fitted_when == *self.fitted;
            there && stated.plugs_into.is_none() && rated.is_none_or(|most| most >= self.amperes)
        })
    }
}

/// Ways from a block to a point, the shortest first: without a connector inside one moulding,
/// else by free cavities of couplers. Where couplers are used but none on the way has room, the
/// way past them.
pub(super) fn ways<'m>(
    model: &'m BoatModel,
    distances: &mut Distances<'m>,
    from: Index<Point>,
    to: Index<Point>,
    wanted: Wanted<'_>,
) -> Vec<Way> {
    let (start, end) = (moulding_of(model, from), moulding_of(model, to));
    let direct = distances.between(from, to);
    let crosses = !model.couplers.is_empty() && start.is_some() && end.is_some() && start != end;
    let mut found = Vec::new();
    if crosses {
        let mut chain = Chain {
            model,
            distances,
            wanted,
            to,
            end,
            found: Vec::new(),
        };
        chain.extend(from, &mut vec![start], &mut Vec::new(), 0.0);
        found = chain.found;
    }
    if found.is_empty() {
        found.extend(direct.map(|length| Way {
            crossings: Vec::new(),
            length,
            past_connectors: crosses,
        }));
    }
    found.sort_by(|a, b| {
        let count = |way: &Way| way.crossings.len();
        count(a).cmp(&count(b)).then(a.length.total_cmp(&b.length))
    });
    found
}

struct Chain<'a, 'm> {
    model: &'m BoatModel,
    distances: &'a mut Distances<'m>,
    wanted: Wanted<'a>,
    to: Index<Point>,
    end: Option<Index<Moulding>>,
    found: Vec<Way>,
}

impl Chain<'_, '_> {
    fn extend(
        &mut self,
        at: Index<Point>,
        visited: &mut Vec<Option<Index<Moulding>>>,
        crossed: &mut Vec<Crossing>,
        length: f64,
    ) {
        if visited.last() == Some(&self.end) {
            if let Some(last) = self.distances.between(at, self.to) {
                self.found.push(Way {
                    crossings: crossed.clone(),
                    length: length + last,
                    past_connectors: false,
                });
            }
            return;
        }
        if crossed.len() >= MOST_CROSSED {
            return;
        }
        let model = self.model;
        for (coupler, stated) in model.couplers.iter() {
            for (near, far) in [(stated.first, stated.second), (stated.second, stated.first)] {
                let points = (model.connectors[near].point, model.connectors[far].point);
                let (Some(near_point), Some(far_point)) = points else {
                    continue;
                };
                let next = moulding_of(model, far_point);
                if Some(&moulding_of(model, near_point)) != visited.last()
                    || visited.contains(&next)
                    || !self.wanted.takes(model, stated)
                {
                    continue;
                }
                let [feed, back, ..] = free_cavities(model, stated)[..] else {
                    continue;
                };
                let Some(step) = self.distances.between(at, near_point) else {
                    continue;
                };
                visited.push(next);
                crossed.push(Crossing {
                    coupler,
                    near,
                    far,
                    feed,
                    back,
                });
                self.extend(far_point, visited, crossed, length + step);
                crossed.pop();
                visited.pop();
            }
        }
    }
}

impl Way {
    /// The couplers passed, in words.
    pub(super) fn words(&self, model: &BoatModel) -> String {
        let each = self.crossings.iter().map(|crossing| {
            let name = model.couplers[crossing.coupler].id();
            format!("{name} cavities {} and {}", crossing.feed, crossing.back)
        });
        each.collect::<Vec<_>>().join(", then ")
    }

    /// Thickest conductor that its connectors take, mm².
    pub(super) fn thickest(&self, model: &BoatModel) -> Option<f64> {
        let halves = self.crossings.iter().flat_map(|one| [one.near, one.far]);
        let most = halves.filter_map(|half| part(model, half).max_area);
        most.map(|area| area.value()).min_by(f64::total_cmp)
    }

    /// Thinnest conductor that its connectors take, mm².
    pub(super) fn thinnest(&self, model: &BoatModel) -> Option<f64> {
        let halves = self.crossings.iter().flat_map(|one| [one.near, one.far]);
        let least = halves.filter_map(|half| part(model, half).min_area);
        least.map(|area| area.value()).max_by(f64::total_cmp)
    }
}
