//! A live wire that no fuse or breaker opens.

use super::walk::{Upstream, Walk};
use crate::model::{Device, Identified, Index, Role, RuleSet, SourceKind, Wire};
use crate::network::assembly::Part;
use crate::rules::ampacity::allowance::{Allowances, is_starting};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status, significant};
use std::collections::BTreeSet;

/// The rule.
pub const DEVICE_MISSING: Rule = Rule {
    code: "device_missing",
    title: "No fuse or breaker",
    subject: Subject::Protection,
    depends: Depends::Company,
    fault: "Some source feeds this wire through nothing that opens on too much current.",
    why: "A chafed wire then glows along its whole length: this is how wiring burns a boat.",
    what_to_do: "Put a fuse or breaker between the source and the wire, as near to the source as \
                 can be, rated for the thinnest conductor behind it.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.455",
            place: "(a); exemptions (e)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Each ungrounded current-carrying conductor is protected by a fuse or a \
                   trip-free breaker. Cranking conductors are exempt (exemptions from memory); \
                   those for circuits under 1 A and short pigtails are not taken.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public excerpts)",
            place: "11.10.1.1.1, exceptions 1 and 11.12.1.1",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "A device where the conductor leaves its source of power. Cranking conductors \
                   are exempt, and so is the output of a self-limiting alternator or charger.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133 / ISO 13297",
            place: "8.1; 12.3 of ISO 13297:2020",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "A fuse or trip-free breaker near the source; self-limiting charging sources \
                   are exempt (12.3, sourced).",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "The feed behind the fuse.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "leads to a device",
            given: "The short wire from the battery to the fuse: its length is another rule's.",
            changes: &[],
            of: "wire main",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "no device",
            given: "A switch stands where the fuse was.",
            changes: &[("devices/fuse/kind", "\"switch\"")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "fuse passed by",
            given: "A second wire leads from the battery straight to the pump.",
            changes: &[(
                "wires/+",
                r#"{"id": "by-pass", "from": "battery.plus", "to": "pump.plus", "size": "12 AWG"}"#,
            )],
            of: "wire by-pass",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "cranking conductor",
            given: "No device, in a starting circuit: exempt.",
            changes: &[
                ("devices/fuse/kind", "\"switch\""),
                ("circuits/C1/function", "\"starting\""),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "self-limiting source",
            given: "No device behind a charger that limits itself.",
            changes: &[
                ("devices/fuse/kind", "\"switch\""),
                ("sources/battery/kind", "\"charger\""),
                ("sources/battery/self_limiting", "true"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "No device behind a charger that does not state whether it limits itself.",
            changes: &[
                ("devices/fuse/kind", "\"switch\""),
                ("sources/battery/kind", "\"charger\""),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "return",
            given: "The grounded return is not asked for a device.",
            changes: &[],
            of: "wire return",
            rule_set: None,
            expected: "nothing",
        },
    ],
    judge,
};

/// What the sources say together of one wire.
enum Verdict {
    Missing(usize),
    Unknown(usize),
    Protected(BTreeSet<Index<Device>>),
    LeadsToDevice,
    OnlySelfLimiting,
    Dead,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let walks = facts.walks.of(facts);
    let mut allowances = Allowances::of(facts);
    facts
        .judged_wires()
        .filter_map(|(wire, stated)| {
            let verdict = verdict(facts, walks, wire);
            if matches!(verdict, Verdict::Dead) && stated.role != Some(Role::Feed) {
                return None;
            }
            let is_met = matches!(verdict, Verdict::Protected(_) | Verdict::LeadsToDevice);
            let limit = (DEVICE_MISSING.code, Place::Wire(wire), None);
            if is_met && !facts.wants_met(limit) {
                return None;
            }
            Some(finding(facts, walks, &mut allowances, wire, verdict))
        })
        .collect()
}

fn verdict(facts: &Facts<'_>, walks: &[Walk], wire: Index<Wire>) -> Verdict {
    let Some(number) = facts.assembly.branch(Part::Wire(wire)) else {
        return Verdict::Dead;
    };
    let branch = &facts.assembly.branches[number];
    let mut verdict = Verdict::Dead;
    let mut devices = BTreeSet::new();
    let mut unknown = None;
    for (number, walk) in walks.iter().enumerate() {
        let source = &facts.model.sources[walk.source];
        match walk.upstream(branch) {
            None => {}
            Some(_) if source.self_limiting == Some(true) => {
                if matches!(verdict, Verdict::Dead) {
                    verdict = Verdict::OnlySelfLimiting;
                }
            }
            Some(Upstream::Device(device)) => {
                devices.insert(device);
            }
            Some(Upstream::LeadsToDevice) => verdict = Verdict::LeadsToDevice,
            Some(Upstream::Nothing) => {
                let may_limit = matches!(
                    source.kind,
                    Some(SourceKind::Alternator | SourceKind::Charger)
                );
                if !may_limit || source.self_limiting == Some(false) {
                    return Verdict::Missing(number);
                }
                unknown = Some(Verdict::Unknown(number));
            }
        }
    }
    match (unknown, verdict) {
        (Some(unknown), _) => unknown,
        (None, Verdict::Dead | Verdict::OnlySelfLimiting) if !devices.is_empty() => {
            Verdict::Protected(devices)
        }
        (None, verdict) => verdict,
    }
}

fn finding(
    facts: &Facts<'_>,
    walks: &[Walk],
    allowances: &mut Allowances<'_, '_>,
    wire: Index<Wire>,
    verdict: Verdict,
) -> Finding {
    let code = DEVICE_MISSING.code;
    let place = Place::Wire(wire);
    let id = facts.model.wires[wire].id();
    let source = |number: usize| {
        let source = walks[number].source;
        Place::Source(source).title(facts.model)
    };
    let met = |message: String| Finding::judged(code, place, true, message, "");
    match verdict {
        Verdict::Missing(_) | Verdict::Unknown(_) if is_starting(facts, wire) => met(format!(
            "Wire {id} has no device before it and belongs to a starting circuit: conductors of \
             the cranking motor are exempt."
        )),
        Verdict::Missing(number) => {
            let source = source(number);
            let message = format!(
                "{source} feeds wire {id}, and no fuse or breaker stands on the way or behind it."
            );
            let rating = facts
                .model
                .settings
                .rule_sets
                .iter()
                .filter_map(|&set| allowances.allowance(wire, set).ok())
                .map(|allowance| allowance.greatest.value.value())
                .reduce(f64::min)
                .map_or_else(String::new, |least| {
                    format!(", of at most {} A for this wire", significant(least, 3))
                });
            let next_step = format!("Put a fuse or breaker at {source}, before wire {id}{rating}.");
            Finding::judged(code, place, false, message, next_step)
        }
        Verdict::Unknown(number) => {
            let why = format!(
                "no device stands between {} and it, and the source does not state whether it \
                 limits its own current",
                source(number)
            );
            Finding::not_evaluated(code, place, NotEvaluated::because(why))
        }
        Verdict::Protected(devices) => {
            let names: Vec<_> = devices
                .iter()
                .map(|device| Place::Device(*device).label(facts.model))
                .collect();
            met(format!("Wire {id} is opened by {}.", names.join(", ")))
        }
        Verdict::LeadsToDevice => met(format!(
            "Wire {id} leads from a source to its first device; how long it may be is judged at \
             the device."
        )),
        Verdict::OnlySelfLimiting => met(format!(
            "Wire {id} is fed by sources only that limit their own current."
        )),
        Verdict::Dead if walks.is_empty() => {
            let why = "no source is stated on this boat";
            Finding::not_evaluated(code, place, NotEvaluated::because(why))
        }
        Verdict::Dead => met(format!(
            "No source leads to wire {id} on this boat: it is dead."
        )),
    }
}
