//! What a study says where the loads of some boat have no operating point.

use super::sketch::{Sketch, judged, seldom_together};
use crate::boats::BoatSet;
use crate::file_format;
use crate::routing::Routing;
use crate::study::options_of;
use crate::worst::{Counted, EveryBoat};
use serde_json::{Value, json};

/// A lamp on every boat and a heater on some, on one thin feed.
fn unproven(power_w: f64) -> (Vec<String>, usize) {
    let wire = |id: &str, from: &str, to: &str, when: Value| json!({"id": id, "from": from, "to": to, "size": "16 AWG", "fitted_when": when});
    let always = json!({"not": {"all": ["heat", {"not": "heat"}]}});
    let bar = |id: &str| json!({"id": id, "kind": "busbar", "point": "there", "positions": 6});
    let runs = json!([{"state": "day", "share": 1.0}]);
    let text = json!({
        "format_version": 1, "name": "Too much",
        "zones": [{"id": "aft"}],
        "points": [{"id": "here", "zone": "aft"}, {"id": "there", "zone": "aft"}],
        "runs": [{"id": "run", "from": "here", "to": "there", "length_m": 4.0}],
        "states": [{"id": "day", "name": "By day"}],
        "options": [{"id": "heat"}],
        "buses": [bar("plus"), bar("minus")],
        "sources": [{"id": "bank", "kind": "battery", "point": "here", "nominal_v": 12.0,
            "low_v": 11.0}],
        "loads": [
            {"id": "lamp", "point": "there", "current_a": 1.0, "runs_in": runs, "min_v": 9.0},
            {"id": "heater", "point": "there", "power_w": power_w, "runs_in": runs,
             "fitted_when": "heat"},
        ],
        "wires": [
            wire("feed", "bank.plus", "plus.1", always.clone()),
            wire("back", "minus.1", "bank.minus", always.clone()),
            wire("a", "plus.2", "lamp.plus", always.clone()),
            wire("b", "lamp.minus", "minus.2", always),
            wire("c", "plus.3", "heater.plus", json!("heat")),
            wire("d", "heater.minus", "minus.3", json!("heat")),
        ],
    });
    let model = file_format::read(&text.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"));
    let options = options_of(&model);
    let set = BoatSet::of(&options).unwrap();
    let (routing, first) = (Routing::of(&model), set.fullest().unwrap());
    let (every, _) =
        EveryBoat::of(&model, &routing, &options, &set, &first, Counted::No, None).unwrap();
    (every.unproven, every.candidates.solves)
}

#[test]
fn what_is_known_only_of_boats_judged_is_told_with_its_source_and_state() {
    let told = |volts: &str| {
        format!(
            "some volts and currents behind bank in state \"By day\", {volts} volts: there are \
             boats on which its loads have no operating point"
        )
    };
    let (unproven, solves) = unproven(5_000.0);
    assert_eq!(unproven, [told("nominal"), told("low")]);
    // Counted, not derived.
    assert_eq!(solves, 6);
}

#[test]
fn nothing_is_told_where_all_boats_run() {
    assert_eq!(unproven(50.0).0, Vec::<String>::new());
}

#[test]
fn most_comes_back_on_a_boat_whose_loads_run() {
    // The heater draws most, but no boat that has it runs; of the others three come together
    // seldom.
    let mut sketch = seldom_together(Sketch::new(10)).battery("bank", "here", Value::Null);
    sketch = sketch
        .bar("plus", "end")
        .bar("minus", "end")
        .wire("feed", "bank.plus", "plus.1", Value::Null)
        .wire("back", "minus.1", "bank.minus", Value::Null);
    let heater = json!({"power_w": 5_000.0});
    let draws = [
        (0, json!({"current_a": 30.0})),
        (1, json!({"current_a": 25.0})),
        (2, json!({"power_w": 160.0})),
        (9, heater),
    ];
    for (at, mut load) in draws {
        let (id, when) = (format!("l{at}"), json!(format!("o{at}")));
        load["id"] = json!(id);
        load["point"] = json!("end");
        load["runs_in"] = json!([{"state": "day", "share": 1.0}]);
        sketch = sketch
            .add("loads", load, when.clone())
            .wire(
                &format!("p{at}"),
                "plus.2",
                &format!("{id}.plus"),
                when.clone(),
            )
            .wire(&format!("m{at}"), &format!("{id}.minus"), "minus.2", when);
    }
    let (findings, _) = judged(&sketch);
    let back = &findings[&("back".to_owned(), "return_smaller_than_feed")];
    // 55 A, and 160 W at 10 to 12 V.
    let amps = back.value.map(|value| value.value).unwrap();
    assert!((68.4..71.0).contains(&amps), "{}", back.message);
    assert!(back.message.starts_with("3 loads"), "{}", back.message);
}
