//! A boat of one circuit on which the cases of the rules are run.
//!
//! A battery and a fuse at the stern, a pump at the bow, feed and return of 12 AWG along a run of
//! 5 m. No slack, no resistance but that of the wires, so that a case can be checked by hand.

use super::{Case, Finding, Rule};
use crate::file_format;
use crate::model::BoatModel;
use crate::study::{BoatChoice, Study};
use serde_json::{Value, json};

/// The boat as saved. `battery.plus -> main (0.1 m) -> fuse -> feed (5 m) -> pump -> return`.
fn one_pump() -> Value {
    let end = json!({"terminal": "ring"});
    let wire = |id: &str, from: &str, to: &str, role: &str, color: &str| {
        json!({
            "id": id, "from": from, "to": to, "role": role, "color": color, "size": "12 AWG",
            "circuit": "C1", "enclosed": false, "from_end": end, "to_end": end,
        })
    };
    json!({
        "format_version": 1,
        "name": "Test boat",
        "settings": {
            "rule_sets": ["us-federal", "us-voluntary"],
            "insulation_degc": 105.0, "slack_share": 0.0, "cut_step_mm": 1.0,
            "contact_resistance_mohm": 0.0,
        },
        "zones": [
            {"id": "stern", "engine_space": false, "fuel_vapor": false, "ambient_degc": 30.0},
            {"id": "bow", "engine_space": false, "fuel_vapor": false, "ambient_degc": 30.0},
        ],
        "points": [
            {"id": "at-battery", "zone": "stern"},
            {"id": "at-fuse", "zone": "stern"},
            {"id": "at-pump", "zone": "bow"},
        ],
        "runs": [
            {"id": "stub", "from": "at-battery", "to": "at-fuse", "length_m": 0.1, "zone": "stern"},
            {"id": "side", "from": "at-fuse", "to": "at-pump", "length_m": 5.0, "zone": "bow",
             "fixing": "clipped", "support_spacing_mm": 400.0},
        ],
        "terminal_parts": [
            {"id": "ring", "kind": "ring", "entry_mm": 0.0, "stud_mm": 5.0,
             "min_mm2": 0.5, "max_mm2": 100.0},
        ],
        "sources": [{
            "id": "battery", "kind": "battery", "point": "at-battery", "nominal_v": 12.0,
            "running_v": 13.8, "rested_v": 12.6, "low_v": 11.0, "internal_ohm": 0.0,
            "cranking_a": 600.0, "max_a": 600.0,
        }],
        "devices": [{
            "id": "fuse", "kind": "fuse", "family": "blade-medium", "point": "at-fuse",
            "rating_a": 15.0, "rated_v": 32.0, "interrupting_a": 2000.0, "resistance_mohm": 0.0,
        }],
        "loads": [{
            "id": "pump", "point": "at-pump", "circuit": "C1", "current_a": 5.0, "min_v": 9.0,
            "drop_class": "other",
        }],
        "circuits": [{"id": "C1", "function": "pump", "device": "fuse"}],
        "wires": [
            wire("main", "battery.plus", "fuse.in", "feed", "red"),
            wire("feed", "fuse.out", "pump.plus", "feed", "brown"),
            wire("return", "pump.minus", "battery.minus", "return", "black"),
        ],
    })
}

/// The test boat with changes: `wires/feed/size` is the size of the wire `feed`, `wires/+` one
/// more wire, `settings/insulation_degc` a setting; the value is JSON, `null` takes it away.
pub(crate) fn model(changes: &[(&str, &str)]) -> BoatModel {
    let mut boat = one_pump();
    for (place, value) in changes {
        let value: Value = serde_json::from_str(value)
            .unwrap_or_else(|error| panic!("{place}: {value} is no JSON: {error}"));
        change(&mut boat, place, value);
    }
    file_format::read(&boat.to_string()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn change(at: &mut Value, place: &str, value: Value) {
    let (step, rest) = place
        .split_once('/')
        .map_or((place, None), |(step, rest)| (step, Some(rest)));
    match (at, rest) {
        (Value::Array(items), None) if step == "+" => items.push(value),
        (Value::Array(items), rest) => {
            let found = items.iter().position(|item| item["id"] == step);
            let found = found.unwrap_or_else(|| panic!("nothing is called {step}"));
            match rest {
                Some(rest) => change(&mut items[found], rest, value),
                None => drop(items.remove(found)),
            }
        }
        (Value::Object(fields), None) if value.is_null() => drop(fields.remove(step)),
        (Value::Object(fields), None) => drop(fields.insert(step.to_owned(), value)),
        (Value::Object(fields), Some(rest)) => {
            let empty = if rest == "+" { json!([]) } else { json!({}) };
            change(fields.entry(step).or_insert(empty), rest, value);
        }
        (other, _) => panic!("{place} leads into {other}"),
    }
}

/// The test boat with changes, routed, solved and judged.
pub(crate) fn study(changes: &[(&str, &str)]) -> Study {
    Study::of(model(changes), BoatChoice::Fullest).unwrap_or_else(|none| panic!("{none}"))
}

/// What a rule says of the test boat with changes.
pub(crate) fn findings(rule: &Rule, changes: &[(&str, &str)]) -> Vec<Finding> {
    let study = study(changes);
    (rule.judge)(&study.facts())
}

/// The one thing a rule says of a place, named as `wire feed`.
pub(crate) fn finding(rule: &Rule, changes: &[(&str, &str)], place: &str) -> Finding {
    let study = study(changes);
    let mut found = (rule.judge)(&study.facts());
    found.retain(|finding| finding.place.label(&study.model) == place);
    assert_eq!(found.len(), 1, "{} of {place}: {found:#?}", rule.code);
    found.remove(0)
}

/// Runs one case of a rule as it is printed on the rule's page; what is wrong, if anything.
pub(crate) fn fault(rule: &Rule, case: &Case) -> Option<String> {
    let study = study(case.changes);
    let found = (rule.judge)(&study.facts());
    let here: Vec<_> = found
        .iter()
        .filter(|finding| finding.place.label(&study.model) == case.of)
        .filter(|finding| case.rule_set.is_none() || finding.rule_set == case.rule_set)
        .collect();
    let words: Vec<_> = here.iter().map(|finding| finding.outcome.word()).collect();
    let expected = words.iter().all(|word| *word == case.expected)
        && words.is_empty() == (case.expected == "nothing");
    let told = here.iter().all(|finding| {
        finding.rule == rule.code
            && !finding.message.is_empty()
            && finding.fails() != finding.next_step.is_empty()
    });
    (!expected || !told).then(|| {
        let messages: Vec<_> = found
            .iter()
            .map(|finding| {
                let place = finding.place.label(&study.model);
                format!(
                    "  {place} {:?} {}: {} -> {}",
                    finding.rule_set,
                    finding.outcome.word(),
                    finding.message,
                    finding.next_step
                )
            })
            .collect();
        format!(
            "{}, \"{}\": {} should be {}\n{}",
            rule.code,
            case.name,
            case.of,
            case.expected,
            messages.join("\n")
        )
    })
}
