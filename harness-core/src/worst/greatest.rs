//! The greatest value a search found, and how far it is proven.

use crate::boats::{TooWide, Way};
use crate::working::NotEvaluated;

/// Boats solved in one search before it is ended with a gap.
const MOST_SOLVES: usize = 4_000;
/// The same among boats on which conditions count for so many, where each question takes longer.
const MOST_SOLVES_WITH: usize = 100;
/// What counts as nothing, in parts of the value (volts, amperes): rounding of the solver.
pub(super) const NOTHING: f64 = 1e-9;

/// The greatest value over the boats looked at, with the boat and the proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Worst {
    /// The value on the boat.
    pub value: f64,
    /// The boat.
    pub way: Way,
    /// No boat has more than this.
    pub bound: f64,
    /// Boats solved exactly.
    pub solves: usize,
}

impl Worst {
    /// Whether nothing is left between the value and the bound but rounding.
    pub fn is_proven(&self) -> bool {
        self.bound - self.value <= rounding(self.value)
    }
}

/// What is lost in rounding of a value.
pub(super) fn rounding(value: f64) -> f64 {
    NOTHING * value.abs().max(1.0)
}

/// How a search ended without a value.
#[derive(Clone, Debug, PartialEq)]
pub enum NoWorst {
    /// No boat is so.
    NoBoat,
    /// On this boat the loads have no operating point.
    Collapses(Way),
    /// Too much was left open.
    NotEvaluated(NotEvaluated),
}

impl NoWorst {
    /// Why there may be a value all the same; `None` where there is none.
    pub(super) fn because(&self) -> Option<NotEvaluated> {
        match self {
            Self::NoBoat => None,
            Self::Collapses(_) => Some(NotEvaluated::because(
                "there are boats on which loads of the same source have no operating point",
            )),
            Self::NotEvaluated(why) => Some(why.clone()),
        }
    }
}

impl From<TooWide> for NoWorst {
    fn from(wide: TooWide) -> Self {
        Self::NotEvaluated(NotEvaluated::because(wide.to_string()))
    }
}

/// The best boat of a search so far.
pub(super) struct Best {
    /// What a boat has to exceed to be of interest.
    enough: f64,
    /// Boats solved.
    pub solves: usize,
    /// At how many the search is ended.
    most_solves: usize,
    pub found: Option<(f64, Way)>,
}

impl Best {
    /// None yet; any is of interest.
    pub fn of_all() -> Self {
        Self {
            enough: f64::NEG_INFINITY,
            solves: 0,
            most_solves: MOST_SOLVES,
            found: None,
        }
    }

    /// None yet, among boats on which conditions count for so many; only more than what is enough
    /// is of interest.
    pub fn of_some(enough: f64) -> Self {
        Self {
            enough,
            most_solves: MOST_SOLVES_WITH,
            ..Self::of_all()
        }
    }

    /// What a boat has to exceed.
    pub fn most(&self) -> f64 {
        let found = self.found.as_ref().map_or(self.enough, |(value, _)| *value);
        found.max(self.enough)
    }

    /// Whether nothing with this bound is of interest.
    pub fn settles(&self, bound: f64) -> bool {
        let most = self.most();
        most > f64::NEG_INFINITY && bound - most <= 0.5 * rounding(most)
    }

    /// Whether enough boats have been solved.
    pub fn is_exhausted(&self) -> bool {
        self.solves >= self.most_solves
    }

    /// Takes in a boat that was known before the search.
    pub fn try_known(&mut self, value: Option<f64>, way: &Way) {
        self.solves += 1;
        self.most_solves += 1;
        if let Some(value) = value {
            self.keep(value, way);
        }
    }

    /// Takes in a boat that was solved.
    pub fn keep(&mut self, value: f64, way: &Way) {
        if self.found.as_ref().is_none_or(|(most, _)| value > *most) {
            self.found = Some((value, way.clone()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boats::Boat;

    fn bare() -> Way {
        Way {
            boat: Boat::bare(),
            met: Vec::new(),
        }
    }

    #[test]
    fn a_search_goes_on_while_more_is_of_interest() {
        let mut best = Best::of_all();
        assert!(!best.settles(-1e9));
        best.keep(2.0, &bare());
        best.keep(1.0, &bare());
        assert_eq!((best.most(), best.settles(2.0)), (2.0, true));
        assert!(best.settles(1.0) && !best.settles(2.1));
        // Only more than what is enough counts, whatever was found.
        let mut best = Best::of_some(5.0);
        best.keep(2.0, &bare());
        assert_eq!((best.most(), best.settles(5.0)), (5.0, true));
        assert!(!best.settles(5.1));
        best.keep(6.0, &bare());
        assert!(best.settles(5.1) && !best.settles(6.1));
    }

    #[test]
    fn a_search_ends_after_so_many_boats_besides_those_known() {
        for (mut best, most) in [
            (Best::of_all(), MOST_SOLVES),
            (Best::of_some(1.0), MOST_SOLVES_WITH),
        ] {
            for _ in 0..most + 1 {
                best.try_known(Some(0.5), &bare());
            }
            best.solves += most - 1;
            assert!(!best.is_exhausted());
            best.solves += 1;
            assert!(best.is_exhausted());
            assert_eq!(best.solves, 2 * most + 1);
        }
    }

    #[test]
    fn a_boat_is_proven_where_only_rounding_is_left() {
        let worst = |value: f64, bound: f64| Worst {
            value,
            bound,
            way: bare(),
            solves: 1,
        };
        assert!(worst(3.0, 3.0).is_proven());
        assert!(worst(100.0, 100.0 + 0.9e-7).is_proven());
        assert!(!worst(100.0, 100.0 + 1.1e-7).is_proven());
        assert!(!worst(0.001, 0.001 + 2e-9).is_proven());
    }
}
