//! A wire end or connector that some boat has without the thing it meets, and nothing is said of
//! what is done with it there.

use super::occurrence::Occurrence;
use crate::boats::Condition;
use crate::model::{
    BoatModel, Connector, EndTreatment, Identified, Index, Pin, RuleSet, Wire, WireEnd,
};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::working::{NotEvaluated, Status, Working};
use num_bigint::BigUint;

/// The rule.
pub const TAIL_WITHOUT_END_TREATMENT: Rule = Rule {
    code: "tail_without_end_treatment",
    title: "Tail without end treatment",
    subject: Subject::Joining,
    depends: Depends::Boats,
    fault: "Some boat is built with this end but without the thing it meets, and nothing says \
            how the end is closed and tied there.",
    why: "A tail left open is live behind a panel: taped ends of unused branches are among the \
          causes of fires in 12 V wiring, and an open connector half corrodes.",
    what_to_do: "State the end treatment: capped, plugged or mated with a blank, the part, and \
                 the point it is tied to. It then stands in the parts list and on the zone sheet.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.445",
            place: "(b)",
            status: Status::Sourced,
            relation: Relation::DerivedFrom,
            says: "An ungrounded terminal that is always live is protected at its source, or \
                   carries a boot, cap or cover.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.5.4.7.5, as quoted publicly",
            status: Status::Sourced,
            relation: Relation::DerivedFrom,
            says: "Wire ends without protection at their source carry a boot.",
        },
        Citation {
            rule_set: None,
            document: "our practice",
            place: "every tail closed",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "Each end that serves nothing on some boat has a stated treatment, fused or \
                   not, because the person who closes the panel cannot tell which ends are dead.",
        },
    ],
    cases: &[
        Case {
            name: "no tail",
            given: "The pump is on every boat, as its wires are.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "nothing",
        },
        Case {
            name: "wire without its load",
            given: "The pump is an option, its feed is on every boat.",
            changes: &[
                ("options/+", r#"{"id": "washdown"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "treated",
            given: "The same, the end of the feed capped on boats without the pump.",
            changes: &[
                ("options/+", r#"{"id": "washdown"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
                (
                    "wires/feed/to_end/when_unused",
                    r#"{"treatment": "capped", "tie_point": "at-pump"}"#,
                ),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "both of one option",
            given: "Pump and feed come with the same option.",
            changes: &[
                ("options/+", r#"{"id": "washdown"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
                ("wires/feed/fitted_when", r#""washdown""#),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "nothing",
        },
        Case {
            name: "option that every boat has",
            given: "The pump is an option which a rule puts on every boat.",
            changes: &[
                ("options/+", r#"{"id": "washdown"}"#),
                ("option_rules/+", r#"{"always": "washdown"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "nothing",
        },
        Case {
            name: "half a coupler",
            given: "One half on every boat, the other half with an option.",
            changes: &[
                ("options/+", r#"{"id": "roof"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "hull-half", "connector_type": "k"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "roof-half", "connector_type": "k", "fitted_when": "roof"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "hull-half", "second": "roof-half"}"#,
                ),
            ],
            of: "connector hull-half",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "half a coupler, blanked",
            given: "The same, the hull half mated with a blank where there is no roof half.",
            changes: &[
                ("options/+", r#"{"id": "roof"}"#),
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                (
                    "connectors/+",
                    r#"{"id": "hull-half", "connector_type": "k",
                        "when_unused": {"treatment": "mated-blank"}}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "roof-half", "connector_type": "k", "fitted_when": "roof"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "joint", "first": "hull-half", "second": "roof-half"}"#,
                ),
            ],
            of: "connector hull-half",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "A connector that states neither its other half nor what it plugs into.",
            changes: &[
                ("connector_types/+", r#"{"id": "k", "cavities": 2}"#),
                ("connectors/+", r#"{"id": "plug", "connector_type": "k"}"#),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let model = facts.model;
    let mut occurrence = Occurrence::of(facts);
    let mut findings = Vec::new();
    for (wire, stated) in model.wires.iter() {
        for (pin, end) in [(stated.from, &stated.from_end), (stated.to, &stated.to_end)] {
            findings.extend(Tail::of_wire(model, wire, stated, pin, end).finding(&mut occurrence));
        }
    }
    let halves = other_halves(model);
    for (connector, stated) in model.connectors.iter() {
        findings.extend(match meets(model, &halves, connector, stated) {
            Some((met, meets)) => {
                Tail::of_connector(connector, stated, met, meets).finding(&mut occurrence)
            }
            None => Some(meets_nothing(connector, stated)),
        });
    }
    findings
}

/// An end, what it meets, and when either is fitted.
struct Tail<'m> {
    place: Place,
    /// The end in words.
    end: String,
    /// What it meets in words.
    meets: String,
    end_fitted: &'m Condition,
    met_fitted: &'m Condition,
    treatment: Option<&'m EndTreatment>,
}

impl<'m> Tail<'m> {
    fn of_wire(
        model: &'m BoatModel,
        at: Index<Wire>,
        wire: &'m Wire,
        pin: Pin,
        end: &'m WireEnd,
    ) -> Self {
        let equipment = pin.equipment();
        Self {
            place: Place::Wire(at),
            end: format!("the end of wire {} at {}", wire.id(), pin.label(model)),
            meets: equipment.id(model).to_owned(),
            end_fitted: &wire.fitted_when,
            met_fitted: equipment.fitted_when(model),
            treatment: end.when_unused.as_ref(),
        }
    }

    fn of_connector(
        at: Index<Connector>,
        connector: &'m Connector,
        met_fitted: &'m Condition,
        meets: String,
    ) -> Self {
        Self {
            place: Place::Connector(at),
            end: format!("connector {}", connector.id()),
            meets,
            end_fitted: &connector.fitted_when,
            met_fitted,
            treatment: connector.when_unused.as_ref(),
        }
    }

    /// `None` where on no boat the end is without what it meets.
    fn finding(&self, occurrence: &mut Occurrence<'_>) -> Option<Finding> {
        if *self.met_fitted == Condition::Always || self.met_fitted == self.end_fitted {
            return None;
        }
        let loose = self.end_fitted.and(&self.met_fitted.negated());
        match occurrence.count(&loose) {
            Err(why) => {
                let code = TAIL_WITHOUT_END_TREATMENT.code;
                Some(Finding::not_evaluated(code, self.place, why))
            }
            Ok(boats) if boats == BigUint::ZERO => None,
            Ok(boats) => Some(self.judged(&boats, &occurrence.boats_with(&loose))),
        }
    }

    fn judged(&self, count: &BigUint, boats: &str) -> Finding {
        let mut working = Working::new();
        working.step(
            "boats with the end and without what it meets",
            "end fitted and not other fitted",
            boats,
            format!("{count} boats"),
            None,
        );
        let loose = format!(
            "On {boats} ({count} in all) {} meets nothing, {} not being fitted",
            self.end, self.meets
        );
        let message = match self.treatment {
            Some(treatment) => format!("{loose}; there it is {}.", treatment.kind),
            None => format!("{loose}, and nothing says what is done with it."),
        };
        let met = self.treatment.is_some();
        Finding {
            rule: TAIL_WITHOUT_END_TREATMENT.code,
            place: self.place,
            rule_set: None,
            state: None,
            outcome: Outcome::met(met),
            value: Some(Quantity::new(f64::from(u8::from(!met)), "")),
            limit: Some(Quantity::new(0.0, "")),
            message,
            next_step: if met {
                String::new()
            } else {
                format!(
                    "State for {} whether it is capped, plugged or mated with a blank when unused, \
                     the part, and where it is tied.",
                    self.end
                )
            },
            working: working.into(),
            cured_by: None,
        }
    }
}

/// The other half of each connector that is half of a coupler, by position of the connector.
fn other_halves(model: &BoatModel) -> Vec<Option<Index<Connector>>> {
    let mut halves = vec![None; model.connectors.len()];
    for (_, coupler) in model.couplers.iter() {
        halves[coupler.first.number()] = Some(coupler.second);
        halves[coupler.second.number()] = Some(coupler.first);
    }
    halves
}

/// What a connector meets, and when that is fitted.
fn meets<'m>(
    model: &'m BoatModel,
    halves: &[Option<Index<Connector>>],
    at: Index<Connector>,
    connector: &Connector,
) -> Option<(&'m Condition, String)> {
    if let Some(half) = halves[at.number()] {
        return Some((
            &model.connectors[half].fitted_when,
            model.connectors.id(half).to_owned(),
        ));
    }
    let equipment = connector.plugs_into.as_ref()?.equipment;
    Some((equipment.fitted_when(model), equipment.id(model).to_owned()))
}

fn meets_nothing(at: Index<Connector>, connector: &Connector) -> Finding {
    let why = NotEvaluated::because(format!(
        "connector {} is half of no coupler and does not state what it plugs into",
        connector.id()
    ));
    Finding::not_evaluated(TAIL_WITHOUT_END_TREATMENT.code, Place::Connector(at), why)
}

#[cfg(test)]
mod tests {
    use super::TAIL_WITHOUT_END_TREATMENT;
    use crate::rules::test_model::{finding, findings};

    #[test]
    fn the_boats_are_named_and_counted() {
        // Three options, free: 8 boats; without the washdown pump and with the bow kit 2 of them.
        let found = finding(
            &TAIL_WITHOUT_END_TREATMENT,
            &[
                ("options/+", r#"{"id": "washdown", "name": "Washdown"}"#),
                ("options/+", r#"{"id": "bow", "name": "Bow kit"}"#),
                ("options/+", r#"{"id": "horn"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
                ("wires/feed/fitted_when", r#""bow""#),
                ("wires/return/fitted_when", r#""washdown""#),
            ],
            "wire feed",
        );
        assert_eq!(
            found.message,
            "On boats with Bow kit and without Washdown (2 in all) the end of wire feed at \
             pump.plus meets nothing, pump not being fitted, and nothing says what is done with it."
        );
    }

    #[test]
    fn each_end_of_a_wire_is_a_tail_of_its_own() {
        let found = findings(
            &TAIL_WITHOUT_END_TREATMENT,
            &[
                ("options/+", r#"{"id": "washdown"}"#),
                ("loads/pump/fitted_when", r#""washdown""#),
                ("devices/fuse/fitted_when", r#""washdown""#),
                (
                    "wires/feed/from_end/when_unused",
                    r#"{"treatment": "capped"}"#,
                ),
                ("wires/main/fitted_when", r#""washdown""#),
                ("wires/return/fitted_when", r#""washdown""#),
            ],
        );
        let outcomes: Vec<_> = found.iter().map(|finding| finding.outcome.word()).collect();
        assert_eq!(outcomes, ["met", "fails"]);
    }
}
