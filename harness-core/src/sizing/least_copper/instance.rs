//! What is to be sized: segments with the sizes they may take, and the drops that must stay
//! within their limits.

use std::collections::BTreeSet;
use std::fmt;

/// One size a segment may take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// Area of its conductor.
    pub area_mm2: f64,
    /// Mass of the whole segment in this size.
    pub mass_kg: f64,
}

/// A piece of conductor that has one size from end to end.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Segment {
    /// The sizes it may take, in ascending area. Whatever else bounds them (ampacity, protection,
    /// terminals) has been seen to: every one of these is allowed.
    pub choices: Vec<Choice>,
}

/// What one segment adds to a drop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// The segment by its place in the list.
    pub segment: usize,
    /// Its drop times its area: resistivity times length times the current on that boat.
    pub volts_mm2: f64,
}

/// The drop of one load on one boat in one state, and its limit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Which load, in the numbering of whoever asks.
    pub load: usize,
    /// Which boat, in the numbering of whoever asks.
    pub boat: usize,
    /// Which operating state, in the numbering of whoever asks.
    pub state: usize,
    /// The segments on the way to the load and back; one named twice counts twice.
    pub terms: Vec<Term>,
    /// The part of the drop that no size changes.
    pub constant_v: f64,
    /// The drop allowed.
    pub limit_v: f64,
}

impl Row {
    /// The drop with these areas, one for each segment.
    pub fn drop_v(&self, areas_mm2: &[f64]) -> f64 {
        self.terms.iter().fold(self.constant_v, |sum, term| {
            sum + term.volts_mm2 / areas_mm2[term.segment]
        })
    }

    /// Whether the drop is within its limit, without any allowance.
    pub fn is_met(&self, areas_mm2: &[f64]) -> bool {
        self.drop_v(areas_mm2) <= self.limit_v
    }
}

/// Everything to be sized at once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Instance {
    /// The segments.
    pub segments: Vec<Segment>,
    /// Groups of segments that must all have the same area; no segment is in two of them.
    pub tied: Vec<Vec<usize>>,
    /// The drops to keep within their limits.
    pub rows: Vec<Row>,
}

/// What makes an instance meaningless.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The segment has no size to choose from.
    NoChoice {
        /// The segment.
        segment: usize,
    },
    /// An area is not above 0 and above the one before, or a mass is not 0 or more.
    BadChoice {
        /// The segment.
        segment: usize,
        /// The choice.
        choice: usize,
    },
    /// A tied group names a segment that is not in the list.
    UnknownTied {
        /// The group.
        group: usize,
        /// What it names.
        segment: usize,
    },
    /// A segment is tied more than once.
    TiedTwice {
        /// The segment.
        segment: usize,
    },
    /// No area can be chosen for every segment of a tied group.
    NothingShared {
        /// The group.
        group: usize,
    },
    /// A row names a segment that is not in the list.
    UnknownSegment {
        /// The row.
        row: usize,
        /// What it names.
        segment: usize,
    },
    /// A number of the row is not finite, or one other than its limit is below 0.
    BadRow {
        /// The row.
        row: usize,
    },
}

impl fmt::Display for Fault {
    /// Counted from 1.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoChoice { segment } => {
                write!(f, "segment {} has no size to choose from", segment + 1)
            }
            Self::BadChoice { segment, choice } => write!(
                f,
                "choice {} of segment {}: areas must be above 0 and ascend, masses be 0 or more",
                choice + 1,
                segment + 1
            ),
            Self::UnknownTied { group, segment } => write!(
                f,
                "tied group {} names segment {}, which is not in the list",
                group + 1,
                segment + 1
            ),
            Self::TiedTwice { segment } => write!(f, "segment {} is tied twice", segment + 1),
            Self::NothingShared { group } => write!(
                f,
                "tied group {}: no size can be chosen for every segment of it",
                group + 1
            ),
            Self::UnknownSegment { row, segment } => write!(
                f,
                "row {} names segment {}, which is not in the list",
                row + 1,
                segment + 1
            ),
            Self::BadRow { row } => write!(
                f,
                "row {}: volts must be finite and, but for the limit, 0 or more",
                row + 1
            ),
        }
    }
}

impl Instance {
    /// Every fault of the segments and of the rows from `first_row` on.
    pub(super) fn faults(&self, first_row: usize) -> Vec<Fault> {
        let mut found = Vec::new();
        for (segment, stated) in self.segments.iter().enumerate() {
            if stated.choices.is_empty() {
                found.push(Fault::NoChoice { segment });
            }
            let mut below = 0.0;
            for (choice, size) in stated.choices.iter().enumerate() {
                let ascends = size.area_mm2.is_finite() && size.area_mm2 > below;
                if !ascends || !is_amount(size.mass_kg) {
                    found.push(Fault::BadChoice { segment, choice });
                }
                below = size.area_mm2;
            }
        }
        let mut tied = BTreeSet::new();
        for (group, members) in self.tied.iter().enumerate() {
            let unknown = |segment: &&usize| **segment >= self.segments.len();
            if let Some(&segment) = members.iter().find(unknown) {
                found.push(Fault::UnknownTied { group, segment });
            } else if !members.is_empty() && self.shared_areas(members).is_empty() {
                found.push(Fault::NothingShared { group });
            }
            let twice = members.iter().filter(|segment| !tied.insert(**segment));
            found.extend(twice.map(|&segment| Fault::TiedTwice { segment }));
        }
        for (row, stated) in self.rows.iter().enumerate().skip(first_row) {
            let unknown = |term: &&Term| term.segment >= self.segments.len();
            if let Some(term) = stated.terms.iter().find(unknown) {
                let segment = term.segment;
                found.push(Fault::UnknownSegment { row, segment });
            }
            let amounts = stated.terms.iter().all(|term| is_amount(term.volts_mm2));
            if !amounts || !is_amount(stated.constant_v) || !stated.limit_v.is_finite() {
                found.push(Fault::BadRow { row });
            }
        }
        found
    }

    /// The largest area that each segment can take.
    pub(super) fn largest_mm2(&self) -> Vec<f64> {
        let last = |segment: &Segment| segment.choices.last().map_or(0.0, |last| last.area_mm2);
        let mut largest: Vec<_> = self.segments.iter().map(last).collect();
        for members in &self.tied {
            if let Some(&area_mm2) = self.shared_areas(members).last() {
                for &member in members {
                    largest[member] = area_mm2;
                }
            }
        }
        largest
    }

    /// The areas that every one of these segments can take, ascending.
    pub(super) fn shared_areas(&self, members: &[usize]) -> Vec<f64> {
        let Some((first, others)) = members.split_first() else {
            return Vec::new();
        };
        let areas = self.segments[*first].choices.iter().map(|c| c.area_mm2);
        areas
            .filter(|area| {
                others
                    .iter()
                    .all(|&other| self.choice_of(other, *area).is_some())
            })
            .collect()
    }

    /// The choice of a segment that has this area.
    pub(super) fn choice_of(&self, segment: usize, area_mm2: f64) -> Option<usize> {
        let choices = &self.segments[segment].choices;
        choices
            .iter()
            .position(|choice| choice.area_mm2 == area_mm2)
    }
}

fn is_amount(value: f64) -> bool {
    value.is_finite() && value >= 0.0
}
