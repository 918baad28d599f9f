//! Two wires that one boat can have end in one cavity.

use super::cavity_ends;
use super::occurrence::Occurrence;
use crate::model::{BoatModel, Connector, Identified, Index, Wire};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::working::{NotEvaluated, Status, Working};

/// The rule.
pub const CAVITY_USED_TWICE: Rule = Rule {
    code: "cavity_used_twice",
    title: "Cavity used twice",
    subject: Subject::Joining,
    depends: Depends::Boats,
    fault: "A boat can be ordered on which two wires end in the same cavity of a connector.",
    why: "A cavity holds one contact, and a contact is made for one conductor: the second wire \
          stays out, or is crimped in beside the first and works loose unsealed. If only some \
          option lists bring both wires together, it shows on the line.",
    what_to_do: "Give one of the wires a free cavity, join the two ahead of the connector in a \
                 splice, or forbid the two options together.",
    citations: &[Citation {
        rule_set: None,
        document: "our practice",
        place: "one wire end, one cavity",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Each wire end stands in one place and each cavity holds one wire at most, because \
               contacts and single-wire seals are made for one conductor.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "Feed and return in cavities 1 and 2.",
            changes: &[
                ("connector_types/+", r#"{"id": "two-way", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "two-way", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "over",
            given: "Feed and return both in cavity 1, on every boat.",
            changes: &[
                ("connector_types/+", r#"{"id": "two-way", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "two-way", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/return/from", r#""plug.1""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "options that exclude each other",
            given: "Two wires in cavity 1, one for each of two options that no boat has together.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                ("options/+", r#"{"id": "horn"}"#),
                ("option_rules/+", r#"{"excludes": ["radar", "horn"]}"#),
                ("connector_types/+", r#"{"id": "two-way", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "two-way", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.1""#),
                ("wires/return/fitted_when", r#""horn""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "options of one boat",
            given: "The same two wires, and no rule against having both options.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                ("options/+", r#"{"id": "horn"}"#),
                ("connector_types/+", r#"{"id": "two-way", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "two-way", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.1""#),
                ("wires/return/fitted_when", r#""horn""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let ends = cavity_ends::of(facts.model);
    let mut occurrence = Occurrence::of(facts);
    facts
        .model
        .connectors
        .indices()
        .filter_map(|connector| {
            let mut wired = 0;
            let mut clashes = Vec::new();
            for (cavity, wires) in cavity_ends::within(&ends, connector) {
                wired += 1;
                match first_clash(facts.model, wires, &mut occurrence) {
                    Ok(None) => {}
                    Ok(Some(clash)) => clashes.push((cavity, clash)),
                    Err(why) => {
                        let place = Place::Connector(connector);
                        return Some(Finding::not_evaluated(CAVITY_USED_TWICE.code, place, why));
                    }
                }
            }
            (wired > 0).then(|| finding(facts.model, connector, wired, &clashes))
        })
        .collect()
}

/// Two wires that meet in a cavity on some boat, and which boats those are.
struct Clash {
    wires: [Index<Wire>; 2],
    boats: String,
}

fn first_clash(
    model: &BoatModel,
    wires: &[Index<Wire>],
    occurrence: &mut Occurrence<'_>,
) -> Result<Option<Clash>, NotEvaluated> {
    for (number, &one) in wires.iter().enumerate() {
        for &other in &wires[number + 1..] {
            let both = model.wires[one]
                .fitted_when
                .and(&model.wires[other].fitted_when);
            if occurrence.is_ever(&both)? {
                return Ok(Some(Clash {
                    wires: [one, other],
                    boats: occurrence.boats_with(&both),
                }));
            }
        }
    }
    Ok(None)
}

fn finding(
    model: &BoatModel,
    connector: Index<Connector>,
    wired: usize,
    clashes: &[(u32, Clash)],
) -> Finding {
    let id = model.connectors.id(connector);
    let names = |clash: &Clash| clash.wires.map(|wire| model.wires[wire].id()).join(" and ");
    let mut working = Working::new();
    working.step(
        "cavities with wires",
        "",
        "counted in the wire list",
        wired.to_string(),
        None,
    );
    for (cavity, clash) in clashes {
        working.step(
            format!("cavity {cavity}"),
            "wire and wire on one boat",
            names(clash),
            format!("on {}", clash.boats),
            None,
        );
    }
    let met = clashes.is_empty();
    let message = if met {
        format!("{wired} cavities of {id} hold wires, on no boat two in one.")
    } else {
        let each = clashes
            .iter()
            .map(|(cavity, clash)| {
                format!(
                    "cavity {cavity} holds wires {} on {}",
                    names(clash),
                    clash.boats
                )
            })
            .collect::<Vec<_>>();
        format!("In {id} {}.", each.join("; "))
    };
    let next_step = clashes.first().map_or_else(String::new, |(cavity, clash)| {
        format!(
            "Move wire {} from {id}.{cavity} to a free cavity, or splice it to wire {}.",
            model.wires[clash.wires[1]].id(),
            model.wires[clash.wires[0]].id(),
        )
    });
    Finding {
        rule: CAVITY_USED_TWICE.code,
        place: Place::Connector(connector),
        rule_set: None,
        state: None,
        outcome: Outcome::met(met),
        value: Some(Quantity::new(clashes.len() as f64, "")),
        limit: Some(Quantity::new(0.0, "")),
        message,
        next_step,
        working: working.into(),
        cured_by: None,
    }
}

#[cfg(test)]
mod tests {
    use super::CAVITY_USED_TWICE;
    use crate::rules::test_model::finding;

    #[test]
    fn the_clash_names_the_cavity_the_wires_and_the_boats() {
        let found = finding(
            &CAVITY_USED_TWICE,
            &[
                ("options/+", r#"{"id": "radar", "name": "Radar"}"#),
                ("connector_types/+", r#"{"id": "two-way", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "two-way", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.2""#),
                ("wires/return/from", r#""plug.2""#),
                ("wires/return/fitted_when", r#""radar""#),
            ],
            "connector plug",
        );
        assert_eq!(
            found.message,
            "In plug cavity 2 holds wires feed and return on boats with Radar."
        );
        assert_eq!(
            found.next_step,
            "Move wire return from plug.2 to a free cavity, or splice it to wire feed."
        );
    }
}
