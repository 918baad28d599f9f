//! Small boat models put together by hand.

use crate::boats::{Asking, BoatSet, Condition};
use crate::file_format;
use crate::model::{BoatModel, Identified};
use crate::network::assembly::Assembly;
use crate::routing::Routing;
use crate::rules::{Finding, Place};
use crate::study::options_of;
use crate::worst::candidates::{self, Gathering, Width};
use crate::worst::search::Search;
use crate::worst::systems::Systems;
use crate::worst::{Counted, EveryBoat};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// A model of bars and wires between points: two metres from *here* to *there* and on to *end*,
/// three from *here* to *end*.
pub(super) struct Sketch(pub Value);

impl Sketch {
    pub fn new(options: usize) -> Self {
        let run = |id: &str, from: &str, to: &str, length_m: f64| json!({"id": id, "from": from, "to": to, "length_m": length_m});
        let options = (0..options).map(|at| json!({"id": format!("o{at}")}));
        Self(json!({
            "format_version": 1, "name": "Sketch",
            "settings": {"rule_sets": ["us-voluntary"], "insulation_degc": 105.0},
            "zones": [{"id": "aft"}],
            "points": [{"id": "here", "zone": "aft"}, {"id": "there", "zone": "aft"},
                {"id": "end", "zone": "aft"}],
            "runs": [run("r1", "here", "there", 2.0), run("r2", "there", "end", 2.0),
                run("r3", "here", "end", 3.0)],
            "states": [{"id": "day"}],
            "options": options.collect::<Vec<_>>(), "option_rules": [],
            "sources": [], "buses": [], "devices": [], "loads": [], "wires": [],
        }))
    }

    pub fn add(mut self, list: &str, mut thing: Value, when: Value) -> Self {
        if !when.is_null() {
            thing["fitted_when"] = when;
        }
        self.0[list].as_array_mut().unwrap().push(thing);
        self
    }

    pub fn battery(self, id: &str, point: &str, when: Value) -> Self {
        let battery = json!({"id": id, "kind": "battery", "point": point, "nominal_v": 12.0,
            "low_v": 11.0, "cranking_a": 500.0});
        self.add("sources", battery, when)
    }

    pub fn bar(self, id: &str, point: &str) -> Self {
        let bar = json!({"id": id, "kind": "busbar", "point": point, "positions": 9});
        self.add("buses", bar, Value::Null)
    }

    pub fn device(self, id: &str, kind: &str, when: Value) -> Self {
        let device = json!({"id": id, "kind": kind, "point": "end", "rating_a": 10.0,
            "family": "blade-medium", "interrupting_a": 2500.0});
        self.add("devices", device, when)
    }

    pub fn wire(self, id: &str, from: &str, to: &str, when: Value) -> Self {
        let wire = json!({"id": id, "from": from, "to": to, "size": "10 AWG"});
        self.add("wires", wire, when)
    }

    pub fn rule(self, rule: Value) -> Self {
        self.add("option_rules", rule, Value::Null)
    }

    pub fn model(&self) -> BoatModel {
        let text = self.0.to_string();
        file_format::read(&text).unwrap_or_else(|faults| panic!("{faults:#?}"))
    }
}

/// With each of three options the boat does without two others, so that the fullest boats have at
/// most two of the three.
pub(super) fn seldom_together(mut sketch: Sketch) -> Sketch {
    for (at, others) in [(0, [3, 4]), (1, [5, 6]), (2, [7, 8])] {
        for other in others {
            sketch = sketch.rule(json!({"excludes": [format!("o{at}"), format!("o{other}")]}));
        }
    }
    sketch
}

/// A bank with one feed to a bar, and one return from another.
pub(super) fn fed(options: usize) -> Sketch {
    Sketch::new(options)
        .battery("bank", "here", Value::Null)
        .bar("plus", "end")
        .bar("minus", "end")
        .wire("feed", "bank.plus", "plus.1", Value::Null)
        .wire("back", "minus.1", "bank.minus", Value::Null)
}

/// Batteries beside the bar, each of an option and on a stud of its own, so that nothing else makes
/// a boat with several of them.
pub(super) fn batteries(mut sketch: Sketch, count: usize) -> Sketch {
    for at in 0..count {
        let (id, when) = (format!("battery-{at}"), json!(format!("o{at}")));
        let (plus, bar) = (format!("{id}.plus"), format!("last.{}", at + 1));
        sketch =
            sketch
                .battery(&id, "end", when.clone())
                .wire(&format!("w{at}"), &plus, &bar, when);
    }
    sketch
}

/// All that boats are searched and gathered from.
pub(super) struct Ready {
    pub model: BoatModel,
    pub set: BoatSet,
    routing: Routing,
    assembly: Assembly,
    pub systems: Systems,
    pub asking: Box<dyn Asking>,
}

impl Ready {
    pub fn of(sketch: &Sketch) -> Self {
        let model = sketch.model();
        let options = options_of(&model);
        let set = BoatSet::of(&options).unwrap();
        let routing = Routing::of(&model);
        let assembly = Assembly::of_every_boat(&model, &routing);
        let systems = Systems::of(&model, &assembly, &set).unwrap();
        let conditions = candidates::conditions(&model, &routing, &assembly, &systems);
        let none = BTreeSet::new();
        let asking = candidates::asking(&options, &conditions, &none, Width::default()).unwrap();
        Self {
            model,
            set,
            routing,
            assembly,
            systems,
            asking,
        }
    }

    /// Without any boat yet.
    pub fn gathering(&self) -> Gathering<'_> {
        let Self {
            model,
            routing,
            assembly,
            systems,
            asking,
            ..
        } = self;
        Gathering::new(model, routing, assembly, systems, asking.as_ref())
    }

    /// In the first of the systems.
    pub fn search(&self) -> Search<'_> {
        let numbers = candidates::numbers(self.asking.as_ref());
        let number = |condition: &Condition| numbers.get(condition).copied();
        Search::new(&self.systems.systems[0], self.asking.as_ref(), &number).unwrap()
    }
}

pub(super) fn judged(sketch: &Sketch) -> (BTreeMap<(String, &'static str), Finding>, Vec<String>) {
    let model = sketch.model();
    let options = options_of(&model);
    let set = BoatSet::of(&options).unwrap();
    let (routing, first) = (Routing::of(&model), set.fullest().unwrap());
    let (every, findings) =
        EveryBoat::of(&model, &routing, &options, &set, &first, Counted::No, None).unwrap();
    let name = |place: Place| match place {
        Place::Wire(at) => model.wires[at].id().to_owned(),
        Place::Device(at) => model.devices[at].id().to_owned(),
        other => format!("{other:?}"),
    };
    let findings = findings.into_iter();
    let keyed = findings.map(|finding| ((name(finding.place), finding.rule), finding));
    (keyed.collect(), every.unproven)
}
