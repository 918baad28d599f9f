//! Two banks with nothing in common but a minus: what each feeds solves by itself.

use crate::boats::Boat;
use crate::file_format;
use crate::model::{BoatModel, Index, Load};
use crate::network::assembly::{Assembly, LoadPoint, Operating, Part, SourceCondition, Wanted};
use crate::routing::Routing;
use serde_json::{Value, json};

/// A lamp behind the first bank and one load behind the second; both bar and engine block are one
/// minus.
fn two_banks(second: Value) -> BoatModel {
    let wire = |(id, from, to): (&str, &str, &str)| json!({"id": id, "from": from, "to": to, "size": "10 AWG"});
    let bank = |id: &str| {
        json!({"id": id, "kind": "battery", "point": "here", "nominal_v": 12.0,
        "low_v": 11.0, "internal_ohm": 0.01})
    };
    let mut second = second;
    second["id"] = json!("second");
    second["point"] = json!("there");
    let wires = [
        ("on", "a.plus", "lamp.plus"),
        ("off", "lamp.minus", "a.minus"),
        ("on-2", "b.plus", "second.plus"),
        ("off-2", "second.minus", "b.minus"),
        ("common", "a.minus", "b.minus"),
    ];
    let text = json!({
        "format_version": 1, "name": "Two banks",
        "zones": [{"id": "aft"}],
        "points": [{"id": "here", "zone": "aft"}, {"id": "there", "zone": "aft"}],
        "runs": [{"id": "run", "from": "here", "to": "there", "length_m": 4.0}],
        "sources": [bank("a"), bank("b")],
        "loads": [{"id": "lamp", "point": "there", "current_a": 1.0}, second],
        "wires": wires.map(wire),
    });
    file_format::read(&text.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// What is wanted of a boat's wiring.
type Wish = dyn Fn(&BoatModel, &Assembly) -> Wanted;

struct Solved {
    model: BoatModel,
    assembly: Assembly,
    operating: Operating,
}

impl Solved {
    fn of(model: BoatModel, wanted: Option<&Wish>) -> Self {
        let assembly = Assembly::of(&model, &Routing::of(&model), &Boat::default());
        let wanted = wanted.map(|wanted| wanted(&model, &assembly));
        let conditions = [SourceCondition::Nominal];
        let mut all = assembly.operate_for(&model, &conditions, wanted.as_ref());
        Self {
            operating: all.remove(0),
            model,
            assembly,
        }
    }

    /// The current of a wire, or why there is none.
    fn amps(&self, wire: &str) -> Result<f64, String> {
        let wire = Part::Wire(self.model.wires.find(wire).unwrap());
        let current = self.operating.branch_currents[self.assembly.branch(wire).unwrap()].clone();
        let current = current.map_err(|why| why.to_string());
        Ok(current?.value())
    }

    fn point(&self, load: &str) -> Option<&LoadPoint> {
        let load = self.model.loads.find(load).unwrap();
        self.operating.loads.get(&load)
    }
}

fn lamp(model: &BoatModel) -> Index<Load> {
    model.loads.find("lamp").unwrap()
}

#[test]
fn loads_that_collapse_leave_those_of_another_bank_alone() {
    let solved = Solved::of(two_banks(json!({"power_w": 100_000.0})), None);
    assert!(matches!(solved.point("lamp"), Some(LoadPoint::Supplied(_))));
    let collapsed = solved.point("second");
    assert!(matches!(
        collapsed,
        Some(LoadPoint::NoOperatingPoint { .. })
    ));
    assert!((solved.amps("on").unwrap() - 1.0).abs() < 1e-12);
    assert!(solved.amps("on-2").unwrap_err().contains("second"));
    // No load passes the wire between them.
    assert_eq!(solved.amps("common"), Ok(0.0));
}

#[test]
fn what_one_bank_feeds_is_the_same_to_the_last_bit_whatever_the_other_feeds() {
    let of = |watts: f64| {
        let solved = Solved::of(two_banks(json!({"power_w": watts})), None);
        let Some(LoadPoint::Supplied(supplied)) = solved.point("lamp") else {
            panic!("supplied")
        };
        (supplied.volts, supplied.source_volts)
    };
    assert_eq!(of(10.0), of(55.0));
}

#[test]
fn what_surely_flows_is_not_solved_where_nobody_asks() {
    let asked = |second: Value| {
        let only_lamp = |model: &BoatModel, _: &Assembly| Wanted {
            loads: [lamp(model)].into(),
            ..Wanted::default()
        };
        let solved = Solved::of(two_banks(second), Some(&only_lamp));
        assert!((solved.amps("on").unwrap() - 1.0).abs() < 1e-12);
        assert!(solved.point("second").is_none());
        solved.amps("on-2")
    };
    let unsolved = "nobody asked";
    for second in [
        json!({"current_a": 2.0}),
        json!({"power_w": 24.0}),
        json!({"resistance_ohm": 6.0}),
    ] {
        let amps = asked(second.clone());
        assert!(
            amps.clone().unwrap_err().contains(unsolved),
            "{second} {amps:?}"
        );
    }
    // So little may or may not load its wires: it is solved.
    for (second, expected) in [
        (json!({"current_a": 0.001}), 0.001),
        (json!({"power_w": 0.012}), 0.001),
        (json!({"resistance_ohm": 240.0}), 0.05),
    ] {
        let amps = asked(second.clone()).unwrap();
        assert!((amps / expected - 1.0).abs() < 0.01, "{second} {amps}");
    }
}

#[test]
fn a_wire_or_a_source_may_be_asked_about() {
    let of_wire = |model: &BoatModel, assembly: &Assembly| {
        let wire = Part::Wire(model.wires.find("off-2").unwrap());
        Wanted {
            branches: [assembly.branch(wire).unwrap()].into(),
            ..Wanted::default()
        }
    };
    let of_source = |model: &BoatModel, _: &Assembly| Wanted {
        sources: [model.sources.find("b").unwrap()].into(),
        ..Wanted::default()
    };
    let wanted: [&Wish; 2] = [&of_wire, &of_source];
    for wanted in wanted {
        let solved = Solved::of(two_banks(json!({"current_a": 2.0})), Some(wanted));
        assert!((solved.amps("on-2").unwrap() - 2.0).abs() < 1e-12);
        assert!(solved.amps("on").is_err());
    }
}
