//! What is missing of one thing is missing of all that share its current (Kirchhoff's laws: a
//! current parts between the branches of a loop by the resistances of all of them).

use crate::boats::Boat;
use crate::file_format;
use crate::model::BoatModel;
use crate::network::assembly::{Assembly, LoadPoint, Operating, Part, SourceCondition};
use crate::routing::Routing;
use serde_json::{Value, json};

/// Two batteries, two bars, and what is joined by wires from pin to pin, with or without a size.
fn model(internal_ohm: f64, loads: &[Value], wires: &[(&str, &str, Option<&str>)]) -> BoatModel {
    let wires: Vec<Value> = wires
        .iter()
        .enumerate()
        .map(|(number, (from, to, size))| {
            let mut wire = json!({"id": format!("w{number}"), "from": from, "to": to});
            if let Some(size) = size {
                wire["size"] = json!(size);
            }
            wire
        })
        .collect();
    let bar =
        |id: &str, point: &str| json!({"id": id, "kind": "busbar", "point": point, "positions": 6});
    let battery = |id: &str| {
        json!({"id": id, "kind": "battery", "point": "here", "nominal_v": 12.0, "low_v": 11.0,
            "internal_ohm": internal_ohm})
    };
    let text = json!({
        "format_version": 1, "name": "Something missing",
        "zones": [{"id": "aft"}],
        "points": [{"id": "here", "zone": "aft"}, {"id": "there", "zone": "aft"}],
        "runs": [{"id": "run", "from": "here", "to": "there", "length_m": 4.0}],
        "sources": [battery("bank"), battery("other")],
        "buses": [bar("near", "here"), bar("far", "there")],
        "loads": loads,
        "wires": wires,
    });
    file_format::read(&text.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn operated(model: &BoatModel) -> (Assembly, Operating) {
    let assembly = Assembly::of(model, &Routing::of(model), &Boat::default());
    let operating = assembly.operate(model, None, SourceCondition::Nominal);
    (assembly, operating)
}

/// Amperes of each wire, or why they are not known.
fn currents(model: &BoatModel) -> Vec<Result<f64, String>> {
    let (assembly, operating) = operated(model);
    let wires = model.wires.indices();
    let current = |wire| {
        let branch = assembly.branch(Part::Wire(wire)).unwrap();
        let current = &operating.branch_currents[branch];
        current
            .clone()
            .map(|amps| amps.value())
            .map_err(|why| why.to_string())
    };
    wires.map(current).collect()
}

/// Why a load is not evaluated; `None` where it is supplied.
fn missing(model: &BoatModel, load: &str) -> Option<String> {
    let (_, operating) = operated(model);
    match &operating.loads[&model.loads.find(load).unwrap()] {
        LoadPoint::NotEvaluated(why) => Some(why.to_string()),
        LoadPoint::Supplied(_) => None,
        other => panic!("{other:?}"),
    }
}

const RING: [(&str, &str, Option<&str>); 3] = [
    ("bank.plus", "near.1", Some("6 AWG")),
    ("near.2", "far.1", Some("10 AWG")),
    ("near.3", "far.2", None),
];

fn lamp(id: &str) -> Value {
    json!({"id": id, "point": "there", "current_a": 2.0})
}

#[test]
fn beside_a_conductor_without_a_size_no_other_of_the_loop_tells_its_current() {
    let mut wires = RING.to_vec();
    wires.extend([
        ("far.3", "behind.plus", Some("10 AWG")),
        ("behind.minus", "bank.minus", Some("10 AWG")),
        ("near.4", "before.plus", Some("10 AWG")),
        ("before.minus", "bank.minus", Some("10 AWG")),
    ]);
    let model = model(0.01, &[lamp("behind"), lamp("before")], &wires);
    let currents = currents(&model);
    let known: Vec<bool> = currents.iter().map(Result::is_ok).collect();
    assert_eq!(known, [true, false, false, true, true, true, true]);
    let told = currents[1].as_ref().unwrap_err();
    assert!(told.contains("w2"), "{told}");
    assert!((currents[0].as_ref().unwrap() - 4.0).abs() < 1e-9);
    // The way to the one behind leads through the conductor of known size.
    let why = missing(&model, "behind").unwrap();
    assert!(why.contains("w2"), "{why}");
    assert_eq!(missing(&model, "before"), None);
}

#[test]
fn where_nothing_flows_in_the_loop_nothing_is_missing() {
    let mut wires = RING.to_vec();
    wires.extend([
        ("near.4", "before.plus", Some("10 AWG")),
        ("before.minus", "bank.minus", Some("10 AWG")),
    ]);
    let model = model(0.01, &[lamp("before")], &wires);
    let currents = currents(&model);
    assert_eq!(currents[1], Ok(0.0));
    assert_eq!(currents[2], Ok(0.0));
    assert_eq!(missing(&model, "before"), None);
}

#[test]
fn an_unknown_load_leaves_the_volts_of_its_source_unknown_if_they_sag() {
    let wires = [
        ("bank.plus", "pump.plus", Some("10 AWG")),
        ("pump.minus", "bank.minus", Some("10 AWG")),
        ("bank.plus", "light.plus", Some("10 AWG")),
        ("light.minus", "bank.minus", Some("10 AWG")),
    ];
    let pump = json!({"id": "pump", "point": "there"});
    let stiff = model(0.0, &[pump.clone(), lamp("light")], &wires);
    assert_eq!(missing(&stiff, "light"), None);
    let soft = model(0.01, &[pump, lamp("light")], &wires);
    let why = missing(&soft, "light").unwrap();
    assert!(why.contains("pump"), "{why}");
    // What the lamp draws is stated, whatever its volts.
    let currents = currents(&soft);
    assert!(currents[0].is_err() && currents[1].is_err());
    assert_eq!(currents[2].as_ref().map(|amps| amps.abs()), Ok(2.0));
    let bank = soft.sources.find("bank").unwrap();
    let (_, operating) = operated(&soft);
    assert!(operating.source_currents[&bank].is_err());
}

#[test]
fn an_unknown_load_may_take_its_current_either_way_round_a_loop() {
    let mut wires = RING[..2].to_vec();
    wires.extend([
        ("near.3", "far.2", Some("12 AWG")),
        ("far.3", "pump.plus", Some("10 AWG")),
        ("pump.minus", "bank.minus", Some("10 AWG")),
    ]);
    let pump = json!({"id": "pump", "point": "there"});
    let model = model(0.01, &[pump], &wires);
    assert!(currents(&model).iter().all(Result::is_err));
}

#[test]
fn a_collapse_leaves_other_systems_and_their_sources_alone() {
    let wires = [
        ("bank.plus", "pump.plus", Some("16 AWG")),
        ("pump.minus", "bank.minus", Some("16 AWG")),
        ("other.plus", "light.plus", Some("10 AWG")),
        ("light.minus", "other.minus", Some("10 AWG")),
    ];
    let pump = json!({"id": "pump", "point": "there", "power_w": 9_000.0});
    let mut model = model(0.01, &[pump, lamp("light")], &wires);
    let (_, operating) = operated(&model);
    let given = |id: &str| operating.source_currents[&model.sources.find(id).unwrap()].clone();
    assert!(given("bank").is_err());
    assert_eq!(given("other").map(|amps| amps.value()), Ok(2.0));
    // A source alone, without a load, is not solved at all.
    model = self::model(0.01, &[], &[]);
    assert!(operated(&model).1.source_currents.is_empty());
}

fn heater(id: &str) -> Value {
    json!({"id": id, "point": "there", "power_w": 24.0})
}

/// For each wire why it may carry more than what is known.
fn more(model: &BoatModel) -> Vec<Option<String>> {
    let (assembly, operating) = operated(model);
    let wires = model.wires.indices();
    let why = |wire| {
        let branch = assembly.branch(Part::Wire(wire)).unwrap();
        let why = operating.at_least.branches.get(&branch);
        why.map(|more| more.why.to_string())
    };
    wires.map(why).collect()
}

#[test]
fn beside_an_unknown_load_one_of_constant_power_draws_what_is_known_or_more() {
    let wires = [
        ("bank.plus", "pump.plus", Some("10 AWG")),
        ("pump.minus", "bank.minus", Some("10 AWG")),
        ("bank.plus", "heater.plus", Some("10 AWG")),
        ("heater.minus", "bank.minus", Some("10 AWG")),
        ("bank.plus", "light.plus", Some("10 AWG")),
        ("light.minus", "bank.minus", Some("10 AWG")),
    ];
    let pump = json!({"id": "pump", "point": "there"});
    let loads = [pump, heater("heater"), lamp("light")];
    let stiff = model(0.0, &loads, &wires);
    assert_eq!(more(&stiff), vec![None; 6]);
    let soft = model(0.01, &loads, &wires);
    let (of_soft, known) = (more(&soft), currents(&soft));
    let is_told: Vec<bool> = of_soft.iter().map(Option::is_some).collect();
    assert_eq!(is_told, [false, false, true, true, false, false]);
    let why = of_soft[2].as_ref().unwrap();
    assert!(why.contains("pump") && why.contains("heater"), "{why}");
    // Just over the 2 A of 12 V: the least it can be.
    let amps = known[2].as_ref().unwrap().abs();
    assert!((2.0..2.02).contains(&amps), "{amps}");
    let (_, operating) = operated(&soft);
    assert!(operating.at_least.loads.is_empty() && operating.at_least.sources.is_empty());
}

#[test]
fn what_is_more_lowers_the_volts_of_what_comes_back_with_it() {
    // The pump and the heater share a feed, the heater and the lamp, of another battery, a return.
    let wires = [
        ("bank.plus", "near.1", Some("10 AWG")),
        ("near.2", "pump.plus", Some("10 AWG")),
        ("pump.minus", "bank.minus", Some("10 AWG")),
        ("near.3", "heater.plus", Some("10 AWG")),
        ("heater.minus", "far.1", Some("10 AWG")),
        ("far.2", "bank.minus", Some("10 AWG")),
        ("other.plus", "light.plus", Some("10 AWG")),
        ("light.minus", "far.3", Some("10 AWG")),
        ("bank.minus", "other.minus", Some("10 AWG")),
    ];
    let pump = json!({"id": "pump", "point": "there"});
    let told = |light: Value| {
        let model = model(0.0, &[pump.clone(), heater("heater"), light], &wires);
        let (_, operating) = operated(&model);
        let why = operating.at_least.loads[&model.loads.find("light").unwrap()].to_string();
        assert!(why.contains("pump") && why.contains("heater"), "{why}");
        assert_eq!(missing(&model, "light"), None);
        assert!(missing(&model, "heater").unwrap().contains("pump"));
        let other = model.sources.find("other").unwrap();
        let gives_more = operating.at_least.sources.contains_key(&other);
        let more = more(&model);
        (more.iter().map(Option::is_some).collect(), gives_more)
    };
    let (of_current, of_power): ((Vec<bool>, bool), _) =
        (told(lamp("light")), told(heater("light")));
    let own = [false, false, false, true, true, true, false, false, false];
    assert_eq!(of_current, (own.to_vec(), false));
    let all = [false, false, false, true, true, true, true, true, true];
    assert_eq!(of_power, (all.to_vec(), true));
}
