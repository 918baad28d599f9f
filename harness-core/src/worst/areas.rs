//! Areas: things whose findings hang on each other, and on no thing of another area.
//!
//! All that hangs on the plus of a source, and all that its loads pass, is one area; two areas that
//! share a thing are one. So a bank with its loads is an area, and banks joined by nothing but a
//! minus through which each load comes back its own way are several. Of other areas nothing counts
//! but how many of their wires lie beside its own and carry current.

use super::systems::Systems;
use crate::model::BoatModel;
use crate::network::assembly::Assembly;
use crate::rules::Place;
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// One area.
#[derive(Debug, Default)]
struct Area {
    places: BTreeSet<Place>,
    /// Whether it is known what its currents pass.
    is_followed: bool,
}

/// All areas of a model, with the rest of its things as the last.
#[derive(Debug)]
pub(super) struct Areas {
    areas: Vec<Area>,
    area_of: BTreeMap<Place, usize>,
}

impl Areas {
    /// Takes the things of a model apart.
    pub fn of(model: &BoatModel, assembly: &Assembly, systems: &Systems) -> Self {
        let mut sides = UnionFind::<usize>::new(assembly.node_count());
        for branch in &assembly.branches {
            sides.union(branch.from, branch.to);
        }
        let minus = assembly.sources.iter().map(|source| sides.find(source.1));
        let minus: BTreeSet<usize> = minus.collect();
        let parts = assembly
            .branches
            .iter()
            .map(|branch| (branch.part.into(), branch.from));
        let loads = assembly
            .loads
            .iter()
            .map(|load| (Place::Load(load.0), load.1));
        let sources = assembly
            .sources
            .iter()
            .map(|source| (Place::Source(source.0), source.2));
        let things: Vec<(Place, usize)> = parts.chain(loads).chain(sources).collect();
        let mut number_of: BTreeMap<Place, usize> = BTreeMap::new();
        for (place, _) in &things {
            let next = number_of.len();
            number_of.entry(*place).or_insert(next);
        }
        // What is no branch of any boat leads nowhere and hangs together with nothing.
        for place in everything(model) {
            let next = number_of.len();
            number_of.entry(place).or_insert(next);
        }
        let mut together = UnionFind::<usize>::new(number_of.len());
        let mut first_on: BTreeMap<usize, usize> = BTreeMap::new();
        let is_short = things[things.len() - assembly.sources.len()..]
            .iter()
            .any(|(_, plus)| minus.contains(&sides.find(*plus)));
        for (place, node) in &things {
            let side = sides.find(*node);
            if !minus.contains(&side) {
                let number = number_of[place];
                together.union(*first_on.entry(side).or_insert(number), number);
            }
        }
        for (at, coupler) in model.couplers.iter() {
            for half in [coupler.first, coupler.second] {
                let half = number_of[&Place::Connector(half)];
                together.union(number_of[&Place::Coupler(at)], half);
            }
        }
        let mut followed: BTreeSet<Place> = BTreeSet::new();
        let mut fed_from: BTreeSet<Place> = BTreeSet::new();
        for group in systems.groups(model.sources.len()) {
            let mut first = None;
            for system in group {
                let branches = system.branches.iter();
                let branches = branches.map(|at| Place::from(assembly.branches[*at].part));
                let loads = system.loads.iter().chain(&system.unknown);
                let loads = loads.map(|consumer| Place::Load(consumer.load));
                let sources = system.sources.iter().map(|(at, ..)| Place::Source(*at));
                fed_from.extend(sources.clone());
                for place in branches.chain(loads).chain(sources) {
                    let number = number_of[&place];
                    together.union(*first.get_or_insert(number), number);
                    followed.insert(place);
                }
            }
        }
        let on_plus = first_on.values().map(|number| together.find(*number));
        let on_plus: BTreeSet<usize> = on_plus.collect();
        let mut areas: Vec<Area> = Vec::new();
        let mut at: BTreeMap<usize, usize> = BTreeMap::new();
        let mut is_lone = Vec::new();
        let mut rest = Area::default();
        for (place, number) in &number_of {
            let label = together.find(*number);
            let of_group = followed.contains(place);
            if !of_group && !on_plus.contains(&label) {
                rest.places.insert(*place);
                continue;
            }
            let area = *at.entry(label).or_insert_with(|| {
                areas.push(Area::default());
                is_lone.push(false);
                areas.len() - 1
            });
            areas[area].places.insert(*place);
            areas[area].is_followed |= of_group;
            // A source that feeds no load may drive a current all the same.
            is_lone[area] |= matches!(place, Place::Source(_)) && !fed_from.contains(place);
        }
        for (area, is_lone) in areas.iter_mut().zip(is_lone) {
            area.is_followed &= !is_lone && !is_short && systems.given_up.is_empty();
        }
        areas.push(rest);
        let numbered = areas.iter().enumerate();
        let area_of = numbered.flat_map(|(number, area)| {
            let places = area.places.iter();
            places
                .map(move |place| (*place, number))
                .collect::<Vec<_>>()
        });
        Self {
            area_of: area_of.collect(),
            areas,
        }
    }

    /// Everything whose findings may hang on these things; `None` where that is not followed.
    pub fn around(&self, things: &BTreeSet<Place>) -> Option<BTreeSet<Place>> {
        let areas = things.iter().map(|place| self.area_of.get(place).copied());
        let areas: BTreeSet<usize> = areas.collect::<Option<_>>()?;
        let mut found = BTreeSet::new();
        for area in areas {
            let area = &self.areas[area];
            if !area.is_followed {
                return None;
            }
            found.extend(&area.places);
        }
        Some(found)
    }
}

/// Everything that rules judge but runs and buses.
fn everything(model: &BoatModel) -> impl Iterator<Item = Place> + '_ {
    let wires = model.wires.indices().map(Place::Wire);
    let devices = model.devices.indices().map(Place::Device);
    let connectors = model.connectors.indices().map(Place::Connector);
    let couplers = model.couplers.indices().map(Place::Coupler);
    let splices = model.splices.indices().map(Place::Splice);
    let equipment = wires.chain(devices).chain(splices);
    equipment.chain(connectors).chain(couplers)
}
