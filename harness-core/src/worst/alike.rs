//! Boats that are alike in all that is judged anew on them: what was found on the first of them is
//! found on the others.
//!
//! Findings about some things hang on these with their areas, on what lies in the same runs and
//! ends at the same equipment, and on how many loaded conductors lie beside. Two boats with the same
//! of all that differ elsewhere only.

use super::asked::Asked;
use super::earlier::Kept;
use crate::boats::{Boat, Condition};
use crate::model::{BoatModel, Index, Run};
use crate::routing::Routing;
use crate::rules::{Loaded, Place};
use std::collections::{BTreeMap, BTreeSet};

/// What findings about the things to be judged anew hang on.
struct Deciding {
    /// Which of it is there.
    fitted: BTreeSet<Condition>,
    /// Runs in which something may lie beside it.
    runs: BTreeSet<Index<Run>>,
}

impl Deciding {
    fn of(model: &BoatModel, routing: &Routing, kept: &Kept<'_>) -> Self {
        let runs_of = |wire| {
            let path = routing.path(wire).map_or(&[][..], |path| &path.legs);
            path.iter().map(|leg| leg.run)
        };
        let about = &kept.around;
        let wires = about.iter().filter_map(|place| match place {
            Place::Wire(at) => Some(*at),
            _ => None,
        });
        let runs = wires.flat_map(runs_of).collect();
        let lie_there = model.wires.iter().filter(|(at, wire)| {
            let mut ends = [wire.from, wire.to].into_iter();
            ends.any(|pin| about.contains(&pin.equipment().into()))
                || runs_of(*at).any(|run| about.contains(&Place::Run(run)))
        });
        let lie_there = lie_there.map(|(_, wire)| wire.fitted_when.simplified());
        let things = about.iter().map(|place| place.fitted_when(model));
        // A connector makes contact where what it is plugged into is there too.
        let plugged = model.connectors.iter();
        let plugged = plugged.filter(|(at, _)| about.contains(&Place::Connector(*at)));
        let plugged = plugged.filter_map(|(_, it)| it.plugs_into.as_ref());
        let plugged = plugged.map(|it| it.equipment.fitted_when(model).simplified());
        let sources = model.sources.iter();
        let sources = sources.map(|(_, source)| source.fitted_when.simplified());
        let mut fitted: BTreeSet<Condition> = lie_there
            .chain(things)
            .chain(plugged)
            .chain(sources)
            .collect();
        fitted.remove(&Condition::Always);
        Self { fitted, runs }
    }

    fn on(&self, boat: &Boat, loaded: &Loaded) -> Option<(Vec<bool>, Vec<u32>)> {
        let fitted = self.fitted.iter().map(|when| when.holds(boat));
        let beside = self.runs.iter().map(|run| loaded.in_run(*run));
        Some((fitted.collect(), beside.collect::<Option<_>>()?))
    }
}

/// Leaves out boats on which all that is asked was asked of one before that is alike.
pub(super) fn asked_once(
    asked: &mut [Asked<'_>],
    boats: &[Boat],
    model: &BoatModel,
    routing: &Routing,
    kept: &Kept<'_>,
) {
    let deciding = Deciding::of(model, routing, kept);
    let mut in_all = BTreeSet::new();
    let mut flowing: BTreeMap<_, BTreeSet<Place>> = BTreeMap::new();
    for (asked, boat) in asked.iter_mut().zip(boats) {
        let known = asked.known.as_ref();
        let alike = known.and_then(|(loaded, _)| deciding.on(boat, loaded));
        let (Some(alike), Some(places)) = (alike, &mut asked.places) else {
            continue;
        };
        if in_all.contains(&alike) {
            places.clear();
        } else if asked.in_all {
            in_all.insert(alike);
        } else {
            let before = flowing.entry(alike).or_default();
            let is_new = |place: &Place| !before.contains(place);
            match places.iter().any(is_new) {
                true => before.extend(places.iter().copied()),
                false => places.clear(),
            }
        }
    }
}
