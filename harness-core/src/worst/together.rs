//! What comes back through one wire at most, all its loads at once, with the proof.
//!
//! Each load counts with the greatest of its currents over the states, so what comes back is no
//! sum of currents of one system. But it is the greatest of such sums, one for each choice of a state
//! for each load: states in which a load never draws most are left out before ([`super::leads`]), and
//! of the others each is tried in turn where that is what a bound hangs on. While it is open, a
//! condition adds to a load's greatest current at most what it adds in the state in which it adds
//! most. The rest is as in the search of one sum: the heaviest way is solved, what all worse boats
//! share is held, and where bounds alone cannot decide, one condition is held met and unmet in turn.

use super::bounds::{Between, Bounds, Drawn};
use super::greatest::{Best, Worst, rounding};
use super::region::{Among, Region, fits};
use super::search::{ROUGH, Search, around, at};
use crate::boats::{Presence, TooWide, Way};
use crate::model::{Index, Load};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A load's current in one system: the place of the system, and its number there.
pub(super) type Current = (usize, usize);

/// The loads that come back, each with its currents.
pub(super) type ComeBack = BTreeMap<Index<Load>, Vec<Current>>;

/// What is drawn on one boat in each system: nothing where the system has another shape there, or
/// its loads no operating point.
type OnBoat = Vec<Option<Option<Arc<Drawn>>>>;

/// By how much one more ampere at each load of a system changes a sum of their currents.
pub(super) type Adds = Arc<Vec<Between>>;

/// The search for the most that comes back through wires.
pub(super) struct Together<'s> {
    pub(super) among: Among<'s>,
    pub(super) searches: Vec<Search<'s>>,
    /// Boats that every question is tried on first.
    pub(super) known: Vec<(Way, OnBoat)>,
    /// What changes the current of one load, on all boats: asked for again by each return that the
    /// load comes back through.
    on_all: BTreeMap<Current, Option<Adds>>,
    /// Of the currents of one load those that may be its greatest.
    pub(super) leads: BTreeMap<Vec<Current>, Vec<Current>>,
}

impl<'s> Together<'s> {
    /// Makes it ready; known boats are tried first.
    pub fn of(among: Among<'s>, searches: Vec<Search<'s>>, known: &[Way]) -> Self {
        let mut together = Self {
            among,
            searches,
            known: Vec::new(),
            on_all: BTreeMap::new(),
            leads: BTreeMap::new(),
        };
        for way in known {
            together.learn(way);
        }
        together
    }

    /// Boats solved exactly so far.
    pub fn solves(&self) -> usize {
        self.searches.iter().map(Search::solves).sum()
    }

    /// Whether a boat was not known so far; from here on it is.
    pub fn is_new(&mut self, way: &Way) -> bool {
        let is_new = self.known.iter().all(|(known, _)| known != way);
        if is_new {
            self.learn(way);
        }
        is_new
    }

    fn learn(&mut self, way: &Way) {
        let everywhere: BTreeSet<usize> = (0..self.searches.len()).collect();
        let drawn = self.on_boat(&everywhere, way);
        self.known.push((way.clone(), drawn));
    }

    pub(super) fn on_boat(&mut self, places: &BTreeSet<usize>, way: &Way) -> OnBoat {
        let each = self.searches.iter_mut().enumerate();
        each.map(|(place, search)| {
            let is_asked = places.contains(&place) && search.is_of(way);
            is_asked.then(|| search.solve(way))
        })
        .collect()
    }

    /// The most of these loads on all boats so held on which they have an operating point, and the
    /// boat; `None` where there is no such boat.
    ///
    /// # Errors
    /// [`TooWide`] where the boats could not be asked.
    pub fn greatest(
        &mut self,
        loads: &ComeBack,
        held: &[Option<bool>],
    ) -> Result<Option<Worst>, TooWide> {
        let mut currents = Vec::new();
        for all in loads.values() {
            currents.push(self.leading(all)?);
        }
        let mut best = Best::of_all();
        for (way, drawn) in self.known.iter().filter(|(way, _)| fits(held, way)) {
            best.try_known(sum(&currents, drawn), way);
        }
        let places: BTreeSet<usize> = currents.iter().flatten().map(|(at, _)| *at).collect();
        let currents = Arc::new(currents);
        let mut asking = Asking {
            together: self,
            all: Arc::clone(&currents),
            places,
            open: vec![Open {
                region: Region::of(f64::INFINITY, held.to_vec()),
                currents,
            }],
            best,
        };
        let left = asking.search()?;
        let best = asking.best;
        let (most, solves) = (best.most(), best.solves);
        Ok(best.found.map(|(value, way)| Worst {
            bound: most + left,
            value,
            way,
            solves,
        }))
    }

    /// What changes a load's current, on all boats on which the system has its shape.
    pub(super) fn on_all(&mut self, current: Current) -> Option<Adds> {
        if let Some(known) = self.on_all.get(&current) {
            return known.clone();
        }
        let (search, load) = current;
        let bounds = self.searches[search].bounds_on_all();
        let found = bounds.and_then(|bounds| self.adds(search, &[load], &bounds));
        self.on_all.insert(current, found.clone());
        found
    }

    /// What changes the sum of some currents of one system within bounds.
    fn adds(&mut self, search: usize, loads: &[usize], bounds: &Bounds) -> Option<Adds> {
        let own = &mut self.searches[search];
        let mut sum = vec![0.0; own.system.loads.len()];
        for load in loads {
            sum[*load] = 1.0;
        }
        let found = own.factors.sensitivity(&sum, bounds, ROUGH);
        found.map(Arc::new)
    }
}

/// What comes back on one boat; `None` where the loads have no operating point.
fn sum(currents: &[Vec<Current>], drawn: &OnBoat) -> Option<f64> {
    let mut sum = 0.0;
    for currents in currents {
        let mut most = 0.0_f64;
        for (search, load) in currents {
            if let Some(drawn) = &drawn[*search] {
                most = most.max(drawn.as_ref()?.amps[*load]);
            }
        }
        sum += most;
    }
    Some(sum)
}

/// Boats not yet looked at, and the currents of each load that count there.
struct Open {
    region: Region,
    currents: Arc<Vec<Vec<Current>>>,
}

/// What changes the sum on some boats.
#[derive(Default)]
struct Changing {
    /// Of the loads of each system whose state is settled, all at once.
    settled: Vec<(usize, Adds)>,
    /// Of each load of which several states count, by its place among the loads.
    unsettled: Vec<(usize, Vec<(Current, Adds)>)>,
}

/// Of each state of a load: what it draws, and what each condition changes.
type States = Vec<(f64, Vec<f64>)>;

/// Bounds around one boat.
struct Around {
    /// They bound the change to any other boat.
    weights: Vec<f64>,
    /// How little is known of each.
    widths: Vec<f64>,
    /// Each unsettled load with its states.
    unsettled: Vec<(usize, States)>,
}

/// One question.
struct Asking<'t, 's> {
    together: &'t mut Together<'s>,
    all: Arc<Vec<Vec<Current>>>,
    /// The places of the systems through which something comes back.
    places: BTreeSet<usize>,
    open: Vec<Open>,
    best: Best,
}

impl Asking<'_, '_> {
    /// Searches to the end. Returns what is left unproven.
    fn search(&mut self) -> Result<f64, TooWide> {
        let mut left = 0.0_f64;
        while let Some(open) = self.open.pop() {
            let region = &open.region;
            if self.best.settles(region.bound) || self.best.is_exhausted() {
                left = left.max(region.bound - self.best.most());
                continue;
            }
            let Some(presence) = region.presence(&self.together.among) else {
                continue;
            };
            match self.changing(&open, &presence) {
                Ok(changing) => left = left.max(self.prove(&open, &changing)?),
                Err(Some(number)) => self.divide(&open, region.bound, number),
                // The same loads on all of them.
                Err(None) => {
                    if let Some(way) = self.together.among.any(&region.held)? {
                        self.best.solves += 1;
                        let drawn = self.together.on_boat(&self.places, &way);
                        self.keep(&drawn, &way);
                    }
                }
            }
        }
        Ok(left)
    }

    fn keep(&mut self, drawn: &OnBoat, way: &Way) {
        if let Some(value) = sum(&self.all, drawn) {
            self.best.keep(value, way);
        }
    }

    fn divide(&mut self, open: &Open, bound: f64, number: usize) {
        let halves = open.region.bounded(bound).divided(number);
        self.open.extend(halves.map(|region| Open {
            region,
            currents: Arc::clone(&open.currents),
        }));
    }

    /// What changes the sum on all boats of these conditions. Where the shape of the wiring is
    /// open, or bounds do not tell, the condition to divide by; none where all these boats have the
    /// same loads.
    fn changing(&mut self, open: &Open, presence: &[Presence]) -> Result<Changing, Option<usize>> {
        // Before anything else: bounds hold for one shape.
        let searches = &self.together.searches;
        let mut places = self.places.iter();
        if let Some(open) = places.find_map(|at| searches[*at].open_shape(presence)) {
            return Err(Some(open));
        }
        let mut settled: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut unsettled: Vec<(usize, Vec<Current>)> = Vec::new();
        for (place, currents) in open.currents.iter().enumerate() {
            let there = |current: &&Current| searches[current.0].is_there(presence);
            let there: Vec<Current> = currents.iter().filter(there).copied().collect();
            match there[..] {
                [] => {}
                [(search, load)] => settled.entry(search).or_default().push(load),
                _ => unsettled.push((place, there)),
            }
        }
        let is_all = open.region.held.iter().all(Option::is_none);
        let asked = settled.keys().copied();
        let asked = asked.chain(
            unsettled
                .iter()
                .flat_map(|(_, each)| each.iter().map(|c| c.0)),
        );
        let asked: BTreeSet<usize> = asked.collect();
        let mut bounds = BTreeMap::new();
        for search in asked {
            let own = &mut self.together.searches[search];
            let here = match is_all {
                true => own.bounds_on_all(),
                false => own.bounds_on(presence),
            };
            bounds.insert(search, here.ok_or_else(|| self.dividing(presence))?);
        }
        let mut changing = Changing::default();
        for (search, loads) in settled {
            let adds = self.together.adds(search, &loads, &bounds[&search]);
            let adds = adds.ok_or_else(|| self.dividing(presence))?;
            changing.settled.push((search, adds));
        }
        for (place, currents) in unsettled {
            let mut each = Vec::new();
            for current in currents {
                let (search, load) = current;
                let adds = match is_all {
                    true => self.together.on_all(current),
                    false => self.together.adds(search, &[load], &bounds[&search]),
                };
                each.push((current, adds.ok_or_else(|| self.dividing(presence))?));
            }
            changing.unsettled.push((place, each));
        }
        Ok(changing)
    }

    /// The open condition whose loads draw most in some system.
    fn dividing(&self, presence: &[Presence]) -> Option<usize> {
        let open = |number: usize| presence[number] == Presence::Some;
        let searches = &self.together.searches;
        let mut places = self.places.iter();
        places.find_map(|at| searches[*at].drawing_most(open))
    }

    /// Proves that no boat of a region has more than the best known, or finds one, or divides the
    /// region. Returns what is left unproven.
    fn prove(&mut self, here: &Open, changing: &Changing) -> Result<f64, TooWide> {
        let held = &here.region.held;
        let known = self.best.found.clone();
        let mut center = match known.filter(|(_, way)| fits(held, way)) {
            Some((_, way)) => way,
            None => match self.together.among.any(held)? {
                Some(way) => way,
                None => return Ok(0.0),
            },
        };
        loop {
            self.best.solves += 1;
            let drawn = self.together.on_boat(&self.places, &center);
            // On boats that are bounded there is an operating point.
            let Some(value) = sum(&here.currents, &drawn) else {
                return Ok(f64::INFINITY);
            };
            self.keep(&drawn, &center);
            let around = self.around(changing, &center, &drawn);
            let weights = &around.weights;
            let Some((weight, way)) = self.together.among.heaviest(weights, held)? else {
                return Ok(0.0);
            };
            let most = self.best.most();
            let bound = value + (weight - at(weights, &center.met));
            let left = bound - most;
            if left <= 0.5 * rounding(most) || way.met == center.met {
                return Ok(left.max(0.0));
            }
            if self.best.is_exhausted() {
                return Ok(left);
            }
            let drawn = self.together.on_boat(&self.places, &way);
            let Some(found) = sum(&here.currents, &drawn) else {
                return Ok(f64::INFINITY);
            };
            if found - value > rounding(value) {
                center = way;
                continue;
            }
            let enough = at(weights, &center.met) + most - value;
            let fixed = self.together.among.fixed(weights, held, (enough, most));
            if fixed != *held {
                self.open.push(Open {
                    region: Region::closed(bound, fixed),
                    currents: Arc::clone(&here.currents),
                });
                return Ok(0.0);
            }
            let differing: Vec<usize> = (0..held.len())
                .filter(|number| held[*number].is_none())
                .filter(|number| center.met[*number] != way.met[*number])
                .collect();
            let load = around.hanging_on(&differing);
            let number = around.least_known(&differing);
            match (load, number) {
                (Some((load, lost)), Some(number)) if lost > around.widths[number] => {
                    self.settle(here, bound, load);
                }
                (_, Some(number)) => self.divide(here, bound, number),
                (_, None) => return Ok(left),
            }
            return Ok(0.0);
        }
    }

    /// Each state of one load in turn.
    fn settle(&mut self, here: &Open, bound: f64, load: usize) {
        for current in &here.currents[load] {
            let mut currents = here.currents.to_vec();
            currents[load] = vec![*current];
            self.open.push(Open {
                region: here.region.bounded(bound),
                currents: Arc::new(currents),
            });
        }
    }

    fn around(&self, changing: &Changing, center: &Way, drawn: &OnBoat) -> Around {
        let searches = &self.together.searches;
        let count = center.met.len();
        let mut bounds = Around {
            weights: vec![0.0; count],
            widths: vec![0.0; count],
            unsettled: Vec::new(),
        };
        let change = |search: usize, adds: &Adds| {
            let drawn = drawn[search].as_ref()?.as_ref()?;
            Some((searches[search].changes(&drawn.would, adds), drawn))
        };
        for (search, adds) in &changing.settled {
            let Some((change, _)) = change(*search, adds) else {
                continue;
            };
            let more = around(&change, &center.met);
            add(&mut bounds.weights, more.into_iter());
            let widths = change.iter().map(|(low, high)| high - low);
            add(&mut bounds.widths, widths);
        }
        for (place, currents) in &changing.unsettled {
            let mut states: Vec<(f64, Vec<f64>)> = Vec::new();
            let mut most = vec![f64::NEG_INFINITY; count];
            let mut widest = vec![0.0_f64; count];
            for ((search, load), adds) in currents {
                let Some((change, drawn)) = change(*search, adds) else {
                    continue;
                };
                let weights = around(&change, &center.met);
                // What goes gives back its weight: the least of it bounds the change.
                let pairs = weights.iter().zip(&center.met);
                let changes: Vec<f64> = pairs.map(|(w, met)| if *met { -w } else { *w }).collect();
                for (most, here) in most.iter_mut().zip(&changes) {
                    *most = most.max(*here);
                }
                for (widest, (low, high)) in widest.iter_mut().zip(&change) {
                    *widest = widest.max(high - low);
                }
                states.push((drawn.amps[*load], changes));
            }
            if states.is_empty() {
                continue;
            }
            let pairs = most.iter().zip(&center.met);
            add(
                &mut bounds.weights,
                pairs.map(|(most, met)| if *met { -most } else { *most }),
            );
            add(&mut bounds.widths, widest.into_iter());
            bounds.unsettled.push((*place, states));
        }
        bounds
    }
}

impl Around {
    /// The load of which it is least known in which state it draws most where these conditions
    /// change, with how much the bound loses by that.
    fn hanging_on(&self, differing: &[usize]) -> Option<(usize, f64)> {
        let lost = |(place, states): &(usize, Vec<(f64, Vec<f64>)>)| {
            let each = |number: &usize| {
                let changes = states.iter().map(|(_, changes)| changes[*number]);
                changes.fold(f64::NEG_INFINITY, f64::max)
            };
            let in_all: f64 = differing.iter().map(each).sum();
            let greatest = |more: &dyn Fn(&[f64]) -> f64| {
                let amps = states.iter().map(|(amps, changes)| amps + more(changes));
                amps.fold(f64::NEG_INFINITY, f64::max)
            };
            let of_one = |changes: &[f64]| differing.iter().map(|number| changes[*number]).sum();
            (*place, greatest(&|_| 0.0) + in_all - greatest(&of_one))
        };
        let lost = self.unsettled.iter().map(lost);
        lost.max_by(|one, other| one.1.total_cmp(&other.1))
    }

    /// The condition among some of whose change least is known.
    fn least_known(&self, among: &[usize]) -> Option<usize> {
        among.iter().copied().max_by(|one, other| {
            let by_width = self.widths[*one].total_cmp(&self.widths[*other]);
            let size = |number: &usize| self.weights[*number].abs();
            by_width.then(size(one).total_cmp(&size(other)))
        })
    }
}

fn add(to: &mut [f64], more: impl Iterator<Item = f64>) {
    for (to, more) in to.iter_mut().zip(more) {
        *to += more;
    }
}
