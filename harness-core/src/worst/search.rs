//! The boat on which a sum of the loads' currents is greatest, and the proof.
//!
//! Around a solved boat the sum on any other boat is bounded condition by condition: what a
//! condition's loads add when they come, or take when they go, is the current they draw at the
//! volts of the solved boat times a sensitivity between the least and the greatest on all ways
//! from boat to boat. So the most any boat can be worse is a heaviest way through the diagram. If
//! it is nothing, the boat is the worst. If not, the boat on that way is solved; conditions that
//! every boat still possible shares are held so, which narrows all bounds; and where bounds alone
//! cannot decide, one condition in which the two boats differ is held met and unmet in turn.

use super::bounds::{Between, Bounds, Drawn, Factors, amps_at};
use super::greatest::{Best, NoWorst, Worst, rounding};
use super::region::{Among, Region, dividing, fits};
use super::sum::Sum;
use super::systems::System;
use crate::boats::{Asking, Presence, Way};
use crate::network::Behavior;
use crate::working::NotEvaluated;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

/// How much wider than they have to be sensitivities may be in a search: most prove at once, and
/// what they do not prove they do not prove for other reasons.
pub(super) const ROUGH: f64 = 0.3;

/// A system made ready to be searched over the boats.
#[derive(Debug)]
pub struct Search<'s> {
    /// The system.
    pub system: &'s System,
    /// Its factors.
    pub factors: Factors<'s>,
    among: Among<'s>,
    /// Number of the condition under which each load is there; `None` on every boat.
    when: Vec<Option<usize>>,
    /// What gives the system its shape.
    shape: Vec<Option<bool>>,
    /// Bounds on all boats of this shape.
    on_all: Option<Arc<Bounds>>,
    /// Currents on boats already solved, by the loads they have.
    solved: BTreeMap<Vec<bool>, Option<Arc<Drawn>>>,
    /// The same by the conditions they meet.
    met: BTreeMap<Vec<bool>, Option<Arc<Drawn>>>,
    /// Boats that every question is tried on first.
    starts: Vec<Start>,
    solves: usize,
}

/// A boat that was known before a question.
#[derive(Debug)]
struct Start {
    way: Way,
    /// The loads' currents on it, once they are asked for; none where they have no operating point.
    drawn: Option<Option<Arc<Drawn>>>,
}

impl<'s> Search<'s> {
    /// Makes a system ready. `number` gives the number of a condition by which boats are asked; `None` for
    /// one met by every boat.
    ///
    /// # Errors
    /// [`NoWorst`] where no boat has its shape, and where it cannot be searched.
    pub fn new(
        system: &'s System,
        boats: &'s dyn Asking,
        number: &dyn Fn(&crate::boats::Condition) -> Option<usize>,
    ) -> Result<Self, NoWorst> {
        let mut shape = vec![None; boats.conditions().len()];
        for (condition, met) in &system.shape {
            if let Some(at) = number(condition) {
                shape[at] = Some(*met);
            }
        }
        let when: Vec<_> = system.loads.iter().map(|load| number(&load.when)).collect();
        let among = Among::all(boats);
        let presence = among.presence(&shape).ok_or(NoWorst::NoBoat)?;
        let mut search = Self {
            system,
            factors: Factors::of(system).map_err(NoWorst::NotEvaluated)?,
            among,
            when,
            shape,
            on_all: None,
            solved: BTreeMap::new(),
            met: BTreeMap::new(),
            starts: Vec::new(),
            solves: 0,
        };
        let loads = search.of_loads(&presence);
        search.on_all = search.factors.bounds(&loads, None).map(Arc::new);
        Ok(search)
    }

    /// The boats of this shape on which one condition is met, and others are not; `None` where it
    /// is among the others, or a condition of the shape is.
    pub fn held(&self, met: Option<usize>, unmet: &[usize]) -> Option<Vec<Option<bool>>> {
        let mut held = self.shape.clone();
        let asked = met.iter().map(|number| (*number, true));
        for (number, wanted) in asked.chain(unmet.iter().map(|number| (*number, false))) {
            if held[number] == Some(!wanted) {
                return None;
            }
            held[number] = Some(wanted);
        }
        Some(held)
    }

    /// How many conditions boats are asked by.
    pub fn conditions(&self) -> usize {
        self.shape.len()
    }

    /// Whether the loads have an operating point on every boat of this shape, as far as bounds
    /// tell.
    pub fn is_bounded(&self) -> bool {
        self.on_all.is_some()
    }

    /// What each load draws at most on any boat of this shape, as far as bounds tell.
    pub fn most_amps(&self) -> Option<&[f64]> {
        self.on_all.as_ref().map(|bounds| &bounds.most_amps[..])
    }

    /// Whether the system has its shape on this boat.
    pub fn is_of(&self, way: &Way) -> bool {
        fits(&self.shape, way)
    }

    /// Whether boats of these conditions have its shape.
    pub(super) fn is_there(&self, presence: &[Presence]) -> bool {
        let mut pairs = self.shape.iter().zip(presence);
        pairs.all(|(shape, presence)| match shape {
            None => true,
            Some(true) => *presence == Presence::Always,
            Some(false) => *presence == Presence::Never,
        })
    }

    /// A condition of its shape that some boats of these conditions meet and others do not.
    pub(super) fn open_shape(&self, presence: &[Presence]) -> Option<usize> {
        let mut pairs = self.shape.iter().zip(presence);
        pairs.position(|(shape, presence)| shape.is_some() && *presence == Presence::Some)
    }

    /// Bounds on boats of these conditions that have its shape.
    pub(super) fn bounds_on(&mut self, presence: &[Presence]) -> Option<Arc<Bounds>> {
        let present = self.of_loads(presence);
        let bounds = self.factors.bounds(&present, self.on_all.as_deref());
        bounds.map(Arc::new)
    }

    /// Bounds on all boats that have its shape.
    pub(super) fn bounds_on_all(&self) -> Option<Arc<Bounds>> {
        self.on_all.clone()
    }

    /// Number of the condition of a load.
    pub fn when(&self, load: usize) -> Option<usize> {
        self.when[load]
    }

    fn of_loads(&self, presence: &[Presence]) -> Vec<Presence> {
        self.when
            .iter()
            .map(|when| when.map_or(Presence::Always, |when| presence[when]))
            .collect()
    }

    /// The loads' currents on one boat; `None` where they have no operating point.
    pub fn solve(&mut self, way: &Way) -> Option<Arc<Drawn>> {
        if let Some(known) = self.met.get(&way.met) {
            return known.clone();
        }
        let present: Vec<bool> = self
            .when
            .iter()
            .map(|when| when.is_none_or(|when| way.met[when]))
            .collect();
        let drawn = match self.solved.entry(present) {
            Entry::Occupied(known) => known.get().clone(),
            Entry::Vacant(new) => {
                self.solves += 1;
                let drawn = self.factors.solve(new.key()).map(Arc::new);
                new.insert(drawn).clone()
            }
        };
        self.met.insert(way.met.clone(), drawn.clone());
        drawn
    }

    /// Boats solved exactly so far.
    pub fn solves(&self) -> usize {
        self.solves
    }

    /// A sum on one boat.
    pub fn value(&mut self, sum: &Sum, way: &Way) -> Option<f64> {
        Some(sum.terms().of(&self.solve(way)?.amps))
    }

    /// Tries every question from here on first on known boats. Their list may only have grown since
    /// it was given before.
    pub fn start_from(&mut self, known: &[Way]) {
        let new = known.iter().skip(self.starts.len()).cloned();
        self.starts
            .extend(new.map(|way| Start { way, drawn: None }));
    }

    /// The loads' currents on a boat that was known before.
    fn start(&mut self, at: usize) -> Option<Arc<Drawn>> {
        if let Some(drawn) = &self.starts[at].drawn {
            return drawn.clone();
        }
        let way = self.starts[at].way.clone();
        let drawn = self.solve(&way);
        self.starts[at].drawn.insert(drawn).clone()
    }

    /// The greatest value of a sum over the boats that meet the `held` conditions so.
    ///
    /// # Errors
    /// [`NoWorst`] where there is no such boat, one without operating point, or no end.
    pub fn greatest(&mut self, sum: &Sum, held: &[Option<bool>]) -> Result<Worst, NoWorst> {
        match self.alone(sum).filter(|_| self.on_all.is_some()) {
            Some(load) => self.greatest_of_one(sum, load, held),
            None => self.greatest_of_many(sum, held, Best::of_all()),
        }
    }

    /// The only load whose current a sum holds, if that hangs on its volts.
    fn alone(&self, sum: &Sum) -> Option<usize> {
        let mut held = (0..sum.factors.len()).filter(|load| sum.factors[*load] != 0.0);
        let load = held.next().filter(|_| held.next().is_none())?;
        match self.system.network.network().loads[load].behavior {
            Behavior::Current(_) => None,
            Behavior::Power(_) | Behavior::Resistance(_) => Some(load),
        }
    }

    /// The current of one load alone is greatest where its volts are lowest or highest, and volts
    /// are bounded more closely than currents.
    fn greatest_of_one(
        &mut self,
        sum: &Sum,
        load: usize,
        held: &[Option<bool>],
    ) -> Result<Worst, NoWorst> {
        let behavior = self.system.network.network().loads[load].behavior;
        let at = |volts| sum.constant + sum.factors[load] * amps_at(behavior, volts);
        let volts = Sum {
            constant: self.factors.idle(load),
            factors: self.factors.of_load(load).iter().map(|z| -z).collect(),
        };
        let rises = at(2.0) > at(1.0);
        let asked = if rises { volts } else { volts.turned() };
        // Where it is absent nothing flows.
        let among = |met: bool| {
            let mut among = held.to_vec();
            match self.when[load] {
                Some(when) if among[when] == Some(!met) => return None,
                Some(when) => among[when] = Some(met),
                None if !met => return None,
                None => {}
            }
            Some(among)
        };
        let (present, absent) = (among(true), among(false));
        let without = match absent {
            Some(absent) => self.among.any(&absent)?,
            None => None,
        };
        let nothing = without.map(|way| Worst {
            value: sum.constant,
            way,
            bound: sum.constant,
            solves: 0,
        });
        let found = match present {
            Some(present) => self.greatest_of_many(&asked, &present, Best::of_all()),
            None => Err(NoWorst::NoBoat),
        };
        match (found, nothing) {
            (Ok(found), nothing) => {
                let sign = if rises { 1.0 } else { -1.0 };
                let found = Worst {
                    value: at(sign * found.value),
                    bound: at(sign * found.bound),
                    ..found
                };
                Ok(match nothing {
                    Some(nothing) if nothing.value > found.value => Worst {
                        bound: nothing.bound.max(found.bound),
                        solves: found.solves,
                        ..nothing
                    },
                    _ => found,
                })
            }
            (Err(NoWorst::NoBoat), Some(nothing)) => Ok(nothing),
            (Err(why), _) => Err(why),
        }
    }

    /// The same over those boats on which the conditions met count for at least so many. Where no
    /// boat has more than what is `enough`, the bound says so, and the value need not be greatest.
    ///
    /// # Errors
    /// As [`Self::greatest`].
    pub fn greatest_with(
        &mut self,
        sum: &Sum,
        (least, enough): ((&[u32], u32), f64),
        held: &[Option<bool>],
    ) -> Result<Worst, NoWorst> {
        self.among.narrow(Some(least));
        let found = match self.alone(sum).filter(|_| self.on_all.is_some()) {
            Some(load) => self.greatest_of_one(sum, load, held),
            None => self.greatest_of_many(sum, held, Best::of_some(enough)),
        };
        self.among.narrow(None);
        found
    }

    fn greatest_of_many(
        &mut self,
        sum: &Sum,
        held: &[Option<bool>],
        mut best: Best,
    ) -> Result<Worst, NoWorst> {
        let terms = sum.terms();
        let numbered = held.iter().enumerate();
        let asked: Vec<(usize, bool)> = numbered
            .filter_map(|(number, held)| Some((number, (*held)?)))
            .collect();
        for at in 0..self.starts.len() {
            if self.among.has(&asked, &self.starts[at].way) {
                let value = self.start(at).map(|drawn| terms.of(&drawn.amps));
                best.try_known(value, &self.starts[at].way);
            }
        }
        let known = best.solves;
        let mut left = 0.0_f64;
        let mut open = vec![Region::of(f64::INFINITY, held.to_vec())];
        while let Some(region) = open.pop() {
            let (bound, held) = (region.bound, &region.held);
            if best.settles(bound) || best.is_exhausted() {
                left = left.max(bound - best.most());
                continue;
            }
            let at_root = open.is_empty() && best.solves <= known;
            let bounds = match self.on_all.clone().filter(|_| at_root) {
                Some(on_all) => Some(on_all),
                None => match region.presence(&self.among) {
                    Some(presence) => self.bounds_on(&presence),
                    None => continue,
                },
            };
            let sensitivity =
                bounds.and_then(|on| self.factors.sensitivity(&sum.factors, &on, ROUGH));
            let Some(sensitivity) = sensitivity else {
                // Too much together to bound: solved one by one, or divided by what draws most.
                let Some(presence) = region.presence(&self.among) else {
                    continue;
                };
                let some = |number: usize| presence[number] == Presence::Some;
                if let Some(number) = self.drawing_most(some) {
                    open.extend(region.divided(number));
                } else if let Some(way) = self.among.any(held)? {
                    best.solves += 1;
                    match self.value(sum, &way) {
                        None => return Err(NoWorst::Collapses(way)),
                        Some(value) => best.keep(value, &way),
                    }
                }
                continue;
            };
            left = left.max(self.prove(sum, held, &sensitivity, &mut best, &mut open)?);
        }
        let (most, solves) = (best.most(), best.solves);
        let Some((value, way)) = best.found else {
            return Err(match left {
                0.0 => NoWorst::NoBoat,
                _ => NoWorst::NotEvaluated(NotEvaluated::because(
                    "the boats could not be bounded within the limit of the search",
                )),
            });
        };
        Ok(Worst {
            bound: most + left,
            value,
            way,
            solves,
        })
    }

    /// Proves that no boat of a region is worse than the best known, or finds a worse one, or
    /// divides the region. Returns what is left unproven.
    fn prove(
        &mut self,
        sum: &Sum,
        held: &[Option<bool>],
        sensitivity: &[Between],
        best: &mut Best,
        open: &mut Vec<Region>,
    ) -> Result<f64, NoWorst> {
        // Bounds of a region say nothing of boats outside it, so the center is one of its own.
        let inside = best.found.clone().filter(|(_, way)| fits(held, way));
        let center = match inside {
            Some((_, way)) => way,
            None => {
                let idle: Vec<f64> = (0..self.when.len())
                    .map(|load| self.idle_amps(load))
                    .collect();
                let change = self.changes(&idle, sensitivity);
                let middle = change.iter().map(|(low, high)| 0.5 * (low + high));
                let weights: Vec<f64> = middle.collect();
                let Some((_, way)) = self.among.heaviest(&weights, held)? else {
                    return Ok(0.0);
                };
                best.solves += 1;
                way
            }
        };
        let Some(drawn) = self.solve(&center) else {
            return Err(NoWorst::Collapses(center));
        };
        let terms = sum.terms();
        let (mut value, mut center) = (terms.of(&drawn.amps), center);
        best.keep(value, &center);
        let mut change = self.changes(&drawn.would, sensitivity);
        loop {
            let most = best.most();
            let weights = around(&change, &center.met);
            let Some((weight, way)) = self.among.heaviest(&weights, held)? else {
                return Ok(0.0);
            };
            let bound = value + (weight - at(&weights, &center.met));
            let left = bound - most;
            if left <= 0.5 * rounding(most) || way.met == center.met {
                return Ok(left.max(0.0));
            }
            if best.is_exhausted() {
                return Ok(left);
            }
            best.solves += 1;
            let Some(drawn) = self.solve(&way) else {
                return Err(NoWorst::Collapses(way));
            };
            let found = terms.of(&drawn.amps);
            best.keep(found, &way);
            if found - value > rounding(value) {
                (value, center) = (found, way);
                change = self.changes(&drawn.would, sensitivity);
                continue;
            }
            // What holds on every boat that may be worse narrows the bounds of all.
            let enough = at(&weights, &center.met) + most - value;
            let fixed = self.among.fixed(&weights, held, (enough, most));
            if fixed != held {
                open.push(Region::closed(bound, fixed));
                return Ok(0.0);
            }
            let Some(number) = dividing(held, &change, &way, &center) else {
                return Ok(left);
            };
            // The half in which the other boat is is looked at first.
            let mut halves = Region::of(bound, held.to_vec()).divided(number);
            if center.met[number] {
                halves.reverse();
            }
            open.extend(halves);
            return Ok(0.0);
        }
    }

    /// By how much each condition changes the sum when it comes to be met, or gives back when it
    /// no longer is, around a boat with these currents.
    pub(super) fn changes(&self, would: &[f64], sensitivity: &[Between]) -> Vec<(f64, f64)> {
        let mut change = vec![(0.0, 0.0); self.shape.len()];
        for (load, when) in self.when.iter().enumerate() {
            if let Some(when) = when {
                let [least, most] = sensitivity[load];
                let (one, other) = (least * would[load], most * would[load]);
                change[*when].0 += one.min(other);
                change[*when].1 += one.max(other);
            }
        }
        change
    }

    /// Changes around a boat, to any other of this shape; `None` where they could not be bounded.
    pub fn changes_around(&mut self, sum: &Sum, way: &Way) -> Option<Vec<(f64, f64)>> {
        let bounds = self.on_all.clone()?;
        let sensitivity = self.factors.sensitivity(&sum.factors, &bounds, 0.0)?;
        let drawn = self.solve(way)?;
        Some(self.changes(&drawn.would, &sensitivity))
    }

    /// The condition, among some, whose loads draw most; `None` where none of them draws anything.
    pub fn drawing_most(&self, among: impl Fn(usize) -> bool) -> Option<usize> {
        let mut draw = vec![0.0; self.shape.len()];
        for (load, when) in self.when.iter().enumerate() {
            if let Some(when) = when.filter(|when| among(*when)) {
                draw[when] += self.idle_amps(load).abs();
            }
        }
        (0..draw.len())
            .filter(|number| draw[*number] > 0.0)
            .max_by(|a, b| draw[*a].total_cmp(&draw[*b]))
    }

    fn idle_amps(&self, load: usize) -> f64 {
        let idle = self.factors.idle(load).abs().max(1e-3);
        match self.system.network.network().loads[load].behavior {
            Behavior::Current(amps) => amps.value(),
            Behavior::Power(watts) => watts.value() / idle,
            Behavior::Resistance(ohms) => idle / ohms.value(),
        }
    }
}

/// Weights that bound the change from a boat: what comes counts at most, what goes at least.
pub(super) fn around(change: &[(f64, f64)], met: &[bool]) -> Vec<f64> {
    let pairs = change.iter().zip(met);
    pairs
        .map(|((low, high), met)| if *met { *low } else { *high })
        .collect()
}

/// The weight of the conditions met.
pub(super) fn at(weights: &[f64], met: &[bool]) -> f64 {
    let met = weights.iter().zip(met).filter(|(_, met)| **met);
    met.fold(0.0, |sum, (weight, _)| sum + weight)
}
