//! A study after a change takes over what the change cannot touch: the outcome is the same, to the
//! last bit, as that of a study from scratch.

use super::sketch::{Sketch, judged};
use super::{drawn, linked, varied};
use crate::boats::BoatSet;
use crate::file_format;
use crate::model::{Behavior, BoatModel, DropClass, Index, Load};
use crate::routing::Routing;
use crate::rules::{Finding, Place};
use crate::study::options_of;
use crate::tables::conductors;
use crate::units::{Amperes, Volts, WireSize};
use crate::worst::{Changes, Counted, Earlier, EveryBoat};
use serde_json::{Value, json};
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

/// One wire a size up or down or of another color, one load that draws more or less or may lose
/// another share, or one device of another rating.
fn change(model: &mut BoatModel, rng: &mut fastrand::Rng) {
    loop {
        match rng.usize(..5) {
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
            3 if !model.wires.is_empty() => {
                let at = Index::new(rng.usize(..model.wires.len()));
                let color = ["red", "black", "yellow", "brown"][rng.usize(..4)];
                let color = (rng.u8(..4) > 0).then(|| color.to_owned());
                model.wires.change(at, |wire| wire.color = color);
            }
            4 if !model.loads.is_empty() => {
                let at: Index<Load> = Index::new(rng.usize(..model.loads.len()));
                let limit = (rng.u8(..4) > 0).then(|| 0.5 + 10.0 * rng.f64());
                let class = rng.bool().then_some(DropClass::Critical);
                model.loads.change(at, |load| {
                    (load.own_drop_limit_percent, load.drop_class) = (limit, class);
                });
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
            for (number, finding) in told.iter().enumerate() {
                let (own, other) = (after.worst[number], anew.worst[number]);
                assert_eq!(own, other, "seed {seed}, {change:?}: {finding:?}");
            }
            assert_eq!(after.extents, anew.extents, "seed {seed}, {change:?}");
            assert_eq!(after.supplies, anew.supplies, "seed {seed}, {change:?}");
            assert_eq!(after.unproven, anew.unproven);
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
    assert_eq!(compare(drawn::drawn), (15_567, 96, 58));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_several_banks() {
    assert_eq!(compare(varied::varied), (28_909, 96, 70));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_couplers_and_several_sources() {
    assert_eq!(compare(linked::linked), (28_406, 92, 59));
}

#[test]
fn after_a_change_all_is_as_from_scratch_with_all_of_it() {
    assert_eq!(compare(linked::richly_linked), (40_297, 92, 58));
}

#[test]
fn only_some_fields_are_followed() {
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

/// A bank with a load of its own, both of which lie at one point or reach from one to the other.
fn bank_with_load(sketch: Sketch, id: &str, at: &str, load_at: &str) -> Sketch {
    let load = json!({"id": format!("{id}-load"), "point": load_at, "current_a": 5.0});
    let pin = |thing: &str, pole: &str| format!("{id}{thing}.{pole}");
    sketch
        .battery(id, at, Value::Null)
        .add("loads", load, Value::Null)
        .wire(
            &format!("{id}-feed"),
            &pin("", "plus"),
            &pin("-load", "plus"),
            Value::Null,
        )
        .wire(
            &format!("{id}-back"),
            &pin("-load", "minus"),
            &pin("", "minus"),
            Value::Null,
        )
}

/// After a wire of a sketch is two sizes thinner: how many findings are taken over, and how many
/// there are. The outcome is that of a study from scratch.
fn taken_over(sketch: &Sketch, wire: &str) -> (usize, usize) {
    let model = sketch.model();
    let (every, findings) = studied(&model, None);
    let mut next = model.clone();
    let at = model.wires.find(wire).unwrap();
    next.wires
        .change(at, |wire| wire.size = Some(WireSize::awg(12)));
    let earlier = Earlier {
        every: &every,
        findings: &findings,
        changes: Changes::between(&model, &next).unwrap(),
    };
    let (after, told) = studied(&next, Some(&earlier));
    let (_, expected) = studied(&next, None);
    assert_eq!(told, expected);
    (after.taken_over, told.len())
}

#[test]
fn a_yellow_blower_is_judged_anew_when_the_first_return_turns_yellow() {
    let mut sketch = bank_with_load(Sketch::new(1), "one", "here", "there");
    sketch.0["circuits"] = json!([{"id": "C1", "function": "bilge-blower"}]);
    let wires = sketch.0["wires"].as_array_mut().unwrap();
    wires[0]["circuit"] = json!("C1");
    for (at, role, color) in [(0, "feed", "yellow"), (1, "return", "black")] {
        (wires[at]["role"], wires[at]["color"]) = (json!(role), json!(color));
    }
    let black = sketch.model();
    let mut yellow = black.clone();
    let back = black.wires.find("one-back").unwrap();
    yellow
        .wires
        .change(back, |wire| wire.color = Some("yellow".to_owned()));
    for (old, new, fails) in [(&black, &yellow, true), (&yellow, &black, false)] {
        let (every, findings) = studied(old, None);
        let earlier = Earlier {
            every: &every,
            findings: &findings,
            changes: Changes::between(old, new).unwrap(),
        };
        let (after, told) = studied(new, Some(&earlier));
        let (_, expected) = studied(new, None);
        assert_eq!(told, expected);
        assert!(after.taken_over > 0);
        let feed = Place::Wire(new.wires.find("one-feed").unwrap());
        let mut of_feed = told.iter().filter(|found| found.place == feed);
        let color = of_feed.find(|found| found.rule == "wrong_color_for_function");
        assert_eq!(color.unwrap().fails(), fails);
    }
}

#[test]
fn where_currents_part_what_lies_beside_a_changed_wire_is_judged_anew() {
    // A bridge in balance: nothing flows between its middles until one of its arms is thinner. The
    // two wires of the other bank that lie beside are allowed less then.
    let bridge = Sketch::new(1)
        .battery("bank", "end", Value::Null)
        .bar("one", "here")
        .bar("other", "there")
        .bar("far", "end")
        .add(
            "loads",
            json!({"id": "lamp", "point": "end", "current_a": 10.0}),
            Value::Null,
        )
        .wire("a", "bank.plus", "one.1", Value::Null)
        .wire("b", "bank.plus", "other.1", Value::Null)
        .wire("c", "one.2", "far.1", Value::Null)
        .wire("d", "other.2", "far.2", Value::Null)
        .wire("middle", "one.3", "other.3", Value::Null)
        .wire("on", "far.3", "lamp.plus", Value::Null)
        .wire("back", "lamp.minus", "bank.minus", Value::Null);
    let beside = bank_with_load(bridge, "beside", "here", "there");
    let mut thinner = Sketch(beside.0.clone());
    thinner.0["wires"][0]["size"] = json!("12 AWG");
    let allowed = |sketch: &Sketch| {
        let (findings, _) = judged(sketch);
        let feed = &findings[&("beside-feed".to_owned(), "conductor_overloaded")];
        feed.limit.map(|limit| limit.value).unwrap()
    };
    assert!(allowed(&thinner) < 0.8 * allowed(&beside));
    assert_eq!(taken_over(&beside, "a"), (6, 77));
    let elsewhere = bank_with_load(beside, "elsewhere", "end", "end");
    assert_eq!(taken_over(&elsewhere, "a"), (25, 96));
}

#[test]
fn where_each_current_has_one_way_what_lies_beside_a_changed_wire_is_taken_over() {
    let one = bank_with_load(Sketch::new(1), "one", "here", "there");
    let alone = taken_over(&one, "one-feed");
    let beside = bank_with_load(one, "beside", "here", "there");
    assert_eq!(
        (alone, taken_over(&beside, "one-feed")),
        ((0, 20), (19, 39))
    );
}
