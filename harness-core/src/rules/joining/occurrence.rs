//! On how many buildable boats a condition holds. Many wires share one condition, so each is
//! asked of the diagram once.

use crate::boats::{BoatSet, Condition};
use crate::model::BoatModel;
use crate::rules::Facts;
use crate::working::NotEvaluated;
use num_bigint::BigUint;
use std::collections::BTreeMap;

/// Answers about conditions over one model's boats.
pub(super) struct Occurrence<'f> {
    boats: Option<&'f BoatSet>,
    option_names: Vec<String>,
    counted: BTreeMap<Condition, Result<BigUint, NotEvaluated>>,
}

impl<'f> Occurrence<'f> {
    pub(super) fn of(facts: &Facts<'f>) -> Self {
        Self {
            boats: facts.boats,
            option_names: option_names(facts.model),
            counted: BTreeMap::new(),
        }
    }

    /// Number of buildable boats that meet a condition.
    ///
    /// # Errors
    /// When the options are too tangled to count.
    pub(super) fn count(&mut self, condition: &Condition) -> Result<BigUint, NotEvaluated> {
        if let Some(known) = self.counted.get(condition) {
            return known.clone();
        }
        let found = match self.boats {
            None => Err(NotEvaluated::because(
                "the rules between the options are too tangled to list the boats",
            )),
            Some(boats) => boats
                .count_where(condition)
                .map_err(|wide| NotEvaluated::because(wide.to_string())),
        };
        self.counted.insert(condition.clone(), found.clone());
        found
    }

    /// Whether some buildable boat meets a condition.
    ///
    /// # Errors
    /// When the options are too tangled to count.
    pub(super) fn is_ever(&mut self, condition: &Condition) -> Result<bool, NotEvaluated> {
        Ok(self.count(condition)? != BigUint::ZERO)
    }

    /// The boats that meet a condition in words: `every boat`, `boats with Radar and without Horn`.
    pub(super) fn boats_with(&self, condition: &Condition) -> String {
        let known = what_is_known(condition);
        let condition = &known;
        let part = |part: &Condition| match part {
            Condition::Not(part) => format!("without {}", part.words(&self.option_names)),
            part @ Condition::Any(_) => format!("with ({})", part.words(&self.option_names)),
            part => format!("with {}", part.words(&self.option_names)),
        };
        match condition {
            Condition::Always => "every boat".to_owned(),
            Condition::All(parts) => {
                let parts = parts.iter().map(part).collect::<Vec<_>>();
                format!("boats {}", parts.join(" and "))
            }
            Condition::Any(_) => format!("boats with {}", condition.words(&self.option_names)),
            condition => format!("boats {}", part(condition)),
        }
    }
}

/// The condition with each option that must be there, or must not, known in all its other parts.
fn what_is_known(condition: &Condition) -> Condition {
    let Condition::All(parts) = condition else {
        return condition.clone();
    };
    let fixed = |part: &Condition| match part {
        Condition::Option(option) => Some((*option, true)),
        Condition::Not(inner) => match inner.as_ref() {
            Condition::Option(option) => Some((*option, false)),
            _ => None,
        },
        _ => None,
    };
    let known: Vec<_> = parts.iter().filter_map(fixed).collect();
    let told = |part: &Condition| match fixed(part) {
        Some(_) => part.clone(),
        None => known.iter().fold(part.clone(), |part, (option, fitted)| {
            part.given(*option, *fitted)
        }),
    };
    Condition::All(parts.iter().map(told).collect()).simplified()
}

fn option_names(model: &BoatModel) -> Vec<String> {
    let title =
        |option: &crate::model::BoatOption| option.name.as_ref().unwrap_or(&option.id).clone();
    model
        .options
        .iter()
        .map(|(_, option)| title(option))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::Occurrence;
    use crate::model::{Condition, OptionIndex};
    use crate::rules::test_model::study;

    #[test]
    fn what_one_part_settles_is_not_repeated_in_another() {
        let study = study(&[
            ("options/+", r#"{"id": "radar", "name": "Radar"}"#),
            ("options/+", r#"{"id": "horn"}"#),
        ]);
        let occurrence = Occurrence::of(&study.facts());
        let [radar, horn] = [0, 1].map(|number| Condition::Option(OptionIndex(number)));
        let either = Condition::Any(vec![radar.clone(), horn.clone()]);
        for (condition, words) in [
            (Condition::Always, "every boat"),
            (either.clone(), "boats with Radar or horn"),
            (
                either.and(&radar.negated()),
                "boats with horn and without Radar",
            ),
            (either.negated(), "boats without Radar or horn"),
            (
                radar.and(&horn.negated()),
                "boats with Radar and without horn",
            ),
        ] {
            assert_eq!(occurrence.boats_with(&condition), words);
        }
    }
}
