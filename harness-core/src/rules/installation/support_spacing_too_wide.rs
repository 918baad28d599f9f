//! Supports along a run farther apart than the standards permit.

use crate::model::{Fixing, Index, Pin, Pole, RuleSet, Run, SourceKind, Wire};
use crate::routing::Bundle;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::tables::limits::{self, Limit};
use crate::units::Millimetres;
use crate::working::{Cited, NotEvaluated, Status, Working, significant};
use std::collections::BTreeMap;

/// The rule.
pub const SUPPORT_SPACING_TOO_WIDE: Rule = Rule {
    code: "support_spacing_too_wide",
    title: "Supports too far apart",
    subject: Subject::Installation,
    depends: Depends::Company,
    fault: "Along this run the wires are held at greater distances than they may be.",
    why: "Unsupported wire swings, chafes through and tires at its terminals; it heads the lists \
          of surveyors.",
    what_to_do: "Add clips or ties, or lead the wires in a conduit or channel, which holds them \
                 all along.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.6.8, as quoted publicly",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "Supported all along or at least every 18 in (the excerpts print 455 mm); \
                   battery cables are exempt within 36 in of the battery terminal.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133",
            place: "7.3",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "At most 450 mm apart unless in conduit, trunking or tray.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133",
            place: "7.4",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Battery conductors up to the battery switch at most 300 mm apart; those of an \
                   outboard engine's starter are exempt.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "Clips every 400 mm.",
            changes: &[],
            of: "run side",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "Clips every 457.2 mm, 18 in.",
            changes: &[("runs/side/support_spacing_mm", "457.2")],
            of: "run side",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "just over",
            given: "Clips every 458 mm.",
            changes: &[("runs/side/support_spacing_mm", "458")],
            of: "run side",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "exactly at, ISO",
            given: "Clips every 450 mm, no battery conductor on the run.",
            changes: &[
                ("settings/rule_sets", r#"["iso"]"#),
                ("runs/side/support_spacing_mm", "450"),
                ("wires/return", "null"),
            ],
            of: "run side",
            rule_set: Some(RuleSet::Iso),
            expected: "met",
        },
        Case {
            name: "just over, ISO",
            given: "Clips every 451 mm.",
            changes: &[
                ("settings/rule_sets", r#"["iso"]"#),
                ("runs/side/support_spacing_mm", "451"),
                ("wires/return", "null"),
            ],
            of: "run side",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "battery conductor, ISO",
            given: "Clips every 301 mm on the run of a battery's plus conductor; limit 300 mm.",
            changes: &[
                ("settings/rule_sets", r#"["iso"]"#),
                ("runs/stub/fixing", r#""clipped""#),
                ("runs/stub/support_spacing_mm", "301"),
            ],
            of: "run stub",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "near the battery",
            given: "Only battery cables, the whole run within 914.4 mm of the battery terminal.",
            changes: &[
                ("runs/stub/fixing", r#""clipped""#),
                ("runs/stub/support_spacing_mm", "900"),
                ("runs/stub/length_m", "0.9"),
                ("wires/return", "null"),
            ],
            of: "run stub",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "not so near the battery",
            given: "The same run of 0.92 m.",
            changes: &[
                ("runs/stub/fixing", r#""clipped""#),
                ("runs/stub/support_spacing_mm", "900"),
                ("runs/stub/length_m", "0.92"),
                ("wires/return", "null"),
            ],
            of: "run stub",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "conduit",
            given: "A conduit holds the wires all along.",
            changes: &[
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/support_spacing_mm", "1500"),
            ],
            of: "run side",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "A clipped run without a stated spacing.",
            changes: &[("runs/side/support_spacing_mm", "null")],
            of: "run side",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no rule set with a limit",
            given: "A boat held to the federal regulation alone, which has no such limit now.",
            changes: &[("settings/rule_sets", r#"["us-federal"]"#)],
            of: "run side",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let batteries = BatteryConductors::of(facts);
    facts
        .judged_bundles()
        .filter(|bundle| !bundle.wires.is_empty())
        .flat_map(|bundle| findings(facts, bundle, &batteries))
        .collect()
}

fn findings(facts: &Facts<'_>, bundle: &Bundle, batteries: &BatteryConductors) -> Vec<Finding> {
    let (code, place) = (SUPPORT_SPACING_TOO_WIDE.code, Place::Run(bundle.run));
    let run = &facts.model.runs[bundle.run];
    let id = facts.model.runs.id(bundle.run);
    let unknown = |why: String| {
        vec![Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        )]
    };
    match run.fixing {
        None => return unknown(format!("run {id} does not state how its wires are held")),
        Some(Fixing::Clipped) => {}
        Some(held @ (Fixing::Conduit | Fixing::Chase | Fixing::Leg)) => {
            let message = format!("The {held} holds the wires of run {id} all along.");
            return applied(facts)
                .map(|(set, _)| Finding {
                    rule_set: Some(set),
                    ..Finding::judged(code, place, true, message.as_str(), "")
                })
                .collect();
        }
    }
    if applied(facts).next().is_none() {
        return unknown("no rule set of this model limits the distance of supports".to_owned());
    }
    let Some(spacing) = run.support_spacing else {
        return unknown(format!("run {id} states no distance between its supports"));
    };
    applied(facts)
        .map(|(set, limit)| {
            if set == RuleSet::UsVoluntary && batteries.all_near(bundle) {
                let message = format!(
                    "Run {id} holds only battery cables near their terminal, which are exempt."
                );
                return Finding {
                    rule_set: Some(set),
                    ..Finding::judged(code, place, true, message, "")
                };
            }
            let battery = limits::number(Limit::SupportSpacingBattery, set)
                .filter(|_| batteries.any_to_switch(bundle));
            let for_battery = battery.is_some();
            let limit = battery.unwrap_or(limit);
            judged(facts, bundle.run, run, set, spacing, &limit, for_battery)
        })
        .collect()
}

/// The rule sets that apply and limit the distance of supports.
fn applied(facts: &Facts<'_>) -> impl Iterator<Item = (RuleSet, Cited<f64>)> {
    RuleSet::ALL
        .iter()
        .copied()
        .filter(|set| facts.applies(*set))
        .filter_map(|set| Some((set, limits::number(Limit::SupportSpacing, set)?)))
}

fn judged(
    facts: &Facts<'_>,
    at: Index<Run>,
    run: &Run,
    set: RuleSet,
    spacing: Millimetres,
    limit: &Cited<f64>,
    for_battery: bool,
) -> Finding {
    let id = &run.id;
    let met = spacing.value() <= limit.value;
    let shown = |number: f64| significant(number, 4);
    let what = if for_battery {
        "limit, battery conductors"
    } else {
        "limit"
    };
    let mut working = Working::new();
    let stated = format!("{} mm", shown(spacing.value()));
    working.step(
        "greatest distance of supports",
        "",
        "as stated",
        stated,
        None,
    );
    working.step(
        what,
        "",
        "",
        format!("{} mm", shown(limit.value)),
        Some(&limit.source),
    );
    let needed = facts.routing.run_lengths[at.number()]
        .as_ref()
        .ok()
        .map(|length| (length.millimetres().value() / limit.value).ceil());
    Finding {
        rule: SUPPORT_SPACING_TOO_WIDE.code,
        place: Place::Run(at),
        rule_set: Some(set),
        state: None,
        outcome: Outcome::met(met),
        value: Some(Quantity::new(spacing.value(), "mm")),
        limit: Some(Quantity::new(limit.value, "mm")),
        message: format!(
            "Run {id} is supported every {} mm, {what} {} mm.",
            shown(spacing.value()),
            shown(limit.value)
        ),
        next_step: match needed {
            _ if met => String::new(),
            Some(spans) => format!("Divide run {id} into {spans} or more equal spans."),
            None => format!("Put supports on run {id} every {} mm.", shown(limit.value)),
        },
        working: working.into(),
        cured_by: None,
    }
}

/// Conductors that start at a battery terminal, and the runs near that terminal.
struct BatteryConductors {
    /// Of each, the runs that end within the exempt distance of the terminal; and whether it is
    /// a plus conductor, which leads to the battery switch.
    conductors: BTreeMap<Index<Wire>, (Vec<Index<Run>>, bool)>,
}

impl BatteryConductors {
    fn of(facts: &Facts<'_>) -> Self {
        let exempt = limits::number(Limit::FirstSupportBattery, RuleSet::UsVoluntary)
            .map_or(0.0, |limit| limit.value);
        let conductors = facts
            .wires()
            .filter_map(|(wire, stated)| {
                let from_first = is_battery(facts, stated.from);
                if !from_first && !is_battery(facts, stated.to) {
                    return None;
                }
                let plus = is_battery_plus(facts, stated.from) || is_battery_plus(facts, stated.to);
                Some((wire, (near_runs(facts, wire, from_first, exempt), plus)))
            })
            .collect();
        Self { conductors }
    }

    /// Whether each wire of a bundle is a battery cable that is near its terminal here.
    fn all_near(&self, bundle: &Bundle) -> bool {
        bundle.wires.iter().all(|wire| {
            self.conductors
                .get(wire)
                .is_some_and(|(near, _)| near.contains(&bundle.run))
        })
    }

    /// Whether a wire of a bundle leads from a battery's plus to its first device.
    fn any_to_switch(&self, bundle: &Bundle) -> bool {
        bundle
            .wires
            .iter()
            .any(|wire| self.conductors.get(wire).is_some_and(|(_, plus)| *plus))
    }
}

fn is_battery(facts: &Facts<'_>, pin: Pin) -> bool {
    matches!(pin, Pin::Source(source, _) if facts.model.sources[source].kind == Some(SourceKind::Battery))
}

fn is_battery_plus(facts: &Facts<'_>, pin: Pin) -> bool {
    is_battery(facts, pin) && matches!(pin, Pin::Source(_, Pole::Plus))
}

/// The runs of a battery cable whose far end lies within a distance of the terminal, mm.
fn near_runs(
    facts: &Facts<'_>,
    wire: Index<Wire>,
    from_first: bool,
    within: f64,
) -> Vec<Index<Run>> {
    let Ok(path) = facts.routing.path(wire) else {
        return Vec::new();
    };
    let mut runs: Vec<_> = path.legs.iter().map(|leg| leg.run).collect();
    if !from_first {
        runs.reverse();
    }
    let mut passed = 0.0;
    runs.into_iter()
        .take_while(|run| {
            passed += facts.routing.run_lengths[run.number()]
                .as_ref()
                .map_or(f64::INFINITY, |length| length.millimetres().value());
            passed <= within
        })
        .collect()
}
