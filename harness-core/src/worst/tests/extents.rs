//! How far failures reach, by hand.

use super::sketch::{Sketch, fed};
use crate::boats::{Boat, BoatSet, OptionIndex, Over};
use crate::model::Identified;
use crate::routing::Routing;
use crate::rules::{Finding, Place};
use crate::study::options_of;
use crate::worst::{Counted, EveryBoat, Extent};
use num_bigint::BigUint;
use serde_json::{Value, json};

/// What a rule finds at a wire or load, and how far it reaches.
fn found(sketch: &Sketch, rule: &str, id: &str) -> (Finding, Option<Extent>) {
    let model = sketch.model();
    let options = options_of(&model);
    let set = BoatSet::of(&options).unwrap();
    let (routing, first) = (Routing::of(&model), set.fullest().unwrap());
    let (every, findings) =
        EveryBoat::of(&model, &routing, &options, &set, &first, Counted::Yes, None).unwrap();
    let is_there = |finding: &Finding| match finding.place {
        Place::Wire(at) => model.wires[at].id() == id,
        Place::Load(at) => model.loads[at].id() == id,
        _ => false,
    };
    let asked = |finding: &Finding| finding.rule == rule && is_there(finding);
    let at = findings.iter().position(asked).unwrap();
    (findings[at].clone(), every.extents[at].clone())
}

fn boat(options: &[usize]) -> Boat {
    options.iter().map(|at| OptionIndex(*at)).collect()
}

/// A load between the bar of plus and another place.
fn load(sketch: Sketch, id: &str, mut draws: Value, minus: &str, when: Value) -> Sketch {
    draws["id"] = json!(id);
    draws["point"] = json!("end");
    draws["runs_in"] = json!([{"state": "day", "share": 1.0}]);
    let (out, back) = (format!("{id}-out"), format!("{id}-back"));
    sketch
        .add("loads", draws, when.clone())
        .wire(&out, "plus.2", &format!("{id}.plus"), when.clone())
        .wire(&back, &format!("{id}.minus"), minus, when)
}

#[test]
fn a_return_that_is_over_only_at_low_volts_is_counted_between_bounds() {
    // Two pumps of constant power share a return. A heater with a return of its own lowers their
    // volts, so that they draw more: 58 A by themselves, over the 60 A of 10 AWG only beside it.
    let pumps = |heater_a: f64| {
        let pump = json!({"power_w": 310.0});
        let sketch = load(fed(1), "one", pump.clone(), "minus.2", Value::Null);
        let sketch = load(sketch, "two", pump, "minus.3", Value::Null);
        let heater = json!({"current_a": heater_a});
        let sketch = load(sketch, "heater", heater, "bank.minus", json!("o0"));
        found(&sketch, "return_smaller_than_feed", "back")
    };
    assert!(!pumps(0.001).0.fails());
    let (finding, extent) = pumps(40.0);
    assert!(finding.fails(), "{}", finding.message);
    let extent = extent.unwrap();
    // Two boats have the same loads on the return, one of them fails.
    assert_eq!(extent.boats.at_least, BigUint::from(1_u8));
    assert_eq!(extent.boats.at_most, BigUint::from(2_u8));
    assert_eq!(extent.nearest, Some(boat(&[0])));
}

#[test]
fn one_engine_is_taken_back_for_the_other_where_either_fails() {
    // Exactly one of 0 and 1. Only the load of 2 makes the drop of the lamp too large; that of 1
    // adds a little, so the worst boat has it.
    let lamp = json!({"current_a": 1.0, "drop_class": "critical"});
    let sketch = load(fed(3), "lamp", lamp, "minus.2", Value::Null);
    let heater = json!({"current_a": 100.0});
    let sketch = load(sketch, "heater", heater, "minus.3", json!("o2"));
    let engine = json!({"current_a": 1.0});
    let sketch = load(sketch, "engine", engine, "minus.4", json!("o1"));
    let sketch = sketch.rule(json!({"exactly_one_of": ["o0", "o1"]}));
    let (finding, extent) = found(&sketch, "drop_over_limit", "lamp");
    assert!(finding.fails(), "{}", finding.message);
    let extent = extent.unwrap();
    assert_eq!(
        extent.boats.at_least,
        BigUint::from(2_u8),
        "with 2, and either engine"
    );
    assert_eq!(extent.nearest, Some(boat(&[0, 2])));
}

#[test]
fn a_drop_of_the_only_load_is_counted_on_every_boat_that_has_it() {
    // 60 A through about 0.02 Ω take 1.2 V, a tenth of the volts; critical loads may lose 3 %.
    let lamp = json!({"current_a": 60.0, "drop_class": "critical"});
    let sketch = load(fed(2), "lamp", lamp, "minus.2", json!("o0"));
    let (finding, extent) = found(&sketch, "drop_over_limit", "lamp");
    assert!(finding.fails(), "{}", finding.message);
    assert_eq!(extent.unwrap().boats, Over::exactly(BigUint::from(2_u8)));
}

#[test]
fn a_signal_wire_is_too_thin_on_the_boat_on_which_it_carries_most() {
    // Below 1 A it may be that thin: on the fullest boats it is, but not on those with the other
    // load, which excludes one of theirs.
    let mut sketch = fed(3)
        .bar("far", "end")
        .rule(json!({"excludes": ["o0", "o1"]}))
        .rule(json!({"requires": ["o2", "o0"]}));
    for (at, amps) in [(0, 0.5), (1, 2.0)] {
        let (id, when) = (format!("l{at}"), json!(format!("o{at}")));
        let load = json!({"id": id, "point": "end", "current_a": amps,
            "runs_in": [{"state": "day", "share": 1.0}]});
        let (plus, minus) = (format!("{id}.plus"), format!("{id}.minus"));
        sketch = sketch
            .add("loads", load, when.clone())
            .wire(&format!("p{at}"), "far.2", &plus, when.clone())
            .wire(&format!("m{at}"), &minus, "minus.2", when);
    }
    let thin = json!({"id": "thin", "from": "plus.2", "to": "far.1", "size": "18 AWG",
        "role": "signal"});
    let sketch = sketch.add("wires", thin, Value::Null);
    let (thin, extent) = found(&sketch, "conductor_below_smallest_permitted", "thin");
    assert!(thin.fails(), "{}", thin.message);
    let boats = extent.unwrap().boats;
    // Without o1: none of three options, o0, or o0 with o2.
    assert_eq!(boats.at_least, BigUint::from(1u8));
    assert_eq!(boats.at_most, BigUint::from(4u8));
}

#[test]
fn a_blower_is_not_yellow_where_a_return_of_another_boat_is() {
    let colored = |color: &str| {
        let draws = || json!({"current_a": 2.0});
        let sketch = fed(2).rule(json!({"excludes": ["o0", "o1"]}));
        let sketch = load(sketch, "blower", draws(), "minus.2", json!("o0"));
        let mut sketch = load(sketch, "lamp", draws(), "minus.3", json!("o1"));
        sketch.0["circuits"] = json!([{"id": "C1", "function": "bilge-blower"}]);
        for wire in sketch.0["wires"].as_array_mut().unwrap() {
            if wire["id"] == "blower-out" {
                wire["circuit"] = json!("C1");
                (wire["role"], wire["color"]) = (json!("feed"), json!("yellow"));
            } else if wire["id"] == "lamp-back" {
                (wire["role"], wire["color"]) = (json!("return"), json!(color));
            }
        }
        found(&sketch, "wrong_color_for_function", "blower-out")
    };
    assert!(!colored("black").0.fails());
    let (finding, extent) = colored("yellow");
    assert!(finding.fails(), "{}", finding.message);
    // The boat with the blower, which never has the lamp.
    assert_eq!(extent.unwrap().boats, Over::exactly(BigUint::from(1_u8)));
}
