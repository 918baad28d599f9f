//! Zones, points, runs, banks and feeders.

use super::{BANK_SECTIONS, Boat, SECTION_MM, Section};
use serde_json::json;

impl Boat {
    pub(super) fn places(&mut self, sections: usize) {
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
                    "ambient_degc": if engine { 50 } else { 30 }, "engine_space": engine, "fuel_vapor": false,
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

    pub(super) fn run(&mut self, from: &str, to: &str) {
        self.add(
            "runs",
            json!({"id": format!("{from}--{to}"), "from": from, "to": to,
            "fixing": "clipped", "support_spacing_mm": 400}),
        );
    }

    /// Banks, main blocks, and the feeder of each section.
    pub(super) fn supply(&mut self, sections: usize) {
        for bank in 0..sections.div_ceil(BANK_SECTIONS) {
            let point = format!("hull-{}-starboard", bank * BANK_SECTIONS);
            let circuit = format!("bank-{bank}");
            let (battery, fuse) = (format!("battery-{bank}"), format!("main-fuse-{bank}"));
            self.add(
                "circuits",
                json!({"id": circuit, "name": circuit, "function": "main-feed", "device": fuse}),
            );
            self.add(
                "sources",
                json!({"id": battery, "kind": "battery", "point": point,
                "nominal_v": 12, "low_v": 11, "internal_ohm": 0.004, "cranking_a": 600, "max_a": 600}),
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
                "point": point, "positions": BANK_SECTIONS, "rating_a": 300, "stud_mm": 5}),
            );
            self.add(
                "buses",
                json!({"id": format!("negative-{bank}"), "kind": "busbar",
                "point": point, "positions": BANK_SECTIONS + 3, "rating_a": 300, "stud_mm": 5}),
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
                json!({"id": circuit, "name": circuit, "function": "main-feed", "device": fuse}),
            );
            self.add(
                "devices",
                json!({"id": fuse, "kind": "fuse", "family": "bolt-in-small",
                "fitted_in": {"block": format!("main-{bank}"), "position": position},
                "rating_a": 80, "interrupting_a": 2000, "rated_v": 32, "resistance_mohm": 0.5}),
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

    pub(super) fn cable(&mut self, circuit: &str, role: &str, size: &str, from: &str, to: &str) {
        let color = if role == "return" { "black" } else { "red" };
        self.wire(
            json!({"circuit": circuit, "role": role, "size": size, "color": color,
            "from": from, "to": to, "harness": "hull", "from_end": {"terminal": "ring-1"},
            "to_end": {"terminal": "ring-1"}}),
        );
    }
}
