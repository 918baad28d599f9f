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

fn option_names(model: &BoatModel) -> Vec<String> {
    let title =
        |option: &crate::model::BoatOption| option.name.as_ref().unwrap_or(&option.id).clone();
    model
        .options
        .iter()
        .map(|(_, option)| title(option))
        .collect()
}
