//! A study after a change takes over what the change cannot touch: the outcome is the same, to the
//! last bit, as that of a study from scratch.

use super::{drawn, linked, varied};
use crate::boats::BoatSet;
use crate::file_format;
use crate::model::{Behavior, BoatModel, Index, Load};
use crate::routing::Routing;
use crate::rules::Finding;
use crate::study::options_of;
use crate::tables::conductors;
use crate::units::{Amperes, Volts};
use crate::worst::{Changes, Counted, Earlier, EveryBoat};
use serde_json::Value;
use std::sync::Arc;

/// Models of each family, and changes of each model.
const MODELS: u64 = 24;
const CHANGES: usize = 4;

fn studied(model: &BoatModel, earlier: Option<&Earlier<'_>>) -> (EveryBoat, Vec<Finding>) {
    let options = options_of(model);
    let set = BoatSet::of(&options).unwrap();
    let (routing, first) = (Routing::of(model), set.fullest().unwrap());
    EveryBoat::of(
        model,
        &routing,
        &options,
        &set,
        &first,
        Counted::Yes,
        earlier,
    )
    .unwrap()
}

/// One wire a size up or down, one load that draws more or less, or one device of another rating.
fn change(model: &mut BoatModel, rng: &mut fastrand::Rng) {
    loop {
        match rng.usize(..3) {
            0 if !model.wires.is_empty() => {
                let at = Index::new(rng.usize(..model.wires.len()));
                let Some(size) = model.wires[at].size else {
                    continue;
                };
                let sizes = conductors::stocked(size.series()).map(|row| row.size);
                let sizes: Vec<_> = sizes.collect();
                let Some(now) = sizes.iter().position(|one| *one == size) else {
                    continue;
                };
                let next = if rng.bool() {
                    now + 1
                } else {
                    now.wrapping_sub(1)
                };
                let Some(next) = sizes.get(next) else {
                    continue;
                };
                model.wires.change(at, |wire| wire.size = Some(*next));
            }
            1 if !model.loads.is_empty() => {
                let at: Index<Load> = Index::new(rng.usize(..model.loads.len()));
                let factor = if rng.bool() { 1.3 } else { 0.7 };
                let Some(behavior) = model.loads[at].behavior else {
                    continue;
                };
                let next = match behavior {
                    Behavior::Current(amps) => Behavior::Current(amps * factor),
                    Behavior::Power(power) => Behavior::Power(power * factor),
                    Behavior::Resistance(ohms) => Behavior::Resistance(ohms * factor),
                };
                model.loads.change(at, |load| load.behavior = Some(next));
            }
            2 if !model.devices.is_empty() => {
                let at = Index::new(rng.usize(..model.devices.len()));
                let Some(rating) = model.devices[at].rating else {
                    continue;
                };
                let next = if rng.bool() {
                    rating * 2.0
                } else {
                    rating * 0.5
                };
                model
                    .devices
                    .change(at, |device| device.rating = Some(next));
            }
            _ => continue,
        }
        return;
    }
}

/// How many findings were taken over in all, in how many studies, and how many searches of returns.
fn compare(drawn: fn(u64) -> Value) -> (usize, usize, usize) {
    let (mut taken, mut studies, mut returns) = (0, 0, 0);
    for seed in 0..MODELS {
        let mut rng = fastrand::Rng::with_seed(seed);
        let mut model = file_format::read(&drawn(seed).to_string()).unwrap();
        let options = options_of(&model);
        if BoatSet::of(&options).unwrap().is_empty() {
            continue;
        }
        let (mut every, mut findings) = studied(&model, None);
        for _ in 0..CHANGES {
            let mut next = model.clone();
            change(&mut next, &mut rng);
            let change = Changes::between(&model, &next);
            let earlier = change.clone().map(|changes| Earlier {
                every: &every,
                findings: &findings,
                changes,
            });
            let (after, told) = studied(&next, earlier.as_ref());
            let (anew, expected) = studied(&next, None);
            for (own, other) in told.iter().zip(&expected) {
                assert_eq!(own, other, "seed {seed}, {change:?}");
            }
            assert_eq!(told.len(), expected.len());
            assert_eq!(after.candidates.boats, anew.candidates.boats);
            assert_eq!(after.worst, anew.worst, "seed {seed}, {change:?}");
            assert_eq!(after.extents, anew.extents, "seed {seed}, {change:?}");
            assert_eq!(after.supplies, anew.supplies, "seed {seed}, {change:?}");
            assert_eq!(after.candidates.unproven, anew.candidates.unproven);
            let (own, other) = (&after.candidates, &anew.candidates);
            assert_eq!(own.proven, other.proven, "seed {seed}");
            assert_eq!(own.solves, other.solves, "seed {seed}");
            assert_eq!(own.with_pairs, other.with_pairs, "seed {seed}");
            assert_eq!(own.most_together, other.most_together, "seed {seed}");
            assert_eq!(anew.taken_over, 0);
            let before = &every.candidates.returned.found;
            let pairs = before.iter().zip(&after.candidates.returned.found);
            returns += pairs.filter(|(one, other)| Arc::ptr_eq(one, other)).count();
            taken += after.taken_over;
            studies += usize::from(after.taken_over > 0);
            // What is taken over is taken over again.
            (model, every, findings) = (next, after, told);
        }
    }
    (taken, studies, returns)
}

#[test]
fn after_a_change_all_is_as_from_scratch() {
    assert_eq!(compare(drawn::drawn), (1090, 96, 0));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_several_banks() {
    assert_eq!(compare(varied::varied), (3117, 92, 10));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_couplers_and_several_sources() {
    assert_eq!(compare(linked::linked), (1155, 92, 1));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_all_of_it() {
    assert_eq!(compare(linked::richly_linked), (1230, 87, 1));
}

#[test]
fn only_sizes_draws_and_ratings_are_followed() {
    let model = file_format::read(&drawn::drawn(0).to_string()).unwrap();
    assert_eq!(Changes::between(&model, &model), Some(Changes::default()));
    let changed = |change: &dyn Fn(&mut BoatModel)| {
        let mut next = model.clone();
        change(&mut next);
        Changes::between(&model, &next)
    };
    let load: Index<Load> = Index::new(0);
    let draws = |amps: f64| {
        changed(&|next| {
            let draws = Behavior::Current(Amperes::new(amps));
            next.loads.change(load, |load| load.behavior = Some(draws));
        })
    };
    assert!(draws(9.0).is_some());
    assert!(draws(0.002).is_some());
    // So little that its wires may count as carrying nothing.
    assert!(draws(0.001).is_none());
    let unknown = changed(&|next| next.loads.change(load, |load| load.behavior = None));
    assert!(unknown.is_none());
    let least = Some(Volts::new(1.0));
    let other = changed(&|next| next.loads.change(load, |load| load.min_volts = least));
    assert!(other.is_none());
    let unsized_wire = changed(&|next| next.wires.change(Index::new(0), |wire| wire.size = None));
    assert!(unsized_wire.is_none());
    let renamed = changed(&|next| next.name.push('!'));
    assert!(renamed.is_none());
}
