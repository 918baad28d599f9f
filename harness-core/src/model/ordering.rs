//! Options, their rules, operating states and hulls.

use super::boat::identified;
use super::table::Identified;
use crate::boats::{OptionIndex, OptionRule};

/// An orderable option.
#[derive(Clone, Debug, PartialEq)]
pub struct BoatOption {
    /// The builder's code.
    pub id: String,
    /// Name on the price list.
    pub name: Option<String>,
    /// Share of boats sold with it.
    pub take_rate: Option<f64>,
    /// Options it contains, if it is a package.
    pub contains: Vec<OptionIndex>,
    /// First hull that can have it, as a whole number.
    pub from_hull: Option<u32>,
    /// Last hull that can have it, as a whole number.
    pub to_hull: Option<u32>,
}

/// One rule between options, as stated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatedRule {
    /// What it demands.
    pub rule: OptionRule,
    /// Why it is there.
    pub because: Option<String>,
}

/// An operating state.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatingState {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
}

impl OperatingState {
    /// Full name, or the short one.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }
}

/// One boat of the series.
#[derive(Clone, Debug, PartialEq)]
pub struct Hull {
    /// Hull number.
    pub id: String,
    /// Options ordered.
    pub options: Vec<OptionIndex>,
    /// Stations done.
    pub stations_done: Vec<String>,
    /// Serial numbers of its harnesses.
    pub harness_serials: Vec<String>,
}

identified!(BoatOption, OperatingState, Hull);
