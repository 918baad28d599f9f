//! The boats among which the worst of every limit is.
//!
//! Rules judge one boat. Which boats they have to judge follows from what their limits hang on:
//! volts and currents (the search), wires that lie together or on one stud (the heaviest boat),
//! what leads to what (boats that have two things, one of them, or neither).

use super::earlier::Found;
use super::filled::filled_when;
use super::greatest::Worst;
use super::quantity::Quantity;
use super::searched::Searched;
use super::systems::{System, Systems};
use super::{groups, shared_returns};
use crate::boats::firing::MOST_STATES;
use crate::boats::{Apart, Asking, Boat, BoatSet, Condition, OptionIndex, Options, TooWide, Way};
use crate::model::{BoatModel, Index, Load, OperatingState, Pin, Wire};
use crate::network::assembly::Assembly;
use crate::routing::{Bundle, Routing, bundles};
use crate::rules::Place;
use crate::working::NotEvaluated;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// The boats to be judged, with what was proven of them.
#[derive(Debug)]
pub struct Candidates {
    /// The boats, the one with the most options first.
    pub boats: Vec<Boat>,
    /// On the first so many of them everything there is is fitted once.
    pub with_everything: usize,
    /// The conditions that were followed.
    pub(super) conditions: Vec<Condition>,
    /// On the first so many of them any two things are there, missing, and one without the other;
    /// nothing where that could not be asked.
    pub(super) with_pairs: Option<usize>,
    /// What the searches of all groups found.
    pub(super) searched: Searched<groups::Found>,
    /// What the searches of all returns found.
    pub(super) returned: Searched<shared_returns::Found>,
    /// Whether some part of the wiring could not be prepared.
    pub(super) given_up: bool,
    /// For each boat what is judged on it, where it was found for a few things only: what flows
    /// there.
    pub(super) judged: Vec<Option<BTreeSet<Place>>>,
    /// The greatest value of each quantity over all states, with its boat and the state.
    pub worst: BTreeMap<Quantity, (Worst, Option<Index<OperatingState>>)>,
    /// Quantities that could not be searched in some state, with the reason.
    pub missing: BTreeMap<Quantity, NotEvaluated>,
    /// The greatest currents of all loads behind a wire, all at once: no boat has more, in
    /// amperes; infinite where that could not be bounded.
    pub(super) most_together: BTreeMap<Index<Wire>, f64>,
    /// Quantities whose worst boat is proven.
    pub proven: usize,
    /// Quantities for which it is not, with the reason.
    pub unproven: Vec<String>,
    /// Boats solved exactly in all searches.
    pub solves: usize,
}

impl Candidates {
    /// How many of the boats were judged by all rules.
    pub fn judged_in_all(&self) -> usize {
        self.judged.iter().filter(|places| places.is_none()).count()
    }
}

/// How wide diagrams may become: one with all conditions, and those of groups of them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Width {
    pub together: usize,
    /// Conditions under which wires carry current that are followed in it.
    pub loaded: usize,
    /// Conditions in a group, and states of its diagram.
    pub apart: (usize, usize),
}

impl Default for Width {
    fn default() -> Self {
        Self {
            together: MOST_STATES,
            loaded: 60,
            apart: (usize::MAX, MOST_STATES),
        }
    }
}

/// Looks for them.
pub(super) struct Gathering<'a> {
    pub model: &'a BoatModel,
    pub routing: &'a Routing,
    pub assembly: &'a Assembly,
    pub systems: &'a Systems,
    pub boats: &'a dyn Asking,
    pub(super) numbers: BTreeMap<Condition, usize>,
    pub(super) ways: Vec<Way>,
    /// What an earlier search found.
    pub(super) earlier: Option<Found<'a>>,
    /// Place of each way in the list, by the conditions met.
    known: BTreeMap<Vec<bool>, usize>,
    /// Boats on which a wire lies beside so many that it is allowed less.
    pub(super) beside: Vec<(Place, Way)>,
    /// What is judged on every boat, since it is not proven on which it is worst.
    pub(super) open: BTreeSet<Place>,
    /// What each load draws at most at nominal volts; infinite where that could not be bounded.
    pub(super) draws: BTreeMap<Index<Load>, f64>,
    pub(super) found: Candidates,
}

/// Conditions of everything that may be fitted, and of everything that may run.
pub(super) fn conditions(
    model: &BoatModel,
    routing: &Routing,
    assembly: &Assembly,
    systems: &Systems,
) -> BTreeSet<Condition> {
    let parts = assembly
        .branches
        .iter()
        .map(|branch| branch.part.fitted_when(model));
    let sources = model.sources.iter().map(|(_, source)| &source.fitted_when);
    let loads = model.loads.iter().map(|(_, load)| &load.fitted_when);
    let buses = model.buses.iter().map(|(_, bus)| &bus.fitted_when);
    let connectors = model
        .connectors
        .iter()
        .map(|(_, connector)| &connector.fitted_when);
    let fitted = sources.chain(loads).chain(buses).chain(connectors);
    let running = systems.systems.iter().flat_map(|system| {
        let loads = system.loads.iter().chain(&system.unknown);
        let shape = system.shape.iter().map(|(condition, _)| condition.clone());
        loads.map(|load| load.when.clone()).chain(shape)
    });
    let unsupplied = systems.unsupplied.iter().map(|(_, when)| when.clone());
    let not_prepared = systems.not_prepared.iter().flatten();
    let unsupplied = unsupplied.chain(not_prepared.map(|(when, _)| when.clone()));
    // A jacket of wires that hang on different options lies where any of them does.
    let jackets = bundles(model, routing, |_| true).into_iter();
    let jackets = jackets.filter_map(|bundle| filled_when(model, bundle.wires).ok());
    let jackets = jackets.flat_map(|filled| filled.into_keys());
    // Each option by itself, so that boats with and without it can be asked for.
    let options = model.options.indices();
    let options = options.map(|at| Condition::Option(OptionIndex(at.number())));
    let mut all: BTreeSet<Condition> = fitted
        .map(Condition::simplified)
        .chain(options)
        .chain(parts)
        .chain(running)
        .chain(unsupplied)
        .chain(jackets)
        .collect();
    all.remove(&Condition::Always);
    all.remove(&Condition::never());
    all
}

/// The boats of a model with its conditions decided on the way; where that is too wide, in a
/// diagram for each question. The conditions under which wires are loaded are left out where they
/// would make one diagram too wide.
pub(super) fn asking(
    options: &Options,
    conditions: &BTreeSet<Condition>,
    loaded: &BTreeSet<Condition>,
    width: Width,
) -> Result<Box<dyn Asking>, TooWide> {
    let together = |listed: Vec<Condition>| {
        BoatSet::for_asking(options, &listed)?.firings_within(listed, width.together)
    };
    let all = || -> Vec<Condition> { conditions.union(loaded).cloned().collect() };
    if !loaded.is_empty()
        && loaded.len() <= width.loaded
        && let Ok(boats) = together(all())
    {
        return Ok(Box::new(boats));
    }
    match together(conditions.iter().cloned().collect()) {
        Ok(boats) => Ok(Box::new(boats)),
        Err(_) => Ok(Box::new(Apart::new(options, all(), width.apart)?)),
    }
}

/// When wires carry current, by which they count among those that lie beside another.
pub(super) fn loaded(assembly: &Assembly, systems: &Systems) -> BTreeSet<Condition> {
    let mut loaded: BTreeSet<Condition> = super::beside::loaded(assembly, systems)
        .into_values()
        .flat_map(BTreeMap::into_values)
        .collect();
    loaded.remove(&Condition::Always);
    loaded.remove(&Condition::never());
    loaded
}

/// Number of each condition.
pub(super) fn numbers(boats: &dyn Asking) -> BTreeMap<Condition, usize> {
    let numbered = boats.conditions().iter().cloned().enumerate();
    numbered
        .map(|(number, condition)| (condition, number))
        .collect()
}

impl<'a> Gathering<'a> {
    pub fn new(
        model: &'a BoatModel,
        routing: &'a Routing,
        assembly: &'a Assembly,
        systems: &'a Systems,
        boats: &'a dyn Asking,
    ) -> Self {
        let numbers = numbers(boats);
        Self {
            model,
            routing,
            assembly,
            systems,
            boats,
            numbers,
            ways: Vec::new(),
            earlier: None,
            known: BTreeMap::new(),
            beside: Vec::new(),
            open: BTreeSet::new(),
            draws: BTreeMap::new(),
            found: Candidates {
                boats: Vec::new(),
                conditions: boats.conditions().to_vec(),
                with_pairs: None,
                searched: Searched::default(),
                returned: Searched::default(),
                given_up: !systems.given_up.is_empty(),
                judged: Vec::new(),
                with_everything: 0,
                worst: BTreeMap::new(),
                missing: BTreeMap::new(),
                most_together: BTreeMap::new(),
                proven: 0,
                // Not searched at all: told with what was searched in vain.
                unproven: systems.given_up.clone(),
                solves: 0,
            },
        }
    }

    /// All of them, starting with `first`.
    pub fn gather(mut self, first: &Boat, buildable: &BoatSet) -> Candidates {
        self.start(self.boats.way_of(first));
        self.protected(buildable);
        self.together_in_runs();
        self.together_on_studs();
        self.search();
        self.not_prepared();
        self.together_in_returns();
        let worst = self.found.worst.iter();
        let worst: Vec<(Place, Way)> = worst
            .filter_map(|(quantity, (worst, _))| Some((quantity.place()?, worst.way.clone())))
            .collect();
        for (place, way) in std::mem::take(&mut self.beside).into_iter().chain(worst) {
            self.add_for(place, way);
        }
        for places in self.found.judged.iter_mut().flatten() {
            places.extend(self.open.iter().copied());
        }
        self.found.boats = self.ways.into_iter().map(|way| way.boat).collect();
        self.found
    }

    /// The boats with and without everything, alone and in pairs. They hang on no value, so those
    /// found earlier are the same.
    fn start(&mut self, first: Way) {
        let earlier = self.earlier.as_ref().filter(|_| self.boats.is_quick());
        if let Some((ways, with_everything)) = earlier.and_then(|found| found.starts(&first)) {
            self.found.with_everything = with_everything;
            self.found.with_pairs = Some(ways.len());
            for way in ways {
                self.add(way.clone());
            }
            return;
        }
        let told = self.found.unproven.len();
        self.add(first);
        self.everything_occurs();
        self.found.with_everything = self.ways.len();
        self.pairs_occur();
        let is_answered = self.found.unproven.len() == told;
        self.found.with_pairs = is_answered.then_some(self.ways.len());
    }

    /// A boat to be judged in all.
    pub(super) fn add(&mut self, way: Way) {
        let at = self.place_of(way);
        self.found.judged[at] = None;
    }

    /// A boat on which what flows at one thing is judged.
    pub(super) fn add_for(&mut self, place: Place, way: Way) {
        let at = self.place_of(way);
        if let Some(places) = &mut self.found.judged[at] {
            places.insert(place);
        }
    }

    fn place_of(&mut self, way: Way) -> usize {
        match self.known.entry(way.met.clone()) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(new) => {
                self.ways.push(way);
                self.found.judged.push(Some(BTreeSet::new()));
                *new.insert(self.ways.len() - 1)
            }
        }
    }

    /// A boat found before.
    pub(super) fn boat(&self, at: usize) -> &Boat {
        &self.ways[at].boat
    }

    pub(super) fn none_held(&self) -> Vec<Option<bool>> {
        vec![None; self.boats.conditions().len()]
    }

    /// What cannot be looked for is told with what was searched in vain.
    pub(super) fn found<T>(&mut self, found: Result<Option<T>, TooWide>, what: &str) -> Option<T> {
        found.unwrap_or_else(|why| {
            self.found.unproven.push(format!("{what}: {why}"));
            None
        })
    }

    pub(super) fn heaviest(&mut self, weights: &[f64], held: &[Option<bool>], what: &str) {
        let found = self.boats.heaviest(weights, held);
        if let Some((most, way)) = self.found(found, what) {
            let weight = |way: &Way| super::search::at(weights, &way.met);
            let fits = |way: &&Way| {
                held.iter()
                    .zip(&way.met)
                    .all(|(held, met)| held.is_none_or(|held| held == *met))
            };
            let reached = most - 1e-9 * most.abs();
            // A boat of which little is judged shows little.
            let is_known = self
                .judged_in_all()
                .any(|way| fits(&way) && weight(way) >= reached);
            if !is_known {
                self.add(way);
            }
        }
    }

    /// The boats found so far that are judged by all rules.
    pub(super) fn judged_in_all(&self) -> impl Iterator<Item = &Way> {
        let judged = self.ways.iter().zip(&self.found.judged);
        judged.filter_map(|(way, places)| places.is_none().then_some(way))
    }

    /// Boats that show why a part could not be prepared.
    fn not_prepared(&mut self) {
        let systems = self.systems;
        for shape in &systems.not_prepared {
            let numbered = shape.iter();
            let numbered =
                numbered.filter_map(|(when, met)| Some((*self.numbers.get(when)?, *met)));
            self.occurs(&numbered.collect::<Vec<_>>());
        }
    }

    /// Each condition is met on some boat and unmet on some, each with as much as can be.
    fn everything_occurs(&mut self) {
        for number in 0..self.boats.conditions().len() {
            for met in [true, false] {
                self.occurs(&[(number, met)]);
            }
        }
    }

    /// Two things are there together, one without the other, and both are missing: on such boats
    /// rules find ways that lead past a fuse, or nowhere.
    fn pairs_occur(&mut self) {
        let fitted: BTreeSet<usize> = self
            .assembly
            .branches
            .iter()
            .map(|branch| branch.part.fitted_when(self.model))
            .chain(
                self.model
                    .sources
                    .iter()
                    .map(|(_, s)| s.fitted_when.simplified()),
            )
            .filter_map(|condition| self.numbers.get(&condition).copied())
            .collect();
        let mut open: BTreeSet<[(usize, bool); 2]> = BTreeSet::new();
        for &one in &fitted {
            for &other in fitted.range(one + 1..) {
                for (a, b) in [(true, true), (true, false), (false, true), (false, false)] {
                    open.insert([(one, a), (other, b)]);
                }
            }
        }
        for way in &self.ways {
            open.retain(|pair| !is_so(way, pair));
        }
        while let Some(pair) = open.pop_first() {
            let mut held = self.none_held();
            // As many of the other open pairs as can be on the same boat.
            let mut weights = vec![0.0; held.len()];
            for (number, met) in open.iter().flatten() {
                weights[*number] += if *met { 1.0 } else { -1.0 };
            }
            for (number, met) in pair {
                held[number] = Some(met);
            }
            let found = self.boats.heavy(&weights, &held);
            if let Some(way) = self.found(found, "boats with and without two things") {
                open.retain(|pair| !is_so(&way, pair));
                self.add(way);
            }
        }
    }

    /// The boats found so far.
    pub(super) fn ways(&self) -> &[Way] {
        &self.ways
    }

    pub(super) fn occurs(&mut self, asked: &[(usize, bool)]) {
        match self.with(asked, self.ways.iter()) {
            Ok(Some(way)) => self.add(way),
            Ok(None) => {}
            Err(why) => self.found.unproven.push(why),
        }
    }

    /// A boat on which conditions are met so, unless one is among those known.
    pub(super) fn with<'w>(
        &self,
        asked: &[(usize, bool)],
        mut known: impl Iterator<Item = &'w Way>,
    ) -> Result<Option<Way>, String> {
        if known.any(|way| is_so(way, asked)) {
            return Ok(None);
        }
        let mut held = self.none_held();
        for (number, met) in asked {
            held[*number] = Some(*met);
        }
        let found = self.boats.heavy(&vec![1.0; held.len()], &held);
        found.map_err(|why| format!("boats with and without a thing: {why}"))
    }

    /// The fullest run, by what lies in it; where few conditions decide, every way to fill it.
    fn together_in_runs(&mut self) {
        let mut asked = BTreeSet::new();
        for Bundle { run, wires, .. } in bundles(self.model, self.routing, |_| true) {
            let mut weights = vec![0.0; self.boats.conditions().len()];
            match filled_when(self.model, wires.iter().copied()) {
                Ok(filled) => {
                    for (when, area) in filled {
                        if let Some(number) = self.numbers.get(&when) {
                            weights[*number] += area.value();
                        }
                    }
                }
                // Without a size each counts as one.
                Err(_) => {
                    for wire in wires {
                        if let Some(number) = self.of_wire(wire) {
                            weights[number] += 1.0;
                        }
                    }
                }
            }
            let bits: Vec<u64> = weights.iter().map(|weight| weight.to_bits()).collect();
            if asked.insert(bits) {
                self.filled(&weights, &format!("fill of {}", self.model.runs.id(run)));
            }
        }
    }

    /// Boats that fill something most, and least.
    fn filled(&mut self, weights: &[f64], what: &str) {
        let deciding: Vec<usize> = (0..weights.len()).filter(|n| weights[*n] > 0.0).collect();
        if deciding.len() <= 4 {
            for choice in 0..1_u32 << deciding.len() {
                let asked: Vec<_> = deciding
                    .iter()
                    .enumerate()
                    .map(|(bit, number)| (*number, choice >> bit & 1 == 1))
                    .collect();
                self.occurs(&asked);
            }
        } else {
            self.heaviest(weights, &self.none_held(), what);
        }
    }

    pub(super) fn of_wire(&self, wire: Index<Wire>) -> Option<usize> {
        let condition = self.model.wires[wire].fitted_when.simplified();
        self.numbers.get(&condition).copied()
    }

    /// Numbers of the conditions that give a system its shape, with whether they are met.
    pub(super) fn shape_of(&self, system: &System) -> Vec<(usize, bool)> {
        let shape = system.shape.iter();
        let numbered =
            shape.filter_map(|(condition, met)| Some((*self.numbers.get(condition)?, *met)));
        numbered.collect()
    }

    /// The most terminals on each stud and pole.
    fn together_on_studs(&mut self) {
        let mut on_pin: BTreeMap<Pin, Vec<f64>> = BTreeMap::new();
        for (wire, stated) in self.model.wires.iter() {
            let Some(number) = self.of_wire(wire) else {
                continue;
            };
            for pin in [stated.from, stated.to] {
                if !matches!(pin, Pin::Cavity(..) | Pin::Splice(..) | Pin::Load(..)) {
                    let none = vec![0.0; self.boats.conditions().len()];
                    on_pin.entry(pin).or_insert(none)[number] += 1.0;
                }
            }
        }
        for weights in on_pin.into_values() {
            self.heaviest(&weights, &self.none_held(), "terminals on a stud");
        }
    }
}

/// Whether conditions are met so.
fn is_so(way: &Way, asked: &[(usize, bool)]) -> bool {
    asked.iter().all(|(number, met)| way.met[*number] == *met)
}
