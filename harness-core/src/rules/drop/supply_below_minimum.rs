//! With the source at its lowest, too few volts are left at a load.

use crate::model::{Index, Load, OperatingState};
use crate::network::assembly::{LoadPoint, SourceCondition, Supplied};
use crate::rules::{Case, Citation, Facts, Finding, Place, Relation, Rule, Subject, within};
use crate::units::Volts;
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const SUPPLY_BELOW_MINIMUM: Rule = Rule {
    code: "supply_below_minimum",
    title: "Too few volts at the equipment",
    subject: Subject::Drop,
    fault: "With the source at the lowest volts it states, fewer volts reach this load than it \
            needs to work.",
    why: "Percent of nominal says nothing on a tired battery or while the engine is cranked: \
          electronics restart when their volts fall below what their maker states.",
    what_to_do: "Thicken or shorten the way, or feed the load from a source that is not pulled \
                 down.",
    citations: &[Citation {
        rule_set: None,
        document: "Least volts stated for the load",
        place: "label or data sheet of the equipment",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Equipment is held to its own least volts at its terminals, with the source at the \
               lowest volts stated for it, because that is where it is known to fail.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "11 V at the battery, 0.28 V lost, 10.7 V at a pump that needs 9 V.",
            changes: &[],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just inside",
            given: "The same 10.7183 V at a pump that needs 10.718 V.",
            changes: &[("loads/pump/min_v", "10.718")],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just below",
            given: "The same 10.7183 V at a pump that needs 10.719 V.",
            changes: &[("loads/pump/min_v", "10.719")],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The pump states no least volts.",
            changes: &[("loads/pump/min_v", "null")],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "source unknown",
            given: "The battery states no low voltage.",
            changes: &[("sources/battery/low_v", "null")],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .loads()
        .map(|(load, stated)| finding(facts, load, stated))
        .collect()
}

fn finding(facts: &Facts<'_>, load: Index<Load>, stated: &Load) -> Finding {
    let code = SUPPLY_BELOW_MINIMUM.code;
    let place = Place::Load(load);
    let Some(least) = stated.min_volts else {
        let why = "the load states no least volts at which it works";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let mut worst: Option<(Option<Index<OperatingState>>, &Supplied)> = None;
    let mut missing = None;
    for (state, point) in facts.load_points(load, SourceCondition::Low) {
        match point {
            LoadPoint::NotRunning => {}
            LoadPoint::Supplied(supplied) => {
                if worst.is_none_or(|(_, known)| supplied.volts < known.volts) {
                    worst = Some((state, supplied));
                }
            }
            LoadPoint::Unsupplied(_) => {
                missing = Some(NotEvaluated::because("no closed circuit leads to it"));
            }
            LoadPoint::NoOperatingPoint { .. } => {
                let why = "the volts of its system collapse with the source at its lowest";
                missing = Some(NotEvaluated::because(why));
            }
            LoadPoint::NotEvaluated(why) => missing = Some(why.clone()),
        }
    }
    // A state that fails says enough, whatever is unknown of others.
    if let Some((state, supplied)) = worst
        && (missing.is_none() || !within(least.value(), supplied.volts.value()))
    {
        return judged(facts, place, stated, state, supplied, least);
    }
    let why = missing
        .unwrap_or_else(|| NotEvaluated::because("the load runs in no stated operating state"));
    Finding::not_evaluated(code, place, why)
}

fn judged(
    facts: &Facts<'_>,
    place: Place,
    stated: &Load,
    state: Option<Index<OperatingState>>,
    supplied: &Supplied,
    least: Volts,
) -> Finding {
    let volts = |value: Volts| format!("{} V", significant(value.value(), 4));
    let source = facts.model.sources.id(supplied.source);
    let message = format!(
        "With {source} at its lowest, {} are left at {} {}; it needs {}.",
        volts(supplied.volts),
        stated.title(),
        facts.state_words(state),
        volts(least),
    );
    let holds = within(least.value(), supplied.volts.value());
    let next_step = if holds {
        String::new()
    } else if supplied.source_volts < least {
        format!(
            "{source} itself gives only {}: feed {} from another source.",
            volts(supplied.source_volts),
            stated.title()
        )
    } else {
        format!(
            "Lose at most {} on the way instead of {}: thicken or shorten it.",
            volts(supplied.source_volts - least),
            volts(supplied.drop())
        )
    };
    let mut working = Working::new();
    working.step(
        "volts at the equipment",
        "V load = V source - drop",
        format!(
            "{} at the terminals of {source}, less {}",
            volts(supplied.source_volts),
            volts(supplied.drop())
        ),
        volts(supplied.volts),
        None,
    );
    working.step(
        "least volts",
        "",
        format!("stated for {}", stated.title()),
        volts(least),
        Some(&SUPPLY_BELOW_MINIMUM.citations[0].source()),
    );
    Finding::judged(SUPPLY_BELOW_MINIMUM.code, place, holds, message, next_step)
        .worst_in(state)
        .measured(supplied.volts.value(), least.value(), "V")
        .shown(working)
}
