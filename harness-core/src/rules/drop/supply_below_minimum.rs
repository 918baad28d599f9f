//! With the source at its lowest, too few volts are left at a load.

use super::over_states::{InState, worst};
use crate::model::{Index, Load};
use crate::network::assembly::SourceCondition;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject, UNKNOWN_UNDER_WAY,
    within,
};
use crate::units::Volts;
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const SUPPLY_BELOW_MINIMUM: Rule = Rule {
    code: "supply_below_minimum",
    title: "Too few volts at the equipment",
    subject: Subject::Drop,
    depends: Depends::Flow,
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
        Case {
            name: "over in one state, unknown in another",
            given: "30 A leave less than 10 V moored; under way a pump of unknown current shares the wires.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("loads/pump/current_a", "30.0"),
                ("loads/pump/min_v", "10.0"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_loads()
        .filter_map(|(load, stated)| finding(facts, load, stated))
        .collect()
}

fn finding(facts: &Facts<'_>, load: Index<Load>, stated: &Load) -> Option<Finding> {
    let code = SUPPLY_BELOW_MINIMUM.code;
    let place = Place::Load(load);
    let Some(least) = stated.min_volts else {
        let why = "the load states no least volts at which it works";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let found = worst(
        facts,
        load,
        SourceCondition::Low,
        |one, other| one.volts < other.volts,
        |supplied| within(least.value(), supplied.volts.value()),
    );
    match found {
        Err(why) => Some(Finding::not_evaluated(code, place, why)),
        Ok((at, holds)) => facts
            .wants(
                (code, place, None),
                holds,
                at.1.volts.value(),
                least.value(),
            )
            .then(|| judged(facts, place, stated, at, least, holds)),
    }
}

fn judged(
    facts: &Facts<'_>,
    place: Place,
    stated: &Load,
    (state, supplied): InState<'_>,
    least: Volts,
    holds: bool,
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
