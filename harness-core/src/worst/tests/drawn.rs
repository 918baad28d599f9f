//! Small boats drawn at random.

use serde_json::{Value, json};

/// Most options of one.
const MOST_OPTIONS: usize = 9;

/// A small boat drawn at random: two sub-panels, sometimes a second source, a second trunk, a ring;
/// loads of all kinds under conditions of all kinds; now and then something that is not stated.
struct Drawn {
    rng: fastrand::Rng,
    options: usize,
    wires: Vec<Value>,
    devices: Vec<Value>,
    loads: Vec<Value>,
}

impl Drawn {
    fn option(&mut self) -> String {
        format!("o{}", self.rng.usize(..self.options))
    }

    fn condition(&mut self) -> Value {
        match self.rng.u8(..10) {
            0..2 => Value::Null,
            2..6 => json!(self.option()),
            6 => json!({"all": [self.option(), self.option()]}),
            7 => json!({"any": [self.option(), self.option()]}),
            8 => json!({"not": self.option()}),
            _ => json!({"all": [self.option(), {"not": self.option()}]}),
        }
    }

    fn size(&mut self) -> Value {
        let sizes = ["16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG"];
        match self.rng.u8(..60) {
            0 => Value::Null,
            _ => json!(sizes[self.rng.usize(..sizes.len())]),
        }
    }

    fn wire(&mut self, from: &str, to: &str, size: Value, when: Value) {
        let id = format!("w{}", self.wires.len());
        // A bar without a position: any of its six.
        let mut pin = |end: &str| match end.contains('.') {
            true => end.to_owned(),
            false => format!("{end}.{}", self.rng.u8(1..=6)),
        };
        let (from, to) = (pin(from), pin(to));
        let mut wire = json!({"id": id, "from": from, "to": to, "enclosed": false,
            "from_end": {"terminal": "ring"}, "to_end": {"terminal": "ring"}});
        for (field, value) in [("size", size), ("fitted_when", when)] {
            if !value.is_null() {
                wire[field] = value;
            }
        }
        self.wires.push(wire);
    }

    fn states(&mut self) -> Value {
        let one = |state: &str| json!({"state": state, "share": 1.0});
        match self.rng.u8(..4) {
            0 => json!([one("day")]),
            1 => json!([one("night")]),
            _ => json!([one("day"), one("night")]),
        }
    }

    fn load(&mut self, number: usize) {
        let bars = ["panel", "fore", "aft"];
        let (feed, back) = (self.rng.usize(..3), self.rng.usize(..3));
        let back = if self.rng.u8(..4) == 0 { back } else { feed };
        let point = ["at-panel", "at-fore", "at-aft"][feed];
        let when = self.condition();
        let id = format!("l{number}");
        let mut load = json!({"id": id, "point": point, "runs_in": self.states(),
            "drop_class": if self.rng.bool() { "critical" } else { "other" }, "min_v": 9.5});
        let amps = 0.5 + 6.0 * self.rng.f64();
        match self.rng.u8(..20) {
            0 => {}
            1..7 => load["current_a"] = json!(amps),
            7..14 => load["power_w"] = json!(12.0 * amps),
            _ => load["resistance_ohm"] = json!(12.0 / amps),
        }
        if !when.is_null() {
            load["fitted_when"] = when.clone();
        }
        self.loads.push(load);
        let rating = [5.0, 7.5, 10.0][self.rng.usize(..3)];
        let mut device = json!({"id": format!("f{number}"), "kind": "fuse", "family": "blade-medium",
            "point": point, "rating_a": rating, "rated_v": 32.0,
            "interrupting_a": 1000.0, "resistance_mohm": 2.0});
        if !when.is_null() && self.rng.u8(..3) > 0 {
            device["fitted_when"] = when.clone();
        }
        self.devices.push(device);
        // Some wires lie in every boat, some under a condition of their own.
        let [one, two, three] = [(); 3].map(|()| match self.rng.u8(..12) {
            0..3 => Value::Null,
            3 => self.condition(),
            _ => when.clone(),
        });
        let (a, b, c) = (self.size(), self.size(), self.size());
        self.wire(
            &format!("{}-plus", bars[feed]),
            &format!("f{number}.in"),
            a,
            one,
        );
        self.wire(&format!("f{number}.out"), &format!("{id}.plus"), b, two);
        self.wire(
            &format!("{id}.minus"),
            &format!("{}-minus", bars[back]),
            c,
            three,
        );
    }
}

fn rules(rng: &mut fastrand::Rng, count: usize) -> Vec<Value> {
    (0..rng.usize(..=count))
        .map(|_| {
            let mut option = || format!("o{}", rng.usize(..count));
            let (a, b, c) = (option(), option(), option());
            match rng.u8(..8) {
                0..3 => json!({"requires": [a, b]}),
                3..5 => json!({"excludes": [a, b]}),
                5 => json!({"exactly_one_of": [a, b, c]}),
                6 => json!({"at_most_one_of": [a, b, c]}),
                _ => json!({"always": a}),
            }
        })
        .filter(|rule| {
            let listed = rule.as_object().and_then(|fields| fields.values().next());
            let listed = listed.and_then(Value::as_array);
            listed.is_none_or(|listed| {
                (1..listed.len()).all(|at| !listed[..at].contains(&listed[at]))
            })
        })
        .collect()
}

/// One boat model as saved.
pub(super) fn drawn(seed: u64) -> Value {
    let mut rng = fastrand::Rng::with_seed(seed);
    let options = rng.usize(2..=MOST_OPTIONS);
    let option_rules = rules(&mut rng, options);
    let mut boat = Drawn {
        rng,
        options,
        wires: Vec::new(),
        devices: Vec::new(),
        loads: Vec::new(),
    };
    let mut sources = vec![json!({"id": "bank", "kind": "battery", "point": "at-bank",
        "nominal_v": 12.0, "low_v": 11.0, "internal_ohm": 0.01 * boat.rng.f64(),
        "cranking_a": 600.0, "max_a": 40.0})];
    boat.devices.push(
        json!({"id": "main", "kind": "fuse", "family": "blade-large",
        "point": "at-bank", "rating_a": 40.0, "rated_v": 32.0, "interrupting_a": 1000.0,
        "resistance_mohm": 1.0}),
    );
    boat.wire("bank.plus", "main.in", json!("6 AWG"), Value::Null);
    boat.wire("main.out", "panel-plus", json!("6 AWG"), Value::Null);
    boat.wire("panel-minus", "bank.minus", json!("6 AWG"), Value::Null);
    if boat.rng.u8(..3) == 0 {
        let when = boat.condition();
        let mut second = json!({"id": "charger", "kind": "charger", "point": "at-fore",
            "nominal_v": 12.4, "low_v": 12.0, "internal_ohm": 0.03, "max_a": 25.0,
            "self_limiting": true});
        if boat.rng.bool() {
            second["active_in"] = json!(["night"]);
        }
        if !when.is_null() {
            second["fitted_when"] = when.clone();
        }
        sources.push(second);
        boat.wire("charger.plus", "fore-plus", json!("8 AWG"), when.clone());
        boat.wire("fore-minus", "charger.minus", json!("8 AWG"), when);
    }
    for side in ["fore", "aft"] {
        let (a, b) = (boat.size(), boat.size());
        boat.wire("panel-plus", &format!("{side}-plus"), a, Value::Null);
        boat.wire(&format!("{side}-minus"), "panel-minus", b, Value::Null);
    }
    if boat.rng.u8(..3) == 0 {
        let (size, when) = (boat.size(), boat.condition());
        boat.wire("fore-plus", "aft-plus", size, when);
    }
    if boat.rng.u8(..3) == 0 {
        let (size, when) = (boat.size(), boat.condition());
        boat.wire("fore-minus", "panel-minus", size, when);
    }
    for number in 0..boat.rng.usize(3..9) {
        boat.load(number);
    }
    let bore = 12.0 + 10.0 * boat.rng.f64();
    let zone = |id: &str| json!({"id": id, "engine_space": id == "aft", "fuel_vapor": false});
    let point = |id: &str, zone: &str| json!({"id": id, "zone": zone});
    let bus = |id: &str, point: &str| {
        json!({"id": id, "kind": "busbar", "point": point,
        "positions": 20, "covered": true})
    };
    let bars = [
        ("panel", "at-panel"),
        ("fore", "at-fore"),
        ("aft", "at-aft"),
    ];
    let buses: Vec<Value> = bars
        .iter()
        .flat_map(|(bar, at)| {
            [
                bus(&format!("{bar}-plus"), at),
                bus(&format!("{bar}-minus"), at),
            ]
        })
        .collect();
    json!({
        "format_version": 1, "name": "Drawn boat",
        "settings": {"rule_sets": ["us-federal", "us-voluntary"], "insulation_degc": 105.0,
            "slack_share": 0.0, "cut_step_mm": 1.0, "contact_resistance_mohm": 0.0,
            "dc_bundling": "by-count"},
        "zones": [zone("fore"), zone("aft")],
        "points": [point("at-bank", "aft"), point("at-panel", "fore"), point("at-fore", "fore"),
            point("at-aft", "aft")],
        "runs": [
            {"id": "r1", "from": "at-bank", "to": "at-panel", "length_m": 1.0, "fixing": "clipped",
             "support_spacing_mm": 400.0},
            {"id": "r2", "from": "at-panel", "to": "at-fore", "length_m": 2.5, "fixing": "conduit",
             "bore_mm": bore},
            {"id": "r3", "from": "at-panel", "to": "at-aft", "length_m": 3.5, "fixing": "clipped",
             "support_spacing_mm": 400.0,
             "hole": {"diameter_mm": bore, "edge_protection": "grommet"}},
        ],
        "states": [{"id": "day"}, {"id": "night"}],
        "options": (0..options).map(|at| json!({"id": format!("o{at}")})).collect::<Vec<_>>(),
        "option_rules": option_rules,
        "terminal_parts": [{"id": "ring", "kind": "ring", "entry_mm": 0.0, "stud_mm": 5.0,
            "min_mm2": 0.5, "max_mm2": 100.0}],
        "sources": sources, "buses": buses, "devices": boat.devices, "loads": boat.loads,
        "wires": boat.wires,
    })
}
