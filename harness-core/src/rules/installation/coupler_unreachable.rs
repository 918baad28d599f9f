//! A coupler that nobody can reach once its zone is closed.

use crate::model::{BoatModel, Connector, Coupler, Index, Reach};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status};

/// The rule.
pub const COUPLER_UNREACHABLE: Rule = Rule {
    code: "coupler_unreachable",
    title: "Coupler out of reach",
    subject: Subject::Installation,
    depends: Depends::Itself,
    fault: "Once its zone is closed for good, no hatch or panel leads to this coupler.",
    why: "A joint that cannot be seen cannot be mated late, tested, or opened when it corrodes: \
          the deck or the liner is cut instead.",
    what_to_do: "Move the coupler to where a hatch or panel leads, or provide a panel and state \
                 it.",
    citations: &[Citation {
        rule_set: None,
        document: "our practice",
        place: "every coupler is reached by a named hatch",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Each joint between harnesses stays reachable on the finished boat, because joints \
               are where harnesses fail.",
    }],
    cases: &[
        Case {
            name: "through a hatch",
            given: "The stern is closed when the deck goes on and is reached by a hatch.",
            changes: &[
                ("zones/stern/closes_at", r#""deck on""#),
                ("zones/stern/reached_by", r#""stern hatch""#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "zone stays open",
            given: "The stern is never closed.",
            changes: &[
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "zone out of reach",
            given: "The stern is closed when the deck goes on, and nothing leads there.",
            changes: &[
                ("zones/stern/closes_at", r#""deck on""#),
                ("zones/stern/reached_by", r#""none""#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "coupler out of reach",
            given: "A hatch leads to the stern, but not to this coupler.",
            changes: &[
                ("zones/stern/closes_at", r#""deck on""#),
                ("zones/stern/reached_by", r#""stern hatch""#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two", "reached_by": "none"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "one half in an open zone",
            given: "One half in the closed stern, the other in the bow, which stays open.",
            changes: &[
                ("zones/stern/closes_at", r#""deck on""#),
                ("zones/stern/reached_by", r#""none""#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-pump"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "The stern is closed when the deck goes on; how it is reached is not stated.",
            changes: &[
                ("zones/stern/closes_at", r#""deck on""#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "one", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "two", "connector_type": "k", "point": "at-fuse"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "one", "second": "two"}"#,
                ),
            ],
            of: "coupler joint",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let model = facts.model;
    let fitted = |at: Index<Connector>| model.connectors[at].fitted_when.holds(facts.boat);
    model
        .couplers
        .iter()
        .filter(|(_, coupler)| fitted(coupler.first) && fitted(coupler.second))
        .map(|(at, coupler)| finding(model, at, coupler))
        .collect()
}

fn finding(model: &BoatModel, at: Index<Coupler>, coupler: &Coupler) -> Finding {
    let (code, place) = (COUPLER_UNREACHABLE.code, Place::Coupler(at));
    let id = model.couplers.id(at);
    match reach(model, coupler) {
        Err(why) => Finding::not_evaluated(code, place, why),
        Ok(Some(way)) => Finding::judged(
            code,
            place,
            true,
            format!("Coupler {id} is reached: {way}."),
            "",
        ),
        Ok(None) => Finding::judged(
            code,
            place,
            false,
            format!("Once its zone is closed, nothing leads to coupler {id}."),
            format!("Move coupler {id} to a zone with a hatch, or provide a panel and state it."),
        ),
    }
}

/// How the coupler is reached on the finished boat; `None` where it is not. What is stated for
/// the coupler goes before its zones; one of two zones in reach is enough.
fn reach(model: &BoatModel, coupler: &Coupler) -> Result<Option<String>, NotEvaluated> {
    match &coupler.reach {
        Some(Reach::Through(hatch)) => return Ok(Some(hatch.clone())),
        Some(Reach::Nowhere) => return Ok(None),
        None => {}
    }
    let halves = [coupler.first, coupler.second].map(|half| half_reach(model, half));
    let [first, second] = halves;
    match (first, second) {
        (Ok(Some(way)), _) | (_, Ok(Some(way))) => Ok(Some(way)),
        (Err(why), _) | (_, Err(why)) => Err(why),
        (Ok(None), Ok(None)) => Ok(None),
    }
}

fn half_reach(model: &BoatModel, half: Index<Connector>) -> Result<Option<String>, NotEvaluated> {
    let id = model.connectors.id(half);
    let zone = model.connectors[half]
        .point
        .and_then(|point| model.points[point].zone)
        .ok_or_else(|| NotEvaluated::because(format!("connector {id} lies in no stated zone")))?;
    let zone = &model.zones[zone];
    let title = zone.title();
    match (&zone.closes_at, &zone.reach) {
        (None, _) => Ok(Some(format!("{title} stays open"))),
        (Some(_), Some(Reach::Through(hatch))) => Ok(Some(hatch.clone())),
        (Some(_), Some(Reach::Nowhere)) => Ok(None),
        (Some(closes), None) => Err(NotEvaluated::because(format!(
            "{title} is closed for good ({closes}) and does not state how it is reached afterwards"
        ))),
    }
}
