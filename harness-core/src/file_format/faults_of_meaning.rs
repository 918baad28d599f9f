//! Tests: the place of each fault that only makes sense with the model before the eyes.

use super::{Fault, read, read_json, write};
use serde_json::{Value, json};

const EVERY_FIELD: &str = include_str!("../../../tests/facts/every-field.json");

/// The model that states every field, with some values replaced.
fn with(changes: &[(&str, Value)]) -> Result<crate::model::BoatModel, Vec<Fault>> {
    let mut value: Value = serde_json::from_str(EVERY_FIELD).unwrap();
    for (pointer, replacement) in changes {
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        match value.pointer_mut(parent).unwrap() {
            Value::Object(object) => {
                object.insert(name.to_owned(), replacement.clone());
            }
            Value::Array(list) => list.push(replacement.clone()),
            other => panic!("{parent} is {other}"),
        }
    }
    read_json(value)
}

/// Asserts that these changes give one fault, there, that says this and names what was given.
#[track_caller]
fn one_fault(changes: &[(&str, Value)], pointer: &str, says: &str) {
    let faults = with(changes).unwrap_err();
    assert_eq!(faults.len(), 1, "{faults:#?}");
    let fault = &faults[0];
    assert_eq!(fault.pointer, pointer, "{fault}");
    assert!(fault.detail.contains(says), "{fault}");
    assert!(!fault.limit.is_empty(), "{fault}");
}

#[test]
fn a_run_from_a_point_to_itself() {
    let changes = [("/runs/2/to", json!("p-stern"))];
    one_fault(&changes, "/runs/2/to", "same point");
}

/// It is made before the run that leads there; no wire can come to it until then.
#[test]
fn a_point_that_no_run_reaches_is_no_fault() {
    let model = with(&[("/points/-", json!({"id": "p-roof"}))]).unwrap();
    assert_eq!(model.points.len(), 4);
}

#[test]
fn a_pin_that_the_equipment_does_not_have() {
    for (wire, end, says) in [
        ("/wires/0/from", "bank.in", "\"bank\" has no pin \"in\""),
        ("/wires/0/to", "stud-1.2", "\"stud-1\" has no pin \"2\""),
        ("/wires/1/to", "S1.plus", "\"S1\" has no pin \"plus\""),
        ("/wires/2/to", "neg.feed", "\"neg\" has no pin \"feed\""),
        ("/wires/3/from", "block.7", "\"block\" has no pin \"7\""),
        ("/wires/3/from", "F1.out", "\"F1\" has no pin \"out\""),
        ("/wires/3/to", "K1.5", "\"K1\" has no pin \"5\""),
        ("/wires/3/to", "K1.0", "\"K1\" has no pin \"0\""),
        ("/wires/4/to", "SP1.c", "\"SP1\" has no pin \"c\""),
        ("/wires/8/to", "pump.out", "\"pump\" has no pin \"out\""),
    ] {
        let faults = with(&[(wire, json!(end))]).unwrap_err();
        let fault = faults.iter().find(|fault| fault.pointer == wire).unwrap();
        assert!(fault.detail.contains(says), "{fault}");
        assert_eq!(fault.given, end);
    }
}

#[test]
fn a_wire_from_a_pin_to_itself() {
    let changes = [("/wires/6/to", json!("neg.2"))];
    one_fault(&changes, "/wires/6/to", "same pin");
}

#[test]
fn a_size_the_conductor_table_does_not_have() {
    let changes = [("/wires/6/size", json!("24 AWG"))];
    one_fault(&changes, "/wires/6/size", "no 24 AWG");
}

#[test]
fn a_point_passed_twice_in_a_row() {
    let changes = [("/wires/3/through", json!(["p-mid", "p-mid", "p-bow"]))];
    one_fault(&changes, "/wires/3/through/1", "twice in a row");
    // Coming back to a point later is a way a wire can be laid.
    with(&[("/wires/3/through", json!(["p-mid", "p-bow", "p-mid"]))]).unwrap();
}

#[test]
fn a_name_twice_in_a_list() {
    for (pointer, list) in [
        ("/settings/rule_sets", json!(["iso", "us-federal", "iso"])),
        ("/options/0/contains", json!(["BOW", "DECK", "BOW"])),
        (
            "/option_rules/3/at_most_one_of",
            json!(["PUMP", "LIGHTS", "PUMP"]),
        ),
        (
            "/sources/0/active_in",
            json!(["anchored", "under-way", "anchored"]),
        ),
        ("/wires/3/avoid", json!(["r-3", "r-1", "r-3"])),
        ("/hulls/0/options", json!(["STD", "BOW", "STD"])),
    ] {
        one_fault(&[(pointer, list)], &format!("{pointer}/2"), "twice");
    }
}

#[test]
fn a_use_stated_twice() {
    let uses = json!([{"state": "anchored", "share": 1}, {"state": "anchored", "share": 0}]);
    let changes = [("/loads/0/runs_in", uses)];
    one_fault(&changes, "/loads/0/runs_in/1/state", "\"anchored\" twice");
}

#[test]
fn a_load_that_draws_in_two_ways() {
    let changes = [("/loads/1/current_a", json!(5))];
    one_fault(&changes, "/loads/1", "more than one");
}

#[test]
fn limits_the_wrong_way_round() {
    let changes = [("/loads/0/min_v", json!(16))];
    one_fault(&changes, "/loads/0/min_v", "min_v 16 above its max_v 15");
    let changes = [("/options/0/from_hull", json!(401))];
    one_fault(&changes, "/options/0/to_hull", "hull 401");
    let changes = [("/terminal_parts/0/min_mm2", json!(6.1))];
    one_fault(
        &changes,
        "/terminal_parts/0/min_mm2",
        "min_mm2 6.1 above its max_mm2 6",
    );
    let changes = [("/connector_types/0/max_mm2", json!(0.5))];
    one_fault(
        &changes,
        "/connector_types/0/min_mm2",
        "above its max_mm2 0.5",
    );
}

#[test]
fn a_device_in_the_wrong_place() {
    let place = |block: &str, position: u32| json!({"block": block, "position": position});
    let changes = [("/devices/0/fitted_in", place("neg", 1))];
    one_fault(&changes, "/devices/0/fitted_in/block", "which is a busbar");
    let changes = [("/devices/0/fitted_in", place("block", 7))];
    one_fault(&changes, "/devices/0/fitted_in/position", "has 6 positions");
    let changes = [("/devices/0/point", json!("p-mid"))];
    one_fault(&changes, "/devices/0/point", "states a point besides");
    let other = |when: Value| {
        let fitted_in = place("block", 1);
        json!({"id": "F2", "kind": "fuse", "fitted_in": fitted_in, "fitted_when": when})
    };
    let same_boats = json!({"all": ["STD", {"not": "PUMP"}]});
    let changes = [("/devices/-", other(same_boats))];
    one_fault(
        &changes,
        "/devices/2/fitted_in/position",
        "device \"F1\" already",
    );
    with(&[("/devices/-", other(json!("PUMP")))]).unwrap();
}

#[test]
fn a_stack_with_a_wire_that_ends_elsewhere() {
    let changes = [("/buses/0/stack", json!(["W1", "W7"]))];
    one_fault(&changes, "/buses/0/stack/1", "from neg.2 to bank.minus");
}

#[test]
fn a_cavity_the_connector_does_not_have_or_decided_on_twice() {
    let decisions =
        |cavity: u32| json!([{"cavity": 3, "holds": "plug"}, {"cavity": cavity, "holds": "spare"}]);
    let pointer = "/connectors/0/cavities/1/cavity";
    one_fault(
        &[("/connectors/0/cavities", decisions(5))],
        pointer,
        "no cavity 5",
    );
    one_fault(
        &[("/connectors/0/cavities", decisions(3))],
        pointer,
        "twice",
    );
}

#[test]
fn a_cavity_with_two_wires_or_a_wire_and_a_plug_is_read_for_a_rule_to_judge() {
    with(&[("/wires/4/from", json!("K1.1"))]).unwrap();
    with(&[("/wires/4/from", json!("K1.3"))]).unwrap();
}

#[test]
fn a_plug_that_does_not_fit_its_equipment() {
    let pins =
        |first: Value, second: Value| json!({"equipment": "bow-light", "pins": [first, second]});
    let plus = json!({"cavity": 1, "pin": "plus"});
    let place = "/connectors/2/plugs_into";
    for (second, pointer, says) in [
        (
            json!({"cavity": 5, "pin": "minus"}),
            "pins/1/cavity",
            "no cavity 5",
        ),
        (
            json!({"cavity": 2, "pin": "in"}),
            "pins/1/pin",
            "no pin \"in\"",
        ),
        (
            json!({"cavity": 1, "pin": "minus"}),
            "pins/1/cavity",
            "meets two pins",
        ),
    ] {
        let changes = [(place, pins(plus.clone(), second))];
        one_fault(&changes, &format!("{place}/{pointer}"), says);
    }
    let itself = json!({"equipment": "K3", "pins": [{"cavity": 1, "pin": "2"}]});
    one_fault(
        &[(place, itself)],
        &format!("{place}/equipment"),
        "plugs into itself",
    );
}

#[test]
fn a_coupler_whose_halves_do_not_fit() {
    let changes = [("/couplers/0/second", json!("K1"))];
    one_fault(&changes, "/couplers/0/second", "Both halves");
    let second = json!({"id": "again", "first": "K3", "second": "K2"});
    one_fault(
        &[("/couplers/-", second)],
        "/couplers/1/second",
        "of coupler \"hull-deck\"",
    );
    let changes = [
        ("/connector_types/-", json!({"id": "K-2", "cavities": 2})),
        ("/connectors/1/connector_type", json!("K-2")),
    ];
    one_fault(
        &changes,
        "/couplers/0/second",
        "\"K1\" has 4 cavities, \"K2\" has 2",
    );
}

#[test]
fn packages_in_a_circle_name_the_circle_once() {
    let changes = [
        ("/options/1/contains", json!(["DECK"])),
        ("/options/2/contains", json!(["LIGHTS"])),
    ];
    one_fault(&changes, "/options/0/contains", "LIGHTS > DECK > LIGHTS");
    let changes = [("/options/1/contains", json!(["BOW"]))];
    one_fault(&changes, "/options/1/contains", "BOW > BOW");
}

#[test]
fn a_rule_between_options_of_no_form_or_of_two() {
    let changes = [("/option_rules/4", json!({"because": "no form"}))];
    one_fault_at(&changes, "states 0 of its forms");
    let changes = [(
        "/option_rules/4",
        json!({"always": "STD", "excludes": ["STD", "PUMP"]}),
    )];
    one_fault_at(&changes, "states 2 of its forms");
    let three = json!({"requires": ["BOW", "DECK", "PUMP"]});
    let faults = with(&[("/option_rules/-", three)]).unwrap_err();
    assert_eq!(faults[0].pointer, "/option_rules/6/requires");
}

#[test]
fn an_option_that_needs_company_names_others_once() {
    let place = "/option_rules/5/only_with";
    for (list, fault_at) in [
        (json!(["LIGHTS"]), ""),
        (json!(["LIGHTS", "PUMP", "LIGHTS"]), "/2"),
        (json!(["LIGHTS", "NONE"]), "/1"),
    ] {
        let faults = with(&[(place, list)]).unwrap_err();
        assert_eq!(faults.len(), 1, "{faults:#?}");
        assert_eq!(faults[0].pointer, format!("{place}{fault_at}"));
    }
}

#[track_caller]
fn one_fault_at(changes: &[(&str, Value)], says: &str) {
    let added = changes
        .iter()
        .map(|(_, value)| ("/option_rules/-", value.clone()));
    one_fault(&added.collect::<Vec<_>>(), "/option_rules/6", says);
}

#[test]
fn faults_of_form_of_reference_and_of_meaning_come_in_one_answer() {
    let faults = with(&[
        ("/sources/0/nominal_v", json!("twelve")),
        ("/wires/1/from", json!("stud-2.1")),
        ("/wires/2/colour", json!("red")),
        ("/wires/6/to", json!("bank.3")),
        ("/loads/1/current_a", json!(5)),
        ("/couplers/0/second", json!("K1")),
    ])
    .unwrap_err();
    let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
    let expected = [
        "/couplers/0/second",
        "/loads/1",
        "/sources/0/nominal_v",
        "/wires/1/from",
        "/wires/2/colour",
    ];
    assert_eq!(
        places, expected,
        "the bank was put aside, so nothing is said of its pins"
    );
    assert!(faults[3].detail.contains("Did you mean \"stud-1\"?"));
    assert!(faults[4].detail.contains("Did you mean \"color\"?"));
}

#[test]
fn a_field_stated_twice_is_not_half_lost() {
    let text = EVERY_FIELD.replace("\"power_w\": 60", "\"power_w\": 60, \"power_w\": 90");
    let faults = read(&text).unwrap_err();
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].pointer, "/loads/1/power_w");
}

#[test]
fn what_is_written_reads_as_the_same_model_and_writes_the_same_bytes() {
    let model = with(&[]).unwrap();
    let text = write(&model);
    assert_eq!(read(&text).unwrap(), model);
    assert_eq!(write(&read(&text).unwrap()), text);
    let wires: Vec<_> = text
        .lines()
        .filter(|line| line.contains("\"id\": \"W"))
        .collect();
    assert_eq!(wires.len(), 9, "one wire a line");
    assert!(text.contains("\"resistance_mohm\": 17.85") && text.ends_with("}\n"));
}
