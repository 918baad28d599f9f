//! Boat models of any size, for benchmarks and property tests.
//!
//! Every model has the structure of a real one: a chain of zones with a trunk, banks with a main
//! fuse block, a fuse block and a DC negative bar in each section, circuits that are switched,
//! plugged, passed to the deck through couplers or returned on a shared wire, all three load
//! kinds, and options with rules and conditions. Same arguments, same model.

use fastrand::Rng;
use harness_core::file_format::ModelRecord;
use serde_json::{Map, Value, json};

/// Wires of one section of the boat, about.
const SECTION_WIRES: usize = 120;
/// Sections fed by one bank.
const BANK_SECTIONS: usize = 6;
/// Positions on a fuse block: the format allows no more.
const MOST_SECTIONS: usize = 150;
/// Distance between two sections along the boat.
const SECTION_MM: usize = 800;
/// Cavities of a coupler between hull and deck.
const CAVITIES: usize = 16;
/// Operating states.
const STATES: [&str; 3] = ["under-way", "anchored", "moored"];
/// Current that each offered size carries with 3 % of 12 V lost over a section's length.
const SIZES: [(f64, &str); 5] = [
    (1.5, "16 AWG"),
    (3.0, "14 AWG"),
    (5.0, "12 AWG"),
    (8.0, "10 AWG"),
    (13.0, "8 AWG"),
];

/// A boat model of about `wires` wires (at least so many) with exactly `options` options.
///
/// # Panics
/// Panics if what it builds is not a boat model, which would be a fault of this generator.
pub fn model(wires: usize, options: usize, seed: u64) -> ModelRecord {
    let sections = wires.div_ceil(SECTION_WIRES).clamp(1, MOST_SECTIONS);
    let mut boat = Boat {
        rng: Rng::with_seed(seed),
        options,
        ..Boat::default()
    };
    boat.kinds();
    boat.option_list();
    boat.places(sections);
    boat.supply(sections);
    for number in 0.. {
        if boat.wires >= wires {
            break;
        }
        boat.circuits_of(number % sections);
    }
    boat.close();
    let value = Value::Object(boat.lists.into_iter().collect());
    serde_json::from_value(value).expect("the generator builds whole models")
}

/// The model under construction.
#[derive(Default)]
struct Boat {
    rng: Rng,
    options: usize,
    lists: Map<String, Value>,
    sections: Vec<Section>,
    wires: usize,
    circuits: usize,
    /// Section of each coupler, in order of their numbers.
    couplers: Vec<usize>,
}

/// What one section has used so far.
#[derive(Clone, Default)]
struct Section {
    positions: usize,
    returns: usize,
    /// Coupler being filled, and its next cavity.
    coupler: Option<(usize, usize)>,
}

/// A load and the condition it is fitted under.
struct Consumer {
    id: String,
    amperes: f64,
    when: Option<Value>,
}

/// How wire ends are treated on boats where they serve nothing.
fn capped(point: &str) -> Value {
    json!({"when_unused": {"treatment": "capped", "part": "cap-1", "tie_point": point}})
}

fn size_for(amperes: f64) -> &'static str {
    let fits = SIZES.iter().find(|(limit, _)| amperes <= *limit);
    fits.map_or(SIZES[SIZES.len() - 1].1, |(_, size)| size)
}

/// The next fuse rating above a load.
fn fuse_for(amperes: f64) -> f64 {
    let ratings = [3.0, 5.0, 7.5, 10.0, 15.0, 20.0];
    ratings
        .into_iter()
        .find(|rating| amperes * 1.25 <= *rating)
        .unwrap_or(25.0)
}

impl Boat {
    fn add(&mut self, list: &str, mut record: Value) {
        if let Some(fields) = record.as_object_mut() {
            fields.retain(|_, value| !value.is_null());
        }
        let list = self
            .lists
            .entry(list)
            .or_insert_with(|| Value::Array(Vec::new()));
        if let Some(list) = list.as_array_mut() {
            list.push(record);
        }
    }

    /// Adds a wire from a record that leaves out its id.
    fn wire(&mut self, mut record: Value) {
        self.wires += 1;
        record["id"] = json!(format!("w{}", self.wires));
        self.add("wires", record);
    }

    fn kinds(&mut self) {
        for (name, value) in [
            ("format_version", json!(1)),
            ("name", json!("Generated boat")),
            (
                "about",
                json!("Made by a generator for tests; it is no real boat."),
            ),
            (
                "settings",
                json!({"slack_share": 0.03, "cut_step_mm": 10, "insulation_degc": 105}),
            ),
        ] {
            self.lists.insert(name.to_owned(), value);
        }
        for moulding in ["hull", "deck"] {
            self.add("mouldings", json!({"id": moulding}));
            self.add("harnesses", json!({"id": moulding, "moulding": moulding}));
        }
        for state in STATES {
            self.add("states", json!({"id": state}));
        }
        self.add(
            "terminal_parts",
            json!({"id": "contact-1", "kind": "contact", "min_mm2": 0.5,
            "max_mm2": 9.0, "strip_mm": 6, "entry_mm": 12}),
        );
        self.add(
            "terminal_parts",
            json!({"id": "ring-1", "kind": "ring", "min_mm2": 0.5,
            "max_mm2": 120.0, "strip_mm": 8, "entry_mm": 14}),
        );
        for (id, cavities) in [("coupler", CAVITIES), ("plug", 2)] {
            self.add(
                "connector_types",
                json!({"id": id, "cavities": cavities, "sealed": true,
                "contact_resistance_mohm": 3, "contact_rating_a": 25, "min_mm2": 0.5,
                "max_mm2": 9.0, "entry_mm": 18, "contact": "contact-1", "cavity_plug": "plug-1"}),
            );
        }
    }

    /// Options and rules that at least one boat satisfies: options ask only for earlier ones.
    fn option_list(&mut self) {
        for number in 0..self.options {
            let mut record = json!({"id": option(number), "take_rate": self.rng.f64()});
            if number >= 8 && number % 8 == 0 {
                record["contains"] = json!([option(number - 1), option(number - 2)]);
            }
            self.add("options", record);
        }
        if self.options >= 3 {
            self.add(
                "option_rules",
                json!({"exactly_one_of": [option(0), option(1), option(2)]}),
            );
        }
        if self.options >= 5 {
            self.add(
                "option_rules",
                json!({"at_most_one_of": [option(3), option(4)]}),
            );
        }
        for number in 5..self.options {
            let earlier = self.rng.usize(0..number);
            match self.rng.u8(0..4) {
                0 => self.add(
                    "option_rules",
                    json!({"requires": [option(number), option(earlier)]}),
                ),
                1 => self.add(
                    "option_rules",
                    json!({"excludes": [option(number), option(earlier)]}),
                ),
                _ => {}
            }
        }
    }

    /// A condition of any form, or none.
    fn condition(&mut self) -> Option<Value> {
        if self.options == 0 {
            return None;
        }
        let one = option(self.rng.usize(0..self.options));
        let other = option(self.rng.usize(0..self.options));
        match self.rng.u8(0..10) {
            0..=3 => None,
            4..=6 => Some(json!(one)),
            7 => Some(json!({"any": [one, other]})),
            8 => Some(json!({"all": [one, {"not": other}]})),
            _ => Some(json!({"not": one})),
        }
    }

    fn places(&mut self, sections: usize) {
        for number in 0..sections {
            let (aft, forward) = (number * SECTION_MM, (number + 1) * SECTION_MM);
            let middle = aft + SECTION_MM / 2;
            for (moulding, half, z) in [("hull", 1400, 400), ("deck", 1200, 1200)] {
                let zone = format!("{moulding}-{number}");
                let outline = [(aft, -half), (forward, -half), (forward, half), (aft, half)];
                let outline: Vec<_> = outline
                    .iter()
                    .map(|(x, y)| json!({"x_mm": x, "y_mm": y}))
                    .collect();
                let engine = number == 1 && moulding == "hull";
                self.add(
                    "zones",
                    json!({"id": zone, "moulding": moulding, "outline": outline,
                    "ambient_degc": if engine { 50 } else { 30 }, "engine_space": engine,
                    "reached_by": "hatch"}),
                );
                for (place, y) in [("trunk", 600), ("port", -500), ("starboard", 900)] {
                    self.add(
                        "points",
                        json!({"id": format!("{zone}-{place}"), "zone": zone,
                        "x_mm": middle, "y_mm": y, "z_mm": z}),
                    );
                }
                for place in ["port", "starboard"] {
                    self.run(&format!("{zone}-trunk"), &format!("{zone}-{place}"));
                }
                if number > 0 {
                    let before = format!("{moulding}-{}-trunk", number - 1);
                    self.run(&before, &format!("{zone}-trunk"));
                }
            }
        }
    }

    fn run(&mut self, from: &str, to: &str) {
        self.add(
            "runs",
            json!({"id": format!("{from}--{to}"), "from": from, "to": to,
            "fixing": "clipped", "support_spacing_mm": 400}),
        );
    }

    /// Banks, main blocks, and the feeder of each section.
    fn supply(&mut self, sections: usize) {
        for bank in 0..sections.div_ceil(BANK_SECTIONS) {
            let point = format!("hull-{}-starboard", bank * BANK_SECTIONS);
            let circuit = format!("bank-{bank}");
            let (battery, fuse) = (format!("battery-{bank}"), format!("main-fuse-{bank}"));
            self.add(
                "circuits",
                json!({"id": circuit, "function": "main-feed", "device": fuse}),
            );
            self.add(
                "sources",
                json!({"id": battery, "kind": "battery", "point": point,
                "nominal_v": 12, "low_v": 11, "internal_ohm": 0.004, "cranking_a": 1000}),
            );
            self.add(
                "devices",
                json!({"id": fuse, "kind": "fuse", "family": "bolt-in-large",
                "point": point, "rating_a": 300, "interrupting_a": 6000, "rated_v": 32,
                "resistance_mohm": 0.1}),
            );
            self.add(
                "buses",
                json!({"id": format!("main-{bank}"), "kind": "fuse-block",
                "point": point, "positions": BANK_SECTIONS, "rating_a": 300}),
            );
            self.add(
                "buses",
                json!({"id": format!("negative-{bank}"), "kind": "busbar",
                "point": point, "positions": BANK_SECTIONS + 3, "rating_a": 300}),
            );
            let negative = |place: usize| format!("negative-{bank}.{}", BANK_SECTIONS + place);
            for (role, from, to) in [
                ("feed", format!("{battery}.plus"), format!("{fuse}.in")),
                ("feed", format!("{fuse}.out"), format!("main-{bank}.feed")),
                ("return", negative(1), format!("{battery}.minus")),
            ] {
                self.cable(&circuit, role, "4/0 AWG", &from, &to);
            }
            if bank > 0 {
                // One DC negative for the whole boat, so that the network is one.
                let before = format!("negative-{}.{}", bank - 1, BANK_SECTIONS + 3);
                self.cable(&circuit, "return", "2/0 AWG", &before, &negative(2));
            }
        }
        for number in 0..sections {
            let (bank, position) = (number / BANK_SECTIONS, number % BANK_SECTIONS + 1);
            let (circuit, fuse) = (format!("feeder-{number}"), format!("feeder-fuse-{number}"));
            self.add(
                "circuits",
                json!({"id": circuit, "function": "main-feed", "device": fuse}),
            );
            self.add(
                "devices",
                json!({"id": fuse, "kind": "fuse", "family": "bolt-in-small",
                "fitted_in": {"block": format!("main-{bank}"), "position": position},
                "rating_a": 80, "rated_v": 32, "resistance_mohm": 0.5}),
            );
            let (block, bar) = (format!("block-{number}.feed"), format!("bar-{number}.1"));
            self.cable(
                &circuit,
                "feed",
                "1/0 AWG",
                &format!("main-{bank}.{position}"),
                &block,
            );
            self.cable(
                &circuit,
                "return",
                "1/0 AWG",
                &bar,
                &format!("negative-{bank}.{position}"),
            );
        }
        self.sections = vec![
            Section {
                returns: 1,
                ..Section::default()
            };
            sections
        ];
    }

    fn cable(&mut self, circuit: &str, role: &str, size: &str, from: &str, to: &str) {
        let color = if role == "return" { "black" } else { "red" };
        self.wire(
            json!({"circuit": circuit, "role": role, "size": size, "color": color,
            "from": from, "to": to, "harness": "hull", "from_end": {"terminal": "ring-1"},
            "to_end": {"terminal": "ring-1"}}),
        );
    }

    /// One or two more circuits of one of five shapes.
    fn circuits_of(&mut self, section: usize) {
        match self.rng.u8(0..10) {
            0..=2 => self.direct(section, false),
            3..=4 => self.direct(section, true),
            5..=6 => self.plugged(section),
            7..=8 => self.through_coupler(section),
            _ => self.shared_return(section),
        }
    }

    /// Circuit, fuse and load; gives the live position and the load.
    fn start(
        &mut self,
        section: usize,
        moulding: &str,
        switch: Option<&str>,
    ) -> (String, Consumer) {
        self.circuits += 1;
        self.sections[section].positions += 1;
        let position = self.sections[section].positions;
        let number = self.circuits;
        let (circuit, fuse, load) = (
            format!("c{number}"),
            format!("fuse-{number}"),
            format!("load-{number}"),
        );
        let when = self.condition();
        // Most loads are small; the few large ones lead the drops.
        let amperes = (0.1 + 3.0 * self.rng.f64() * self.rng.f64() * 10.0).round() / 10.0 + 0.1;
        let place = if self.rng.bool() { "port" } else { "starboard" };
        self.add(
            "circuits",
            json!({"id": circuit, "name": format!("Circuit {number}"),
            "function": "accessory-feed", "device": fuse, "switch": switch}),
        );
        self.add(
            "devices",
            json!({"id": fuse, "kind": "fuse", "family": "blade-medium",
            "fitted_in": {"block": format!("block-{section}"), "position": position},
            "rating_a": fuse_for(amperes), "rated_v": 32, "resistance_mohm": 8,
            "fitted_when": when}),
        );
        let mut record = json!({"id": load, "circuit": circuit, "stated_at_v": 12,
            "point": format!("{moulding}-{section}-{place}"), "inrush_a": amperes * 2.0,
            "inrush_ms": 50, "min_v": 8, "max_v": 16, "figure_from": "label",
            "drop_class": if self.rng.u8(0..3) == 0 { "critical" } else { "other" },
            "fitted_when": when});
        match self.rng.u8(0..3) {
            0 => record["current_a"] = json!(amperes),
            1 => record["power_w"] = json!(amperes * 12.0),
            _ => record["resistance_ohm"] = json!(12.0 / amperes),
        }
        let state = STATES[self.rng.usize(0..STATES.len())];
        if self.rng.bool() {
            record["runs_in"] = json!([{"state": state, "share": 0.5}]);
        }
        self.add("loads", record);
        (
            format!("block-{section}.{position}"),
            Consumer {
                id: load,
                amperes,
                when,
            },
        )
    }

    /// The next position on the DC negative bar of a section.
    fn bar(&mut self, section: usize) -> String {
        self.sections[section].returns += 1;
        format!("bar-{section}.{}", self.sections[section].returns)
    }

    /// A wire of the newest circuit. An end at a load or switch that some boats lack is capped.
    fn leg(&mut self, role: &str, amperes: f64, from: &str, to: &str, harness: &str, cap: &[&str]) {
        let color = if role == "return" { "black" } else { "orange" };
        let mut ends = [from, to].map(|end| {
            let equipment = end.split('.').next().unwrap_or_default();
            if cap.contains(&equipment) {
                capped(&format!("{harness}-0-trunk"))
            } else {
                json!({})
            }
        });
        for (end, pin) in ends.iter_mut().zip([from, to]) {
            if !(pin.starts_with("coupler") || pin.starts_with("plug") || pin.starts_with("splice"))
            {
                end["terminal"] = json!("ring-1");
            }
        }
        let [from_end, to_end] = ends;
        let circuit = format!("c{}", self.circuits);
        self.wire(
            json!({"circuit": circuit, "role": role, "size": size_for(amperes),
            "color": color, "from": from, "to": to, "harness": harness, "from_end": from_end,
            "to_end": to_end}),
        );
    }

    /// Fuse block, perhaps a switch, load, DC negative bar.
    fn direct(&mut self, section: usize, switched: bool) {
        let switch = format!("switch-{}", self.circuits + 1);
        let (live, load) = self.start(section, "hull", switched.then_some(switch.as_str()));
        let absent = [load.id.as_str(), switch.as_str()];
        let cap = if load.when.is_some() {
            &absent[..]
        } else {
            &[]
        };
        let mut from = live;
        if switched {
            self.add(
                "devices",
                json!({"id": switch, "kind": "switch", "rating_a": 20,
                "point": format!("hull-{section}-port"), "resistance_mohm": 5, "rated_v": 32,
                "fitted_when": load.when}),
            );
            self.leg(
                "feed",
                load.amperes,
                &from,
                &format!("{switch}.in"),
                "hull",
                cap,
            );
            from = format!("{switch}.out");
        }
        self.leg(
            "feed",
            load.amperes,
            &from,
            &format!("{}.plus", load.id),
            "hull",
            cap,
        );
        let bar = self.bar(section);
        self.leg(
            "return",
            load.amperes,
            &format!("{}.minus", load.id),
            &bar,
            "hull",
            cap,
        );
    }

    /// The load has a connector of its own.
    fn plugged(&mut self, section: usize) {
        let (live, load) = self.start(section, "hull", None);
        let plug = format!("plug-{}", self.circuits);
        let treated = load
            .when
            .is_some()
            .then(|| json!({"treatment": "capped", "part": "cap-2"}));
        self.add(
            "connectors",
            json!({"id": plug, "connector_type": "plug", "contacts": "socket",
            "harness": "hull", "point": format!("hull-{section}-port"), "when_unused": treated,
            "plugs_into": {"equipment": load.id, "pins": [{"cavity": 1, "pin": "plus"},
                {"cavity": 2, "pin": "minus"}]}}),
        );
        self.leg(
            "feed",
            load.amperes,
            &live,
            &format!("{plug}.1"),
            "hull",
            &[],
        );
        let bar = self.bar(section);
        self.leg(
            "return",
            load.amperes,
            &format!("{plug}.2"),
            &bar,
            "hull",
            &[],
        );
    }

    /// The load stands on the deck: feed and return pass a coupler.
    fn through_coupler(&mut self, section: usize) {
        let (live, load) = self.start(section, "deck", None);
        let absent = [load.id.as_str()];
        let cap = if load.when.is_some() {
            &absent[..]
        } else {
            &[]
        };
        let (coupler, cavity) = self.two_cavities(section);
        let pin = |half: &str, place: usize| format!("coupler-{coupler}-{half}.{}", cavity + place);
        let (plus, minus) = (format!("{}.plus", load.id), format!("{}.minus", load.id));
        self.leg("feed", load.amperes, &live, &pin("hull", 0), "hull", cap);
        self.leg("feed", load.amperes, &pin("deck", 0), &plus, "deck", cap);
        self.leg("return", load.amperes, &minus, &pin("deck", 1), "deck", cap);
        let bar = self.bar(section);
        self.leg("return", load.amperes, &pin("hull", 1), &bar, "hull", cap);
    }

    /// Two free cavities of the section's coupler, of a new one where it is full.
    fn two_cavities(&mut self, section: usize) -> (usize, usize) {
        let (coupler, cavity) = match self.sections[section].coupler {
            Some((coupler, cavity)) if cavity < CAVITIES => (coupler, cavity),
            _ => {
                self.couplers.push(section);
                (self.couplers.len(), 1)
            }
        };
        self.sections[section].coupler = Some((coupler, cavity + 2));
        if cavity == 1 {
            self.add(
                "couplers",
                json!({"id": format!("coupler-{coupler}"),
                "first": format!("coupler-{coupler}-hull"),
                "second": format!("coupler-{coupler}-deck"), "reached_by": "hatch"}),
            );
        }
        (coupler, cavity)
    }

    /// Two loads, each with its own fuse and feed, returned on one wire from a splice.
    fn shared_return(&mut self, section: usize) {
        let splice = format!("splice-{}", self.circuits + 1);
        self.add(
            "splices",
            json!({"id": splice, "kind": "parallel", "harness": "hull",
            "point": format!("hull-{section}-trunk"), "resistance_mohm": 0.3}),
        );
        let mut together = 0.0;
        for _ in 0..2 {
            let (live, load) = self.start(section, "hull", None);
            let absent = [load.id.as_str()];
            let cap = if load.when.is_some() {
                &absent[..]
            } else {
                &[]
            };
            together += load.amperes;
            let (plus, minus) = (format!("{}.plus", load.id), format!("{}.minus", load.id));
            self.leg("feed", load.amperes, &live, &plus, "hull", cap);
            self.leg(
                "return",
                load.amperes,
                &minus,
                &format!("{splice}.b"),
                "hull",
                cap,
            );
        }
        let bar = self.bar(section);
        self.leg(
            "return",
            together,
            &format!("{splice}.a"),
            &bar,
            "hull",
            &[],
        );
    }

    /// Blocks and bars as large as they came to be, coupler halves with their empty cavities.
    fn close(&mut self) {
        let sections = std::mem::take(&mut self.sections);
        let couplers = std::mem::take(&mut self.couplers);
        let mut filled = vec![CAVITIES; couplers.len() + 1];
        for (number, section) in sections.iter().enumerate() {
            let point = format!("hull-{number}-trunk");
            self.add(
                "buses",
                json!({"id": format!("block-{number}"), "kind": "fuse-block",
                "point": point, "positions": section.positions.max(1), "rating_a": 100}),
            );
            self.add(
                "buses",
                json!({"id": format!("bar-{number}"), "kind": "busbar",
                "point": point, "positions": section.returns, "rating_a": 100}),
            );
            if let Some((coupler, next)) = section.coupler {
                filled[coupler] = next - 1;
            }
        }
        for (coupler, section) in (1..).zip(couplers) {
            for (half, contacts) in [("hull", "socket"), ("deck", "pin")] {
                let free = (filled[coupler] + 1..=CAVITIES)
                    .map(|cavity| json!({"cavity": cavity, "holds": "plug"}));
                let free: Vec<_> = free.collect();
                let decided = if free.is_empty() {
                    Value::Null
                } else {
                    Value::Array(free)
                };
                self.add(
                    "connectors",
                    json!({"id": format!("coupler-{coupler}-{half}"),
                    "connector_type": "coupler", "contacts": contacts, "harness": half,
                    "point": format!("{half}-{section}-trunk"), "cavities": decided}),
                );
            }
        }
    }
}

fn option(number: usize) -> String {
    format!("option-{number}")
}
