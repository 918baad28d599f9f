//! The most there is of something on any buildable boat: conductors in a run, positions of a
//! block, cavities of a connector, heat of a run, current of a source.
//!
//! What is counted or added up without regard to volts is a weight on conditions, and the boat
//! with the most a heaviest way through the diagram, exactly. Heat is searched for
//! (`heat.rs`).

mod heat;

use crate::boats::{Boat, BoatSet, Condition, OptionIndex, Options};
use crate::model::{Bus, BusPin, Connector, Index, Load, OperatingState, Pin, Run, Source, Wire};
use crate::network::assembly::{Assembly, SourceCondition};
use crate::routing::{Bundle, bundles};
use crate::study::{Study, options_of};
use crate::working::NotEvaluated;
use crate::worst::systems::{System, Systems};
use crate::worst::{EveryBoat, Open, Quantity, filled_when, loaded};
use heat::Heats;
use std::collections::BTreeMap;

/// Part of the greatest weight that decides between boats with equal sums.
const NEARLY: f64 = 1e-7;

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Thing {
    /// Conductors that carry current in a run, in the state in which there are most.
    LoadedConductors(Index<Run>),
    /// Cross-section of all that lies in a run, over insulation and jackets, mm².
    CrossSection(Index<Run>),
    /// Heat that the conductors in a run give off on each metre, W/m, in the state in which it is
    /// most.
    Heat(Index<Run>),
    /// Positions of a block or bar, and wires on a stud.
    Positions(Index<Bus>),
    /// Cavities with a wire.
    Cavities(Index<Connector>),
    /// Current that a source gives, A, in the state in which it is most.
    Given(Index<Source>),
}

/// The most of one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Most {
    /// What is counted.
    pub thing: Thing,
    /// How much there is on the boat.
    pub value: f64,
    /// No boat has more.
    pub bound: f64,
    /// How much there is room for, where that is stated.
    pub room: Option<f64>,
    /// The state, where states matter.
    pub state: Option<Index<OperatingState>>,
    /// The boat.
    pub boat: Boat,
    /// A load that states no draw, beside which others may draw more: the bound holds as long as
    /// loads of constant power have the least volts they need.
    pub beside: Option<Index<Load>>,
}

/// Something of which the most is not told.
#[derive(Clone, Debug, PartialEq)]
pub struct NotTold {
    /// What would be counted.
    pub thing: Thing,
    /// Why it is not.
    pub why: NotEvaluated,
}

impl Most {
    /// Whether nothing but rounding is left between the value and the bound.
    pub fn is_proven(&self) -> bool {
        self.bound - self.value <= 1e-9 * self.value.abs().max(1.0)
    }
}

/// The most of everything on any boat, in the order of the model; what cannot be told is left out
/// with its reason.
pub fn most_on_any_boat(study: &Study) -> (Vec<Most>, Vec<NotTold>) {
    let Some(every) = &study.every else {
        return (Vec::new(), Vec::new());
    };
    let counting = Counting {
        study,
        every,
        options: options_of(&study.model),
    };
    let assembly = Assembly::of_every_boat(&study.model, &study.routing);
    let systems = Systems::of(&study.model, &assembly, &study.boats);
    let systems = systems.map_err(|wide| NotEvaluated::because(wide.to_string()));
    let mut found = Found::default();
    counting.runs(&mut found, &assembly, systems.as_ref());
    counting.places(&mut found);
    counting.sources(&mut found, systems.as_ref());
    (found.most, found.not_told)
}

#[derive(Default)]
struct Found {
    most: Vec<Most>,
    not_told: Vec<NotTold>,
}

impl Found {
    fn not_told(&mut self, thing: Thing, why: NotEvaluated) {
        self.not_told.push(NotTold { thing, why });
    }
}

/// Amounts by the condition under which they are there.
type Weights = BTreeMap<Condition, f64>;

struct Counting<'a> {
    study: &'a Study,
    every: &'a EveryBoat,
    options: Options,
}

impl Counting<'_> {
    /// The boat on which weights add up to most, of equals one near the standard boat, and the sum.
    fn heaviest(&self, weights: &Weights) -> Result<(f64, Boat), NotEvaluated> {
        let sum_on = |boat: &Boat| {
            let met = weights.iter().filter(|(when, _)| when.holds(boat));
            met.map(|(_, weight)| weight).sum::<f64>()
        };
        let standard = &self.every.standard;
        let most = sum_on(&self.heaviest_boat(weights)?);
        // So little for each option of the standard boat that it only decides between equals.
        let little = NEARLY * weights.values().fold(0.0, |a: f64, b| a.max(*b));
        let mut near = weights.clone();
        for option in (0..self.options.count()).map(OptionIndex) {
            let sign = if standard.has(option) { 1.0 } else { -1.0 };
            *near.entry(Condition::Option(option)).or_default() += sign * little;
        }
        let boat = self.heaviest_boat(&near)?;
        if sum_on(&boat) >= most {
            return Ok((most, boat));
        }
        Ok((most, self.heaviest_boat(weights)?))
    }

    fn heaviest_boat(&self, weights: &Weights) -> Result<Boat, NotEvaluated> {
        let listed = weights
            .iter()
            .filter(|(when, _)| **when != Condition::Always && **when != Condition::never());
        let (asked, each): (Vec<Condition>, Vec<f64>) =
            listed.map(|(when, weight)| (when.clone(), *weight)).unzip();
        let none = vec![None; asked.len()];
        let boats = BoatSet::for_asking(&self.options, &asked).and_then(|set| set.firings(asked));
        let boats = boats.map_err(|wide| NotEvaluated::because(wide.to_string()))?;
        let found = boats.heaviest(&each, &none);
        let found = found.ok_or_else(|| NotEvaluated::because("no boat can be ordered"))?;
        Ok(found.1.boat)
    }

    fn exact(&self, found: &mut Found, thing: Thing, weights: &Weights, room: Option<f64>) {
        match self.heaviest(weights) {
            Ok((value, boat)) if value > 0.0 => found.most.push(Most {
                thing,
                value,
                bound: value,
                room,
                state: None,
                boat,
                beside: None,
            }),
            Ok(_) => {}
            Err(why) => found.not_told(thing, why),
        }
    }

    fn runs(
        &self,
        found: &mut Found,
        assembly: &Assembly,
        systems: Result<&Systems, &NotEvaluated>,
    ) {
        let model = &self.study.model;
        let in_run = bundles(model, &self.study.routing, |_| true);
        let systems = match systems {
            Ok(systems) => systems,
            Err(why) => return self.only_cross_sections(found, in_run, why),
        };
        if let Some(why) = systems.given_up.first() {
            let why = NotEvaluated::because(why.clone());
            return self.only_cross_sections(found, in_run, &why);
        }
        let loaded = loaded(assembly, systems);
        let heats = Heats::of(self.study, self.every, assembly, systems);
        for Bundle { run, wires, .. } in in_run {
            self.loaded_in(found, run, &wires, &loaded);
            self.cross_section(found, run, &wires);
            self.heat(found, run, &heats);
        }
    }

    /// Where what flows is not known of all boats.
    fn only_cross_sections(&self, found: &mut Found, in_run: Vec<Bundle>, why: &NotEvaluated) {
        for Bundle { run, wires, .. } in in_run {
            self.cross_section(found, run, &wires);
            for thing in [Thing::LoadedConductors(run), Thing::Heat(run)] {
                found.not_told(thing, why.clone());
            }
        }
    }

    fn loaded_in(
        &self,
        found: &mut Found,
        run: Index<Run>,
        wires: &[Index<Wire>],
        loaded: &BTreeMap<Option<Index<OperatingState>>, BTreeMap<Index<Wire>, Condition>>,
    ) {
        let thing = Thing::LoadedConductors(run);
        let mut most: Option<Most> = None;
        for (state, behind) in loaded {
            let mut weights = Weights::new();
            for wire in wires {
                if let Some(when) = behind.get(wire) {
                    *weights.entry(when.clone()).or_default() += 1.0;
                }
            }
            match self.heaviest(&weights) {
                Ok((value, boat)) if most.as_ref().is_none_or(|known| value > known.value) => {
                    most = Some(Most {
                        thing,
                        value,
                        bound: value,
                        room: None,
                        state: *state,
                        boat,
                        beside: None,
                    });
                }
                Ok(_) => {}
                Err(why) => return found.not_told(thing, why),
            }
        }
        found.most.extend(most.filter(|most| most.value > 0.0));
    }

    fn cross_section(&self, found: &mut Found, run: Index<Run>, wires: &[Index<Wire>]) {
        let model = &self.study.model;
        let thing = Thing::CrossSection(run);
        let filled = match filled_when(model, wires.iter().copied()) {
            Ok(filled) => filled,
            Err(why) => return found.not_told(thing, why),
        };
        let weights = filled.into_iter().map(|(when, area)| (when, area.value()));
        let weights: Weights = weights.collect();
        let bore = model.runs[run].bore;
        let room = bore.map(|bore| bore.circle_area().value());
        self.exact(found, thing, &weights, room);
    }

    fn heat(&self, found: &mut Found, run: Index<Run>, heats: &Heats) {
        match heats.most(self.study, &self.options, run) {
            Ok(most) => found.most.extend(most),
            Err(why) => found.not_told(Thing::Heat(run), why),
        }
    }

    /// Positions and cavities: each is taken on the boats that have a wire in it.
    fn places(&self, found: &mut Found) {
        let model = &self.study.model;
        let mut buses: BTreeMap<Index<Bus>, BTreeMap<u32, Vec<Condition>>> = BTreeMap::new();
        let mut connectors: BTreeMap<Index<Connector>, BTreeMap<u32, Vec<Condition>>> =
            BTreeMap::new();
        for (_, wire) in model.wires.iter() {
            for pin in [wire.from, wire.to] {
                let taken = match pin {
                    Pin::Bus(bus, BusPin::Position(position)) => {
                        buses.entry(bus).or_default().entry(position)
                    }
                    Pin::Cavity(connector, cavity) => {
                        connectors.entry(connector).or_default().entry(cavity)
                    }
                    _ => continue,
                };
                taken.or_default().push(wire.fitted_when.clone());
            }
        }
        for (_, device) in model.devices.iter() {
            if let Some((block, position)) = device.fitted_in {
                let taken = buses.entry(block).or_default().entry(position);
                taken.or_default().push(device.fitted_when.clone());
            }
        }
        for (bus, positions) in buses {
            let stated = &model.buses[bus];
            let thing = Thing::Positions(bus);
            let (weights, room) = if stated.positions == 1 {
                // A stud has one place for all its terminals.
                (each_by_itself(positions.into_values().flatten()), None)
            } else {
                (
                    one_for_each(positions.into_values()),
                    Some(f64::from(stated.positions)),
                )
            };
            self.exact(found, thing, &weights, room);
        }
        for (connector, cavities) in connectors {
            let part = model.connectors[connector].connector_type;
            let room = f64::from(model.connector_types[part].cavities);
            let weights = one_for_each(cavities.into_values());
            self.exact(found, Thing::Cavities(connector), &weights, Some(room));
        }
    }

    fn sources(&self, found: &mut Found, systems: Result<&Systems, &NotEvaluated>) {
        let model = &self.study.model;
        let mut open: BTreeMap<Index<Source>, Open> = BTreeMap::new();
        for system in nominal(systems.map_or(&[], |systems| &systems.systems)) {
            let blocks = system.open(model);
            for (place, (source, ..)) in system.sources.iter().enumerate() {
                if let Some(here) = blocks.get(&system.shared.of_source(place)) {
                    let known = open.entry(*source).or_insert_with(|| here.clone());
                    known.take_in(here);
                }
            }
        }
        for (source, stated) in model.sources.iter() {
            let thing = Thing::Given(source);
            let given = Quantity::Given(source);
            let (more, beside) = match open.remove(&source) {
                Some(Open::Unknown(why)) => {
                    found.not_told(thing, why);
                    continue;
                }
                Some(Open::More { amps, beside }) => (amps, Some(beside)),
                None => (0.0, None),
            };
            if let Err(why) = systems {
                found.not_told(thing, why.clone());
                continue;
            }
            if let Some(why) = self.every.candidates.missing.get(&given) {
                found.not_told(thing, why.clone());
                continue;
            }
            let known = self.every.candidates.worst.get(&given);
            let Some((worst, state)) = known.filter(|(worst, _)| worst.value > 0.0) else {
                continue;
            };
            found.most.push(Most {
                thing,
                value: worst.value,
                bound: worst.bound + more,
                room: stated.max_current.map(|amps| amps.value()),
                state: *state,
                boat: worst.way.boat.clone(),
                beside,
            });
        }
    }
}

/// Systems at nominal volts: what flows is told there.
fn nominal(systems: &[System]) -> impl Iterator<Item = &System> {
    let is_nominal = |system: &&System| system.condition == SourceCondition::Nominal;
    systems.iter().filter(is_nominal)
}

/// One for each place, on the boats that meet one of its conditions.
fn one_for_each(places: impl Iterator<Item = Vec<Condition>>) -> Weights {
    let mut weights = Weights::new();
    for conditions in places {
        let taken = Condition::Any(conditions).simplified();
        *weights.entry(taken).or_default() += 1.0;
    }
    weights
}

fn each_by_itself(conditions: impl Iterator<Item = Condition>) -> Weights {
    let mut weights = Weights::new();
    for condition in conditions {
        *weights.entry(condition.simplified()).or_default() += 1.0;
    }
    weights
}
