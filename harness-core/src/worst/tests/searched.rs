//! What a search asks of a system, by hand.

use super::sketch::{Ready, Sketch};
use crate::boats::Boat;
use crate::network::Behavior;
use crate::units::Watts;
use crate::worst::bounds::{amps_at, flows_one_way};
use crate::worst::{Sum, Worst};
use serde_json::{Value, json};

/// A load of 24 W under a condition, on a battery of 12 V.
fn one_load(when: Value) -> Sketch {
    let load = json!({"id": "load", "point": "end", "power_w": 24.0,
        "runs_in": [{"state": "day", "share": 1.0}]});
    let sketch = Sketch::new(1).battery("bank", "here", Value::Null);
    sketch
        .add("loads", load, when)
        .wire("out", "bank.plus", "load.plus", Value::Null)
        .wire("back", "load.minus", "bank.minus", Value::Null)
}

/// The greatest of a constant and some part of the load's current; these boats are known.
fn greatest_with(sketch: &Sketch, constant: f64, factor: f64, known: &[Boat]) -> Worst {
    let ready = Ready::of(sketch);
    let sum = Sum {
        constant,
        factors: vec![factor],
    };
    let free = vec![None; ready.asking.conditions().len()];
    let known: Vec<_> = known.iter().map(|boat| ready.asking.way_of(boat)).collect();
    let mut search = ready.search();
    search.start_from(&known);
    search.greatest(&sum, &free).unwrap()
}

fn greatest(sketch: &Sketch, constant: f64, factor: f64) -> Worst {
    greatest_with(sketch, constant, factor, &[])
}

#[test]
fn what_a_load_takes_away_is_least_on_boats_without_it() {
    let worst = greatest(&one_load(json!("o0")), 5.0, -1.0);
    assert_eq!((worst.value, worst.way.boat.options().count()), (5.0, 0));
    assert!(worst.is_proven() && worst.solves > 0);
    let added = greatest(&one_load(json!("o0")), 5.0, 1.0);
    assert_eq!(added.way.boat.options().count(), 1);
    assert!(
        added.is_proven() && (7.0..7.2).contains(&added.value),
        "{}",
        added.value
    );
}

#[test]
fn a_load_of_every_boat_is_never_taken_for_absent() {
    let worst = greatest(&one_load(Value::Null), 5.0, -1.0);
    assert!(
        worst.is_proven() && (2.8..3.0).contains(&worst.value),
        "{}",
        worst.value
    );
}

#[test]
fn a_boat_that_is_known_is_solved_first_and_counted() {
    // Of two boats the one with the load is known: nothing else has to be solved.
    let sketch = one_load(json!("o0"));
    let ready = Ready::of(&sketch);
    let fullest = ready.set.fullest().unwrap();
    let known = std::slice::from_ref(&fullest);
    let worst = greatest_with(&sketch, 5.0, 1.0, known);
    assert_eq!((worst.solves, &worst.way.boat), (1, &fullest));
    // One that is not as asked does not count.
    let worst = greatest_with(&sketch, 5.0, 1.0, &[Boat::bare()]);
    assert_eq!((worst.solves, &worst.way.boat), (1, &fullest));
    let both = greatest_with(&sketch, 5.0, 1.0, &[fullest.clone(), fullest]);
    assert_eq!((both.solves, both.value), (2, worst.value));
}

/// A load of so many amperes on every boat.
fn amps(amps: f64) -> Ready {
    let mut sketch = one_load(Value::Null);
    let load = sketch.0["loads"][0].as_object_mut().unwrap();
    load.remove("power_w");
    load.insert("current_a".to_owned(), json!(amps));
    Ready::of(&sketch)
}

#[test]
fn loads_that_leave_less_than_a_fifth_of_the_volts_are_not_bounded() {
    // By Ohm's law the volts left are those of the source less amperes times ohms.
    let ready = amps(1.0);
    let mut search = ready.search();
    let most = search.factors.idle(0) / search.factors.of_load(0)[0];
    assert!(amps(0.79 * most).search().is_bounded());
    assert!(!amps(0.81 * most).search().is_bounded());
    assert!(!amps(1.5 * most).search().is_bounded());
}

#[test]
fn what_asks_for_no_power_draws_nothing_even_without_volts() {
    let none = Behavior::Power(Watts::new(0.0));
    assert_eq!((amps_at(none, 12.0), amps_at(none, 0.0)), (0.0, 0.0));
}

#[test]
fn the_wire_between_two_halves_of_a_bank_carries_current_both_ways() {
    let runs = json!([{"state": "day", "share": 1.0}]);
    let load =
        |id: &str| json!({"id": id, "point": "end", "current_a": 1.0, "runs_in": runs.clone()});
    let ready = |upper_minus: &str| {
        let sketch = Sketch::new(0)
            .battery("lower", "here", Value::Null)
            .battery("upper", "here", Value::Null)
            .bar("middle", "end")
            .add("loads", load("one"), Value::Null)
            .add("loads", load("two"), Value::Null);
        Ready::of(
            &sketch
                .wire("link", "lower.plus", "upper.minus", Value::Null)
                .wire("tap", "lower.plus", "middle.1", Value::Null)
                .wire("a", "upper.plus", "one.plus", Value::Null)
                .wire("b", "one.minus", upper_minus, Value::Null)
                .wire("c", "middle.2", "two.plus", Value::Null)
                .wire("d", "two.minus", "lower.minus", Value::Null),
        )
    };
    // The upper load comes back through the tap by which the lower one is fed, or by itself.
    assert!(!flows_one_way(&ready("middle.3").systems.systems[0]));
    assert!(flows_one_way(&ready("upper.minus").systems.systems[0]));
}

#[test]
fn a_load_is_fed_by_the_source_to_which_it_comes_back() {
    // Both banks feed the bar, but only the second has the minus of the load.
    let ready = Ready::of(
        &Sketch::new(0)
            .battery("first", "here", Value::Null)
            .battery("second", "here", Value::Null)
            .bar("plus", "end")
            .add(
                "loads",
                json!({"id": "load", "point": "end", "current_a": 1.0,
                "runs_in": [{"state": "day", "share": 1.0}]}),
                Value::Null,
            )
            .wire("a", "first.plus", "plus.1", Value::Null)
            .wire("b", "second.plus", "plus.2", Value::Null)
            .wire("out", "plus.3", "load.plus", Value::Null)
            .wire("back", "load.minus", "second.minus", Value::Null),
    );
    assert!(ready.systems.unsupplied.is_empty());
    for system in &ready.systems.systems {
        for consumer in &system.loads {
            let (source, ..) = system.sources[consumer.source];
            assert_eq!(ready.model.sources.id(source), "second");
        }
    }
    assert!(!ready.systems.systems.is_empty());
}

/// Wires side by side, each of an option, give the wiring a shape for each choice among them.
#[test]
fn a_wiring_of_more_than_64_shapes_is_given_up() {
    let given_up = |count: usize| {
        let load = json!({"id": "load", "point": "end", "current_a": 1.0,
            "runs_in": [{"state": "day", "share": 1.0}]});
        let mut sketch = Sketch::new(count).battery("bank", "here", Value::Null);
        sketch = sketch
            .bar("last", "end")
            .add("loads", load, Value::Null)
            .wire("out", "last.9", "load.plus", Value::Null)
            .wire("back", "load.minus", "bank.minus", Value::Null);
        for at in 0..count {
            let (id, when) = (format!("w{at}"), json!(format!("o{at}")));
            sketch = sketch.wire(&id, "bank.plus", &format!("last.{}", at + 1), when);
        }
        Ready::of(&sketch).systems.given_up
    };
    assert_eq!(given_up(6), Vec::<String>::new());
    assert_eq!(given_up(7), ["more than 64 shapes of one system"]);
}
