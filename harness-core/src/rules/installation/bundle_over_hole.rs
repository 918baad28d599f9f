//! A bundle thicker than the hole it has to pass.

use crate::conductor::bundle_diameter;
use crate::model::{Hole, RuleSet};
use crate::routing::Bundle;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::working::{NotEvaluated, Status, significant};

/// The rule.
pub const BUNDLE_OVER_HOLE: Rule = Rule {
    code: "bundle_over_hole",
    title: "Bundle thicker than its hole",
    subject: Subject::Installation,
    depends: Depends::Company,
    fault: "The bundle on this boat is thicker than the hole it passes.",
    why: "The rigger files the hole wider on the spot, past its edging, or leads some of the \
          wires another way.",
    what_to_do: "Drill a larger hole, a second one, or lead some of the wires another way. Leave \
                 room for the edging and for the largest connector on the bundle.",
    citations: &[
        Citation {
            rule_set: None,
            document: "our practice",
            place: "bundle diameter within the hole",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "The bundle must at least enter the hole, because standards ask for edging but \
                   give no clearance; edging and connectors need more.",
        },
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.410",
            place: "(c)(3)",
            status: Status::FromMemory,
            relation: Relation::DerivedFrom,
            says: "In a bulkhead that keeps fuel vapor off, the gap round the conductors is small: \
                   a hole much too wide is no answer there.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "Two wires of 12 AWG through a hole of 20 mm.",
            changes: &[(
                "runs/side/hole",
                r#"{"diameter_mm": 20, "edge_protection": "grommet"}"#,
            )],
            of: "run side",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "well over",
            given: "Two wires of 12 AWG through a hole of 5 mm.",
            changes: &[(
                "runs/side/hole",
                r#"{"diameter_mm": 5, "edge_protection": "grommet"}"#,
            )],
            of: "run side",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "A hole without a diameter.",
            changes: &[("runs/side/hole", r#"{"edge_protection": "grommet"}"#)],
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
            finding(facts, bundle, hole).unwrap_or_else(|why| {
                Finding::not_evaluated(BUNDLE_OVER_HOLE.code, Place::Run(bundle.run), why)
            })
        })
        .collect()
}

fn finding(facts: &Facts<'_>, bundle: &Bundle, hole: &Hole) -> Result<Finding, NotEvaluated> {
    let id = facts.model.runs.id(bundle.run);
    let room = hole
        .diameter
        .ok_or_else(|| NotEvaluated::because(format!("the hole of run {id} states no diameter")))?;
    let diameters = bundle.diameters.as_ref().map_err(Clone::clone)?;
    let mut found = bundle_diameter(diameters)?;
    let needed = found.value;
    let met = needed <= room;
    found.working.step(
        "room",
        "bundle ≤ hole",
        format!(
            "{} mm ≤ {} mm",
            significant(needed.value(), 4),
            significant(room.value(), 4)
        ),
        if met { "enters" } else { "does not enter" },
        None,
    );
    let message = format!(
        "The wires in run {id} make a bundle of {} mm, the hole has {} mm.",
        significant(needed.value(), 3),
        significant(room.value(), 3)
    );
    Ok(Finding {
        rule: BUNDLE_OVER_HOLE.code,
        place: Place::Run(bundle.run),
        rule_set: None,
        state: None,
        outcome: Outcome::met(met),
        value: Some(Quantity::new(needed.value(), "mm")),
        limit: Some(Quantity::new(room.value(), "mm")),
        message,
        next_step: if met {
            String::new()
        } else {
            format!(
                "Make the hole of run {id} wider than {} mm and the edging with it, or lead some \
                 of its wires another way.",
                needed.value().ceil()
            )
        },
        working: found.working.into(),
        cured_by: None,
    })
}

#[cfg(test)]
mod tests {
    use super::BUNDLE_OVER_HOLE;
    use crate::rules::test_model::finding;

    /// Two equal wires side by side are twice one diameter across.
    #[test]
    fn two_wires_need_twice_their_diameter() {
        let row = crate::tables::conductors::row("12 AWG".parse().unwrap()).unwrap();
        let both = 2.0 * row.diameter.value.value();
        for (hole, outcome) in [(both, "met"), (both - 0.01, "fails")] {
            let hole = format!(r#"{{"diameter_mm": {hole}, "edge_protection": "grommet"}}"#);
            let found = finding(&BUNDLE_OVER_HOLE, &[("runs/side/hole", &hole)], "run side");
            assert_eq!(found.outcome.word(), outcome, "{}", found.message);
        }
    }
}
