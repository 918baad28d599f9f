//! What comes back through one wire at most, all its loads at once, with the proof.
//!
//! Each load counts with the greatest of its currents over the states, so what comes back is no
//! sum of currents of one system. Around a solved boat it is bounded all the same: a condition adds
//! to a load's greatest current at most what it adds in the state in which it adds most. The rest
//! is as in the search of one sum: the heaviest way is solved, what all worse boats share is held,
//! and where bounds alone cannot decide, one condition is held met and unmet in turn.

use super::bounds::Between;
use super::greatest::{Best, Worst, rounding};
use super::region::{Among, Region, fits};
use super::search::{Search, around, at};
use super::sum::Sum;
use crate::boats::{Presence, TooWide, Way};
use crate::model::{Index, Load};
use crate::network::Behavior;
use std::collections::{BTreeMap, BTreeSet};

/// Currents of loads in one state, each of which takes a sensitivity of its own: with more of them
/// what comes back is only bounded (our practice: a return of 60 loads in three states).
const MOST_CURRENTS: usize = 200;

/// The loads that come back: for each the places of its systems, and its number in them.
pub(super) type ComeBack = BTreeMap<Index<Load>, Vec<(usize, usize)>>;

/// The search for the most that comes back through one wire.
pub(super) struct Together<'t, 's> {
    among: Among<'s>,
    searches: &'t mut [Search<'s>],
    loads: &'t ComeBack,
}

/// How much one more ampere at each load of a system adds to the current of one of them.
struct Adds {
    search: usize,
    load: usize,
    each: Vec<Between>,
}

impl<'t, 's> Together<'t, 's> {
    /// `None` where too many currents come back.
    pub fn of(
        among: Among<'s>,
        searches: &'t mut [Search<'s>],
        loads: &'t ComeBack,
    ) -> Option<Self> {
        let varies = |(search, load): &&(usize, usize)| {
            let network = searches[*search].system.network.network();
            !matches!(network.loads[*load].behavior, Behavior::Current(_))
        };
        let varying = loads.values().flatten().filter(varies).count();
        (varying <= MOST_CURRENTS).then_some(Self {
            among,
            searches,
            loads,
        })
    }

    /// The most on all boats so held whose loads have an operating point, and the boat; `None` where
    /// there is no such boat. Known boats are tried first.
    ///
    /// # Errors
    /// [`TooWide`] where the boats could not be asked.
    pub fn greatest(
        &mut self,
        held: &[Option<bool>],
        known: &[Way],
    ) -> Result<Option<Worst>, TooWide> {
        let mut best = Best::of_all();
        for way in known.iter().filter(|way| fits(held, way)) {
            best.try_known(self.value(way), way);
        }
        let mut left = 0.0_f64;
        let mut open = vec![Region::of(f64::INFINITY, held.to_vec())];
        while let Some(region) = open.pop() {
            if best.settles(region.bound) || best.is_exhausted() {
                left = left.max(region.bound - best.most());
                continue;
            }
            let Some(presence) = region.presence(&self.among) else {
                continue;
            };
            match self.adds(&presence) {
                Ok(adds) => {
                    left = left.max(self.prove(&region.held, &adds, &mut best, &mut open)?)
                }
                Err(Some(number)) => open.extend(region.divided(number)),
                // The same loads on all of them.
                Err(None) => {
                    if let Some(way) = self.among.any(&region.held)? {
                        best.solves += 1;
                        if let Some(value) = self.value(&way) {
                            best.keep(value, &way);
                        }
                    }
                }
            }
        }
        let (most, solves) = (best.most(), best.solves);
        Ok(best.found.map(|(value, way)| Worst {
            bound: most + left,
            value,
            way,
            solves,
        }))
    }

    /// What comes back on one boat; `None` where its loads have no operating point.
    fn value(&mut self, way: &Way) -> Option<f64> {
        let mut sum = 0.0;
        for currents in self.loads.values() {
            let mut most = 0.0_f64;
            for (search, load) in currents {
                let search = &mut self.searches[*search];
                if search.is_of(way) {
                    most = most.max(search.solve(way)?.amps[*load]);
                }
            }
            sum += most;
        }
        Some(sum)
    }

    /// What each load adds to the currents that come back, on all boats of these conditions. Where
    /// the shape of the wiring is open, or bounds do not tell, the condition to divide by; none
    /// where all these boats have the same loads.
    fn adds(&mut self, presence: &[Presence]) -> Result<Vec<Adds>, Option<usize>> {
        // Before anything else: bounds hold for one shape.
        let mut places = self.places().into_iter();
        if let Some(open) = places.find_map(|at| self.searches[at].open_shape(presence)) {
            return Err(Some(open));
        }
        let mut adds = Vec::new();
        let mut bounds = BTreeMap::new();
        for &(search, load) in self.loads.values().flatten() {
            let own = &mut self.searches[search];
            if !own.is_there(presence) {
                continue;
            }
            let bounds = bounds
                .entry(search)
                .or_insert_with(|| own.bounds_on(presence));
            let mut sum = Sum {
                constant: 0.0,
                factors: vec![0.0; own.system.loads.len()],
            };
            sum.factors[load] = 1.0;
            let bounds = bounds.as_ref();
            match bounds.and_then(|bounds| own.factors.sensitivity(&sum.factors, bounds, 0.0)) {
                Some(each) => adds.push(Adds { search, load, each }),
                None => return Err(self.dividing(presence)),
            }
        }
        Ok(adds)
    }

    /// The open condition whose loads draw most in some system.
    fn dividing(&self, presence: &[Presence]) -> Option<usize> {
        let open = |number: usize| presence[number] == Presence::Some;
        let mut places = self.places().into_iter();
        places.find_map(|at| self.searches[at].drawing_most(open))
    }

    /// The places of the systems through which something comes back.
    fn places(&self) -> BTreeSet<usize> {
        self.loads.values().flatten().map(|(at, _)| *at).collect()
    }

    /// Proves that no boat of a region has more than the best known, or finds one, or divides the
    /// region. Returns what is left unproven.
    fn prove(
        &mut self,
        held: &[Option<bool>],
        adds: &[Adds],
        best: &mut Best,
        open: &mut Vec<Region>,
    ) -> Result<f64, TooWide> {
        let inside = best.found.clone().filter(|(_, way)| fits(held, way));
        let mut center = match inside {
            Some((_, way)) => way,
            None => match self.among.any(held)? {
                Some(way) => way,
                None => return Ok(0.0),
            },
        };
        loop {
            best.solves += 1;
            // On boats that are bounded there is an operating point.
            let Some(value) = self.value(&center) else {
                return Ok(f64::INFINITY);
            };
            best.keep(value, &center);
            let weights = self.weights(adds, &center);
            let Some((weight, way)) = self.among.heaviest(&weights, held)? else {
                return Ok(0.0);
            };
            let most = best.most();
            let bound = value + (weight - at(&weights, &center.met));
            let left = bound - most;
            if left <= 0.5 * rounding(most) || way.met == center.met {
                return Ok(left.max(0.0));
            }
            if best.is_exhausted() {
                return Ok(left);
            }
            let Some(found) = self.value(&way) else {
                return Ok(f64::INFINITY);
            };
            if found - value > rounding(value) {
                center = way;
                continue;
            }
            let enough = at(&weights, &center.met) + most - value;
            let fixed = self.among.fixed(&weights, held, (enough, most));
            if fixed != held {
                open.push(Region::closed(bound, fixed));
                return Ok(0.0);
            }
            let differs =
                |number: &usize| held[*number].is_none() && center.met[*number] != way.met[*number];
            let size = |number: &usize| weights[*number].abs();
            let numbers = (0..held.len()).filter(differs);
            let Some(number) = numbers.max_by(|a, b| size(a).total_cmp(&size(b))) else {
                return Ok(left);
            };
            open.extend(Region::of(bound, held.to_vec()).divided(number));
            return Ok(0.0);
        }
    }

    /// Weights that bound the change of what comes back from one boat to any other.
    fn weights(&mut self, adds: &[Adds], center: &Way) -> Vec<f64> {
        let mut of_load: BTreeMap<Index<Load>, Vec<f64>> = BTreeMap::new();
        for one in adds {
            let search = &mut self.searches[one.search];
            let Some(drawn) = search.solve(center) else {
                continue;
            };
            let change = search.changes(&drawn.would, &one.each);
            let here = around(&change, &center.met);
            let load = search.system.loads[one.load].load;
            let most = of_load.entry(load);
            let most = most.or_insert_with(|| vec![f64::NEG_INFINITY; here.len()]);
            for ((most, here), met) in most.iter_mut().zip(here).zip(&center.met) {
                // What goes gives back its weight: the least of it bounds the change.
                *most = most.max(if *met { -here } else { here });
            }
        }
        let mut weights = vec![0.0; center.met.len()];
        for most in of_load.values() {
            for (weight, most) in weights.iter_mut().zip(most) {
                *weight += most;
            }
        }
        for (weight, met) in weights.iter_mut().zip(&center.met) {
            if *met {
                *weight = -*weight;
            }
        }
        weights
    }
}
