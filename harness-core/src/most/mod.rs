//! The most there is of something on any buildable boat: conductors in a run, positions of a
//! block, cavities of a connector, heat of a run, current of a source.
//!
//! What is counted or added up without regard to volts is a weight on conditions, and the boat
//! with the most a heaviest way through the diagram, exactly. Heat is searched for
//! (`heat.rs`).

mod heat;

use crate::boats::{Boat, BoatSet, Condition, OptionIndex, Options};
use crate::model::{Bus, BusPin, Connector, Index, OperatingState, Pin, Run, Source, Wire};
use crate::network::assembly::Assembly;
use crate::routing::{Bundle, bundles};
use crate::study::{Study, options_of};
use crate::worst::systems::Systems;
use crate::worst::{EveryBoat, Quantity, filled_when, loaded};
use heat::Heats;
use std::collections::{BTreeMap, BTreeSet};

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
}

impl Most {
    /// Whether nothing but rounding is left between the value and the bound.
    pub fn is_proven(&self) -> bool {
        self.bound - self.value <= 1e-9 * self.value.abs().max(1.0)
    }
}

/// The most of everything on any boat, in the order of the model; what cannot be told is left out
/// with its reason.
pub fn most_on_any_boat(study: &Study) -> (Vec<Most>, Vec<(Thing, String)>) {
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
    let systems = systems.map_err(|wide| wide.to_string());
    let mut found = Found::default();
    counting.runs(&mut found, &assembly, systems.as_ref());
    counting.places(&mut found);
    counting.sources(&mut found, systems.as_ref().ok());
    (found.most, found.unknown)
}

#[derive(Default)]
struct Found {
    most: Vec<Most>,
    unknown: Vec<(Thing, String)>,
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
    fn heaviest(&self, weights: &Weights) -> Result<(f64, Boat), String> {
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

    fn heaviest_boat(&self, weights: &Weights) -> Result<Boat, String> {
        let listed = weights
            .iter()
            .filter(|(when, _)| **when != Condition::Always && **when != Condition::never());
        let (asked, each): (Vec<Condition>, Vec<f64>) =
            listed.map(|(when, weight)| (when.clone(), *weight)).unzip();
        let none = vec![None; asked.len()];
        let boats = BoatSet::for_asking(&self.options, &asked).and_then(|set| set.firings(asked));
        let boats = boats.map_err(|wide| wide.to_string())?;
        let found = boats.heaviest(&each, &none);
        Ok(found.ok_or("no boat can be ordered")?.1.boat)
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
            }),
            Ok(_) => {}
            Err(why) => found.unknown.push((thing, why)),
        }
    }

    fn runs(&self, found: &mut Found, assembly: &Assembly, systems: Result<&Systems, &String>) {
        let model = &self.study.model;
        let in_run = bundles(model, &self.study.routing, |_| true);
        let systems = match systems {
            Ok(systems) => systems,
            Err(why) => {
                let runs = model.runs.indices();
                found
                    .unknown
                    .extend(runs.map(|run| (Thing::LoadedConductors(run), why.clone())));
                return;
            }
        };
        if let Some(why) = systems.given_up.first() {
            let things = model.runs.indices();
            let things = things.flat_map(|run| [Thing::LoadedConductors(run), Thing::Heat(run)]);
            found
                .unknown
                .extend(things.map(|thing| (thing, why.clone())));
            for Bundle { run, wires, .. } in in_run {
                self.cross_section(found, run, &wires);
            }
            return;
        }
        let loaded = loaded(assembly, systems);
        let heats = Heats::of(self.study, self.every, assembly, systems);
        for Bundle { run, wires, .. } in in_run {
            self.loaded_in(found, run, &wires, &loaded);
            self.cross_section(found, run, &wires);
            self.heat(found, run, &heats);
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
                    });
                }
                Ok(_) => {}
                Err(why) => return found.unknown.push((thing, why)),
            }
        }
        found.most.extend(most.filter(|most| most.value > 0.0));
    }

    fn cross_section(&self, found: &mut Found, run: Index<Run>, wires: &[Index<Wire>]) {
        let model = &self.study.model;
        let thing = Thing::CrossSection(run);
        let filled = match filled_when(model, wires.iter().copied()) {
            Ok(filled) => filled,
            Err(why) => return found.unknown.push((thing, why.because.into_owned())),
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
            Err(why) => found.unknown.push((Thing::Heat(run), why)),
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

    fn sources(&self, found: &mut Found, systems: Option<&Systems>) {
        let model = &self.study.model;
        let systems = systems.map_or(&[][..], |systems| &systems.systems);
        let mut undrawn: BTreeSet<Index<Source>> = BTreeSet::new();
        for system in systems {
            let blocks = system.undrawn(model);
            let sources = system.sources.iter().enumerate();
            let here = sources
                .filter(|(place, _)| blocks.contains(&system.shared.of_source(*place)))
                .map(|(_, (source, ..))| *source);
            undrawn.extend(here);
        }
        for (source, stated) in model.sources.iter() {
            if undrawn.contains(&source) {
                let why = "a load that it feeds on some boat does not state what it draws";
                found.unknown.push((Thing::Given(source), why.to_owned()));
                continue;
            }
            let known = self.every.candidates.worst.get(&Quantity::Given(source));
            let Some((worst, state)) = known.filter(|(worst, _)| worst.value > 0.0) else {
                continue;
            };
            found.most.push(Most {
                thing: Thing::Given(source),
                value: worst.value,
                bound: worst.bound,
                room: stated.max_current.map(|amps| amps.value()),
                state: *state,
                boat: worst.way.boat.clone(),
            });
        }
    }
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
