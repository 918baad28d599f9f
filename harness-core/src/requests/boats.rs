//! Question: which boats can be built from these options under these rules?

use super::Request;
use crate::boats::{BoatsAnswer, BoatsQuestion};
use crate::file_format::fault::{Fault, shown};
use crate::file_format::form::{Form, Shape, record};
use crate::units::bounds;
use serde_json::json;
use std::collections::BTreeMap;

record! {
    /// One rule between options; state exactly one of its forms.
    RuleRequest
    required {}
    optional {
        /// Two names: a boat with the first has the second.
        requires: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
        /// Two names: no boat has both.
        excludes: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
        /// Two names or more: a boat with the first has at least one of the others.
        only_with: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
        /// Every boat has one and only one of them.
        exactly_one_of: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
        /// No boat has two of them.
        at_most_one_of: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
        /// Every boat has it.
        always: Option<String> = Shape::Text;
    }
}

record! {
    /// Question: how many boats can be built, what is never or always there, which is heaviest?
    BoatsRequest
    required {
        /// Option names, each once.
        options: Vec<String> = Shape::List(&Shape::Text, 0);
    }
    optional {
        /// Rules over those names.
        rules: Vec<RuleRequest> = Shape::List(&Shape::Record(RuleRequest::FORM), 0);
        /// Weight of an option, whatever it stands for.
        weights: Option<BTreeMap<String, f64>> = Shape::Numbers(None, &bounds::WEIGHT);
    }
}

impl Request for BoatsRequest {
    type Answer = BoatsAnswer;
    const FORM: &'static Form = BoatsRequest::FORM;

    fn answer(self) -> Result<BoatsAnswer, Vec<Fault>> {
        let faults: Vec<_> = self
            .rules
            .iter()
            .enumerate()
            .filter(|(_, rule)| rule.forms() != 1)
            .map(|(place, rule)| Fault {
                pointer: format!("/rules/{place}"),
                detail: format!(
                    "This rule states {} of its forms. State exactly one.",
                    rule.forms()
                ),
                given: String::new(),
                limit: RuleRequest::FORM.words(),
            })
            .collect();
        if !faults.is_empty() {
            return Err(faults);
        }
        let question: BoatsQuestion = serde_json::from_value(json!({
            "options": self.options, "rules": self.rules,
            "weights": self.weights.unwrap_or_default(),
        }))
        .map_err(|error| {
            vec![Fault {
                pointer: String::new(),
                detail: format!("The question could not be taken in: {error}."),
                given: String::new(),
                limit: String::new(),
            }]
        })?;
        question.answer().map_err(|faults| {
            faults
                .into_iter()
                .map(|fault| Fault {
                    pointer: fault.pointer,
                    detail: fault.detail,
                    given: shown(&fault.given),
                    limit: fault.limit.unwrap_or_default(),
                })
                .collect()
        })
    }
}

impl RuleRequest {
    /// How many forms of a rule are stated.
    fn forms(&self) -> usize {
        let lists = [
            &self.requires,
            &self.excludes,
            &self.only_with,
            &self.exactly_one_of,
            &self.at_most_one_of,
        ];
        lists.iter().filter(|list| list.is_some()).count() + usize::from(self.always.is_some())
    }
}

#[cfg(test)]
mod tests {
    use crate::requests::{BoatsRequest, answer};
    use serde_json::json;

    #[test]
    fn twenty_options_three_engines_two_tops() {
        // 2^20 · 3 · 2, plain arithmetic.
        let mut options: Vec<String> = (0..20).map(|number| format!("o{number}")).collect();
        options.extend(["e1", "e2", "e3", "t1", "t2"].map(str::to_owned));
        let found = answer::<BoatsRequest>(json!({
            "options": options,
            "rules": [{"exactly_one_of": ["e1", "e2", "e3"]}, {"exactly_one_of": ["t1", "t2"]}],
        }))
        .unwrap();
        assert_eq!(found.buildable, "6291456");
    }

    #[test]
    fn a_rule_states_exactly_one_form_and_known_options() {
        let faults = answer::<BoatsRequest>(json!({
            "options": ["a", "b"],
            "rules": [{"always": "a", "requires": ["a", "b"]}, {}],
        }))
        .unwrap_err();
        assert_eq!(faults.len(), 2);
        let faults = answer::<BoatsRequest>(json!({
            "options": ["a", "b", "a"], "rules": [{"requires": ["a", "z"]}, {"excludes": ["a"]}],
        }))
        .unwrap_err();
        assert!(faults.len() >= 3, "{faults:?}");
    }
}
