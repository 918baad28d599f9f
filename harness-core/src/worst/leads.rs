//! In which states a load may draw most.
//!
//! A load that runs in several states draws more in the one in which more runs beside it, or less
//! if it is a resistance. The difference of its currents in two states is bounded over all boats
//! as every sum is; much of what a condition adds in one state it adds in the other, so the bound is
//! close. A state in which the load draws no more than in another, on whatever boat, need not be
//! looked at.

use super::search::at;
use super::systems::System;
use super::together::{Current, Together};
use crate::boats::{TooWide, Way};
use crate::network::Behavior;
use std::collections::BTreeSet;

impl Together<'_> {
    /// Of the currents of one load those that may be its greatest.
    ///
    /// # Errors
    /// [`TooWide`] where the boats could not be asked.
    pub(super) fn leading(&mut self, all: &[Current]) -> Result<Vec<Current>, TooWide> {
        if let Some(known) = self.leads.get(all) {
            return Ok(known.clone());
        }
        let mut left: Vec<Current> = Vec::new();
        for current in all {
            if !left.iter().any(|known| self.is_same(*known, *current)) {
                left.push(*current);
            }
        }
        if left.len() > 1 {
            // The greatest on some boat is most likely to be so on all.
            let on_boat = self.with_load(left[0])?;
            if let Some(way) = on_boat {
                let places: BTreeSet<usize> = left.iter().map(|(search, _)| *search).collect();
                let drawn = self.on_boat(&places, &way);
                let amps = |(search, load): &Current| {
                    let drawn = drawn[*search].as_ref()?.as_ref()?;
                    Some(drawn.amps[*load])
                };
                left.sort_by(|one, other| {
                    let (one, other) = (amps(one), amps(other));
                    other.partial_cmp(&one).unwrap_or(std::cmp::Ordering::Equal)
                });
                let mut at = left.len();
                while at > 0 {
                    at -= 1;
                    for other in 0..left.len() {
                        if other != at
                            && let (Some(one), Some(most)) = (amps(&left[at]), amps(&left[other]))
                            && one <= most
                            && self.is_never_more((left[at], one), (left[other], most), &way)?
                        {
                            left.remove(at);
                            break;
                        }
                    }
                }
            }
            left.sort_unstable();
        }
        self.leads.insert(all.to_vec(), left.clone());
        Ok(left)
    }

    /// Whether two currents of a load are the same on every boat.
    fn is_same(&self, one: Current, other: Current) -> bool {
        let (a, b) = (self.searches[one.0].system, self.searches[other.0].system);
        let behavior = a.network.network().loads[one.1].behavior;
        self.is_on_the_same(one, other)
            && (matches!(behavior, Behavior::Current(_)) || have_the_same(a, b))
    }

    /// Whether a load is there in two systems on the same boats.
    fn is_on_the_same(&self, one: Current, other: Current) -> bool {
        let (a, b) = (&self.searches[one.0], &self.searches[other.0]);
        a.system.shape == b.system.shape && a.when(one.1) == b.when(other.1)
    }

    /// A boat that has a load, with the shape of one of its systems.
    fn with_load(&self, (search, load): Current) -> Result<Option<Way>, TooWide> {
        let search = &self.searches[search];
        match search.held(search.when(load), &[]) {
            Some(held) => self.among.any(&held),
            None => Ok(None),
        }
    }

    /// Whether a load never draws more in one system than in another, as far as bounds tell. `way` is a boat that has it; what it draws there in each is given.
    fn is_never_more(
        &mut self,
        (one, less): (Current, f64),
        (other, more): (Current, f64),
        way: &Way,
    ) -> Result<bool, TooWide> {
        if !self.is_on_the_same(one, other) {
            return Ok(false);
        }
        let search = &self.searches[one.0];
        let Some(held) = search.held(search.when(one.1), &[]) else {
            return Ok(false);
        };
        let mut changes = Vec::new();
        for current in [one, other] {
            let Some(adds) = self.on_all(current) else {
                return Ok(false);
            };
            let search = &mut self.searches[current.0];
            let Some(drawn) = search.solve(way) else {
                return Ok(false);
            };
            changes.push(search.changes(&drawn.would, &adds));
        }
        let pairs = changes[0].iter().zip(&changes[1]).zip(&way.met);
        let weights: Vec<f64> = pairs
            .map(|((one, other), met)| match met {
                true => one.0 - other.1,
                false => one.1 - other.0,
            })
            .collect();
        let heaviest = self.among.heaviest(&weights, &held)?;
        let most = heaviest.map_or(0.0, |(weight, _)| weight - at(&weights, &way.met));
        Ok(less - more + most <= 0.0)
    }
}

/// Whether the same loads run on the same wiring.
fn have_the_same(one: &System, other: &System) -> bool {
    let pairs = one.loads.iter().zip(&other.loads);
    one.loads.len() == other.loads.len()
        && one.branches == other.branches
        && one.sources == other.sources
        && pairs
            .into_iter()
            .all(|(a, b)| a.load == b.load && a.when == b.when)
}
