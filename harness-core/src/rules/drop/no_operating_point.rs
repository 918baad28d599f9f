//! Loads of constant power ask for more than their wires can bring: the volts collapse.

use crate::model::{Index, Load, OperatingState};
use crate::network::assembly::{LoadPoint, SourceCondition};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const NO_OPERATING_POINT: Rule = Rule {
    code: "no_operating_point",
    title: "Volts collapse",
    subject: Subject::Drop,
    depends: Depends::Company,
    fault: "Loads that take constant power ask, through their wires, for more than any current \
            can bring: less volts, more current, still less volts.",
    why: "Equipment on the same wires restarts or stays off although each would run alone.",
    what_to_do: "Thicken or shorten the way to the load at which it fails, or feed the large \
                 load apart.",
    citations: &[Citation {
        rule_set: None,
        document: "Network theory",
        place: "constant power P behind a resistance R on a source V",
        status: Status::Computed,
        relation: Relation::DerivedFrom,
        says: "V = (Vs + √(Vs² − 4 P R)) / 2 exists only up to P = Vs² / 4 R.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "A pump of constant current always has an operating point here.",
            changes: &[],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just inside",
            given: "500 W behind 56 milliohm of wire, battery at its lowest, 11 V: at most \
                    11² / (4 × 0.0556) = 544 W reach the pump.",
            changes: &[
                ("loads/pump/current_a", "null"),
                ("loads/pump/power_w", "500.0"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "600 W over the same wires.",
            changes: &[
                ("loads/pump/current_a", "null"),
                ("loads/pump/power_w", "600.0"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The battery states no low voltage, at which constant power is worst.",
            changes: &[("sources/battery/low_v", "null")],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// Constant power is worst at the lowest volts; nominal is looked at besides.
const CONDITIONS: [SourceCondition; 2] = [SourceCondition::Nominal, SourceCondition::Low];

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_loads()
        .map(|(load, stated)| finding(facts, load, stated))
        .collect()
}

/// Share of the power that can be had, where it fails, in which state, at which source volts.
type Failing = (
    f64,
    Index<Load>,
    Option<Index<OperatingState>>,
    SourceCondition,
);

fn finding(facts: &Facts<'_>, load: Index<Load>, stated: &Load) -> Finding {
    let code = NO_OPERATING_POINT.code;
    let place = Place::Load(load);
    let mut unknown = None;
    let mut runs = false;
    let mut worst: Option<Failing> = None;
    for condition in CONDITIONS {
        for (state, point) in facts.load_points(load, condition) {
            match point {
                LoadPoint::NotRunning => {}
                LoadPoint::Supplied(_) => runs = true,
                LoadPoint::Unsupplied(_) => {
                    let why = "no closed circuit leads to it";
                    unknown = Some(NotEvaluated::because(why));
                }
                LoadPoint::NotEvaluated(why) => unknown = Some(why.clone()),
                LoadPoint::NoOperatingPoint { fails_at, share } => {
                    // Where it fails itself comes before where another load fails.
                    let rank = |share: f64, at: Index<Load>| (at != load, share);
                    let here = rank(*share, *fails_at);
                    if worst.is_none_or(|(share, at, ..)| here < rank(share, at)) {
                        worst = Some((*share, *fails_at, state, condition));
                    }
                }
            }
        }
    }
    if let Some((share, fails_at, state, condition)) = worst {
        if fails_at != load {
            let why = format!(
                "the volts of its system collapse at {}",
                facts.model.loads[fails_at].title()
            );
            return Finding::not_evaluated(code, place, NotEvaluated::because(why));
        }
        let message = format!(
            "The volts collapse at {} {}, source {}: the constant-power loads of its system can \
             be brought {} % of their power, no more.",
            stated.title(),
            facts.state_words(state),
            condition.word(),
            significant(share * 100.0, 3),
        );
        let next_step = format!(
            "Thicken or shorten the way to {}, or give it a feed and return of its own.",
            stated.title()
        );
        let mut working = Working::new();
        working.step(
            "largest share of all constant power that still has an operating point",
            "solved at growing share until no solution is left",
            format!("source {}", condition.word()),
            format!("{} %", significant(share * 100.0, 3)),
            Some(&NO_OPERATING_POINT.citations[0].source()),
        );
        return Finding::judged(code, place, false, message, next_step)
            .worst_in(state)
            .measured(share * 100.0, 100.0, "%")
            .shown(working);
    }
    if let Some(why) = unknown {
        return Finding::not_evaluated(code, place, why);
    }
    if !runs {
        let why = "the load runs in no stated operating state";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    }
    let message = format!(
        "{} has an operating point in each state, at nominal and at the lowest volts.",
        stated.title()
    );
    Finding::judged(code, place, true, message, "")
}
