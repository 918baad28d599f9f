//! The boats among which a search looks: all that can be ordered, or those on which so many of
//! some conditions are met.

use crate::boats::{Asking, Presence, TooWide, Way};

/// Buildable boats, all of them or those on which conditions count for enough.
#[derive(Debug)]
pub(super) struct Among<'s> {
    boats: &'s dyn Asking,
    /// What each condition counts, and for how much those met have to.
    least: Option<(Vec<u32>, u32)>,
}

impl<'s> Among<'s> {
    pub fn all(boats: &'s dyn Asking) -> Self {
        Self { boats, least: None }
    }

    /// From here on only those on which the conditions met count for at least so many; `None` for
    /// all.
    pub fn narrow(&mut self, least: Option<(&[u32], u32)>) {
        self.least = least.map(|(counts, least)| (counts.to_vec(), least));
    }

    /// Whether a boat is one of them and meets the `held` conditions so.
    pub fn has(&self, held: &[Option<bool>], way: &Way) -> bool {
        let counted = |counts: &[u32]| -> u32 {
            let met = counts.iter().zip(&way.met).filter(|(_, met)| **met);
            met.map(|(count, _)| count).sum()
        };
        let least = self.least.as_ref();
        fits(held, way) && least.is_none_or(|(counts, least)| counted(counts) >= *least)
    }

    /// The heaviest of them that meet the `held` conditions so.
    ///
    /// # Errors
    /// [`TooWide`] where this question cannot be answered.
    pub fn heaviest(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        match &self.least {
            None => self.boats.heaviest(weights, held),
            Some((counts, least)) => self.boats.heaviest_with(weights, (counts, *least), held),
        }
    }

    /// One of them so `held`.
    ///
    /// # Errors
    /// [`TooWide`] where this question cannot be answered.
    pub fn any(&self, held: &[Option<bool>]) -> Result<Option<Way>, TooWide> {
        let weights = vec![0.0; held.len()];
        match self.least {
            None => self.boats.heavy(&weights, held),
            Some(_) => Ok(self.heaviest(&weights, held)?.map(|(_, way)| way)),
        }
    }

    /// For each condition a weight that none of them exceeds which does not meet it, and one for
    /// those that do.
    pub fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)> {
        self.boats.heaviest_each(weights, held)
    }

    /// Whether each condition is met on them; [`Presence::Some`] also where that is not known.
    pub fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        self.boats.presence(held)
    }
}

/// Whether a boat meets conditions as they are held.
pub(super) fn fits(held: &[Option<bool>], way: &Way) -> bool {
    let mut pairs = held.iter().zip(&way.met);
    pairs.all(|(held, met)| held.is_none_or(|held| held == *met))
}

/// The condition, open and different on two boats, of whose change least is known.
pub(super) fn dividing(
    held: &[Option<bool>],
    change: &[(f64, f64)],
    one: &Way,
    other: &Way,
) -> Option<usize> {
    let width = |number: usize| change[number].1 - change[number].0;
    let size = |number: usize| change[number].1.abs().max(change[number].0.abs());
    (0..held.len())
        .filter(|number| held[*number].is_none() && one.met[*number] != other.met[*number])
        .max_by(|a, b| {
            let by_width = width(*a).total_cmp(&width(*b));
            by_width.then(size(*a).total_cmp(&size(*b)))
        })
}
