//! A cavity without a wire, and without a decision what becomes of it.

use super::cavity_ends;
use super::occurrence::Occurrence;
use crate::boats::Condition;
use crate::model::{BoatModel, Connector, Index, Wire};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::working::{NotEvaluated, Status, Working};

/// The rule.
pub const CAVITY_UNDECIDED: Rule = Rule {
    code: "cavity_undecided",
    title: "Cavity undecided",
    subject: Subject::Joining,
    depends: Depends::Boats,
    fault: "On some boat a cavity of this connector holds no wire, and nothing says whether it is \
            plugged, left empty by design or kept as a spare.",
    why: "A blank in the cavity table is a question to the supplier for each order, and an open \
          cavity of a sealed connector lets water into all the others.",
    what_to_do: "State for the cavity: plug, empty by design or spare. Where it is only some \
                 options' wires that are missing, the part's own cavity plug or an end treatment \
                 of the connector will do.",
    citations: &[Citation {
        rule_set: None,
        document: "our practice",
        place: "no blank in a cavity table",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Each cavity holds a wire, a plug, or a decision that it stays empty, because \
               harness shops ask back for each blank and sealed connectors are only tight with \
               all unused cavities plugged.",
    }],
    cases: &[
        Case {
            name: "every cavity wired",
            given: "A connector of two cavities with feed and return.",
            changes: &[
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "one left over",
            given: "The same with three cavities, nothing said of the third.",
            changes: &[
                ("connector_types/+", r#"{"id": "k", "cavities": 3}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "decided",
            given: "The same, the third stated as plugged.",
            changes: &[
                ("connector_types/+", r#"{"id": "k", "cavities": 3}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump",
                        "cavities": [{"cavity": 3, "holds": "plug"}]}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "option only",
            given: "The feed comes with an option, the connector is on every boat.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "option only, connector capped",
            given: "The same, the connector capped where it serves nothing.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump",
                        "when_unused": {"treatment": "capped"}}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "option only, plugs for the part",
            given: "The same, and the connector part names the plug for an unused cavity.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                (
                    "connector_types/+",
                    r#"{"id": "k", "cavities": 2, "cavity_plug": "CP"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.2""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "connector and wire of one option",
            given: "Connector and both wires come with the option: never one without the other.",
            changes: &[
                ("options/+", r#"{"id": "radar"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump",
                        "fitted_when": "radar"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.2""#),
                ("wires/return/fitted_when", r#""radar""#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
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
        .iter()
        .map(|(connector, stated)| {
            let part = &facts.model.connector_types[stated.connector_type];
            let closed = stated.when_unused.is_some() || part.cavity_plug.is_some();
            let mut open = Open::default();
            for cavity in (1..=part.cavities).filter(|cavity| !stated.cavities.contains_key(cavity))
            {
                match ends.get(&(connector, cavity)) {
                    None => open.on_every_boat.push(cavity),
                    // Closed on boats without: by the connector's end treatment or its own plugs.
                    Some(_) if closed => {}
                    Some(wires) => {
                        let without = without_wire(facts.model, stated, wires);
                        match occurrence.is_ever(&without) {
                            Ok(true) => open.add(cavity, occurrence.boats_with(&without)),
                            Ok(false) => {}
                            Err(why) => return unknown(connector, why),
                        }
                    }
                }
            }
            finding(facts.model, connector, part.cavities, &open)
        })
        .collect()
}

/// Cavities nothing is said of.
#[derive(Default)]
struct Open {
    /// No wire ever ends there.
    on_every_boat: Vec<u32>,
    /// No wire ends in these cavities on these boats.
    without_option: Vec<(String, Vec<u32>)>,
}

impl Open {
    fn add(&mut self, cavity: u32, boats: String) {
        match self
            .without_option
            .iter_mut()
            .find(|(known, _)| *known == boats)
        {
            Some((_, cavities)) => cavities.push(cavity),
            None => self.without_option.push((boats, vec![cavity])),
        }
    }

    fn count(&self) -> usize {
        let conditional = self
            .without_option
            .iter()
            .map(|(_, cavities)| cavities.len());
        self.on_every_boat.len() + conditional.sum::<usize>()
    }
}

/// On boats that have the connector and none of the wires of a cavity.
fn without_wire(model: &BoatModel, connector: &Connector, wires: &[Index<Wire>]) -> Condition {
    let none = wires
        .iter()
        .map(|wire| model.wires[*wire].fitted_when.negated());
    Condition::All(none.collect()).and(&connector.fitted_when)
}

fn unknown(connector: Index<Connector>, why: NotEvaluated) -> Finding {
    Finding::not_evaluated(CAVITY_UNDECIDED.code, Place::Connector(connector), why)
}

fn finding(model: &BoatModel, connector: Index<Connector>, count: u32, open: &Open) -> Finding {
    let id = model.connectors.id(connector);
    let mut faults = Vec::new();
    if !open.on_every_boat.is_empty() {
        faults.push(format!("{} on any boat", no_wire(&open.on_every_boat)));
    }
    for (boats, cavities) in &open.without_option {
        faults.push(format!("{} on {boats}", no_wire(cavities)));
    }
    let undecided = open.count();
    let met = undecided == 0;
    let message = if met {
        format!("Each of the {count} cavities of {id} holds a wire or is decided on.")
    } else {
        format!("Nothing is decided for {id}: {}.", faults.join("; "))
    };
    let next_step = if met {
        String::new()
    } else if open.on_every_boat.is_empty() {
        format!(
            "State an end treatment for {id}, or plug, empty by design or spare for each of these cavities."
        )
    } else {
        format!("State plug, empty by design or spare for each of these cavities of {id}.")
    };
    let mut working = Working::new();
    working.step(
        "cavities undecided",
        "without a wire on some boat, and without a decision",
        format!("of {count}"),
        undecided.to_string(),
        None,
    );
    Finding {
        rule: CAVITY_UNDECIDED.code,
        place: Place::Connector(connector),
        rule_set: None,
        state: None,
        outcome: Outcome::met(met),
        value: Some(Quantity::new(undecided as f64, "")),
        limit: Some(Quantity::new(0.0, "")),
        message,
        next_step,
        working: working.into(),
        cured_by: None,
    }
}

fn no_wire(cavities: &[u32]) -> String {
    match cavities {
        [one] => format!("cavity {one} holds no wire"),
        several => format!("cavities {} hold no wire", ranges(several)),
    }
}

/// Ascending numbers as a reader writes them: `3, 5 to 8`.
fn ranges(numbers: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for &number in numbers {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => parts.push((number, number)),
        }
    }
    let part = |&(first, last): &(u32, u32)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    parts.iter().map(part).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::{CAVITY_UNDECIDED, ranges};
    use crate::rules::test_model::finding;

    #[test]
    fn every_open_cavity_is_counted_and_named() {
        let found = finding(
            &CAVITY_UNDECIDED,
            &[
                ("options/+", r#"{"id": "radar", "name": "Radar"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 8}"#),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                ("wires/feed/to", r#""plug.1""#),
                ("wires/feed/fitted_when", r#""radar""#),
                ("wires/return/from", r#""plug.3""#),
            ],
            "connector plug",
        );
        assert_eq!(found.value.map(|count| count.value), Some(7.0));
        assert_eq!(
            found.message,
            "Nothing is decided for plug: cavities 2, 4 to 8 hold no wire on any boat; cavity 1 \
             holds no wire on boats without Radar."
        );
    }

    #[test]
    fn numbers_are_drawn_together() {
        assert_eq!(ranges(&[1]), "1");
        assert_eq!(ranges(&[1, 2, 4, 5, 6, 9]), "1, 2, 4 to 6, 9");
    }
}
