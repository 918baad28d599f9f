//! More terminals on one stud than the standards permit.

use crate::model::{BoatModel, BusKind, BusPin, Pin, RuleSet};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::tables::limits::{self, Limit};
use crate::working::{NotEvaluated, Status, Working};
use std::collections::BTreeMap;

/// The rule.
pub const TOO_MANY_TERMINALS_ON_STUD: Rule = Rule {
    code: "too_many_terminals_on_stud",
    title: "Too many terminals on a stud",
    subject: Subject::Joining,
    depends: Depends::Company,
    fault: "More terminals are stacked on one stud, screw or battery post than may be.",
    why: "A tall stack of eyes does not clamp evenly: it works loose, corrodes between the eyes \
          and heats up under load.",
    what_to_do: "Move wires to a busbar or to another position; the largest eye goes to the \
                 bottom.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.6.9, as quoted publicly",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "At most four terminals on one stud.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133",
            place: "10",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "At most four conductors on one terminal stud.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "Two wires on the stud that feeds the pump.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "post", "kind": "stud", "point": "at-fuse"}"#,
                ),
                ("wires/feed/from", r#""post.1""#),
                ("wires/main/to", r#""post.1""#),
            ],
            of: "stud post",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "Four terminals on one stud.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "post", "kind": "stud", "point": "at-fuse"}"#,
                ),
                ("wires/feed/from", r#""post.1""#),
                ("wires/main/to", r#""post.1""#),
                (
                    "wires/+",
                    r#"{"id": "third", "from": "post.1", "to": "pump.plus"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "fourth", "from": "post.1", "to": "pump.plus"}"#,
                ),
            ],
            of: "stud post",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "Five terminals on one stud.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "post", "kind": "stud", "point": "at-fuse"}"#,
                ),
                ("wires/feed/from", r#""post.1""#),
                ("wires/main/to", r#""post.1""#),
                (
                    "wires/+",
                    r#"{"id": "third", "from": "post.1", "to": "pump.plus"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "fourth", "from": "post.1", "to": "pump.plus"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "fifth", "from": "post.1", "to": "pump.plus"}"#,
                ),
            ],
            of: "stud post",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "on positions of a bar",
            given: "Five terminals on a bar, on two positions.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "bar", "kind": "busbar", "positions": 2, "point": "at-fuse"}"#,
                ),
                ("wires/feed/from", r#""bar.1""#),
                ("wires/main/to", r#""bar.1""#),
                (
                    "wires/+",
                    r#"{"id": "third", "from": "bar.1", "to": "pump.plus"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "fourth", "from": "bar.1", "to": "pump.plus"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "fifth", "from": "bar.2", "to": "pump.plus"}"#,
                ),
            ],
            of: "busbar bar",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "no rule set with a limit",
            given: "A boat held to the federal regulation alone, which has no such limit.",
            changes: &[("settings/rule_sets", r#"["us-federal"]"#)],
            of: "source battery",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let mut on_pin: BTreeMap<Pin, usize> = BTreeMap::new();
    let is_asked = |pin: &Pin| place(*pin).is_some_and(|place| facts.judges(place));
    for (_, wire) in facts.model.wires.iter() {
        let mut pins = [wire.from, wire.to].into_iter().filter(is_asked).peekable();
        // Whether it is fitted is asked last: of most wires nothing is asked.
        if pins.peek().is_some() && wire.fitted_when.holds(facts.boat) {
            pins.for_each(|pin| *on_pin.entry(pin).or_default() += 1);
        }
    }
    let mut fullest: BTreeMap<Place, (Pin, usize)> = BTreeMap::new();
    for (pin, count) in on_pin {
        let Some(place) = place(pin) else { continue };
        let known = fullest.entry(place).or_insert((pin, count));
        if count > known.1 {
            *known = (pin, count);
        }
    }
    fullest
        .into_iter()
        .flat_map(|(place, (pin, count))| findings(facts, place, pin, count))
        .collect()
}

/// What a terminal clamped on this pin is stacked on; `None` where nothing is stacked.
fn place(pin: Pin) -> Option<Place> {
    match pin {
        Pin::Source(source, _) => Some(Place::Source(source)),
        Pin::Device(device, _) => Some(Place::Device(device)),
        Pin::Bus(bus, _) => Some(Place::Bus(bus)),
        Pin::Cavity(..) | Pin::Splice(..) | Pin::Load(..) => None,
    }
}

/// Where the stack stands, in words.
fn stack_words(model: &BoatModel, pin: Pin) -> String {
    match pin {
        Pin::Bus(bus, BusPin::Position(_)) if model.buses[bus].kind == BusKind::Stud => {
            format!("stud {}", model.buses.id(bus))
        }
        pin => pin.label(model),
    }
}

/// One finding for all rule sets whose limits agree, else one for each.
fn findings(facts: &Facts<'_>, place: Place, pin: Pin, count: usize) -> Vec<Finding> {
    let code = TOO_MANY_TERMINALS_ON_STUD.code;
    let limits: Vec<_> = RuleSet::ALL
        .iter()
        .filter(|set| facts.applies(**set))
        .filter_map(|set| Some((*set, limits::number(Limit::TerminalsPerStud, *set)?)))
        .collect();
    let Some((_, first)) = limits.first() else {
        let why = "no rule set of this model limits the terminals on a stud; 4 is usual";
        return vec![Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        )];
    };
    let agree = limits.iter().all(|(_, limit)| limit.value == first.value);
    let kept = if agree { &limits[..1] } else { &limits[..] };
    kept.iter()
        .map(|(set, limit)| {
            let mut working = Working::new();
            working.step(
                "terminals on the fullest place of this boat",
                "",
                format!("wire ends on {}", pin.label(facts.model)),
                count.to_string(),
                None,
            );
            working.step(
                "limit",
                "",
                "on one stud",
                limit.value.to_string(),
                Some(&limit.source),
            );
            let stack = stack_words(facts.model, pin);
            let over = count as f64 - limit.value;
            Finding {
                rule: code,
                place,
                rule_set: (!agree).then_some(*set),
                state: None,
                outcome: Outcome::met(over <= 0.0),
                value: Some(Quantity::new(count as f64, "")),
                limit: Some(Quantity::new(limit.value, "")),
                message: format!("Terminals on {stack}: {count}, limit {}.", limit.value),
                next_step: if over <= 0.0 {
                    String::new()
                } else {
                    format!(
                        "Move wires from {stack} to another position or a busbar, {over} at least."
                    )
                },
                working: working.into(),
                cured_by: None,
            }
        })
        .collect()
}
