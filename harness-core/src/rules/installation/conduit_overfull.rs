//! More wire in a conduit or leg than may be drawn through it.

use crate::conductor::{BundleQuestion, bundle};
use crate::model::{Fixing, Run};
use crate::routing::Bundle;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::units::Millimetres;
use crate::working::{NotEvaluated, Status, significant};

/// The rule.
pub const CONDUIT_OVERFULL: Rule = Rule {
    code: "conduit_overfull",
    title: "Conduit overfull",
    subject: Subject::Installation,
    depends: Depends::Company,
    fault: "The wires on this boat fill more of the bore of a conduit or leg than may be filled.",
    why: "Wires that jam are pulled until their insulation tears, heat stays inside, and there \
          is no room for the wire that an owner adds.",
    what_to_do: "Lead some of the wires another way, take a wider conduit, or a second one.",
    citations: &[Citation {
        rule_set: None,
        document: "NEC chapter 9",
        place: "Table 1",
        status: Status::SeveralSources,
        relation: Relation::DerivedFrom,
        says: "Of the bore one cable may fill 53 %, two 31 %, more 40 %. A rule for buildings, \
               taken over as our practice because no marine standard gives a figure.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "Two wires of 12 AWG in a conduit of 25 mm.",
            changes: &[
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/bore_mm", "25"),
            ],
            of: "run side",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "well over",
            given: "Two wires of 12 AWG in a conduit of 6 mm.",
            changes: &[
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/bore_mm", "6"),
            ],
            of: "run side",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "leg of a top",
            given: "The same two wires in the leg of a top with a bore of 6 mm.",
            changes: &[("runs/side/fixing", r#""leg""#), ("runs/side/bore_mm", "6")],
            of: "run side",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "jacket counts once",
            given: "Two wires in one jacket of 10 mm: one cable, 44 % of a bore of 15 mm, limit 53 %.",
            changes: &[
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/bore_mm", "15"),
                (
                    "cables/+",
                    r#"{"id": "pair", "sheathed": true, "outside_diameter_mm": 10}"#,
                ),
                ("wires/feed/cable", r#""pair""#),
                ("wires/return/cable", r#""pair""#),
            ],
            of: "run side",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "clipped run",
            given: "The wires are clipped, there is no conduit.",
            changes: &[],
            of: "run side",
            rule_set: None,
            expected: "nothing",
        },
        Case {
            name: "data missing",
            given: "A conduit without a stated bore.",
            changes: &[("runs/side/fixing", r#""conduit""#)],
            of: "run side",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "size missing",
            given: "A wire in the conduit states no size.",
            changes: &[
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/bore_mm", "25"),
                ("wires/feed/size", "null"),
            ],
            of: "run side",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_bundles()
        .map(|bundle| (bundle, &facts.model.runs[bundle.run]))
        .filter(|(_, run)| matches!(run.fixing, Some(Fixing::Conduit | Fixing::Leg)))
        .map(|(bundle, run)| {
            finding(facts, bundle, run).unwrap_or_else(|why| {
                Finding::not_evaluated(CONDUIT_OVERFULL.code, Place::Run(bundle.run), why)
            })
        })
        .collect()
}

fn finding(facts: &Facts<'_>, found: &Bundle, run: &Run) -> Result<Finding, NotEvaluated> {
    let id = facts.model.runs.id(found.run);
    if found.wires.is_empty() {
        let message = format!("No wire of this boat lies in run {id}.");
        return Ok(Finding::judged(
            CONDUIT_OVERFULL.code,
            Place::Run(found.run),
            true,
            message,
            "",
        ));
    }
    let bore = run.bore.ok_or_else(|| {
        NotEvaluated::because(format!(
            "run {id} states no bore: measure its inside diameter"
        ))
    })?;
    let answer = bundle(&BundleQuestion {
        diameters: found.diameters.clone()?,
        bore: Some(bore),
    })?;
    let (Some(percent), Some(limit)) = (answer.fill_percent, answer.fill_limit_percent) else {
        return Err(NotEvaluated::because(
            "there is no fill limit for this number of wires",
        ));
    };
    let met = percent <= limit;
    Ok(Finding {
        rule: CONDUIT_OVERFULL.code,
        place: Place::Run(found.run),
        rule_set: None,
        state: None,
        outcome: Outcome::met(met),
        value: Some(Quantity::new(percent, "%")),
        limit: Some(Quantity::new(limit, "%")),
        message: format!(
            "The wires in run {id} fill {} % of its bore ({} mm), limit {limit} %.",
            significant(percent, 3),
            significant(bore.value(), 4),
        ),
        next_step: if met {
            String::new()
        } else {
            next_step(id, bore, percent, limit)
        },
        working: answer.working.into(),
        cured_by: None,
    })
}

/// The bore that would do: areas go with its square.
fn next_step(id: &str, bore: Millimetres, percent: f64, limit: f64) -> String {
    let enough = (bore.value() * (percent / limit).sqrt()).ceil();
    format!("Widen run {id} to a bore of {enough} mm, or lead some of its wires another way.")
}

#[cfg(test)]
mod tests {
    use super::CONDUIT_OVERFULL;
    use crate::rules::test_model::finding;

    /// Two equal wires fill 2 d² / D² of the bore: exactly 31 % where D = d √(2 / 0.31).
    #[test]
    fn two_wires_are_judged_at_31_percent() {
        let diameter = crate::tables::conductors::row("12 AWG".parse().unwrap())
            .unwrap()
            .diameter
            .value;
        let at_limit = diameter.value() * (2.0_f64 / 0.31).sqrt();
        for (bore, outcome) in [(at_limit * 1.0001, "met"), (at_limit * 0.9999, "fails")] {
            let bore = bore.to_string();
            let changes = [
                ("runs/side/fixing", r#""conduit""#),
                ("runs/side/bore_mm", bore.as_str()),
            ];
            let found = finding(&CONDUIT_OVERFULL, &changes, "run side");
            assert_eq!(found.outcome.word(), outcome, "{}", found.message);
            assert_eq!(found.limit.map(|limit| limit.value), Some(31.0));
        }
    }

    #[test]
    fn the_bore_proposed_is_wide_enough() {
        let changes = [
            ("runs/side/fixing", r#""conduit""#),
            ("runs/side/bore_mm", "6"),
        ];
        let failing = finding(&CONDUIT_OVERFULL, &changes, "run side");
        let bore = failing
            .next_step
            .split(' ')
            .find_map(|word| word.parse::<f64>().ok())
            .unwrap();
        let bore = bore.to_string();
        let changes = [
            ("runs/side/fixing", r#""conduit""#),
            ("runs/side/bore_mm", bore.as_str()),
        ];
        assert_eq!(
            finding(&CONDUIT_OVERFULL, &changes, "run side")
                .outcome
                .word(),
            "met"
        );
    }
}
