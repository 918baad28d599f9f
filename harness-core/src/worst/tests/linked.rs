//! Drawn boats whose circuits pass couplers, plugs and splices of some boats only, with up to five
//! sources in one system, of which each state has others.

use super::{drawn, varied};
use serde_json::{Value, json};

/// A drawn boat being added to.
struct Linked {
    boat: Value,
    rng: fastrand::Rng,
}

impl Linked {
    fn add(&mut self, list: &str, thing: Value) {
        let listed = self.boat[list].as_array_mut();
        listed.expect("a list").push(thing);
    }

    fn option(&mut self) -> String {
        let listed = self.boat["options"].as_array();
        let own = |o: &&Value| o["id"].as_str().is_some_and(|id| id.starts_with('o'));
        let options = listed.map_or(0, |all| all.iter().filter(own).count());
        format!("o{}", self.rng.usize(..options))
    }

    /// Every boat, those with an option, or those without it.
    fn condition(&mut self) -> Value {
        match self.rng.u8(..8) {
            0..3 => Value::Null,
            3..7 => json!(self.option()),
            _ => json!({"not": self.option()}),
        }
    }

    fn when(&mut self, list: &str, mut thing: Value, when: &Value) {
        if !when.is_null() {
            thing["fitted_when"] = when.clone();
        }
        self.add(list, thing);
    }

    fn wire(&mut self, from: &str, to: &str, size: &str, when: &Value) {
        // Now and then one thinner than any may be.
        let size = if self.rng.u8(..40) == 0 {
            "18 AWG"
        } else {
            size
        };
        let end = |end: &str| match end.starts_with('k') {
            true => json!({"terminal": "contact"}),
            false => json!({"terminal": "ring"}),
        };
        let wire = json!({"id": format!("{from}-{to}").replace('.', "-"), "from": from, "to": to, "size": size,
            "enclosed": false, "from_end": end(from), "to_end": end(to)});
        self.when("wires", wire, when);
    }

    /// In one state, in the other, or in both.
    fn states(&mut self, list: &str) -> Value {
        match self.rng.u8(..4) {
            0 => json!({list: ["day"]}),
            1 => json!({list: ["night"]}),
            _ => json!({}),
        }
    }

    fn source(&mut self, mut source: Value, (plus, minus): (&str, &str), when: &Value) {
        if let Some(active) = self.states("active_in").get("active_in") {
            source["active_in"] = active.clone();
        }
        let id = source["id"].as_str().expect("an id").to_owned();
        self.when("sources", source, when);
        self.wire(&format!("{id}.plus"), plus, "8 AWG", when);
        self.wire(minus, &format!("{id}.minus"), "8 AWG", when);
    }

    /// A second battery with two that charge it, and the switch that joins it to the first.
    fn sources(&mut self) {
        self.add(
            "buses",
            json!({"id": "joint", "kind": "stud", "point": "at-aft"}),
        );
        let volts = 11.8 + 0.4 * self.rng.f64();
        let battery = json!({"id": "second", "kind": "battery", "point": "at-aft",
            "nominal_v": volts, "low_v": 11.0, "internal_ohm": 0.01, "cranking_a": 600.0,
            "max_a": 6.0 + 30.0 * self.rng.f64()});
        let when = match self.rng.u8(..3) {
            0 => self.condition(),
            _ => Value::Null,
        };
        self.source(battery, ("joint.1", "aft-minus.5"), &when);
        for (id, kind, pins) in [
            ("wind", "charger", ("joint.1", "aft-minus.6")),
            ("sun", "charger", ("fore-plus.6", "fore-minus.6")),
        ] {
            if self.rng.u8(..3) == 0 {
                continue;
            }
            let source = json!({"id": id, "kind": kind, "point": "at-aft",
                "nominal_v": 12.0 + 0.8 * self.rng.f64(), "low_v": 12.0, "internal_ohm": 0.04,
                "max_a": 2.0 + 20.0 * self.rng.f64(), "self_limiting": self.rng.bool()});
            let when = self.condition();
            self.source(source, pins, &when);
        }
        let mut switch = json!({"id": "link", "kind": "battery-switch", "point": "at-panel",
            "rating_a": 10.0 + 40.0 * self.rng.f64(), "resistance_mohm": 0.5});
        if let Some(open) = self.states("open_in").get("open_in") {
            switch["open_in"] = open.clone();
        }
        let when = self.condition();
        self.when("devices", switch, &when);
        self.wire("panel-plus.6", "link.in", "10 AWG", &when);
        self.wire("link.out", "joint.1", "10 AWG", &when);
    }

    /// A load through a coupler, sometimes a plug of its own, sometimes a splice on the way back.
    fn coupled(&mut self, number: usize) {
        let side = ["fore", "aft"][self.rng.usize(..2)];
        let at = format!("at-{side}");
        let (load_when, first, second) = (self.condition(), self.condition(), self.condition());
        let (first, second) = match self.rng.u8(..3) {
            0 => (first, second),
            1 => (Value::Null, load_when.clone()),
            _ => (first, load_when.clone()),
        };
        let (load, fuse) = (format!("c{number}"), format!("b{number}"));
        let mut stated = json!({"id": load, "point": at, "drop_class": "other", "min_v": 9.0,
            "runs_in": [{"state": "day", "share": 1.0}]});
        if self.rng.bool() {
            let night = json!({"state": "night", "share": 1.0});
            stated["runs_in"]
                .as_array_mut()
                .expect("a list")
                .push(night);
        }
        let amps = 1.0 + 6.0 * self.rng.f64();
        match self.rng.u8(..12) {
            0 => {}
            1..5 => stated["current_a"] = json!(amps),
            5..9 => stated["power_w"] = json!(12.0 * amps),
            _ => stated["resistance_ohm"] = json!(12.0 / amps),
        }
        self.when("loads", stated, &load_when);
        let device = json!({"id": fuse, "kind": "fuse", "family": "blade-medium", "point": at,
            "rating_a": 7.5, "rated_v": 32.0, "interrupting_a": 6000.0, "resistance_mohm": 2.0});
        self.when("devices", device, &first);
        let (near, far) = (format!("k{number}"), format!("kk{number}"));
        let connector = |id: &str| json!({"id": id, "connector_type": "four", "point": at});
        self.when("connectors", connector(&near), &first);
        self.when("connectors", connector(&far), &second);
        self.add(
            "couplers",
            json!({"id": format!("pair-{number}"), "first": near, "second": far}),
        );
        self.wire(
            &format!("{side}-plus.5"),
            &format!("{fuse}.in"),
            "14 AWG",
            &first,
        );
        self.wire(
            &format!("{fuse}.out"),
            &format!("{near}.1"),
            "14 AWG",
            &first,
        );
        let back = format!("{side}-minus.4");
        if self.rng.bool() {
            let splice = format!("splice-{number}");
            let when = match self.rng.u8(..3) {
                0 => self.condition(),
                _ => first.clone(),
            };
            let sealed = json!({"id": splice, "kind": "butt", "point": at, "sealed": true,
                "resistance_mohm": 0.5});
            self.when("splices", sealed, &when);
            self.wire(
                &format!("{near}.2"),
                &format!("{splice}.a"),
                "14 AWG",
                &first,
            );
            self.wire(&format!("{splice}.b"), &back, "14 AWG", &first);
        } else {
            self.wire(&format!("{near}.2"), &back, "14 AWG", &first);
        }
        let (mut plus, mut minus) = (format!("{load}.plus"), format!("{load}.minus"));
        if self.rng.bool() {
            let plug = format!("kp{number}");
            let mut plugged = connector(&plug);
            plugged["plugs_into"] = json!({"equipment": load, "pins": [
                {"cavity": 1, "pin": "plus"}, {"cavity": 2, "pin": "minus"}]});
            self.when("connectors", plugged, &second);
            (plus, minus) = (format!("{plug}.1"), format!("{plug}.2"));
        }
        self.wire(&format!("{far}.1"), &plus, "14 AWG", &second);
        self.wire(&minus, &format!("{far}.2"), "14 AWG", &second);
    }
}

/// One boat model as saved.
pub(super) fn linked(seed: u64) -> Value {
    on(drawn::drawn(seed), seed)
}

/// One with what few boats have, too.
pub(super) fn richly_linked(seed: u64) -> Value {
    on(varied::varied(seed), seed)
}

fn on(boat: Value, seed: u64) -> Value {
    let mut linked = Linked {
        boat,
        rng: fastrand::Rng::with_seed(seed ^ 0x11_4bed),
    };
    for list in ["connectors", "couplers", "splices"] {
        linked.boat[list] = json!([]);
    }
    linked.boat["connector_types"] = json!([{"id": "four", "cavities": 4, "entry_mm": 10.0,
        "contact_resistance_mohm": 3.0, "contact_rating_a": 5.0, "min_mm2": 0.5, "max_mm2": 6.0}]);
    linked.add(
        "terminal_parts",
        json!({"id": "contact", "kind": "contact", "min_mm2": 0.5, "max_mm2": 6.0,
            "entry_mm": 0.0}),
    );
    linked.sources();
    for number in 0..linked.rng.usize(1..5) {
        linked.coupled(number);
    }
    linked.boat
}
