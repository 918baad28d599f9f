//! A hole whose edge is not kept off the wires, or a watertight bulkhead without a gland.

use crate::model::{EdgeProtection, Hole, RuleSet};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status};

/// The rule.
pub const HOLE_WITHOUT_EDGE_PROTECTION: Rule = Rule {
    code: "hole_without_edge_protection",
    title: "Hole without edge protection",
    subject: Subject::Installation,
    depends: Depends::Company,
    fault: "Wires pass a hole whose edge is bare, or a watertight bulkhead without a gland.",
    why: "Wires chafed through at an edge are the most frequent cause of electrical damage on \
          boats; a pierced watertight bulkhead is none.",
    what_to_do: "Fit a grommet, bushing, sleeve or conduit; in a watertight bulkhead a gland.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.445",
            place: "(a)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Conductors through a bulkhead, structure, box or other rigid surface are \
                   protected from abrasion.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133",
            place: "7.5",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Conductors are protected where they may be damaged, as at bulkheads and edges.",
        },
        Citation {
            rule_set: None,
            document: "our practice",
            place: "watertight bulkheads",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "Through a watertight bulkhead wires pass in a gland, because edging alone lets \
                   water through.",
        },
    ],
    cases: &[
        Case {
            name: "protected",
            given: "A hole with a grommet in a bulkhead that is not watertight.",
            changes: &[(
                "runs/side/hole",
                r#"{"edge_protection": "grommet", "watertight": false}"#,
            )],
            of: "run side",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "bare edge",
            given: "A hole with nothing on its edge.",
            changes: &[("runs/side/hole", r#"{"edge_protection": "none"}"#)],
            of: "run side",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "watertight, grommet",
            given: "A grommet in a watertight bulkhead.",
            changes: &[(
                "runs/side/hole",
                r#"{"edge_protection": "grommet", "watertight": true}"#,
            )],
            of: "run side",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "watertight, gland",
            given: "A gland in a watertight bulkhead.",
            changes: &[(
                "runs/side/hole",
                r#"{"edge_protection": "gland", "watertight": true}"#,
            )],
            of: "run side",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "A hole of which nothing is said but its number.",
            changes: &[("runs/side/hole", r#"{"number": "H7"}"#)],
            of: "run side",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no hole",
            given: "The run passes no hole.",
            changes: &[],
            of: "run side",
            rule_set: None,
            expected: "nothing",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_bundles()
        .filter(|bundle| !bundle.wires.is_empty())
        .filter_map(|bundle| Some((bundle, facts.model.runs[bundle.run].hole.as_ref()?)))
        .map(|(bundle, hole)| {
            let place = Place::Run(bundle.run);
            let words = hole_words(hole, facts.model.runs.id(bundle.run));
            finding(place, &words, hole)
        })
        .collect()
}

fn hole_words(hole: &Hole, run: &str) -> String {
    match &hole.number {
        Some(number) => format!("Hole {number} of run {run}"),
        None => format!("The hole of run {run}"),
    }
}

fn finding(place: Place, words: &str, hole: &Hole) -> Finding {
    let code = HOLE_WITHOUT_EDGE_PROTECTION.code;
    let Some(protection) = hole.edge_protection else {
        let why = format!("{words} does not state what keeps its edge off the wires");
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let (holds, message) = match (protection, hole.watertight) {
        (EdgeProtection::None, _) => (false, format!("{words} has a bare edge.")),
        (EdgeProtection::Gland, Some(true)) => (
            true,
            format!("{words} has a gland in a watertight bulkhead."),
        ),
        (other, Some(true)) => (
            false,
            format!("{words} pierces a watertight bulkhead and has a {other}, no gland."),
        ),
        (other, Some(false)) => (true, format!("{words} has a {other}.")),
        // Few bulkheads are watertight, so the edge is judged and the guess shown.
        (other, None) => (
            true,
            format!("{words} has a {other}; its bulkhead is not stated as watertight."),
        ),
    };
    let next_step = if hole.watertight == Some(true) {
        "Fit a gland of the bundle's diameter."
    } else {
        "Fit a grommet, bushing, sleeve or conduit."
    };
    Finding::judged(code, place, holds, message, next_step)
}
