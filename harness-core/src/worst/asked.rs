//! What is judged on each of the boats found.

use super::candidates::Candidates;
use super::compared::Added;
use super::earlier::Kept;
use crate::boats::Boat;
use crate::model::BoatModel;
use crate::rules::{Judged, Loaded, Place};
use std::collections::BTreeSet;

/// What is judged on one boat.
pub(super) struct Asked<'k> {
    /// The things; all where none are told.
    places: Option<BTreeSet<Place>>,
    /// The things of which it has to be known what flows; all where none are told.
    flowing: Option<BTreeSet<Place>>,
    /// Whether what hangs on what else is fitted is judged too, not only what flows.
    pub in_all: bool,
    /// Whether it is among the boats on which everything there is is fitted once.
    pub with_everything: bool,
    /// The things of which is judged what hangs on nothing else; all where none are told.
    alone: Option<BTreeSet<Place>>,
    /// How many loaded conductors lie together, where an earlier study has shown it: then nothing
    /// need be looked at but what the findings about these things hang on.
    pub known: Option<(Loaded, &'k BTreeSet<Place>)>,
}

impl<'k> Asked<'k> {
    /// All of a boat.
    pub fn all() -> Self {
        Self {
            places: None,
            flowing: None,
            in_all: true,
            with_everything: false,
            alone: None,
            known: None,
        }
    }

    /// What is asked of each boat, in their order.
    pub fn of(model: &BoatModel, candidates: &Candidates, kept: Option<&'k Kept<'_>>) -> Vec<Self> {
        let each = candidates.judged.iter().enumerate();
        let asked = each.map(|(number, judged)| {
            // What hangs on nothing else is asked there of all things.
            let with_everything = number < candidates.with_everything;
            let asked = Self {
                places: judged.clone(),
                flowing: judged.clone(),
                in_all: judged.is_none(),
                with_everything,
                alone: None,
                known: None,
            };
            let Some(kept) = kept else {
                return asked;
            };
            let added = kept.added.get(&number);
            let places = match (judged, added) {
                (_, Some(Added::All)) => return asked,
                (None, _) => kept.anew.clone(),
                (Some(places), None) => places & &kept.anew,
                (Some(places), Some(Added::Flowing(added))) => &(places & &kept.anew) | added,
            };
            let alone = || {
                let before = &candidates.boats[..number];
                let things = kept.judged_alone();
                let is_new = |place: &Place| !is_wire_of(model, *place, before);
                things.filter(is_new).collect()
            };
            let flowing = match judged {
                None => &kept.around,
                Some(_) => &places,
            };
            let known = kept.loaded(number).map(|loaded| (loaded, &kept.around));
            Self {
                flowing: Some(flowing.clone()),
                places: Some(places),
                alone: with_everything.then(alone),
                known: known.filter(|_| added.is_none()),
                ..asked
            }
        });
        asked.collect()
    }

    /// Whether the boat need not be looked at.
    pub fn is_nothing(&self) -> bool {
        let places = self.places.as_ref();
        !self.with_everything && places.is_some_and(BTreeSet::is_empty)
    }

    /// Whether it is asked what lies in runs, or has to be counted what lies beside wires.
    pub fn needs_bundles(&self) -> bool {
        let places = self.places.as_ref().filter(|_| self.known.is_some());
        places.is_none_or(|places| places.iter().any(|place| matches!(place, Place::Run(_))))
    }

    /// How many loaded conductors lie together, where that is known.
    pub fn loaded(&self) -> Option<Loaded> {
        self.known.as_ref().map(|(loaded, _)| loaded.clone())
    }

    /// The things of which it has to be known what flows; all where none are told.
    pub fn flowing(&self) -> Option<&BTreeSet<Place>> {
        self.flowing.as_ref()
    }

    /// What is judged by rules whose findings hang on nothing else, after these boats.
    pub fn alone<'j>(&'j self, earlier: &'j [Boat]) -> Judged<'j> {
        let alone = self.alone.as_ref();
        alone.map_or(Judged::NotOn(earlier), Judged::These)
    }

    /// The same for the rules.
    pub fn judged(&self) -> Judged<'_> {
        self.places.as_ref().map_or(Judged::All, Judged::These)
    }
}

/// Whether a thing is a wire that one of these boats has.
fn is_wire_of(model: &BoatModel, place: Place, boats: &[Boat]) -> bool {
    let Place::Wire(at) = place else {
        return false;
    };
    let fitted = &model.wires[at].fitted_when;
    boats.iter().any(|boat| fitted.holds(boat))
}
