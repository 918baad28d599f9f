//! Two sources by hand: what one gives the other is the difference of their volts through all that
//! lies between them (Ohm's law).

mod apart;
mod missing;

use super::{Assembly, LoadPoint, Part, SourceCondition, Wanted};
use crate::boats::{Boat, OptionIndex};
use crate::file_format;
use crate::model::BoatModel;
use crate::routing::Routing;
use serde_json::{Value, json};

fn model(loads: Value, more_wires: &[(&str, &str, &str)]) -> BoatModel {
    let wire = |id: &str, from: &str, to: &str| json!({"id": id, "from": from, "to": to, "size": "10 AWG"});
    let source = |id: &str, kind: &str, point: &str, volts: f64, ohms: f64| {
        json!({"id": id, "kind": kind, "point": point, "nominal_v": volts, "low_v": volts,
            "internal_ohm": ohms})
    };
    let two = [
        ("out", "charger.plus", "bank.plus"),
        ("back", "bank.minus", "charger.minus"),
    ];
    let wires = two.iter().chain(more_wires);
    let wires: Vec<Value> = wires.map(|(id, from, to)| wire(id, from, to)).collect();
    let text = json!({
        "format_version": 1, "name": "Two sources",
        "zones": [{"id": "aft"}],
        "points": [{"id": "here", "zone": "aft"}, {"id": "there", "zone": "aft"}],
        "runs": [{"id": "run", "from": "here", "to": "there", "length_m": 4.0}],
        "sources": [source("bank", "battery", "here", 12.0, 0.01),
            source("charger", "charger", "there", 12.4, 0.03)],
        "loads": loads,
        "wires": wires,
    });
    file_format::read(&text.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

#[test]
fn a_charger_gives_to_a_battery_though_nothing_runs() {
    let model = model(json!([]), &[]);
    let routing = Routing::of(&model);
    let assembly = Assembly::of(&model, &routing, &Boat::default());
    let ohms = |branch: &super::Branch| branch.resistance.as_ref().unwrap().value();
    let wires: f64 = assembly.branches.iter().map(ohms).sum();
    assert!(wires > 0.02, "{wires}");
    let expected = 0.4 / (0.01 + 0.03 + wires);
    let operating = assembly.operate(&model, None, SourceCondition::Nominal);
    for wire in model.wires.indices() {
        let branch = assembly.branch(Part::Wire(wire)).unwrap();
        let amps = operating.branch_currents[branch].as_ref().unwrap().value();
        assert!((amps - expected).abs() < 1e-9, "{amps} {expected}");
    }
    let [bank, charger] = ["bank", "charger"].map(|id| {
        let source = model.sources.find(id).unwrap();
        operating.source_currents[&source].as_ref().unwrap().value()
    });
    assert!((charger - expected).abs() < 1e-9 && (bank + expected).abs() < 1e-9);
}

#[test]
fn at_low_volts_only_what_flows_to_wanted_loads_is_solved() {
    let lamp = json!([{"id": "lamp", "point": "there", "current_a": 1.0}]);
    let wires = [
        ("on", "charger.plus", "lamp.plus"),
        ("off", "lamp.minus", "charger.minus"),
    ];
    let model = model(lamp, &wires);
    let routing = Routing::of(&model);
    let assembly = Assembly::of(&model, &routing, &Boat::default());
    let conditions = [SourceCondition::Nominal, SourceCondition::Low];
    let all = assembly.operate_all(&model, &conditions);
    let few = assembly.operate_for(&model, &conditions, Some(&Wanted::default()));
    assert_eq!(all[0].branch_currents, few[0].branch_currents);
    assert_eq!(all[0].source_currents, few[0].source_currents);
    assert_eq!(all[0].loads.len(), 1);
    assert!(few.iter().all(|operating| operating.loads.is_empty()));
    // Both sources are as low as they are nominally; nobody asked.
    assert_eq!(all[1].branch_currents, all[0].branch_currents);
    assert!(few[1].source_currents.is_empty());
}

#[test]
fn volts_are_lost_along_the_way_whichever_way_wires_are_stated() {
    let lamp = json!([{"id": "lamp", "point": "there", "current_a": 2.0}]);
    let on = ("on", "charger.plus", "lamp.plus");
    let off = ("off", "lamp.minus", "charger.minus");
    let turned = [
        ("on", "lamp.plus", "charger.plus"),
        ("off", "charger.minus", "lamp.minus"),
    ];
    let told = |wires: &[(&str, &str, &str)]| {
        let model = model(lamp.clone(), wires);
        let assembly = Assembly::of(&model, &Routing::of(&model), &Boat::default());
        let operating = assembly.operate(&model, None, SourceCondition::Nominal);
        let LoadPoint::Supplied(supplied) = operating.loads.values().next().unwrap() else {
            panic!("supplied")
        };
        let lost = |path: &[super::PathShare]| path.iter().map(|share| share.lost.value()).sum();
        let (feed, back): (f64, f64) = (lost(&supplied.feed), lost(&supplied.back));
        // Both sources feed it: its own wires carry its current, the others what one gives.
        let [own_feed, own_back] = [supplied.feed.last(), supplied.back.first()];
        for share in [own_feed, own_back].into_iter().flatten() {
            assert!((share.current.value() - 2.0).abs() < 1e-9 && share.lost.value() >= 0.0);
        }
        (feed, back, supplied.drop().value())
    };
    let (feed, back, drop) = told(&[on, off]);
    assert!((feed + back - drop).abs() < 1e-9, "{feed} {back} {drop}");
    let (other, other_back, other_drop) = told(&turned);
    let close = |a: f64, b: f64| (a - b).abs() < 1e-12;
    assert!(close(feed, other) && close(back, other_back) && close(drop, other_drop));
}

#[test]
fn where_loads_have_no_operating_point_no_branch_tells_a_current() {
    let heater = json!([{"id": "heater", "point": "there", "power_w": 100_000.0}]);
    let wires = [
        ("on", "charger.plus", "heater.plus"),
        ("off", "heater.minus", "charger.minus"),
    ];
    let model = model(heater, &wires);
    let assembly = Assembly::of(&model, &Routing::of(&model), &Boat::default());
    let operating = assembly.operate(&model, None, SourceCondition::Nominal);
    let points: Vec<_> = operating.loads.values().collect();
    assert!(
        matches!(points[..], [LoadPoint::NoOperatingPoint { .. }]),
        "{points:?}"
    );
    for amps in &operating.branch_currents {
        let why = amps.as_ref().unwrap_err().to_string();
        assert!(why.contains("heater"), "{why}");
    }
}

/// A light behind a connector and a coupler, and a splice in its return.
fn joints(change: impl FnOnce(&mut Value)) -> BoatModel {
    let connector = |id: &str| json!({"id": id, "connector_type": "two-way", "point": "here"});
    let mut text = json!({
        "format_version": 1, "name": "Joints",
        "settings": {"contact_resistance_mohm": 3.0},
        "zones": [{"id": "aft"}],
        "points": [{"id": "here", "zone": "aft"}],
        "options": [{"id": "radar"}, {"id": "mast"}],
        "connector_types": [{"id": "two-way", "cavities": 2}],
        "connectors": [connector("boat-side"), connector("deck-side")],
        "couplers": [{"id": "C1", "first": "boat-side", "second": "deck-side"}],
        "splices": [{"id": "S1", "point": "here", "resistance_mohm": 1.0}],
        "devices": [{"id": "F1", "kind": "fuse", "point": "here", "resistance_mohm": 2.0}],
        "wires": [{"id": "w1", "from": "F1.out", "to": "boat-side.1", "size": "16 AWG"}],
    });
    change(&mut text);
    file_format::read(&text.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn couplings(model: &BoatModel, options: &[usize]) -> Vec<String> {
    let boat: Boat = options.iter().map(|at| OptionIndex(*at)).collect();
    let assembly = Assembly::of(model, &Routing::of(model), &boat);
    let parts = assembly.branches.iter().map(|branch| branch.part);
    let couplings = parts.filter(|part| matches!(part, Part::Coupler(..)));
    couplings.map(|part| part.label(model)).collect()
}

#[test]
fn each_part_is_told_by_its_kind_and_name() {
    let model = joints(|_| {});
    let assembly = Assembly::of(&model, &Routing::of(&model), &Boat::default());
    let parts = assembly.branches.iter();
    let labels: Vec<String> = parts.map(|branch| branch.part.label(&model)).collect();
    for label in [
        "wire w1",
        "fuse F1",
        "coupler C1 cavity 1",
        "coupler C1 cavity 2",
        "splice S1",
    ] {
        assert!(labels.contains(&label.to_owned()), "{label}: {labels:?}");
    }
}

#[test]
fn a_coupler_joins_only_where_both_halves_are_fitted() {
    let model = joints(|text| {
        text["connectors"][0]["fitted_when"] = json!("radar");
        text["connectors"][1]["fitted_when"] = json!("mast");
    });
    let both = ["coupler C1 cavity 1", "coupler C1 cavity 2"];
    assert_eq!(couplings(&model, &[0, 1]), both);
    for one in [&[][..], &[0], &[1]] {
        assert!(couplings(&model, one).is_empty());
    }
}

#[test]
fn a_contact_has_the_resistance_of_its_type_or_of_the_settings_or_none_is_known() {
    let of_contacts = |change: &dyn Fn(&mut Value)| {
        let model = joints(change);
        let assembly = Assembly::of(&model, &Routing::of(&model), &Boat::default());
        let mut branches = assembly.branches.iter();
        let contact = branches.find(|branch| matches!(branch.part, Part::Coupler(..)));
        contact.unwrap().resistance.clone()
    };
    let ohms = |change: &dyn Fn(&mut Value)| of_contacts(change).unwrap().value();
    assert_eq!(ohms(&|_| {}), 0.003);
    let own = |text: &mut Value| text["connector_types"][0]["contact_resistance_mohm"] = json!(5.0);
    assert_eq!(ohms(&own), 0.005);
    let unknown = |text: &mut Value| text["settings"] = json!({});
    let why = of_contacts(&unknown).unwrap_err().to_string();
    assert!(why.contains("connector type two-way"), "{why}");
}
