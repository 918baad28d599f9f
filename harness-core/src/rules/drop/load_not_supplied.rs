//! A load should run, but no circuit leads to it and back.

use crate::model::{Index, Load, RuleSet};
use crate::network::assembly::{LoadPoint, SourceCondition, Unsupplied};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status};

/// The rule.
pub const LOAD_NOT_SUPPLIED: Rule = Rule {
    code: "load_not_supplied",
    title: "Load without a circuit",
    subject: Subject::Drop,
    depends: Depends::Company,
    fault: "In a state in which this load should run, nothing leads from a source to it, or from \
            it back to that source.",
    why: "The load is dead, or its return finds a way that nobody drew: through the hull, an \
          engine or the bonding.",
    what_to_do: "Add the missing wire, close the switch in that state, or fit the device on the \
                 boats that have the load.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public article quoting E-11 clauses, 2020)",
            place: "11.5.4.1-2",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Every d.c. load has two wires; neither hull nor bonding is the return. Gear \
                   mounted on an engine is excepted.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133:2012",
            place: "clause 4",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "Two-wire distribution; the hull is no conductor.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "Battery, fuse, feed, pump, return.",
            changes: &[],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "no feed",
            given: "The feed is not on the boat.",
            changes: &[("wires/feed", "null")],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "no return",
            given: "The return is not on the boat.",
            changes: &[("wires/return", "null")],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "open in one state",
            given: "The device is open under way, where the pump should run.",
            changes: &[
                ("states/+", "{\"id\": \"moored\"}"),
                ("states/+", "{\"id\": \"under-way\"}"),
                ("devices/fuse/open_in", "[\"under-way\"]"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "open only where it rests",
            given: "The device is open under way, where the pump is off.",
            changes: &[
                ("states/+", "{\"id\": \"moored\"}"),
                ("states/+", "{\"id\": \"under-way\"}"),
                ("devices/fuse/open_in", "[\"under-way\"]"),
                (
                    "loads/pump/runs_in",
                    "[{\"state\": \"moored\", \"share\": 0.5}]",
                ),
            ],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "runs in no state",
            given: "The pump is stated as off in the only state.",
            changes: &[
                ("states/+", "{\"id\": \"moored\"}"),
                (
                    "loads/pump/runs_in",
                    "[{\"state\": \"moored\", \"share\": 0.0}]",
                ),
            ],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_loads()
        .map(|(load, stated)| finding(facts, load, stated))
        .collect()
}

fn finding(facts: &Facts<'_>, load: Index<Load>, stated: &Load) -> Finding {
    let code = LOAD_NOT_SUPPLIED.code;
    let place = Place::Load(load);
    let mut runs = false;
    for (state, point) in facts.load_points(load, SourceCondition::Nominal) {
        let (missing, next_step) = match point {
            LoadPoint::NotRunning => continue,
            LoadPoint::Unsupplied(Unsupplied::NoFeed) => (
                "nothing leads from a source to its plus",
                "Add its feed, or close the switch or fuse on the way.",
            ),
            LoadPoint::Unsupplied(Unsupplied::NoReturn) => (
                "nothing leads from its minus back to the source that feeds it",
                "Add its return to the minus of the same source.",
            ),
            LoadPoint::Supplied(_)
            | LoadPoint::NoOperatingPoint { .. }
            | LoadPoint::NotEvaluated(_) => {
                runs = true;
                continue;
            }
        };
        let message = format!(
            "{} should run {}, but {missing}.",
            stated.title(),
            facts.state_words(state)
        );
        return Finding::judged(code, place, false, message, next_step).worst_in(state);
    }
    if !runs {
        let why = "the load runs in no stated operating state";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    }
    let message = format!(
        "A closed circuit leads to {} and back wherever it runs.",
        stated.title()
    );
    Finding::judged(code, place, true, message, "")
}
