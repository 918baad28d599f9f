//! The first fuse or breaker stands too far from its source along the conductor.

use super::walk::First;
use crate::model::{Device, DeviceKind, Identified, Index, RuleSet, Source, SourceKind, Wire};
use crate::network::assembly::Part;
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::tables::source_distance::{SourceCase, greatest};
use crate::units::Millimetres;
use crate::working::{Cited, NotEvaluated, Status, Working, significant};
use std::collections::BTreeMap;

/// The rule.
pub const DEVICE_TOO_FAR_FROM_SOURCE: Rule = Rule {
    code: "device_too_far_from_source",
    title: "First fuse or breaker too far from the source",
    subject: Subject::Protection,
    depends: Depends::Company,
    fault: "More conductor than allowed lies between a source and the first device that opens.",
    why: "Whatever chafes before the fuse burns without it, fed by all the battery can give.",
    what_to_do: "Move the device to the source, shorten the wire, or sheath or enclose it over its \
                 whole length.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.455",
            place: "(b)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "At the source; if impractical within 7 in along the conductor; if that is \
                   impractical too within 40 in, sheathed or enclosed all the way.",
        },
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.460",
            place: "(a)",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "The output of a battery, but for the main feed of a cranking motor: within 72 \
                   in of the battery along the conductor, or of the load side of its switch.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public excerpts)",
            place: "11.10.1.1.1 and exceptions",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "Within 7 in along the conductor; sheathed or enclosed all the way within 72 in \
                   of a battery and 40 in of another source.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133:2012",
            place: "8.1",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "Within 200 mm of the source, or covered all the way.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 13297:2020",
            place: "12.3",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Conductors of charging sources: within 1.8 m of the source; self-limiting ones \
                   are exempt.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "100 mm of bare wire from battery to fuse: limits 7 in and 72 in.",
            changes: &[],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just inside 7 in",
            given: "177 mm of bare wire: 7 in are 177.8 mm.",
            changes: &[("runs/stub/length_m", "0.177")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "just over 7 in",
            given: "178 mm of bare wire under the voluntary standard.",
            changes: &[("runs/stub/length_m", "0.178")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "bare, federal",
            given: "The same 178 mm on a battery: the federal limit is 72 in.",
            changes: &[("runs/stub/length_m", "0.178")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsFederal),
            expected: "met",
        },
        Case {
            name: "just inside 72 in",
            given: "1828 mm, enclosed all the way, on a battery: 72 in are 1828.8 mm.",
            changes: &[
                ("runs/stub/length_m", "1.828"),
                ("wires/main/enclosed", "true"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over 72 in",
            given: "1829 mm, enclosed all the way.",
            changes: &[
                ("runs/stub/length_m", "1.829"),
                ("wires/main/enclosed", "true"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "enclosure not stated",
            given: "1 m that states nothing of a sheath: the limit for bare wire is applied.",
            changes: &[
                ("runs/stub/length_m", "1.0"),
                ("wires/main/enclosed", "null"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "another source than a battery",
            given: "1017 mm enclosed from an alternator that does not limit itself: 40 in are \
                    1016 mm.",
            changes: &[
                ("runs/stub/length_m", "1.017"),
                ("wires/main/enclosed", "true"),
                ("sources/battery/kind", "\"alternator\""),
                ("sources/battery/self_limiting", "false"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "ISO, exactly at",
            given: "200 mm of bare wire on a battery.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("runs/stub/length_m", "0.2"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::Iso),
            expected: "met",
        },
        Case {
            name: "ISO, just over",
            given: "201 mm of bare wire on a battery.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("runs/stub/length_m", "0.201"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "ISO, covered",
            given: "3 m covered all the way.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("runs/stub/length_m", "3.0"),
                ("wires/main/enclosed", "true"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::Iso),
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "The run from battery to fuse has no length.",
            changes: &[("runs/stub/length_m", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// The way from one source to a first device.
struct Way<'w> {
    source: Index<Source>,
    first: &'w First,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let mut worst: BTreeMap<(Index<Device>, RuleSet), Finding> = BTreeMap::new();
    for walk in facts.walks.of(facts) {
        if facts.model.sources[walk.source].self_limiting == Some(true) {
            continue;
        }
        let first = walk.first_devices(facts).into_iter();
        for first in first.filter(|first| facts.judges(Place::Device(first.device))) {
            for &set in &facts.model.settings.rule_sets {
                let way = Way {
                    source: walk.source,
                    first: &first,
                };
                let found = way.finding(facts, set);
                let key = (first.device, set);
                if worst
                    .get(&key)
                    .is_none_or(|known| rank(&found) > rank(known))
                {
                    worst.insert(key, found);
                }
            }
        }
    }
    worst.into_values().collect()
}

/// Which of two findings on one device is kept: failing before unknown before met, then the
/// nearer to its limit.
fn rank(finding: &Finding) -> (u8, f64) {
    let outcome = match finding.outcome.word() {
        "fails" => 2,
        "not evaluated" => 1,
        _ => 0,
    };
    (outcome, finding.severity())
}

impl Way<'_> {
    /// Its wires, those behind the last battery switch only where that is what counts.
    fn wires(&self, facts: &Facts<'_>, from_switch: bool) -> (Vec<Index<Wire>>, bool) {
        let mut wires = Vec::new();
        let mut switched = false;
        for &branch in &self.first.way {
            match facts.assembly.branches[branch].part {
                Part::Wire(wire) => wires.push(wire),
                Part::Device(device)
                    if from_switch
                        && facts.model.devices[device].kind == DeviceKind::BatterySwitch =>
                {
                    wires.clear();
                    switched = true;
                }
                _ => {}
            }
        }
        (wires, switched)
    }

    fn finding(&self, facts: &Facts<'_>, rule_set: RuleSet) -> Finding {
        let code = DEVICE_TOO_FAR_FROM_SOURCE.code;
        let model = facts.model;
        let place = Place::Device(self.first.device);
        let battery = model.sources[self.source].kind == Some(SourceKind::Battery);
        let (wires, switched) = self.wires(facts, battery && rule_set == RuleSet::UsFederal);
        let mut length = Millimetres::ZERO;
        for &wire in &wires {
            match facts.routing.electrical_length(model, wire) {
                Ok(one) => length += one.millimetres(),
                Err(why) => return Finding::not_evaluated(code, place, why).under(rule_set),
            }
        }
        let bare: Vec<_> = wires
            .iter()
            .filter(|wire| model.wires[**wire].enclosed != Some(true))
            .copied()
            .collect();
        let case = self.case(facts, bare.is_empty(), rule_set);
        let start = Place::Source(self.source).title(model);
        let start = if switched {
            format!("the battery switch of {start}")
        } else {
            start
        };
        let label = place.label(model);
        let Some(limit) = greatest(rule_set, case) else {
            let message = format!(
                "{} mm of conductor lie between {start} and {label}, covered all the way: no limit.",
                significant(length.value(), 4)
            );
            return Finding::judged(code, place, true, message, "").under(rule_set);
        };
        let message = format!(
            "{} mm of conductor lie between {start} and {label}; allowed are {} mm{}.",
            significant(length.value(), 4),
            significant(limit.value.value(), 4),
            remark(facts, case, &bare),
        );
        let holds = length <= limit.value;
        let next_step = if holds {
            String::new()
        } else {
            self.next_step(facts, rule_set, &bare, &start, &limit)
        };
        Finding::judged(code, place, holds, message, next_step)
            .under(rule_set)
            .measured(length.value(), limit.value.value(), "mm")
            .shown(working(facts, &wires, length, &limit))
    }

    fn case(&self, facts: &Facts<'_>, covered: bool, rule_set: RuleSet) -> SourceCase {
        match (facts.model.sources[self.source].kind, covered) {
            (Some(SourceKind::Battery), true) => SourceCase::BatteryCovered,
            (Some(SourceKind::Battery), false) => SourceCase::Battery,
            (Some(SourceKind::Alternator | SourceKind::Charger), _) if rule_set == RuleSet::Iso => {
                SourceCase::Charging
            }
            (_, true) => SourceCase::Covered,
            (_, false) => SourceCase::Bare,
        }
    }

    fn next_step(
        &self,
        facts: &Facts<'_>,
        rule_set: RuleSet,
        bare: &[Index<Wire>],
        start: &str,
        limit: &Cited<Millimetres>,
    ) -> String {
        let label = Place::Device(self.first.device).label(facts.model);
        let mut step = format!(
            "Move {label} to within {} mm of {start} along the conductor",
            significant(limit.value.value(), 4)
        );
        if !bare.is_empty() {
            let covered = greatest(rule_set, self.case(facts, true, rule_set));
            let covered = covered.map_or_else(String::new, |covered| {
                format!(
                    " and keep it within {} mm",
                    significant(covered.value.value(), 4)
                )
            });
            step.push_str(&format!(
                ", or sheath or enclose {} all the way{covered}",
                names(facts, bare)
            ));
        }
        step.push('.');
        step
    }
}

fn names(facts: &Facts<'_>, wires: &[Index<Wire>]) -> String {
    let names: Vec<_> = wires
        .iter()
        .map(|wire| facts.model.wires[*wire].id())
        .collect();
    let word = if names.len() == 1 { "wire" } else { "wires" };
    format!("{word} {}", names.join(", "))
}

/// Which limit was taken, and why, where it hangs on a sheath.
fn remark(facts: &Facts<'_>, case: SourceCase, bare: &[Index<Wire>]) -> String {
    let not_stated: Vec<_> = bare
        .iter()
        .filter(|wire| facts.model.wires[**wire].enclosed.is_none())
        .copied()
        .collect();
    match case {
        SourceCase::Covered | SourceCase::BatteryCovered => ", enclosed all the way".to_owned(),
        _ if !not_stated.is_empty() => {
            let states = if not_stated.len() == 1 {
                "does not state whether it is"
            } else {
                "do not state whether they are"
            };
            let names = names(facts, &not_stated);
            format!(" for bare conductor, since {names} {states} enclosed")
        }
        _ => String::new(),
    }
}

fn working(
    facts: &Facts<'_>,
    wires: &[Index<Wire>],
    length: Millimetres,
    limit: &Cited<Millimetres>,
) -> Working {
    let mut working = Working::new();
    let each: Vec<_> = wires
        .iter()
        .map(|wire| {
            let one = facts
                .routing
                .electrical_length(facts.model, *wire)
                .map_or_else(
                    |why: NotEvaluated| why.to_string(),
                    |one| format!("{} mm", significant(one.millimetres().value(), 5)),
                );
            format!("{}: {one}", facts.model.wires[*wire].id())
        })
        .collect();
    working.step(
        "length along the conductor",
        "sum over the wires on the way",
        each.join(" + "),
        format!("{} mm", significant(length.value(), 5)),
        None,
    );
    working.step(
        "greatest length",
        "",
        limit.source.place.clone(),
        format!("{} mm", significant(limit.value.value(), 5)),
        Some(&limit.source),
    );
    working
}
