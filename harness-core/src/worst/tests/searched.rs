//! What a search asks of a system, by hand.

use super::sketch::Sketch;
use crate::boats::BoatSet;
use crate::network::assembly::Assembly;
use crate::routing::Routing;
use crate::study::options_of;
use crate::worst::candidates::{self, Width};
use crate::worst::search::Search;
use crate::worst::systems::Systems;
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

/// The greatest of a constant and some part of the load's current.
fn greatest(sketch: &Sketch, constant: f64, factor: f64) -> Worst {
    let model = sketch.model();
    let options = options_of(&model);
    let set = BoatSet::of(&options).unwrap();
    let routing = Routing::of(&model);
    let assembly = Assembly::of_every_boat(&model, &routing);
    let systems = Systems::of(&model, &assembly, &set).unwrap();
    let conditions = candidates::conditions(&model, &routing, &assembly, &systems);
    let asking =
        candidates::asking(&options, &conditions, &Default::default(), Width::default()).unwrap();
    let numbers = candidates::numbers(asking.as_ref());
    let number = |condition: &crate::boats::Condition| numbers.get(condition).copied();
    let mut search = Search::new(&systems.systems[0], asking.as_ref(), &number).unwrap();
    let sum = Sum {
        constant,
        factors: vec![factor],
    };
    let free = vec![None; asking.conditions().len()];
    search.greatest(&sum, &free, &[]).unwrap()
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
        let model = sketch.model();
        let routing = Routing::of(&model);
        let assembly = Assembly::of_every_boat(&model, &routing);
        let set = BoatSet::of(&options_of(&model)).unwrap();
        Systems::of(&model, &assembly, &set).unwrap().given_up
    };
    assert_eq!(given_up(6), Vec::<String>::new());
    assert_eq!(given_up(7), ["more than 64 shapes of one system"]);
}
