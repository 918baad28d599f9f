//! Options, their rules, and conditions on them.

use super::Boat;
use serde_json::{Value, json};

/// Options of one area of the boat.
const AREA: usize = 4;

impl Boat {
    /// Options and rules that at least one boat satisfies: options ask only for earlier ones.
    pub(super) fn option_list(&mut self) {
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

    /// A condition of any form, or none. Equipment hangs on options of one area of the boat, so
    /// two options of a condition are of the same four.
    pub(super) fn condition(&mut self) -> Option<Value> {
        if self.options == 0 {
            return None;
        }
        let first = self.rng.usize(0..self.options);
        let area = first / AREA * AREA;
        let second = self.rng.usize(area..self.options.min(area + AREA));
        let (one, other) = (option(first), option(second));
        match self.rng.u8(0..10) {
            0..=3 => None,
            4..=6 => Some(json!(one)),
            7 => Some(json!({"any": [one, other]})),
            8 => Some(json!({"all": [one, {"not": other}]})),
            _ => Some(json!({"not": one})),
        }
    }
}

fn option(number: usize) -> String {
    format!("option-{number}")
}
