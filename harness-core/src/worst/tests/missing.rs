//! Drawn boats with a state in which nothing runs, and with loads of unknown draw, against judging
//! every boat.

use super::{Reached, Tally, Width, compare, judged, linked};
use serde_json::{Value, json};

const MODELS: usize = 60;

fn loads(boat: &mut Value) -> impl Iterator<Item = &mut Value> {
    boat["loads"].as_array_mut().into_iter().flatten()
}

/// By night nothing runs: what flows is what the sources give to each other.
fn at_rest(seed: u64) -> Value {
    let mut boat = linked::richly_linked(seed);
    for load in loads(&mut boat) {
        load["runs_in"] = json!([{"state": "day", "share": 1.0}]);
    }
    boat
}

/// Many loads state no draw, and most others draw constant power; some sources hold their volts.
fn undrawn(seed: u64) -> Value {
    let mut boat = linked::richly_linked(seed);
    let mut rng = fastrand::Rng::with_seed(seed ^ 0xd2a3);
    for load in loads(&mut boat) {
        let load = load.as_object_mut().expect("a load");
        if rng.u8(..4) == 0 {
            for draw in ["current_a", "power_w", "resistance_ohm"] {
                load.remove(draw);
            }
        } else if let Some(amps) = load.remove("current_a") {
            load.insert("power_w".to_owned(), json!(12.0 * amps.as_f64().unwrap()));
        }
    }
    for source in boat["sources"].as_array_mut().into_iter().flatten() {
        if rng.bool() {
            source["internal_ohm"] = json!(0.0);
        }
    }
    boat
}

#[test]
fn it_does_so_where_nothing_runs_in_some_state() {
    let expected = Tally {
        models: MODELS,
        limits: 43_011,
        proven: 12_066,
        unproven: 9,
        solves: 4_551,
        judged: 1_386,
        in_all: 1_141,
        reached: Reached {
            failing: 2_943,
            partly: 2_274,
            exact: 320,
            causes: [287, 153],
            shared: [443, 4_641],
            near: 418,
        },
    };
    assert_eq!(
        compare(&judged(at_rest, MODELS), Width::default()),
        expected
    );
}

#[test]
fn it_does_so_with_many_loads_of_unknown_draw() {
    let expected = Tally {
        models: MODELS,
        limits: 42_645,
        proven: 10_654,
        unproven: 33,
        solves: 4_108,
        judged: 1_635,
        in_all: 1_539,
        reached: Reached {
            failing: 2_829,
            partly: 2_171,
            exact: 198,
            causes: [123, 100],
            shared: [338, 4_534],
            near: 251,
        },
    };
    assert_eq!(
        compare(&judged(undrawn, MODELS), Width::default()),
        expected
    );
}
