//! Drawn boats with what few boats have: a second bank on a common minus, large loads of which one
//! is fitted, devices that open, jackets round wires of several options, one stud for many wires.

use super::drawn;
use serde_json::{Value, json};

/// One boat model as saved.
pub(super) fn varied(seed: u64) -> Value {
    let mut boat = drawn::drawn(seed);
    let mut rng = fastrand::Rng::with_seed(seed ^ 0xb0a7);
    let ring = json!({"terminal": "ring"});
    let add = |boat: &mut Value, list: &str, thing: Value| {
        boat[list].as_array_mut().expect("a list").push(thing);
    };
    let wire = |boat: &mut Value, id: &str, (from, to): (&str, &str), size: &str, more: Value| {
        let mut wire = json!({"id": id, "from": from, "to": to, "size": size, "enclosed": false,
            "from_end": ring, "to_end": ring});
        for (field, value) in more.as_object().into_iter().flatten() {
            wire[field] = value.clone();
        }
        add(boat, "wires", wire);
    };
    let options = boat["options"].as_array().map_or(0, Vec::len);
    let option = |rng: &mut fastrand::Rng| json!(format!("o{}", rng.usize(..options)));

    // A bank of its own aft, whose loads come back to the same minus: at the panel, or past it
    // against what comes back from the fore panel.
    let common = ["panel-minus.6", "fore-minus.6"][rng.usize(..2)];
    add(
        &mut boat,
        "sources",
        json!({"id": "start", "kind": "battery", "point": "at-aft", "nominal_v": 12.0,
            "low_v": 11.0, "internal_ohm": 0.01, "cranking_a": 600.0, "max_a": 3.0}),
    );
    add(
        &mut boat,
        "buses",
        json!({"id": "post", "kind": "stud", "point": "at-aft"}),
    );
    wire(
        &mut boat,
        "sp",
        ("start.plus", "post.1"),
        "8 AWG",
        json!({}),
    );
    wire(&mut boat, "sm", (common, "start.minus"), "8 AWG", json!({}));
    for number in 0..4 {
        let (id, when) = (format!("s{number}"), option(&mut rng));
        let mut load = json!({"id": id, "point": "at-aft", "drop_class": "other", "min_v": 9.5,
            "runs_in": [{"state": "day", "share": 1.0}, {"state": "night", "share": 1.0}],
            "fitted_when": when});
        load["current_a"] = json!(0.5 + 2.0 * rng.f64());
        add(&mut boat, "loads", load);
        let mut device = json!({"id": format!("g{number}"), "kind": "fuse",
            "family": "blade-medium", "point": "at-aft", "rating_a": 3.0, "rated_v": 32.0,
            "interrupting_a": 1000.0, "resistance_mohm": 2.0, "fitted_when": when});
        if rng.bool() {
            device["open_in"] = json!([if rng.bool() { "day" } else { "night" }]);
        }
        add(&mut boat, "devices", device);
        let fitted = json!({"fitted_when": when});
        let (device, plus, minus) = (
            format!("g{number}"),
            format!("s{number}.plus"),
            format!("s{number}.minus"),
        );
        wire(
            &mut boat,
            &format!("sa{number}"),
            ("post.1", &format!("{device}.in")),
            "14 AWG",
            fitted.clone(),
        );
        wire(
            &mut boat,
            &format!("sb{number}"),
            (&format!("{device}.out"), &plus),
            "14 AWG",
            fitted.clone(),
        );
        wire(
            &mut boat,
            &format!("sc{number}"),
            (&minus, "panel-minus.1"),
            "14 AWG",
            fitted,
        );
    }

    // Three large loads on a thin trunk, one of which is fitted: together they would be too much.
    let mut large = Vec::new();
    for number in 0..3 {
        let id = format!("h{number}");
        add(&mut boat, "options", json!({"id": id}));
        large.push(json!(id));
        let mut load = json!({"id": format!("large-{number}"), "point": "at-fore",
            "drop_class": "other", "min_v": 5.0, "fitted_when": id,
            "runs_in": [{"state": "day", "share": 1.0}]});
        match number {
            0 => load["current_a"] = json!(20.0 + 20.0 * rng.f64()),
            _ => load["power_w"] = json!(150.0 + 100.0 * rng.f64()),
        }
        add(&mut boat, "loads", load);
        let minus = format!("large-{number}.minus");
        let plus = format!("large-{number}.plus");
        let fitted = json!({"fitted_when": id});
        wire(
            &mut boat,
            &format!("ha{number}"),
            ("end.1", &plus),
            "10 AWG",
            fitted.clone(),
        );
        wire(
            &mut boat,
            &format!("hb{number}"),
            (&minus, "fore-minus.2"),
            "10 AWG",
            fitted,
        );
    }
    add(
        &mut boat,
        "buses",
        json!({"id": "end", "kind": "stud", "point": "at-fore"}),
    );
    wire(
        &mut boat,
        "trunk",
        ("panel-plus.3", "end.1"),
        "16 AWG",
        json!({}),
    );
    let rule = match rng.bool() {
        true => json!({"exactly_one_of": large}),
        false => json!({"at_most_one_of": large}),
    };
    add(&mut boat, "option_rules", rule);

    // Jackets, with and without a stated diameter.
    let mut cables = vec![json!({"id": "loose"}), json!({"id": "round"})];
    cables[1]["outside_diameter_mm"] = json!(6.0 + 3.0 * rng.f64());
    boat["cables"] = json!(cables);
    for wire in boat["wires"].as_array_mut().into_iter().flatten() {
        match rng.u8(..8) {
            0 => wire["cable"] = json!("loose"),
            1..3 => wire["cable"] = json!("round"),
            _ => {}
        }
    }
    boat
}
