//! The boats among which a search looks: all that can be ordered, or those on which so many of
//! some conditions are met.

use super::greatest::rounding;
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

    /// Whether a boat is one of them and meets the conditions asked for so.
    pub fn has(&self, asked: &[(usize, bool)], way: &Way) -> bool {
        let mut asked = asked.iter();
        let counted = |counts: &[u32]| -> u32 {
            let met = counts.iter().zip(&way.met).filter(|(_, met)| **met);
            met.map(|(count, _)| count).sum()
        };
        let least = self.least.as_ref();
        asked.all(|(number, met)| way.met[*number] == *met)
            && least.is_none_or(|(counts, least)| counted(counts) >= *least)
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

    /// The region with each condition held as it is on every boat of it that weighs more than
    /// enough; `value` tells what is lost in rounding.
    pub fn fixed(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
        (enough, value): (f64, f64),
    ) -> Vec<Option<bool>> {
        let too_light = |weight: f64| weight - enough <= 0.5 * rounding(value);
        let each = self.boats.heaviest_each(weights, held);
        held.iter()
            .zip(each)
            .map(
                |(held, (unmet, met))| match (held, too_light(unmet), too_light(met)) {
                    (None, true, false) => Some(true),
                    (None, false, true) => Some(false),
                    _ => *held,
                },
            )
            .collect()
    }

    /// Whether each condition is met on them; [`Presence::Some`] also where that is not known.
    pub fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        self.boats.presence(held)
    }
}

/// Boats that meet conditions as they are held, not yet looked at.
pub(super) struct Region {
    /// What no boat of them exceeds.
    pub bound: f64,
    pub held: Vec<Option<bool>>,
    /// Whether all that follows from the conditions held is held too.
    is_closed: bool,
}

impl Region {
    pub fn of(bound: f64, held: Vec<Option<bool>>) -> Self {
        Self {
            bound,
            held,
            is_closed: false,
        }
    }

    /// One in which all that follows from the conditions held is held too.
    pub fn closed(bound: f64, held: Vec<Option<bool>>) -> Self {
        Self {
            is_closed: true,
            ..Self::of(bound, held)
        }
    }

    /// The same boats with another bound.
    pub fn bounded(&self, bound: f64) -> Self {
        Self {
            bound,
            held: self.held.clone(),
            is_closed: self.is_closed,
        }
    }

    /// Its boats that do not meet a condition, and those that do.
    pub fn divided(&self, number: usize) -> [Self; 2] {
        [false, true].map(|met| {
            let mut held = self.held.clone();
            held[number] = Some(met);
            Self::of(self.bound, held)
        })
    }

    /// Whether each condition is met on its boats; `None` where there are none.
    pub fn presence(&self, among: &Among<'_>) -> Option<Vec<Presence>> {
        if !self.is_closed {
            return among.presence(&self.held);
        }
        let each = self.held.iter().map(|held| match held {
            None => Presence::Some,
            Some(true) => Presence::Always,
            Some(false) => Presence::Never,
        });
        Some(each.collect())
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
