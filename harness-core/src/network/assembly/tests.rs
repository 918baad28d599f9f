//! Two sources by hand: what one gives the other is the difference of their volts through all that
//! lies between them (Ohm's law).

use super::{Assembly, Part, SourceCondition};
use crate::boats::Boat;
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
        operating.source_currents[&source].value()
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
    let few = assembly.operate_for(&model, &conditions, &|_| false);
    assert_eq!(all[0].branch_currents, few[0].branch_currents);
    assert_eq!(all[0].source_currents, few[0].source_currents);
    assert_eq!(all[0].loads.len(), 1);
    assert!(few.iter().all(|operating| operating.loads.is_empty()));
    // Both sources are as low as they are nominally; nobody asked.
    assert_eq!(all[1].branch_currents, all[0].branch_currents);
    assert!(few[1].source_currents.is_empty());
}
