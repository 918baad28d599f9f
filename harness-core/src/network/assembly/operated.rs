//! What becomes of one boat in one operating state: volts of loads, and what flows.

use crate::model::{Index, Load, OperatingState, Source};
use crate::units::{Amperes, Volts, Watts};
use crate::working::NotEvaluated;
use std::collections::BTreeMap;

/// At which voltage of the sources the boat is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SourceCondition {
    /// Nominal volts: limits on drop are judged here.
    Nominal,
    /// Engine running.
    Running,
    /// At rest.
    Rested,
    /// The lowest at which equipment still has to work.
    Low,
}

impl SourceCondition {
    /// Each condition, in the order shown.
    pub const ALL: [Self; 4] = [Self::Nominal, Self::Running, Self::Rested, Self::Low];

    /// The condition in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nominal => "nominal",
            Self::Running => "engine running",
            Self::Rested => "at rest",
            Self::Low => "low",
        }
    }

    /// The volts a source states for it.
    pub fn volts(self, source: &Source) -> Option<Volts> {
        match self {
            Self::Nominal => source.nominal,
            Self::Running => source.running,
            Self::Rested => source.rested,
            Self::Low => source.low,
        }
    }
}

/// One branch on the way of a load's current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathShare {
    /// Position of the branch in [`super::Assembly::branches`].
    pub branch: usize,
    /// Current along the path, from source towards load or from load back to the source.
    pub current: Amperes,
    /// Volts lost along the path.
    pub lost: Volts,
}

/// A load with its operating point.
#[derive(Clone, Debug, PartialEq)]
pub struct Supplied {
    /// Source that feeds it; of several, the one stated first.
    pub source: Index<Source>,
    /// Nominal volts of that source.
    pub nominal: Volts,
    /// Volts across the source's terminals.
    pub source_volts: Volts,
    /// Volts across the load.
    pub volts: Volts,
    /// Current of the load.
    pub current: Amperes,
    /// From the source's plus to the load.
    pub feed: Vec<PathShare>,
    /// From the load to the source's minus.
    pub back: Vec<PathShare>,
}

impl Supplied {
    /// Source terminal volts less volts across the load.
    pub fn drop(&self) -> Volts {
        self.source_volts - self.volts
    }

    /// Drop in percent of nominal.
    pub fn drop_percent(&self) -> f64 {
        self.drop() / self.nominal * 100.0
    }
}

/// Why a load that should run gets no current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsupplied {
    /// Nothing leads from a source to its plus.
    NoFeed,
    /// Nothing leads from its minus back to the source that feeds it.
    NoReturn,
}

/// What becomes of one load in one state.
#[derive(Clone, Debug, PartialEq)]
pub enum LoadPoint {
    /// It does not run in this state.
    NotRunning,
    /// It runs, with this operating point.
    Supplied(Supplied),
    /// It should run, but no circuit leads to it.
    Unsupplied(Unsupplied),
    /// It cannot run: asked for all their power, the loads of its system have no operating
    /// point. Names the load at which the volts collapse, the largest share of all constant
    /// power that still works, and the volts there.
    NoOperatingPoint {
        /// Load at which it fails.
        fails_at: Index<Load>,
        /// Largest share of the constant-power loads that still has an operating point.
        share: f64,
    },
    /// Data are missing.
    NotEvaluated(NotEvaluated),
}

/// Balance of one solved system, for the laws that tests hold it to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SystemBalance {
    /// Largest sum of currents at a node.
    pub current_residual: Amperes,
    /// Power of the sources less loads and losses.
    pub power_residual: Watts,
    /// Iterations taken.
    pub iterations: usize,
}

/// By how much a current may be more than what is known.
#[derive(Clone, Debug)]
pub struct More {
    /// At most by this, as long as the loads that draw more have the least volts they need; `None`
    /// where one of them states none.
    pub at_most: Option<Amperes>,
    /// Why.
    pub why: NotEvaluated,
}

/// What is more than told, since a load of unknown draw lowers the volts of loads of constant power,
/// with the reason. Where such a load itself passes, nothing is told instead.
#[derive(Clone, Debug, Default)]
pub struct AtLeast {
    /// Branches that may carry more.
    pub branches: BTreeMap<usize, More>,
    /// Sources that may give more.
    pub sources: BTreeMap<Index<Source>, More>,
    /// Loads for which fewer volts may be left.
    pub loads: BTreeMap<Index<Load>, NotEvaluated>,
}

/// One boat in one operating state at one condition of the sources.
#[derive(Clone, Debug)]
pub struct Operating {
    /// The state; `None` for a model that states none.
    pub state: Option<Index<OperatingState>>,
    /// The condition of the sources.
    pub condition: SourceCondition,
    /// What becomes of each fitted load.
    pub loads: BTreeMap<Index<Load>, LoadPoint>,
    /// Branches through which the current of each load that is not evaluated comes back.
    pub back_of_unknown: BTreeMap<Index<Load>, Vec<usize>>,
    /// Current of each branch from its `from` to its `to`; an error where its system has no
    /// solution, where an unknown load hangs on it, or where it lies on a loop with a branch of
    /// unknown resistance; zero where it is dead or open.
    pub branch_currents: Vec<Result<Amperes, NotEvaluated>>,
    /// Current each source gives, an error for the same reasons.
    pub source_currents: BTreeMap<Index<Source>, Result<Amperes, NotEvaluated>>,
    /// What of all this is the least it may be.
    pub at_least: AtLeast,
    /// Balance of each solved system.
    pub balances: Vec<SystemBalance>,
}
