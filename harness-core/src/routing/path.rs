//! The path of one wire.

use crate::model::{BoatModel, Identified, Index, Point, Run, Wire};
use crate::units::Metres;
use crate::working::NotEvaluated;
use std::fmt;

/// One run on a path, and the direction it is followed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leg {
    /// The run.
    pub run: Index<Run>,
    /// From the run's first point to its second.
    pub forward: bool,
}

/// The runs one wire follows, in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Point it starts at.
    pub from: Index<Point>,
    /// The runs, none where both ends sit at one point.
    pub legs: Vec<Leg>,
    /// Sum of the run lengths, without slack and ends.
    pub length: Metres,
}

impl Path {
    /// The points passed, the first and the last included.
    pub fn points(&self, model: &BoatModel) -> Vec<Index<Point>> {
        let mut points = vec![self.from];
        points.extend(self.legs.iter().map(|leg| {
            let run = &model.runs[leg.run];
            if leg.forward { run.to } else { run.from }
        }));
        points
    }

    /// Whether it follows this run.
    pub fn follows(&self, run: Index<Run>) -> bool {
        self.legs.iter().any(|leg| leg.run == run)
    }
}

/// Why a wire has no path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unroutable {
    /// The wire.
    pub wire: String,
    /// What stands in the way.
    pub reason: String,
}

impl Unroutable {
    pub(super) fn no_path(
        model: &BoatModel,
        wire: &Wire,
        from: Index<Point>,
        to: Index<Point>,
        lengths: &[Result<Metres, NotEvaluated>],
    ) -> Self {
        let mut reason = format!(
            "no open run leads from {} to {}",
            model.points.id(from),
            model.points.id(to)
        );
        if !wire.avoid.is_empty() {
            let avoided: Vec<_> = wire.avoid.iter().map(|run| model.runs.id(*run)).collect();
            reason.push_str(&format!(
                " past the runs it must avoid ({})",
                avoided.join(", ")
            ));
        }
        let unknown = lengths.iter().filter(|length| length.is_err()).count();
        if unknown > 0 {
            reason.push_str(&format!(
                "; {unknown} runs have no length and were left out"
            ));
        }
        Self {
            wire: wire.id().to_owned(),
            reason,
        }
    }
}

impl fmt::Display for Unroutable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "wire {} cannot be routed: {}", self.wire, self.reason)
    }
}
