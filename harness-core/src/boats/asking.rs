//! What is asked of all buildable boats by the conditions they meet.

use std::fmt;

use super::boat::Boat;
use super::condition::Condition;
use super::diagram::TooWide;
use super::firing::{Firings, Presence, Way};
use super::over::{Line, Over};

/// Buildable boats that answer questions about their conditions: by one diagram for all questions
/// ([`Firings`]), or by one for each ([`Apart`](super::apart::Apart)).
///
/// Weights and `held` have one entry for each condition.
pub trait Asking: fmt::Debug + Sync {
    /// The conditions, by number.
    fn conditions(&self) -> &[Condition];

    /// The heaviest of the boats that meet or do not meet the conditions `held` so, with its
    /// weight: exact. `None` if there is no such boat.
    ///
    /// # Errors
    /// [`TooWide`] where this question cannot be answered.
    fn heaviest(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide>;

    /// One of the boats so `held`, heavy rather than light. `None` if there is no such boat.
    ///
    /// # Errors
    /// [`TooWide`] where this question cannot be answered.
    fn heavy(&self, weights: &[f64], held: &[Option<bool>]) -> Result<Option<Way>, TooWide>;

    /// The heaviest among boats on which the conditions met count for at least so many.
    ///
    /// # Errors
    /// [`TooWide`] where this question cannot be answered.
    fn heaviest_with(
        &self,
        weights: &[f64],
        least: (&[u32], u32),
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide>;

    /// For each condition a weight that no boat so `held` exceeds which does not meet it, and one
    /// for those that do.
    fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)>;

    /// For each condition whether it is met on the boats so `held`; [`Presence::Some`] also where
    /// that is not known. `None` only if there is no such boat.
    fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>>;

    /// How many boats are so `held`.
    fn count(&self, held: &[Option<bool>]) -> Over;

    /// On how many boats some line is above 0, see [`Firings::count_over`].
    fn count_over(&self, lines: &[Line], most: usize, decide: &mut dyn FnMut(&Way) -> bool)
    -> Over;

    /// Whether a question costs little enough to ask hundreds of them for one failure.
    fn is_quick(&self) -> bool {
        true
    }

    /// From here on a question leaves nothing behind for the next, so that several may be asked
    /// at once with the same answers.
    fn settle(&self) {}

    /// A boat with the conditions it meets.
    fn way_of(&self, boat: &Boat) -> Way {
        let conditions = self.conditions().iter();
        Way {
            met: conditions.map(|condition| condition.holds(boat)).collect(),
            boat: boat.clone(),
        }
    }
}

impl Asking for Firings {
    fn conditions(&self) -> &[Condition] {
        &self.conditions
    }

    fn heaviest(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        Ok(self.heaviest(weights, held))
    }

    fn heavy(&self, weights: &[f64], held: &[Option<bool>]) -> Result<Option<Way>, TooWide> {
        Ok(self.heaviest(weights, held).map(|(_, way)| way))
    }

    fn heaviest_with(
        &self,
        weights: &[f64],
        least: (&[u32], u32),
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        Ok(self.heaviest_with(weights, least, held))
    }

    fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)> {
        self.heaviest_each(weights, held)
    }

    fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        self.presence(held)
    }

    fn count(&self, held: &[Option<bool>]) -> Over {
        Over::exactly(self.count(held))
    }

    fn count_over(
        &self,
        lines: &[Line],
        most: usize,
        decide: &mut dyn FnMut(&Way) -> bool,
    ) -> Over {
        self.count_over(lines, most, decide)
    }
}
