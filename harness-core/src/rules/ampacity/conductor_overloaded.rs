//! A conductor carries more than it is allowed where it lies.

use super::allowance::{Allowance, Allowances, is_starting, thick_enough};
use crate::model::{Identified, Index, RuleSet, Wire};
use crate::network::assembly::Part;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Greatest, Place, Relation, Rule, Subject,
    UNKNOWN_UNDER_WAY, settled,
};
use crate::tables::bundling;
use crate::working::{Status, Working, significant};

/// The rule.
pub const CONDUCTOR_OVERLOADED: Rule = Rule {
    code: "conductor_overloaded",
    title: "Conductor overloaded",
    subject: Subject::Ampacity,
    depends: Depends::Flow,
    fault: "In some state this wire carries more current than its size and insulation are allowed \
            where it lies.",
    why: "The insulation ages fast and in the end softens; conductors packed together or near an \
          engine get there at less current.",
    what_to_do: "Use a thicker conductor or insulation of a higher class, take load off it, or \
                 lead it through a run with fewer loaded conductors.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.425",
            place: "(b), Table 5; (c), note 1",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Steady current within Table 5 for size and insulation class; in engine spaces \
                   times the factor of note 1 (factors partly from memory); short surges are \
                   excepted, and so are conductors of the cranking motor (g).",
        },
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.435",
            place: "(b)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Three or more conductors together are reduced by note 2, at 50 V or more.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public excerpts)",
            place: "Table VI with its bundle tables",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "The same table and engine-space factor; bundled conductors are reduced. How far \
                   below 50 V, public sources disagree: the settings say which reading is used. \
                   The allowance for bundles under 24 in is not taken.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133 / ISO 13297",
            place: "7.6 and the ampacity table",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "Current within the table of the standard or the maker's rating, times the \
                   factor for engine spaces.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "5 A on 12 AWG, 105 °C, two loaded conductors together: allowed 45 A.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "45 A on 12 AWG, 105 °C: allowed 45 A.",
            changes: &[("loads/pump/current_a", "45.0")],
            of: "wire feed",
            rule_set: Some(RuleSet::UsFederal),
            expected: "met",
        },
        Case {
            name: "just over",
            given: "45.1 A on the same wire.",
            changes: &[("loads/pump/current_a", "45.1")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "engine space",
            given: "39 A through an engine space: 45 A × 0.85 = 38.25 A.",
            changes: &[
                ("loads/pump/current_a", "39.0"),
                ("zones/stern/engine_space", "true"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "three together",
            given: "Two pumps of 20 A in one run, four loaded conductors: 45 A × 0.60 = 27 A each.",
            changes: SECOND_PUMP,
            of: "wire feed",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "three together, over",
            given: "The same with 28 A for the first: allowed 27 A by the count of conductors.",
            changes: SECOND_PUMP_28_A,
            of: "wire feed",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "three together, federal",
            given: "The same 28 A: below 50 V the federal regulation does not count conductors.",
            changes: SECOND_PUMP_28_A,
            of: "wire feed",
            rule_set: Some(RuleSet::UsFederal),
            expected: "met",
        },
        Case {
            name: "metric table",
            given: "2.5 mm2 of 70 °C insulation at 30 A under ISO: over the table.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("settings/insulation_degc", "70.0"),
                ("wires/feed/size", "\"2.5 mm2\""),
                ("loads/pump/current_a", "30.0"),
            ],
            of: "wire feed",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "cranking conductor",
            given: "200 A on 12 AWG in a starting circuit: exempt.",
            changes: &[
                ("circuits/C1/function", "\"starting\""),
                ("loads/pump/current_a", "200.0"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "no insulation class",
            given: "Neither the wire nor the settings state a class.",
            changes: &[("settings/insulation_degc", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no size",
            given: "The wire states no size.",
            changes: &[("wires/feed/size", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "engine space not stated, does not matter",
            given: "5 A, and the zone does not state whether it is an engine space: within both.",
            changes: &[("zones/bow/engine_space", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "engine space not stated, decides",
            given: "40 A: within 45 A outside, over 38.25 A inside an engine space.",
            changes: &[
                ("loads/pump/current_a", "40.0"),
                ("zones/bow/engine_space", "null"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "over in one state, unknown in another",
            given: "46 A moored on 12 AWG; under way a pump of unknown current shares the wire: over is over.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("loads/pump/current_a", "46.0"),
            ],
            of: "wire feed",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "within in one state, unknown in another",
            given: "The same with 5 A: how much flows under way is not known.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
            ],
            of: "wire feed",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "not evaluated",
        },
    ],
    judge,
};

/// A second pump of 20 A beside the first, which draws 20 A too.
const SECOND_PUMP: &[(&str, &str)] = &[
    ("loads/pump/current_a", "20.0"),
    PUMP_2[0],
    PUMP_2[1],
    PUMP_2[2],
];
const SECOND_PUMP_28_A: &[(&str, &str)] = &[
    ("loads/pump/current_a", "28.0"),
    PUMP_2[0],
    PUMP_2[1],
    PUMP_2[2],
];
const PUMP_2: [(&str, &str); 3] = [
    (
        "loads/+",
        r#"{"id": "pump-2", "point": "at-pump", "current_a": 20.0, "drop_class": "other"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "feed-2", "from": "fuse.out", "to": "pump-2.plus", "size": "12 AWG", "role": "feed"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "return-2", "from": "pump-2.minus", "to": "battery.minus", "size": "12 AWG", "role": "return"}"#,
    ),
];

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let mut allowances = Allowances::of(facts);
    let mut findings = Vec::new();
    for (wire, _) in facts.judged_wires() {
        if is_starting(facts, wire) {
            findings.push(exempt(facts, wire));
            continue;
        }
        let greatest = facts.greatest_current(Part::Wire(wire));
        for &set in &facts.model.settings.rule_sets {
            findings.extend(finding(facts, &mut allowances, wire, &greatest, set));
        }
    }
    findings
}

fn exempt(facts: &Facts<'_>, wire: Index<Wire>) -> Finding {
    let message = format!(
        "Wire {} belongs to a starting circuit: conductors of the cranking motor are exempt.",
        facts.model.wires.id(wire)
    );
    Finding::judged(
        CONDUCTOR_OVERLOADED.code,
        Place::Wire(wire),
        true,
        message,
        "",
    )
}

fn finding(
    facts: &Facts<'_>,
    allowances: &mut Allowances<'_, '_>,
    wire: Index<Wire>,
    greatest: &Greatest,
    rule_set: RuleSet,
) -> Option<Finding> {
    let code = CONDUCTOR_OVERLOADED.code;
    let place = Place::Wire(wire);
    let allowance = match allowances.allowance(wire, rule_set) {
        Ok(allowance) => allowance,
        Err(why) => return Some(Finding::not_evaluated(code, place, why).under(rule_set)),
    };
    let current = greatest.current;
    let allowed = allowance.greatest.value;
    let holds = allowance.holds(current);
    if let Err(why) = settled(holds != Ok(false), greatest.may_exceed(allowed)) {
        return Some(Finding::not_evaluated(code, place, why).under(rule_set));
    }
    if let Ok(holds) = holds {
        let limit = (code, place, Some(rule_set));
        if !facts.wants(limit, holds, current.value(), allowed.value()) {
            return None;
        }
    }
    let message = format!(
        "Wire {} ({}) carries {} A {}; allowed are {} A.",
        facts.model.wires[wire].id(),
        allowance.question.size,
        significant(current.value(), 4),
        facts.state_words(greatest.state),
        significant(allowed.value(), 4),
    );
    let found = match holds {
        Err(why) => Finding::not_evaluated(code, place, why),
        Ok(true) => Finding::judged(code, place, true, message, ""),
        Ok(false) => {
            let next_step = next_step(facts, &allowance, wire, greatest);
            let size = thick_enough(&allowance.question, greatest.current);
            Finding::judged(code, place, false, message, next_step).cured_by(wire, size)
        }
    };
    let found = found
        .under(rule_set)
        .worst_in(greatest.state)
        .measured(current.value(), allowed.value(), "A")
        .shown(working(facts, &allowance, greatest));
    Some(found)
}

fn next_step(
    facts: &Facts<'_>,
    allowance: &Allowance,
    wire: Index<Wire>,
    greatest: &Greatest,
) -> String {
    let id = facts.model.wires.id(wire);
    let mut step = match thick_enough(&allowance.question, greatest.current) {
        Some(size) => format!("Use {size} for wire {id}"),
        None => format!(
            "No stocked size is enough: share the current of wire {id} among several circuits"
        ),
    };
    let alone = bundling::bundle_factor(allowance.question.bundling, 1).value;
    let here = bundling::bundle_factor(
        allowance.question.bundling,
        allowance.question.bundled_conductors,
    );
    if let (Some(run), true) = (allowance.fullest, here.value < alone) {
        step.push_str(&format!(
            ", or lead it past run {}, where {} loaded conductors lie together",
            facts.model.runs.id(run),
            allowance.question.bundled_conductors
        ));
    }
    step.push('.');
    step
}

fn working(facts: &Facts<'_>, allowance: &Allowance, greatest: &Greatest) -> Working {
    let mut working = Working::new();
    working.step(
        "greatest current over the states",
        "",
        facts.state_words(greatest.state),
        format!("{} A", significant(greatest.current.value(), 5)),
        None,
    );
    working.append(allowance.greatest.working.clone());
    if let Some((inside, not_stated)) = &allowance.inside {
        let inside = match inside {
            Ok(inside) => format!("{} A", significant(inside.value(), 5)),
            Err(why) => why.to_string(),
        };
        working.step(
            "if it passed an engine space",
            "",
            not_stated.clone(),
            inside,
            None,
        );
    }
    if let Some(run) = allowance.fullest {
        working.step(
            "run with most loaded conductors on its way",
            "",
            facts.model.runs.id(run),
            allowance.question.bundled_conductors.to_string(),
            None,
        );
    }
    working
}
