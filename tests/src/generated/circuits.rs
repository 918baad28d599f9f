//! Circuits of five shapes: direct, switched, plugged, through a coupler, returned together.

use super::{Boat, CAVITIES, STATES};
use serde_json::{Value, json};

/// Current that each offered size carries with 3 % of 12 V lost over a section's length.
const SIZES: [(f64, &str); 5] = [
    (1.5, "16 AWG"),
    (3.0, "14 AWG"),
    (5.0, "12 AWG"),
    (8.0, "10 AWG"),
    (13.0, "8 AWG"),
];

/// A load and the condition it is fitted under.
struct Consumer {
    id: String,
    /// Current its wires are chosen for; that of one load in forty is misjudged.
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
    /// One or two more circuits of one of five shapes.
    pub(super) fn circuits_of(&mut self, section: usize) {
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
        let heavy = self.rng.u8(0..20) == 0;
        let amperes = if heavy {
            10.0
        } else {
            f64::from(self.rng.u8(1..=30)) / 10.0
        };
        let judged = if heavy && self.rng.bool() {
            amperes / 8.0
        } else {
            amperes
        };
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
            "interrupting_a": 1000, "rating_a": fuse_for(amperes), "rated_v": 32, "resistance_mohm": 8,
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
                amperes: judged,
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
}
