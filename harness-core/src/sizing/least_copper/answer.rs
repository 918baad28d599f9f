//! What comes out: sizes, their mass, the mass nothing can go below, and what governed each.

use std::fmt;

use super::instance::Fault;

/// One choice for every segment.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    /// The choice of each segment by its place in that segment's list.
    pub choices: Vec<usize>,
    /// The area of each segment.
    pub areas_mm2: Vec<f64>,
    /// Mass of them all.
    pub mass_kg: f64,
}

/// Why a segment is not one size smaller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GovernedBy {
    /// No smaller size is allowed, or, in a tied group, shared by all of it; or none would be
    /// lighter.
    LeastSize,
    /// This row, by its place in the list, is broken one size smaller. Of several, the one that
    /// is broken most in parts of its limit.
    Row(usize),
}

/// Sizes that meet every row, and how far from the least possible they can be at most.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastCopper {
    /// The sizes.
    pub sizes: Sizes,
    /// No sizes that meet every row have less mass than this.
    pub at_least_kg: f64,
    /// What governed each segment.
    pub governed_by: Vec<GovernedBy>,
    /// How often the sizes were handed out to be looked at; 1 where all rows were known.
    pub rounds: usize,
}

impl LeastCopper {
    /// The part of the mass that is not shown to be needed, 0 where the sizes are the best there
    /// are.
    pub fn gap(&self) -> f64 {
        if self.sizes.mass_kg > self.at_least_kg {
            1.0 - self.at_least_kg / self.sizes.mass_kg
        } else {
            0.0
        }
    }
}

/// A row that is not met even with every segment at its largest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfReach {
    /// The row by its place in the list.
    pub row: usize,
    /// The drop with every segment at its largest.
    pub least_drop_v: f64,
    /// The limit.
    pub limit_v: f64,
}

/// Why there are no sizes.
#[derive(Clone, Debug, PartialEq)]
pub enum NotSized {
    /// The instance means nothing.
    Malformed(Vec<Fault>),
    /// These rows are out of reach, whatever the sizes.
    OutOfReach(Vec<OutOfReach>),
    /// New rows kept coming.
    NotSettled {
        /// After so many rounds.
        rounds: usize,
    },
}

impl fmt::Display for NotSized {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Malformed(faults) => {
                let each: Vec<_> = faults.iter().map(Fault::to_string).collect();
                write!(f, "{}", each.join("; "))
            }
            Self::OutOfReach(rows) => {
                let each = rows.iter().map(|row| {
                    let number = row.row + 1;
                    let (drop, limit) = (row.least_drop_v, row.limit_v);
                    format!("row {number}: {drop:.4} V, limit {limit:.4} V")
                });
                let each: Vec<_> = each.collect();
                let each = each.join("; ");
                write!(f, "over the limit even in the largest sizes: {each}")
            }
            Self::NotSettled { rounds } => {
                write!(f, "after {rounds} rounds further boats still break limits")
            }
        }
    }
}

impl std::error::Error for NotSized {}
