//! Only the boats that meet a condition: the diagram and the condition walked together.

use std::collections::BTreeMap;

use super::condition::Condition;
use super::diagram::{BoatSet, TooWide, TooWideSubject};
use super::layers::{Layers, NONE, Overflow};
use super::rules::OptionIndex;

/// States of diagram and condition together before the condition is given up as too wide.
const MOST_STATES: usize = 1_000_000;

impl BoatSet {
    /// The boats among these that meet a condition, as a set that answers everything again: how
    /// many, the heaviest of them, what they always have.
    ///
    /// An option outside the list is on no boat.
    ///
    /// # Errors
    /// [`TooWide`] if the condition ties too many options together.
    pub fn narrowed(&self, condition: &Condition) -> Result<Self, TooWide> {
        let mut asked = condition.simplified();
        for outside in condition.options() {
            if outside.0 >= self.order.len() {
                asked = asked.given(outside, false);
            }
        }
        let mut questions = Questions::default();
        let start = (!self.is_empty())
            .then(|| questions.number(asked))
            .flatten()
            .map(|question| (0u32, question));
        let layers = Layers::expand(
            self.order.len(),
            start,
            MOST_STATES,
            |&(node, question), layer, fitted| {
                let next = self.layers.follow(layer, node, fitted);
                if next == NONE {
                    return None;
                }
                Some((next, questions.given(question, self.order[layer], fitted)?))
            },
        )
        .map_err(|Overflow { layer }| TooWide {
            limit: MOST_STATES,
            decided: layer + 1,
            options: self.order.len(),
            subject: TooWideSubject::Condition,
        })?;
        Ok(Self {
            order: self.order.clone(),
            layers,
        })
    }
}

/// What is left to ask of a half-decided boat, each form of it numbered once.
#[derive(Default)]
struct Questions {
    forms: Vec<Condition>,
    numbers: BTreeMap<Condition, u32>,
    /// Answers of [`Questions::given`] by question, option and whether it is fitted.
    known: BTreeMap<(u32, OptionIndex, bool), Option<u32>>,
}

impl Questions {
    /// The number of a condition in its simplest form; `None` for the one no boat meets.
    fn number(&mut self, condition: Condition) -> Option<u32> {
        if condition == Condition::never() {
            return None;
        }
        let next = self.forms.len() as u32;
        let number = *self.numbers.entry(condition.clone()).or_insert(next);
        if number == next {
            self.forms.push(condition);
        }
        Some(number)
    }

    /// What is left of a question once one option is known; `None` if no boat can meet it.
    fn given(&mut self, question: u32, option: OptionIndex, fitted: bool) -> Option<u32> {
        if let Some(&answer) = self.known.get(&(question, option, fitted)) {
            return answer;
        }
        let left = self.forms[question as usize].given(option, fitted);
        let answer = self.number(left);
        self.known.insert((question, option, fitted), answer);
        answer
    }
}
