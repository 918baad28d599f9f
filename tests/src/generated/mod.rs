//! Boat models of any size, for benchmarks and property tests.
//!
//! Every model has the structure of a real one: a chain of zones with a trunk, banks with a main
//! fuse block, a fuse block and a DC negative bar in each section, circuits that are switched,
//! plugged, passed to the deck through couplers or returned on a shared wire, all three load
//! kinds, and options with rules and conditions. Same arguments, same model.

mod options;
mod places;
mod circuits;

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
            json!({"id": "ring-1", "kind": "ring", "stud_mm": 5, "min_mm2": 0.5,
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
                "point": point, "positions": section.positions.max(1), "rating_a": 100, "stud_mm": 5}),
            );
            self.add(
                "buses",
                json!({"id": format!("bar-{number}"), "kind": "busbar",
                "point": point, "positions": section.returns, "rating_a": 100, "stud_mm": 5}),
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
