//! What a study of nearly the same model has shown, and what of it still holds.
//!
//! Most changes of a day touch one wire, one load or one device. What they cannot touch
//! ([`super::areas`]) is as it was on each boat that was judged for it before, so only the
//! rest is judged anew. The boats themselves are searched as without an earlier study, and a thing
//! is only taken over where the same boats are judged for it in the same order: the outcome is the
//! same, to the last bit, as judging all of it anew.

use super::areas::Areas;
use super::candidates::Candidates;
use super::compared::{Added, Compared, before, starts_alike};
use super::every_boat::{EveryBoat, Limit, Supply};
use super::extent::Extent;
use super::searched::Searched;
use super::systems::{System, Systems};
use crate::boats::{Condition, Way};
use crate::model::{BoatModel, Index, Load, Pin, Run, Wire};
use crate::network::assembly::{Assembly, surely_draws};
use crate::routing::Routing;
use crate::rules::{Depends, Finding, Loaded, Place, RULES, hangs_on_returns, has_yellow_return};
use crate::tables::conductors;
use crate::units::Volts;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A study of every boat, made earlier of nearly the same model.
#[derive(Clone, Debug)]
pub struct Earlier<'e> {
    /// Its boats.
    pub every: &'e EveryBoat,
    /// Its findings.
    pub findings: &'e [Finding],
    /// What is stated otherwise since.
    pub changes: Changes,
}

impl Earlier<'_> {
    /// Its boats where they are the same now: where no current hangs on what is stated otherwise.
    pub(super) fn candidates(&self) -> Option<Arc<Candidates>> {
        let Changes { wires, loads, .. } = &self.changes;
        let is_same = wires.is_empty() && loads.is_empty();
        is_same.then(|| self.every.candidates.clone())
    }
}

/// What is stated otherwise in a later model, where nothing else is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changes {
    /// Wires of another size.
    wires: BTreeSet<Index<Wire>>,
    /// Loads that draw otherwise.
    loads: BTreeSet<Place>,
    /// Things of which something is stated otherwise by which no current hangs, and no finding but
    /// their own: ratings of devices, how much a load may lose.
    own: BTreeSet<Place>,
    /// Wires of another color, and feeds that may be yellow or not for another return's color: of
    /// their findings only those may hang on it that hang on nothing else.
    colors: BTreeSet<Place>,
}

impl Changes {
    /// What differs between two models; `None` where more does than sizes, draws and ratings that
    /// both state, and colors of wires and limits of loads.
    pub fn between(old: &BoatModel, new: &BoatModel) -> Option<Self> {
        let same_lengths = old.wires.len() == new.wires.len()
            && old.loads.len() == new.loads.len()
            && old.devices.len() == new.devices.len();
        if !same_lengths || old.name != new.name {
            return None;
        }
        let volts = nominal(new);
        let mut changes = Self::default();
        let mut turned = old.clone();
        for (at, wire) in new.wires.iter() {
            let known = &old.wires[at];
            if known.size != wire.size {
                let sizes = [known.size?, wire.size?];
                if sizes.iter().any(|size| conductors::row(*size).is_none()) {
                    return None;
                }
                turned.wires.change(at, |old| old.size = wire.size);
                changes.wires.insert(at);
            }
            if known.color != wire.color {
                turned
                    .wires
                    .change(at, |old| old.color.clone_from(&wire.color));
                changes.colors.insert(Place::Wire(at));
            }
        }
        for (at, load) in new.loads.iter() {
            let known = &old.loads[at];
            if known.behavior != load.behavior {
                // So that what lies beside its wires is allowed the same whatever it draws.
                let draws = [known.behavior?, load.behavior?];
                if !draws.iter().all(|draw| surely_draws(*draw, &volts)) {
                    return None;
                }
                turned.loads.change(at, |old| old.behavior = load.behavior);
                changes.loads.insert(Place::Load(at));
            }
            let limit = |of: &Load| (of.drop_class, of.own_drop_limit_percent);
            if limit(known) != limit(load) {
                turned.loads.change(at, |old| {
                    (old.drop_class, old.own_drop_limit_percent) = limit(load);
                });
                changes.own.insert(Place::Load(at));
            }
        }
        for (at, device) in new.devices.iter() {
            let known = &old.devices[at];
            if known.rating != device.rating {
                known.rating?;
                device.rating?;
                turned.devices.change(at, |old| old.rating = device.rating);
                changes.own.insert(Place::Device(at));
            }
        }
        if has_yellow_return(old) != has_yellow_return(new) {
            let blowers = new.wires.iter();
            let blowers = blowers.filter(|(_, wire)| hangs_on_returns(new, wire));
            changes
                .colors
                .extend(blowers.map(|(at, _)| Place::Wire(at)));
        }
        (turned == *new).then_some(changes)
    }

    /// The things themselves with what shares a jacket or a pin with them; and the runs and buses
    /// of a wire of another size.
    fn places(&self, model: &BoatModel, routing: &Routing) -> (BTreeSet<Place>, BTreeSet<Place>) {
        let mut flowing = self.loads.clone();
        let mut beside = BTreeSet::new();
        let cables = self.wires.iter().filter_map(|at| model.wires[*at].cable);
        let cables: BTreeSet<_> = cables.collect();
        let pins = self.wires.iter().flat_map(|at| ends(model, *at));
        let pins: BTreeSet<Pin> = pins.collect();
        for (at, wire) in model.wires.iter() {
            let shares_cable = wire.cable.is_some_and(|cable| cables.contains(&cable));
            if self.wires.contains(&at) || shares_cable {
                // A twisted one of another size has another length.
                flowing.insert(Place::Wire(at));
                let path = routing.path(at).map_or(&[][..], |path| &path.legs);
                beside.extend(path.iter().map(|leg| Place::Run(leg.run)));
            }
            if ends(model, at).iter().any(|pin| pins.contains(pin)) {
                flowing.insert(Place::Wire(at));
            }
        }
        for place in pins.into_iter().map(|pin| Place::from(pin.equipment())) {
            match place {
                Place::Bus(_) => beside.insert(place),
                _ => flowing.insert(place),
            };
        }
        (flowing, beside)
    }
}

/// Nominal volts of all sources that state them.
fn nominal(model: &BoatModel) -> Vec<Volts> {
    let sources = model.sources.iter();
    sources.filter_map(|(_, source)| source.nominal).collect()
}

fn ends(model: &BoatModel, wire: Index<Wire>) -> [Pin; 2] {
    [model.wires[wire].from, model.wires[wire].to]
}

/// What an earlier search found, and the things whose values changed since.
pub(super) struct Found<'e> {
    pub candidates: &'e Candidates,
    changed: BTreeSet<Place>,
}

impl<'e> Found<'e> {
    /// Of an earlier study; `None` where it followed other conditions.
    pub fn of(
        earlier: &Earlier<'e>,
        model: &BoatModel,
        routing: &Routing,
        conditions: &[Condition],
    ) -> Option<Self> {
        let old: &Candidates = &earlier.every.candidates;
        let is_same = old.conditions == conditions && !old.given_up;
        is_same.then(|| Self {
            candidates: old,
            changed: earlier.changes.places(model, routing).0,
        })
    }

    /// The boats with and without everything, alone and in pairs, where the first was the same; and
    /// on how many of them everything is there once.
    pub fn starts(&self, first: &Way) -> Option<(&'e [Way], usize)> {
        let old = self.candidates;
        let starts = old.searched.starts.get(..old.with_pairs?)?;
        (starts.first() == Some(first)).then_some((starts, old.with_everything))
    }

    /// What was found of a list of systems, by its number, from the same boats: the same as now
    /// where no value of them changed.
    pub fn of_systems<F>(
        &self,
        searched: &Searched<F>,
        (number, systems): (usize, &[&System]),
        starts: &[Way],
        assembly: &Assembly,
    ) -> Option<Arc<F>> {
        let is_same = searched.starts == starts && self.is_unchanged(systems, assembly);
        is_same.then(|| searched.found.get(number).cloned())?
    }

    /// Whether no value of some systems changed.
    fn is_unchanged(&self, systems: &[&System], assembly: &Assembly) -> bool {
        let is_changed = |system: &&System| {
            let branches = system.branches.iter();
            let mut branches = branches.map(|at| Place::from(assembly.branches[*at].part));
            let mut loads = system.loads.iter().chain(&system.unknown);
            branches.any(|place| self.changed.contains(&place))
                || loads.any(|one| self.changed.contains(&Place::Load(one.load)))
        };
        !systems.iter().any(is_changed)
    }
}

/// What still holds of an earlier study.
pub(super) struct Kept<'e> {
    earlier: &'e Earlier<'e>,
    /// Things to be judged anew in all.
    pub anew: BTreeSet<Place>,
    /// Things to be judged anew by rules whose findings hang on nothing else.
    alone: &'e BTreeSet<Place>,
    /// These with all that their findings may hang on.
    pub around: BTreeSet<Place>,
    /// What is judged now on boats, by their number, that was not judged on them earlier.
    pub added: BTreeMap<usize, Added>,
    /// The number that each boat judged now had earlier; `None` where others of its conductors may
    /// be loaded than before.
    before: Option<Vec<Option<usize>>>,
    /// Findings that hold, by what they are about: their numbers earlier, and of their boats now.
    holding: BTreeMap<Limit, (usize, usize)>,
    /// Loads whose volts hold, with the number of their boat now.
    supplied_on: BTreeMap<Index<Load>, usize>,
}

impl<'e> Kept<'e> {
    /// What holds; `None` where nothing can be told to.
    pub fn of(
        earlier: &'e Earlier<'e>,
        model: &BoatModel,
        routing: &Routing,
        (areas, systems): (&Areas, &Systems),
        candidates: &Candidates,
    ) -> Option<Self> {
        let old = &earlier.every.candidates;
        if old.conditions != candidates.conditions
            || old.given_up
            || candidates.given_up
            || !starts_alike(old, candidates)
        {
            return None;
        }
        let (flowing, beside) = earlier.changes.places(model, routing);
        let mut anew = areas.around(&flowing)?;
        let parts = |system: &&System| {
            let mut sources = system.sources.iter();
            sources.any(|(at, ..)| anew.contains(&Place::Source(*at)))
        };
        let mut here = systems.systems.iter().filter(parts);
        let has_one_way = here.all(|system| system.network.has_one_way());
        let volts = nominal(model);
        let mut loads = model.loads.iter();
        let all_draw = loads.all(|(at, load)| {
            let draws = load.behavior;
            let draws = draws.is_none_or(|draws| surely_draws(draws, &volts));
            draws || !anew.contains(&Place::Load(at))
        });
        if !has_one_way {
            lie_beside(model, routing, &mut anew);
            // What comes back through such a wire hangs on the loads of its own area.
            anew = areas.around(&anew)?;
        }
        anew.extend(beside);
        let compared = Compared::of(old, candidates)?;
        let mut again = earlier.changes.own.clone();
        again.extend(&compared.elsewhere);
        let limits = limits(earlier.findings);
        let mut holding: BTreeMap<Limit, (usize, usize)> = BTreeMap::new();
        for (number, limit) in limits.into_iter().enumerate() {
            match compared.judged_now(earlier.every.worst[number], limit.1) {
                Some(boat) => drop(holding.insert(limit, (number, boat))),
                None => drop(again.insert(limit.1)),
            }
        }
        let mut supplied_on = BTreeMap::new();
        for (load, boat) in &earlier.every.supplied_on {
            match compared.judged_now(*boat, Place::Load(*load)) {
                Some(boat) => drop(supplied_on.insert(*load, boat)),
                None => drop(again.insert(Place::Load(*load))),
            }
        }
        // Of a run nothing is judged but what lies in it.
        let again = again.difference(&anew);
        let (runs, things): (BTreeSet<Place>, BTreeSet<Place>) =
            again.partition(|place| matches!(place, Place::Run(_)));
        let mut around = areas.around(&things)?;
        anew.extend(runs);
        around.extend(&anew);
        anew.extend(things);
        let count = candidates.boats.len();
        let mut kept = Self {
            earlier,
            before: (has_one_way && all_draw).then(|| before(&compared.now, count)),
            added: compared.added(&anew),
            anew,
            alone: &earlier.changes.colors,
            around,
            holding: BTreeMap::new(),
            supplied_on: BTreeMap::new(),
        };
        holding.retain(|limit, _| !kept.judges_anew(limit.0, limit.1));
        supplied_on.retain(|load, _| !kept.anew.contains(&Place::Load(*load)));
        (kept.holding, kept.supplied_on) = (holding, supplied_on);
        Some(kept)
    }

    /// The things that rules judge anew whose findings hang on nothing else.
    pub fn judged_alone(&self) -> impl Iterator<Item = Place> + '_ {
        self.anew.iter().chain(self.alone).copied()
    }

    /// Whether a rule, by its number, judges a thing on every boat anew.
    fn judges_anew(&self, rule: usize, place: Place) -> bool {
        let alone = || RULES.get(rule).map(|rule| rule.depends) == Some(Depends::Itself);
        self.anew.contains(&place) || (self.alone.contains(&place) && alone())
    }

    /// Whether a rule, by its number, judges a thing on a boat, by its number.
    pub fn judges(&self, rule: usize, place: Place, boat: usize) -> bool {
        let is_added = match self.added.get(&boat) {
            Some(Added::All) => true,
            Some(Added::Flowing(places)) => places.contains(&place),
            None => false,
        };
        is_added || self.judges_anew(rule, place)
    }

    /// The findings that hold where no boat added since is worse, by the number of their boat.
    pub fn findings(&self) -> BTreeMap<usize, Vec<(Limit, Finding)>> {
        let mut findings: BTreeMap<usize, Vec<(Limit, Finding)>> = BTreeMap::new();
        for (limit, (number, boat)) in &self.holding {
            let finding = self.earlier.findings[*number].clone();
            findings.entry(*boat).or_default().push((*limit, finding));
        }
        findings
    }

    /// How many loaded conductors lie together on a boat, by its number among those judged now.
    pub fn loaded(&self, number: usize) -> Option<Loaded> {
        let before = self.before.as_ref()?[number]?;
        self.earlier.every.loaded[before].as_ref()?.known()
    }

    /// The volts of loads that hold where no boat added since leaves less, by the number of their
    /// boat.
    pub fn supplies(&self) -> BTreeMap<usize, BTreeMap<Index<Load>, Supply>> {
        let mut supplies: BTreeMap<usize, BTreeMap<Index<Load>, Supply>> = BTreeMap::new();
        for (load, boat) in &self.supplied_on {
            if let Some(supply) = self.earlier.every.supplies.get(load) {
                supplies.entry(*boat).or_default().insert(*load, *supply);
            }
        }
        supplies
    }

    /// The earlier number of a finding that holds and is worst on this boat.
    fn number(&self, limit: &Limit, boat: usize) -> Option<usize> {
        let (number, on) = self.holding.get(limit)?;
        (*on == boat).then_some(*number)
    }

    /// Whether a finding is taken over that is worst on this boat.
    pub fn holds(&self, limit: &Limit, boat: usize) -> bool {
        self.number(limit, boat).is_some()
    }

    /// How far a failure that holds on its worst boat reaches, where that was counted.
    pub fn extent(&self, limit: &Limit, boat: usize) -> Option<&Extent> {
        let number = self.number(limit, boat)?;
        self.earlier.every.extents[number].as_ref()
    }
}

/// Where currents part between conductors, any may come to carry none: what lies beside them is
/// allowed more or less.
fn lie_beside(model: &BoatModel, routing: &Routing, anew: &mut BTreeSet<Place>) {
    let runs_of = |wire: Index<Wire>| {
        let legs = routing.path(wire).map_or(&[][..], |path| &path.legs);
        legs.iter().map(|leg| leg.run)
    };
    let wires = model.wires.indices();
    let here = wires.filter(|at| anew.contains(&Place::Wire(*at)));
    let runs: BTreeSet<Index<Run>> = here.flat_map(runs_of).collect();
    let wires = model.wires.indices();
    let beside = wires.filter(|at| runs_of(*at).any(|run| runs.contains(&run)));
    anew.extend(beside.map(Place::Wire));
}

/// What findings are about, in their order.
pub(super) fn limits(findings: &[Finding]) -> Vec<Limit> {
    let mut met = BTreeMap::new();
    let limit = |finding: &Finding| {
        let rule = RULES.iter().position(|rule| rule.code == finding.rule);
        let occurrence: &mut usize = met.entry(finding.limit_key()).or_default();
        *occurrence += 1;
        let rule = rule.unwrap_or(RULES.len());
        (rule, finding.place, finding.rule_set, *occurrence - 1)
    };
    findings.iter().map(limit).collect()
}
