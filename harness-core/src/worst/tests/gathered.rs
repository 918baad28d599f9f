//! What each question asks for by itself, before other questions have found boats that do as well.

use super::sketch::{Ready, Sketch, batteries, fed, seldom_together};
use crate::boats::{Boat, OptionIndex};
use crate::model::Index;
use crate::worst::candidates::Gathering;
use crate::worst::{Quantity, Worst};
use serde_json::{Value, json};

/// Whether there is a boat with all of some options and none of others.
fn has(gathering: &Gathering<'_>, with: &[usize], without: &[usize]) -> bool {
    gathering.ways().iter().any(|way| {
        let fitted = |option: &usize| way.boat.has(OptionIndex(*option));
        with.iter().all(fitted) && !without.iter().any(fitted)
    })
}

#[test]
fn batteries_of_three_options_are_joined_to_a_device() {
    // None of them is beside a third on the fullest boat of any two.
    let sketch = seldom_together(Sketch::new(9)).bar("last", "end");
    let sketch = batteries(sketch, 3);
    let ready = Ready::of(&sketch.device("fuse", "fuse", Value::Null).wire(
        "in",
        "last.9",
        "fuse.in",
        Value::Null,
    ));
    let mut gathering = ready.gathering();
    gathering.protected(&ready.set);
    assert!(has(&gathering, &[0, 1, 2], &[]));
    assert_eq!(gathering.found.unproven, Vec::<String>::new());
}

#[test]
fn a_device_is_the_first_by_a_way_that_other_batteries_leave_open() {
    // The short way to the fuse leads over the plus of a second battery, of option 0. Where that is
    // fitted the walk ends there, and the fuse is the first by the long way only, of option 1.
    // With a third battery, of option 2, all three are asked for at once.
    let sketch = seldom_together(Sketch::new(9)).battery("bank", "here", Value::Null);
    let ready = Ready::of(
        &sketch
            .battery("second", "end", json!("o0"))
            .battery("third", "end", json!("o2"))
            .bar("last", "end")
            .bar("round", "there")
            .device("fuse", "fuse", Value::Null)
            .wire("short", "bank.plus", "second.plus", Value::Null)
            .wire("on", "second.plus", "last.1", Value::Null)
            .wire("long", "bank.plus", "round.1", json!("o1"))
            .wire("back", "round.2", "last.2", json!("o1"))
            .wire("beside", "third.plus", "last.3", Value::Null)
            .wire("in", "last.4", "fuse.in", Value::Null),
    );
    let mut gathering = ready.gathering();
    gathering.protected(&ready.set);
    assert!(has(&gathering, &[0, 1, 2], &[]));
}

/// A load between the bar of plus and another place.
fn load(sketch: Sketch, id: &str, power_w: f64, minus: &str, when: Value) -> Sketch {
    let load = json!({"id": id, "point": "end", "power_w": power_w,
        "runs_in": [{"state": "day", "share": 1.0}]});
    let (out, back) = (format!("{id}-out"), format!("{id}-back"));
    sketch
        .add("loads", load, when.clone())
        .wire(&out, "plus.2", &format!("{id}.plus"), when.clone())
        .wire(&back, &format!("{id}.minus"), minus, when)
}

/// What is asked for by returns alone.
fn in_returns(ready: &Ready) -> Gathering<'_> {
    let mut gathering = ready.gathering();
    gathering.together_in_returns();
    assert_eq!(gathering.found.unproven, Vec::<String>::new());
    gathering
}

#[test]
fn of_loads_that_do_not_run_together_the_larger_one_comes_back() {
    // Six metres of 10 AWG have about 0.02 Ω: more than 144 V² / (4 · 0.02 Ω) = 1 800 W do not run.
    let mut sketch = fed(3);
    for (at, power_w) in [1_100.0, 1_300.0, 24.0].into_iter().enumerate() {
        let when = json!(format!("o{at}"));
        sketch = load(sketch, &format!("l{at}"), power_w, "minus.2", when);
    }
    let ready = Ready::of(&sketch);
    let gathering = in_returns(&ready);
    assert!(has(&gathering, &[0, 1, 2], &[]), "before it is solved");
    assert!(has(&gathering, &[1, 2], &[0]));
}

#[test]
fn a_load_that_comes_back_by_itself_may_keep_others_from_running() {
    // Three loads share a return and come together seldom. The heater has a return of its own, so
    // that it does not count for that of the others, and is there unless 9 is ordered.
    let mut sketch = seldom_together(fed(10));
    for at in 0..3 {
        let when = json!(format!("o{at}"));
        sketch = load(sketch, &format!("l{at}"), 50.0, "minus.2", when);
    }
    let when = json!({"not": "o9"});
    let ready = Ready::of(&load(sketch, "heater", 2_400.0, "bank.minus", when));
    let gathering = in_returns(&ready);
    assert!(has(&gathering, &[0, 1, 2], &[9]), "before it is solved");
    assert!(has(&gathering, &[0, 1, 2, 9], &[]));
}

#[test]
fn loads_are_asked_whether_they_run_in_the_shape_at_hand() {
    // By the first bank alone only one of the two runs; with the second beside them both do.
    let mut sketch = fed(3);
    for (at, power_w) in [1_100.0, 1_300.0].into_iter().enumerate() {
        let when = json!(format!("o{at}"));
        sketch = load(sketch, &format!("l{at}"), power_w, "minus.2", when);
    }
    let sketch = sketch
        .battery("second", "end", json!("o2"))
        .wire("near", "second.plus", "plus.3", json!("o2"))
        .wire("nearly", "minus.3", "second.minus", json!("o2"));
    let ready = Ready::of(&sketch);
    let gathering = in_returns(&ready);
    assert!(has(&gathering, &[0, 1, 2], &[]) && has(&gathering, &[1], &[0, 2]));
    assert!(!has(&gathering, &[2], &[0]) && !has(&gathering, &[2], &[1]));
}

#[test]
fn what_comes_back_is_weighed_at_the_least_volts_of_its_loads() {
    // One of two: 60 W draw 5 A at 12 V and 10 A at 6 V, the other 8 A at any volts. The third
    // comes with either, but on the fullest boats not with the first.
    let mut sketch = load(fed(6), "first", 60.0, "minus.2", json!("o0"));
    sketch = load(sketch, "second", 0.0, "minus.2", json!("o1"));
    sketch.0["loads"][1] = json!({"id": "second", "point": "end", "current_a": 8.0,
        "runs_in": [{"state": "day", "share": 1.0}], "fitted_when": "o1"});
    sketch = load(sketch, "third", 12.0, "minus.2", json!("o2"));
    for (one, other) in [(0, 1), (0, 5), (2, 3), (2, 4)] {
        sketch = sketch.rule(json!({"excludes": [format!("o{one}"), format!("o{other}")]}));
    }
    // A load of 24 V that is listed before them.
    let mut other = Sketch::new(0).battery("other", "here", Value::Null);
    other.0["sources"][0]["nominal_v"] = json!(24.0);
    other = load(other, "far", 24.0, "other.minus", Value::Null);
    other.0["wires"][0]["from"] = json!("other.plus");
    for list in ["sources", "loads", "wires"] {
        let thing = other.0[list].as_array().unwrap().clone();
        sketch.0[list].as_array_mut().unwrap().splice(0..0, thing);
    }
    let ready = Ready::of(&sketch);
    let first = ready.model.loads.find("first").unwrap();
    // With so many volts lost at most by the first of them.
    let asked = |lost: f64| {
        let mut gathering = ready.gathering();
        let worst = Worst {
            value: lost,
            way: ready.asking.way_of(&Boat::bare()),
            bound: lost,
            solves: 1,
        };
        let known = &mut gathering.found.worst;
        known.insert(Quantity::Drop(first), (worst, None));
        gathering.together_in_returns();
        has(&gathering, &[0, 2], &[])
    };
    assert!(!asked(0.0) && asked(6.0));
    // With none left the usual ones count.
    assert!(!asked(12.0) && !asked(13.0));
}

/// Two wires side by side are a loop, so that what each load takes from each has to be kept.
#[test]
fn a_loop_of_too_many_loads_is_told_not_left_out() {
    let told = |count: usize| {
        let mut sketch = Sketch::new(0)
            .battery("bank", "here", Value::Null)
            .bar("plus", "end")
            .wire("one", "bank.plus", "plus.1", Value::Null)
            .wire("two", "bank.plus", "plus.2", Value::Null);
        for at in 0..count {
            let id = format!("load-{at}");
            let load = json!({"id": id, "point": "end", "current_a": 0.01,
                "runs_in": [{"state": "day", "share": 1.0}]});
            let minus = format!("{id}.minus");
            sketch = sketch
                .add("loads", load, Value::Null)
                .wire(
                    &format!("out-{at}"),
                    "plus.3",
                    &format!("{id}.plus"),
                    Value::Null,
                )
                .wire(&format!("back-{at}"), &minus, "bank.minus", Value::Null);
        }
        let ready = Ready::of(&sketch);
        let mut gathering = ready.gathering();
        gathering.search();
        let found = gathering.found;
        let given = Quantity::Given(Index::new(0));
        let why = found.missing.get(&given).map(ToString::to_string);
        (found.unproven, why, found.worst.contains_key(&given))
    };
    assert_eq!(told(3), (Vec::new(), None, true));
    let why = "not evaluated, because currents part or meet on the way of 2001 loads; up to 2000 are \
        searched";
    let behind = |volts: &str| {
        format!("some volts and currents behind bank in state \"day\", {volts} volts: {why}")
    };
    let expected = vec![behind("nominal"), behind("low")];
    assert_eq!(told(2_001), (expected, Some(why.to_owned()), false));
}
