//! The boats judged now beside those judged for an earlier study.

use super::candidates::Candidates;
use crate::boats::Boat;
use crate::rules::Place;
use std::collections::{BTreeMap, BTreeSet};

/// What is judged on a boat that was not judged on it earlier.
#[derive(Clone, Debug)]
pub(super) enum Added {
    /// All of it.
    All,
    /// What flows at these things.
    Flowing(BTreeSet<Place>),
}

/// Whether the boats on which everything is there once are the same.
pub(super) fn starts_alike(old: &Candidates, new: &Candidates) -> bool {
    let first = new.with_everything;
    old.with_everything == first && old.boats[..first] == new.boats[..first]
}

/// Numbers turned round: by the new ones the old ones.
pub(super) fn before(now: &[Option<usize>], count: usize) -> Vec<Option<usize>> {
    let mut before = vec![None; count];
    for (old, new) in now.iter().enumerate() {
        if let Some(new) = new {
            before[*new] = Some(old);
        }
    }
    before
}

/// Boats on which one thing is judged, in their order, each with how many before it are judged in
/// all in both studies.
type Sequence<'c> = Vec<(&'c Boat, usize)>;

/// The boats judged in all.
fn in_all(candidates: &Candidates) -> impl Iterator<Item = &Boat> {
    let boats = candidates.boats.iter().zip(&candidates.judged);
    boats.filter_map(|(boat, judged)| judged.is_none().then_some(boat))
}

/// The boats judged for each thing.
fn sequences<'c>(
    candidates: &'c Candidates,
    in_both: &BTreeSet<&Boat>,
) -> BTreeMap<Place, Sequence<'c>> {
    let (mut before, mut each) = (0, BTreeMap::<Place, Sequence<'_>>::new());
    for (boat, judged) in candidates.boats.iter().zip(&candidates.judged) {
        match judged {
            None => before += usize::from(in_both.contains(boat)),
            Some(places) => {
                for place in places {
                    each.entry(*place).or_default().push((boat, before));
                }
            }
        }
    }
    each
}

/// Whether what both sequences have stands in the same order.
fn in_one_order(one: &Sequence<'_>, other: &Sequence<'_>) -> bool {
    if one == other {
        return true;
    }
    let boats = |of: &Sequence<'_>| of.iter().map(|(boat, _)| (*boat).clone()).collect();
    let (own, others): (BTreeSet<Boat>, BTreeSet<Boat>) = (boats(one), boats(other));
    let shared = one.iter().filter(|(boat, _)| others.contains(*boat));
    shared.eq(other.iter().filter(|(boat, _)| own.contains(*boat)))
}

/// How the boats judged now stand to those judged earlier.
pub(super) struct Compared<'c> {
    old: &'c Candidates,
    new: &'c Candidates,
    /// The number that each boat judged earlier has now.
    pub now: Vec<Option<usize>>,
    /// Things of which boats judged both times changed places.
    pub elsewhere: BTreeSet<Place>,
}

impl<'c> Compared<'c> {
    /// `None` where boats judged in all both times changed places.
    pub fn of(old: &'c Candidates, new: &'c Candidates) -> Option<Self> {
        let before: BTreeSet<&Boat> = in_all(old).collect();
        let after: BTreeSet<&Boat> = in_all(new).collect();
        let in_both: BTreeSet<&Boat> = &before & &after;
        let is_in_both = |boat: &&Boat| in_both.contains(boat);
        if !in_all(old)
            .filter(is_in_both)
            .eq(in_all(new).filter(is_in_both))
        {
            return None;
        }
        let each_now = sequences(new, &in_both);
        let elsewhere = sequences(old, &in_both)
            .into_iter()
            .filter(|(place, boats)| {
                let now = each_now.get(place);
                now.is_some_and(|now| !in_one_order(boats, now))
            });
        let numbers: BTreeMap<&Boat, usize> = new.boats.iter().zip(0..).collect();
        let now = old.boats.iter().map(|boat| numbers.get(boat).copied());
        Some(Self {
            old,
            new,
            now: now.collect(),
            elsewhere: elsewhere.map(|(place, _)| place).collect(),
        })
    }

    /// The number now of a boat on which a thing was judged earlier, where as much of it still is.
    pub fn judged_now(&self, old: usize, place: Place) -> Option<usize> {
        let new = self.now[old]?;
        let is_judged = match (&self.old.judged[old], &self.new.judged[new]) {
            (_, None) => true,
            (None, Some(_)) => false,
            (Some(_), Some(places)) => places.contains(&place),
        };
        is_judged.then_some(new)
    }

    /// What is judged on boats now, by their number, that was not judged on them earlier, besides
    /// things that are judged anew on all.
    pub fn added(&self, anew: &BTreeSet<Place>) -> BTreeMap<usize, Added> {
        let before = before(&self.now, self.new.boats.len());
        let each = self.new.judged.iter().zip(before).enumerate();
        let added = each.filter_map(|(number, (judged, before))| {
            let known = before.map(|before| &self.old.judged[before]);
            let added = match (judged, known) {
                (_, Some(None)) => return None,
                (None, _) => Added::All,
                (Some(places), known) => {
                    let known = known.and_then(Option::as_ref);
                    let is_new = |place: &&Place| {
                        !anew.contains(place) && known.is_none_or(|known| !known.contains(place))
                    };
                    let new: BTreeSet<Place> = places.iter().filter(is_new).copied().collect();
                    if new.is_empty() {
                        return None;
                    }
                    Added::Flowing(new)
                }
            };
            Some((number, added))
        });
        added.collect()
    }
}
