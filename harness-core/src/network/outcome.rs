//! What comes out of a solve: an operating point, or the reason why there is none.

use crate::units::{Amperes, Volts, Watts};

/// Result of one solve.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The operating point; where two are possible, the one at high volts.
    Solved(Solution),
    /// The constant-power loads cannot all get their power.
    NoOperatingPoint(Collapse),
    /// Neither an operating point nor the proof that there is none was found.
    NotEvaluated(NotEvaluated),
}

/// Volts and currents of every node and element, in the order of the network's lists.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Solution {
    /// Volts of each node above the reference.
    pub node_volts: Vec<Volts>,
    /// Current of each conductor from its `from` to its `to`.
    pub conductor_amps: Vec<Amperes>,
    /// Current each source gives at its plus; negative while it is charged.
    pub source_amps: Vec<Amperes>,
    /// Volts at each load, `from` above `to`, also of loads that are absent.
    pub load_volts: Vec<Volts>,
    /// Current of each load from its `from` to its `to`.
    pub load_amps: Vec<Amperes>,
    /// Sweeps and Newton steps taken.
    pub iterations: usize,
    /// Largest sum of currents at a node, which should be zero.
    pub current_residual: Amperes,
    /// Power of the sources less that of loads and losses, which should be zero.
    pub power_residual: Watts,
}

/// The load at which the volts collapse, and how far the loads could go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Collapse {
    /// Place of the load in [`super::Network::loads`].
    pub load: usize,
    /// Largest share (0 to 1) of all constant-power loads that still has an operating point,
    /// to within a millionth from below.
    pub share: f64,
    /// Volts at the load with that share.
    pub volts: Volts,
}

/// Why a solve came to no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotEvaluated {
    /// Without the absent loads nothing joins this node to the reference.
    NodeFloats {
        /// Lowest node of the part.
        node: usize,
    },
    /// The equations would not fit into memory.
    TooTangled {
        /// Entries at which the work was given up.
        entries: usize,
    },
    /// The iteration neither settled nor failed.
    NotSettled {
        /// Steps taken.
        iterations: usize,
    },
}

impl std::fmt::Display for NotEvaluated {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NodeFloats { node } => write!(
                f,
                "not evaluated, because without the absent loads nothing joins node {node} to \
                 the reference"
            ),
            Self::TooTangled { entries } => write!(
                f,
                "not evaluated, because the equations need more than {entries} entries"
            ),
            Self::NotSettled { iterations } => write!(
                f,
                "not evaluated, because the volts had not settled after {iterations} steps"
            ),
        }
    }
}
