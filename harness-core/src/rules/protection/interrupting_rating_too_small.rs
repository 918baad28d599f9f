//! A fuse or breaker cannot break the current of a dead short.

use super::walk::Walk;
use crate::model::{Device, DeviceKind, Family, Identified, Index, RuleSet, Source, SourceKind};
use crate::network::assembly::Part;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject, within,
};
use crate::tables::protection::{
    self, PlaceInCircuit, interrupting_rating, interrupting_rating_needed,
};
use crate::units::{Amperes, Ohms, Volts};
use crate::working::{self, Cited, NotEvaluated, Status, Working, significant};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeSet;

/// The rule.
pub const INTERRUPTING_RATING_TOO_SMALL: Rule = Rule {
    code: "interrupting_rating_too_small",
    title: "Cannot break a short",
    subject: Subject::Protection,
    depends: Depends::Company,
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
                   device, half of it behind another. The table speaks of breakers; fuses are held \
                   to it too. 32 V rows from memory.",
        },
        Citation {
            rule_set: None,
            document: "Ohm's law",
            place: "short just behind the device",
            status: Status::Computed,
            relation: Relation::DerivedFrom,
            says: "Where the table does not apply or the cranking current is not stated: the \
                   highest stated volts over the internal resistance and that of the way to the \
                   device. The way back is left out, so the current is never too low.",
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
            name: "computed, just inside",
            given: "13.8 V over 0.01 ohm inside the battery and 0.00055 ohm of wire are 1308 A; the \
                    fuse breaks 1310 A.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("sources/battery/internal_ohm", "0.01"),
                ("devices/fuse/interrupting_a", "1310.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "computed, just over",
            given: "The same with 1305 A.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("sources/battery/internal_ohm", "0.01"),
                ("devices/fuse/interrupting_a", "1305.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "fuse behind another device",
            given: "A blade fuse, usually 1000 A, behind the first fuse on 600 A of cranking \
                    current: 750 A asked.",
            changes: &[
                (
                    "devices/+",
                    r#"{"id": "second", "kind": "fuse", "family": "blade-medium",
                        "point": "at-pump", "rating_a": 10.0}"#,
                ),
                ("wires/feed/to", "\"second.in\""),
                (
                    "wires/+",
                    r#"{"id": "tail", "from": "second.out", "to": "pump.plus", "size": "12 AWG"}"#,
                ),
            ],
            of: "fuse second",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "breaker behind another device",
            given: "The same place, a breaker that breaks 749 A: the table asks 750 A.",
            changes: &[
                (
                    "devices/+",
                    r#"{"id": "second", "kind": "breaker", "point": "at-pump", "rating_a": 10.0,
                        "interrupting_a": 749.0}"#,
                ),
                ("wires/feed/to", "\"second.in\""),
                (
                    "wires/+",
                    r#"{"id": "tail", "from": "second.out", "to": "pump.plus", "size": "12 AWG"}"#,
                ),
            ],
            of: "breaker second",
            rule_set: Some(RuleSet::UsVoluntary),
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
    by: By,
}

/// How that was found.
enum By {
    /// By the table of the voluntary standard: for these volts and cranking current.
    Table {
        nominal: Volts,
        cranking: Amperes,
        place: PlaceInCircuit,
        source: working::Source,
    },
    /// By the current of a short just behind the device: of each battery its volts, internal
    /// resistance, and the resistance of the way.
    Short(Vec<(Index<Source>, Volts, [Ohms; 2])>),
}

/// A battery joined to a device, and the way to it where it leads there by itself.
struct Battery {
    source: Index<Source>,
    way: Vec<usize>,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let walks: Vec<&Walk> = facts
        .walks
        .of(facts)
        .iter()
        .filter(|walk| is_battery(facts, walk.source))
        .collect();
    let first: BTreeSet<Index<Device>> = walks
        .iter()
        .flat_map(|walk| walk.first_devices(facts))
        .map(|first| first.device)
        .collect();
    let systems = systems(facts);
    let devices = facts.assembly.branches.iter().filter_map(|branch| {
        let Part::Device(device) = branch.part else {
            return None;
        };
        let protects = facts.model.devices[device].protects();
        let is_judged = protects && facts.judges(Place::Device(device));
        is_judged.then_some((device, systems[branch.from]))
    });
    devices
        .filter_map(|(device, system)| {
            let place = if first.contains(&device) {
                PlaceInCircuit::First
            } else {
                PlaceInCircuit::Branch
            };
            let batteries = batteries(facts, &walks, &systems, device, system);
            if batteries.is_empty() {
                Some(no_battery(facts, device))
            } else {
                finding(facts, device, &batteries, place)
            }
        })
        .collect()
}

/// A source that states no kind is taken for a battery: the stricter reading.
fn is_battery(facts: &Facts<'_>, source: Index<Source>) -> bool {
    matches!(
        facts.model.sources[source].kind,
        Some(SourceKind::Battery) | None
    )
}

/// Nodes joined by what is closed in some state.
fn systems(facts: &Facts<'_>) -> Vec<usize> {
    let mut joined = UnionFind::new(facts.assembly.node_count());
    for branch in &facts.assembly.branches {
        if facts.closes(branch.part) {
            joined.union(branch.from, branch.to);
        }
    }
    joined.into_labeling()
}

/// The batteries whose plus is joined to a device. One behind the post of another has no way of
/// its own and counts as if it stood at the device.
fn batteries(
    facts: &Facts<'_>,
    walks: &[&Walk],
    systems: &[usize],
    device: Index<Device>,
    system: usize,
) -> Vec<Battery> {
    let joined = facts
        .assembly
        .sources
        .iter()
        .filter(|(source, _, plus)| is_battery(facts, *source) && systems[*plus] == system);
    joined
        .map(|&(source, ..)| Battery {
            source,
            way: walks
                .iter()
                .find(|walk| walk.source == source)
                .and_then(|walk| walk.way_to(facts, device))
                .unwrap_or_default(),
        })
        .collect()
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
    batteries: &[Battery],
    place_in_circuit: PlaceInCircuit,
) -> Option<Finding> {
    let code = INTERRUPTING_RATING_TOO_SMALL.code;
    let place = Place::Device(device);
    let stated = &facts.model.devices[device];
    let asked = match asked(facts, batteries, place_in_circuit) {
        Ok(asked) => asked,
        Err(why) => return Some(Finding::not_evaluated(code, place, why)),
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
            return Some(Finding::not_evaluated(
                code,
                place,
                NotEvaluated::because(why),
            ));
        }
    };
    let holds = within(asked.current.value(), rating.value());
    let rule_set = match asked.by {
        By::Table { .. } => Some(RuleSet::UsVoluntary),
        By::Short(_) => None,
    };
    let of = (code, place, rule_set);
    if !facts.wants(of, holds, rating.value(), asked.current.value()) {
        return None;
    }
    let amperes = |value: Amperes| significant(value.value(), 4);
    let message = format!(
        "{} breaks up to {} A; {} A are asked of it.",
        place.label(facts.model),
        amperes(rating),
        amperes(asked.current),
    );
    let mut working = asked.working(facts);
    working.step(
        "interrupting rating of the device",
        "",
        source
            .as_ref()
            .map_or("as stated", |_| "usual for its family"),
        format!("{} A", amperes(rating)),
        source.as_ref(),
    );
    let mut found = Finding::judged(code, place, holds, message, next_step(asked.current))
        .measured(rating.value(), asked.current.value(), "A")
        .shown(working);
    found.rule_set = rule_set;
    Some(found)
}

/// What is asked of a device: by the table of the voluntary standard where it applies, else by
/// the current of a short just behind it.
fn asked(
    facts: &Facts<'_>,
    batteries: &[Battery],
    place: PlaceInCircuit,
) -> Result<Asked, NotEvaluated> {
    if facts.applies(RuleSet::UsVoluntary)
        && let Some(asked) = by_cranking_current(facts, batteries, place)
    {
        return Ok(asked);
    }
    short_behind(facts, batteries)
}

fn by_cranking_current(
    facts: &Facts<'_>,
    batteries: &[Battery],
    place: PlaceInCircuit,
) -> Option<Asked> {
    let stated = |battery: &Battery| &facts.model.sources[battery.source];
    let cranking: Vec<Amperes> = batteries
        .iter()
        .map(|battery| stated(battery).cranking)
        .collect::<Option<_>>()?;
    let nominal: Vec<Volts> = batteries
        .iter()
        .map(|battery| stated(battery).nominal)
        .collect::<Option<_>>()?;
    let cranking: Amperes = cranking.into_iter().sum();
    let nominal = nominal.into_iter().fold(Volts::ZERO, Volts::max);
    let needed = interrupting_rating_needed(nominal, cranking, place)?;
    Some(Asked {
        current: needed.value,
        by: By::Table {
            nominal,
            cranking,
            place,
            source: needed.source,
        },
    })
}

fn short_behind(facts: &Facts<'_>, batteries: &[Battery]) -> Result<Asked, NotEvaluated> {
    let mut each = Vec::new();
    for battery in batteries {
        let stated = &facts.model.sources[battery.source];
        let volts = [stated.nominal, stated.running, stated.rested];
        let volts = volts.into_iter().flatten().fold(Volts::ZERO, Volts::max);
        let internal = stated.internal.filter(|internal| *internal > Ohms::ZERO);
        let (Some(internal), true) = (internal, volts > Volts::ZERO) else {
            return Err(NotEvaluated::because(format!(
                "source {} states no volts or no internal resistance above none, and the table of \
                 the voluntary standard does not decide here",
                stated.id()
            )));
        };
        // What resists by an unknown amount is taken not to: never too low a current.
        let way: Ohms = battery
            .way
            .iter()
            .filter_map(|branch| facts.assembly.branches[*branch].resistance.clone().ok())
            .sum();
        each.push((battery.source, volts, [internal, way]));
    }
    let currents = each
        .iter()
        .map(|(_, volts, [internal, way])| *volts / (*internal + *way));
    Ok(Asked {
        current: currents.sum(),
        by: By::Short(each),
    })
}

impl Asked {
    fn working(&self, facts: &Facts<'_>) -> Working {
        let mut working = Working::new();
        match &self.by {
            By::Table {
                nominal,
                cranking,
                place,
                source,
            } => working.step(
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
                self.current.to_string(),
                Some(source),
            ),
            By::Short(batteries) => {
                for (battery, volts, [internal, way]) in batteries {
                    working.step(
                        format!(
                            "short behind the device, from {}",
                            facts.model.sources.id(*battery)
                        ),
                        "I = V / (R internal + R way)",
                        format!(
                            "{volts} / ({} ohm + {} ohm)",
                            significant(internal.value(), 4),
                            significant(way.value(), 4)
                        ),
                        format!(
                            "{} A",
                            significant((*volts / (*internal + *way)).value(), 4)
                        ),
                        Some(&INTERRUPTING_RATING_TOO_SMALL.citations[1].source()),
                    );
                }
            }
        }
        working
    }
}

fn next_step(asked: Amperes) -> String {
    let family = Family::ALL.iter().find_map(|&family| {
        let rating = interrupting_rating(family).filter(|rating| rating.value >= asked)?;
        Some(format!(
            ", such as a {} (usually {})",
            protection::title(family),
            rating.value
        ))
    });
    format!(
        "Use a device that breaks at least {} A{}.",
        significant(asked.value(), 4),
        family.unwrap_or_default()
    )
}
