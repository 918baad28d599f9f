//! What each question asks for by itself, before other questions have found boats that do as well.

use super::sketch::{Ready, Sketch, seldom_together};
use crate::boats::OptionIndex;
use crate::worst::candidates::Gathering;
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
    let mut sketch = seldom_together(Sketch::new(9)).bar("last", "end");
    for at in 0..3 {
        let (id, when) = (format!("battery-{at}"), json!(format!("o{at}")));
        let (plus, bar) = (format!("{id}.plus"), format!("last.{}", at + 1));
        sketch =
            sketch
                .battery(&id, "end", when.clone())
                .wire(&format!("w{at}"), &plus, &bar, when);
    }
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
            .wire("beside", "third.plus", "last.3", json!("o2"))
            .wire("in", "last.4", "fuse.in", Value::Null),
    );
    let mut gathering = ready.gathering();
    gathering.protected(&ready.set);
    assert!(has(&gathering, &[0, 1, 2], &[]));
}

/// Loads of so many watts, each of an option, on one bank by one feed and one return.
fn loads(watts: &[f64]) -> Sketch {
    let mut sketch = Sketch::new(watts.len())
        .battery("bank", "here", Value::Null)
        .bar("plus", "end")
        .bar("minus", "end")
        .wire("feed", "bank.plus", "plus.1", Value::Null)
        .wire("back", "minus.1", "bank.minus", Value::Null);
    for (at, watts) in watts.iter().enumerate() {
        let (id, when) = (format!("l{at}"), json!(format!("o{at}")));
        let load = json!({"id": id, "point": "end", "power_w": watts,
            "runs_in": [{"state": "day", "share": 1.0}]});
        let (plus, minus) = (format!("{id}.plus"), format!("{id}.minus"));
        sketch = sketch
            .add("loads", load, when.clone())
            .wire(&format!("p{at}"), "plus.2", &plus, when.clone())
            .wire(&format!("m{at}"), &minus, "minus.2", when);
    }
    sketch
}

#[test]
fn of_loads_that_do_not_run_together_the_larger_one_comes_back() {
    // Six metres of 10 AWG have about 0.02 Ω: more than 144 V² / (4 · 0.02 Ω) = 1 800 W do not run.
    let ready = Ready::of(&loads(&[1_100.0, 1_300.0, 24.0]));
    let mut gathering = ready.gathering();
    gathering.together_in_returns();
    assert!(
        has(&gathering, &[0, 1, 2], &[]),
        "asked for without solving"
    );
    assert!(has(&gathering, &[1, 2], &[0]));
    assert_eq!(gathering.found.unproven, Vec::<String>::new());
}

#[test]
fn a_load_that_comes_back_by_itself_may_keep_others_from_running() {
    // The second one takes so much of the shared feed that nothing runs beside it; its return is
    // its own, and so of no weight for the return of the others.
    let mut sketch = loads(&[60.0, 2_400.0, 24.0]);
    sketch.0["wires"][5]["to"] = json!("bank.minus");
    let ready = Ready::of(&sketch);
    let mut gathering = ready.gathering();
    gathering.together_in_returns();
    assert!(has(&gathering, &[0, 2], &[1]));
    assert_eq!(gathering.found.unproven, Vec::<String>::new());
}
