//! A wire that no open run leads along.

use crate::model::{BoatModel, Identified, Index, Wire};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Quantity, Relation, Rule, Subject,
};
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const WIRE_UNROUTABLE: Rule = Rule {
    code: "wire_unroutable",
    title: "Wire without a route",
    subject: Subject::Installation,
    depends: Depends::Itself,
    fault: "No chain of open runs leads from one end of the wire to the other, through the \
            points it must pass.",
    why: "Without a route there is no length, no drop, no cut and no zone sheet for the wire; \
          the rigger finds a way of his own.",
    what_to_do: "Add the missing run, give the runs on the way a length, open a closed run, or \
                 take back a point the wire must pass or a run it must avoid.",
    citations: &[Citation {
        rule_set: None,
        document: "our practice",
        place: "every wire has a route",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Each wire follows stated runs from end to end, because lengths, bundles and zone \
               sheets are taken from its route.",
    }],
    cases: &[
        Case {
            name: "routed",
            given: "One run of 5 m from the fuse to the pump.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "run closed",
            given: "The only run to the bow is closed to wires.",
            changes: &[("runs/side/closed_to_wires", "true")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "run avoided",
            given: "The wire must avoid the only run to the bow.",
            changes: &[("wires/feed/avoid", r#"["side"]"#)],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The pump is at no stated point.",
            changes: &[("loads/pump/point", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_wires()
        .map(|(wire, stated)| finding(facts, wire, stated))
        .collect()
}

fn finding(facts: &Facts<'_>, wire: Index<Wire>, stated: &Wire) -> Finding {
    let (code, place) = (WIRE_UNROUTABLE.code, Place::Wire(wire));
    if let Some(missing) = without_point(facts.model, stated) {
        return Finding::not_evaluated(code, place, missing);
    }
    let path = match facts.routing.path(wire) {
        Ok(path) => path,
        Err(why) => {
            return Finding::judged(
                code,
                place,
                false,
                format!("Wire {} has no route: {}.", stated.id(), why.reason),
                "Add or open a run on this way, state the lengths of the runs along it, or \
                 change the points it must pass and the runs it must avoid.",
            );
        }
    };
    let length = significant(path.length.value(), 4);
    let mut working = Working::new();
    working.step(
        "route",
        "Σ run lengths",
        format!("number of runs: {}", path.legs.len()),
        format!("{length} m"),
        None,
    );
    let message = format!("Wire {} has a route of {length} m.", stated.id());
    Finding {
        value: Some(Quantity::new(path.length.value(), "m")),
        working: working.into(),
        ..Finding::judged(code, place, true, message, "")
    }
}

/// An end at no stated point is a gap in the data, not a fault of the runs.
fn without_point(model: &BoatModel, wire: &Wire) -> Option<NotEvaluated> {
    let lost = [wire.from, wire.to]
        .into_iter()
        .map(|pin| pin.equipment())
        .find(|equipment| equipment.point(model).is_none())?;
    Some(NotEvaluated::because(format!(
        "{} is at no stated point",
        lost.id(model)
    )))
}
