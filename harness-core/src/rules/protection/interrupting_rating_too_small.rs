//! A fuse or breaker cannot break the current of a dead short.

use super::walk::{Walk, walks};
use crate::model::{Device, DeviceKind, Family, Identified, Index, RuleSet, Source, SourceKind};
use crate::network::assembly::Part;
use crate::rules::{Case, Citation, Facts, Finding, Place, Relation, Rule, Subject};
use crate::tables::protection::{
    self, PlaceInCircuit, interrupting_rating, interrupting_rating_needed,
};
use crate::units::{Amperes, Ohms, Volts};
use crate::working::{Cited, NotEvaluated, Status, Working, significant};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeSet;

/// The rule.
pub const INTERRUPTING_RATING_TOO_SMALL: Rule = Rule {
    code: "interrupting_rating_too_small",
    title: "Cannot break a short",
    subject: Subject::Protection,
    fault: "The batteries can drive more current through a short behind this device than it can \
            break.",
    why: "The arc goes on inside the device: it bursts, or welds shut and protects nothing.",
    what_to_do: "Use a device of a higher interrupting rating next to the battery; small fuses \
                 stand behind it.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (reprint)",
            place: "table of d.c. breaker interrupting capacity",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "By total cold cranking current and voltage: 1500, 3000 or 5000 A for the first \
                   device, half of it for those behind. The table speaks of breakers; fuses are \
                   held to it too. 32 V rows from memory.",
        },
        Citation {
            rule_set: None,
            document: "Ohm's law",
            place: "short at the posts of the source",
            status: Status::Computed,
            relation: Relation::DerivedFrom,
            says: "Where the table does not apply: the highest stated volts over the internal \
                   resistance, wires left out, so never too low.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "A first device that breaks 2000 A on 600 A of cranking current: 1500 A asked.",
            changes: &[],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "The same with 1500 A.",
            changes: &[("devices/fuse/interrupting_a", "1500.0")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "just under",
            given: "The same with 1499 A.",
            changes: &[("devices/fuse/interrupting_a", "1499.0")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "larger battery",
            given: "2000 A on 651 A of cranking current: 3000 A asked.",
            changes: &[("sources/battery/cranking_a", "651.0")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "usual rating of the family",
            given: "A blade fuse that states none: usually 1000 A.",
            changes: &[("devices/fuse/interrupting_a", "null")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "computed, exactly at",
            given: "13.8 V running over 0.01 ohm inside the battery: 1380 A.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("sources/battery/internal_ohm", "0.01"),
                ("devices/fuse/interrupting_a", "1380.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "computed, just under",
            given: "The same with 1379 A.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("sources/battery/internal_ohm", "0.01"),
                ("devices/fuse/interrupting_a", "1379.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "device unknown",
            given: "Neither interrupting rating nor family.",
            changes: &[
                ("devices/fuse/interrupting_a", "null"),
                ("devices/fuse/family", "null"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "battery unknown",
            given: "Neither cranking current nor internal resistance.",
            changes: &[
                ("sources/battery/cranking_a", "null"),
                ("sources/battery/internal_ohm", "null"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// What a device must be able to break.
struct Asked {
    current: Amperes,
    rule_set: Option<RuleSet>,
    working: Working,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let walks = walks(facts);
    let first: BTreeSet<Index<Device>> = walks
        .iter()
        .filter(|walk| is_battery(facts, walk.source))
        .flat_map(|walk| walk.first_devices(facts))
        .map(|first| first.device)
        .collect();
    let systems = systems(facts);
    let mut findings = Vec::new();
    for branch in &facts.assembly.branches {
        let Part::Device(device) = branch.part else {
            continue;
        };
        if !facts.model.devices[device].protects() {
            continue;
        }
        let batteries: Vec<_> = facts
            .assembly
            .sources
            .iter()
            .filter(|&&(source, _, plus)| {
                is_battery(facts, source) && systems[plus] == systems[branch.from]
            })
            .map(|(source, ..)| *source)
            .collect();
        let place = if first.contains(&device) {
            PlaceInCircuit::First
        } else {
            PlaceInCircuit::Branch
        };
        let reached = walks
            .iter()
            .any(|walk: &Walk| walk.reaches_device(facts, device));
        if reached && !batteries.is_empty() {
            findings.push(finding(facts, device, &batteries, place));
        } else {
            findings.push(no_battery(facts, device));
        }
    }
    findings
}

/// A source that states no kind is taken for a battery: the stricter reading.
fn is_battery(facts: &Facts<'_>, source: Index<Source>) -> bool {
    matches!(
        facts.model.sources[source].kind,
        Some(SourceKind::Battery) | None
    )
}

/// Nodes that closed devices and wires join, whatever the state.
fn systems(facts: &Facts<'_>) -> Vec<usize> {
    let mut joined = UnionFind::new(facts.assembly.node_count());
    for branch in &facts.assembly.branches {
        joined.union(branch.from, branch.to);
    }
    joined.into_labeling()
}

fn no_battery(facts: &Facts<'_>, device: Index<Device>) -> Finding {
    let place = Place::Device(device);
    let message = format!(
        "No battery leads to {} on this boat.",
        place.label(facts.model)
    );
    Finding::judged(INTERRUPTING_RATING_TOO_SMALL.code, place, true, message, "")
}

fn finding(
    facts: &Facts<'_>,
    device: Index<Device>,
    batteries: &[Index<Source>],
    place_in_circuit: PlaceInCircuit,
) -> Finding {
    let code = INTERRUPTING_RATING_TOO_SMALL.code;
    let place = Place::Device(device);
    let stated = &facts.model.devices[device];
    let asked = match asked(facts, batteries, place_in_circuit) {
        Ok(asked) => asked,
        Err(why) => return Finding::not_evaluated(code, place, why),
    };
    let family = match stated.kind {
        DeviceKind::Breaker => Some(Family::Breaker),
        _ => stated.family,
    };
    let usual = family.and_then(interrupting_rating);
    let (rating, source) = match (stated.interrupting, usual) {
        (Some(rating), _) => (rating, None),
        (None, Some(Cited { value, source })) => (value, Some(source)),
        (None, None) => {
            let why = "the device states no interrupting rating, and none is usual for its family";
            return Finding::not_evaluated(code, place, NotEvaluated::because(why));
        }
    };
    let amperes = |value: Amperes| significant(value.value(), 4);
    let message = format!(
        "{} breaks up to {} A; {} A are asked of it.",
        place.label(facts.model),
        amperes(rating),
        amperes(asked.current),
    );
    let next_step = next_step(asked.current, place_in_circuit);
    let mut working = asked.working;
    working.step(
        "interrupting rating of the device",
        "",
        source
            .as_ref()
            .map_or("as stated", |_| "usual for its family"),
        format!("{} A", amperes(rating)),
        source.as_ref(),
    );
    let mut found = Finding::judged(code, place, rating >= asked.current, message, next_step)
        .measured(rating.value(), asked.current.value(), "A")
        .shown(working);
    found.rule_set = asked.rule_set;
    found
}

fn asked(
    facts: &Facts<'_>,
    batteries: &[Index<Source>],
    place: PlaceInCircuit,
) -> Result<Asked, NotEvaluated> {
    let stated = |source: &Index<Source>| &facts.model.sources[*source];
    let cranking: Option<Amperes> = batteries.iter().map(|at| stated(at).cranking).sum();
    let nominal: Option<Vec<Volts>> = batteries.iter().map(|at| stated(at).nominal).collect();
    let nominal = nominal.map(|each| each.into_iter().fold(Volts::ZERO, Volts::max));
    if let (true, Some(cranking), Some(nominal)) =
        (facts.applies(RuleSet::UsVoluntary), cranking, nominal)
        && let Some(needed) = interrupting_rating_needed(nominal, cranking, place)
    {
        let mut working = Working::new();
        working.step(
            "interrupting rating asked",
            "",
            format!(
                "{nominal}, {} A of cranking current, {}",
                significant(cranking.value(), 5),
                match place {
                    PlaceInCircuit::First => "first device",
                    PlaceInCircuit::Branch => "behind another device",
                }
            ),
            needed.value.to_string(),
            Some(&needed.source),
        );
        return Ok(Asked {
            current: needed.value,
            rule_set: Some(RuleSet::UsVoluntary),
            working,
        });
    }
    short_at_the_posts(facts, batteries)
}

fn short_at_the_posts(
    facts: &Facts<'_>,
    batteries: &[Index<Source>],
) -> Result<Asked, NotEvaluated> {
    let mut working = Working::new();
    let mut current = Amperes::ZERO;
    for &battery in batteries {
        let stated = &facts.model.sources[battery];
        let volts = [stated.nominal, stated.running, stated.rested];
        let volts = volts.into_iter().flatten().fold(Volts::ZERO, Volts::max);
        let internal = stated.internal.filter(|internal| *internal > Ohms::ZERO);
        let (Some(internal), true) = (internal, volts > Volts::ZERO) else {
            return Err(NotEvaluated::because(format!(
                "source {} states neither a cranking current that the table of the voluntary \
                 standard takes, nor volts and an internal resistance above none",
                stated.id()
            )));
        };
        let one = volts / internal;
        working.step(
            format!("short at the posts of {}", stated.id()),
            "I = V / R internal",
            format!("{volts} / {internal}"),
            format!("{} A", significant(one.value(), 4)),
            Some(&INTERRUPTING_RATING_TOO_SMALL.citations[1].source()),
        );
        current += one;
    }
    Ok(Asked {
        current,
        rule_set: None,
        working,
    })
}

fn next_step(asked: Amperes, place: PlaceInCircuit) -> String {
    let family = Family::ALL.iter().find_map(|&family| {
        let rating = interrupting_rating(family).filter(|rating| rating.value >= asked)?;
        Some(format!(
            ", such as a {} (usually {})",
            protection::title(family),
            rating.value
        ))
    });
    let behind = match place {
        PlaceInCircuit::First => "",
        PlaceInCircuit::Branch => "; the device before it does not lessen what is asked here",
    };
    format!(
        "Use a device that breaks at least {} A{}{behind}.",
        significant(asked.value(), 4),
        family.unwrap_or_default()
    )
}
