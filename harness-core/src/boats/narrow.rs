//! Only the boats that meet a condition: the diagram and the condition walked together.

use super::condition::Condition;
use super::diagram::{BoatSet, TooWide, TooWideSubject};
use super::layers::{Layers, NONE, Overflow};
use super::rules::OptionIndex;

/// States of diagram and condition together before the condition is given up as too wide.
const MOST_STATES: usize = 1_000_000;
/// Half-answered forms of the condition alone; each may be as long as the condition itself.
const MOST_FORMS: usize = 20_000;

impl BoatSet {
    /// The boats among these that meet a condition, as a set that answers everything again: how
    /// many, the heaviest of them, what they always have.
    ///
    /// An option outside the list is on no boat.
    ///
    /// # Errors
    /// [`TooWide`] if the condition ties too many options together.
    pub fn narrowed(&self, condition: &Condition) -> Result<Self, TooWide> {
        let too_wide = |limit, decided| TooWide {
            limit,
            decided,
            options: self.order.len(),
            subject: TooWideSubject::Condition,
        };
        let (asked, question) = self
            .question(condition)
            .map_err(|Overflow { layer }| too_wide(MOST_FORMS, layer + 1))?;
        // Which layer of the question each layer of the diagram answers.
        let mut answers = vec![None; self.order.len()];
        for (at, &layer) in asked.iter().enumerate() {
            answers[layer] = Some(at);
        }
        let start = (!self.is_empty() && question.any()).then_some((0, 0));
        let layers = Layers::expand(
            self.order.len(),
            start,
            MOST_STATES,
            |&(node, open), layer, fitted| {
                let node = self.layers.follow(layer, node, fitted);
                let open = match answers[layer] {
                    Some(asked) => question.follow(asked, open, fitted),
                    None => open,
                };
                (node != NONE && open != NONE).then_some((node, open))
            },
        )
        .map_err(|Overflow { layer }| too_wide(MOST_STATES, layer + 1))?;
        Ok(Self {
            order: self.order.clone(),
            layers,
        })
    }

    /// The condition alone as layers over the options it mentions, in decision order, and which
    /// layers of the diagram those are.
    fn question(&self, condition: &Condition) -> Result<(Vec<usize>, Layers), Overflow> {
        let mut start = condition.simplified();
        let mentioned = condition.options();
        for &outside in mentioned.range(OptionIndex(self.order.len())..) {
            start = start.given(outside, false);
        }
        let asked: Vec<usize> = (0..self.order.len())
            .filter(|&layer| mentioned.contains(&self.order[layer]))
            .collect();
        let possible = |form: Condition| (form != Condition::never()).then_some(form);
        let question = Layers::expand(
            asked.len(),
            possible(start),
            MOST_FORMS,
            |form, at, fitted| possible(form.given(self.order[asked[at]], fitted)),
        )?;
        Ok((asked, question))
    }
}

#[cfg(test)]
mod tests {
    use super::super::rules::Options;
    use super::*;
    use num_bigint::BigUint;

    fn pairs(count: usize, apart: usize) -> Condition {
        let option = |at| Condition::Option(OptionIndex(at));
        Condition::Any(
            (0..count)
                .map(|at| Condition::All(vec![option(at), option(at + apart)]))
                .collect(),
        )
    }

    #[test]
    fn free_options_meet_a_condition_in_the_share_worked_out_by_hand() {
        let free = BoatSet::of(&Options::new(100, Vec::new()).unwrap()).unwrap();
        // Each of 10 separate pairs is not fully fitted on 3 of 4 boats.
        let counted = free.count_where(&pairs(10, 50)).unwrap();
        let none_of_them = BigUint::from(3u8).pow(10) << 80u8;
        assert_eq!(counted, free.count() - none_of_them);
    }

    #[test]
    fn a_condition_that_ties_too_much_is_refused_with_a_reason() {
        let free = BoatSet::of(&Options::new(100, Vec::new()).unwrap()).unwrap();
        let wide = free.count_where(&pairs(40, 50)).unwrap_err();
        assert_eq!(wide.subject, TooWideSubject::Condition);
        assert!(wide.to_string().starts_with("the condition ties"), "{wide}");
        // Counted, not derived.
        assert_eq!((wide.decided, wide.options), (14, 100));
    }
}
