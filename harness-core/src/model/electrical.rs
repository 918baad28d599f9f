//! Sources, devices, buses and loads.

use super::boat::{Point, identified};
use super::ordering::OperatingState;
use super::table::{Identified, Index, Table};
use super::wiring::{Circuit, Wire};
use crate::boats::Condition;
use crate::choices::{BusKind, DeviceKind, DropClass, Family, FigureFrom, SourceKind};
use crate::units::{Amperes, Millimetres, Ohms, Volts, Watts};

/// A battery bank, alternator or charger.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// What it is.
    pub kind: Option<SourceKind>,
    /// Where it sits.
    pub point: Option<Index<Point>>,
    /// Nominal voltage.
    pub nominal: Option<Volts>,
    /// Voltage with the engine running.
    pub running: Option<Volts>,
    /// Voltage at rest.
    pub rested: Option<Volts>,
    /// Lowest voltage at which equipment still has to work.
    pub low: Option<Volts>,
    /// Internal resistance.
    pub internal: Option<Ohms>,
    /// Cold cranking current of the whole bank.
    pub cranking: Option<Amperes>,
    /// Capacity, ampere-hours.
    pub capacity_ah: Option<f64>,
    /// Greatest current it can deliver without harm.
    pub max_current: Option<Amperes>,
    /// Where the figures come from.
    pub figure_from: Option<FigureFrom>,
    /// Where exactly they come from.
    pub figure_source: Option<String>,
    /// Operating states in which it delivers; empty is each.
    pub active_in: Vec<Index<OperatingState>>,
    /// Whether it is self-limiting.
    pub self_limiting: Option<bool>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

/// A fuse, breaker, switch, relay contact, battery switch or diode.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// What it is.
    pub kind: DeviceKind,
    /// Family of a fuse.
    pub family: Option<Family>,
    /// Where it sits, for one that stands alone.
    pub point: Option<Index<Point>>,
    /// Block and position, for one fitted in a block.
    pub fitted_in: Option<(Index<Bus>, u32)>,
    /// Rated current.
    pub rating: Option<Amperes>,
    /// Greatest current it can interrupt.
    pub interrupting: Option<Amperes>,
    /// Rated voltage.
    pub rated_volts: Option<Volts>,
    /// Resistance when closed.
    pub resistance: Option<Ohms>,
    /// Where the figures come from.
    pub figure_from: Option<FigureFrom>,
    /// Where exactly they come from.
    pub figure_source: Option<String>,
    /// Part of the parts list that they were taken from.
    pub part: Option<String>,
    /// Whether it will not light fuel vapor around it.
    pub ignition_protected: Option<bool>,
    /// Operating states in which it is open.
    pub open_in: Vec<Index<OperatingState>>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

impl Device {
    /// Whether it opens by itself on too much current.
    pub fn protects(&self) -> bool {
        matches!(self.kind, DeviceKind::Fuse | DeviceKind::Breaker)
    }

    /// Whether some of these states has it closed; without any state it is.
    pub fn ever_closes(&self, states: &Table<OperatingState>) -> bool {
        states.is_empty() || states.indices().any(|at| !self.open_in.contains(&at))
    }
}

/// A busbar, fuse block or stud.
#[derive(Clone, Debug, PartialEq)]
pub struct Bus {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// What it is.
    pub kind: BusKind,
    /// Where it sits.
    pub point: Option<Index<Point>>,
    /// Number of positions; one if not stated.
    pub positions: u32,
    /// Rated current.
    pub rating: Option<Amperes>,
    /// Stud or screw diameter.
    pub stud: Option<Millimetres>,
    /// Order of the wires on a stud, from the bottom.
    pub stack: Vec<Index<Wire>>,
    /// Whether it carries a cover or boot.
    pub covered: Option<bool>,
    /// Whether it will not light fuel vapor around it.
    pub ignition_protected: Option<bool>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

/// How a load draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Behavior {
    /// The same current at any voltage.
    Current(Amperes),
    /// The same power at any voltage.
    Power(Watts),
    /// Current in proportion to voltage.
    Resistance(Ohms),
}

/// Use of a load in one operating state.
#[derive(Clone, Debug, PartialEq)]
pub struct Use {
    /// The state.
    pub state: Index<OperatingState>,
    /// Share of the time it runs, 0 ... 1.
    pub share: f64,
}

/// A consumer.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// Where it sits.
    pub point: Option<Index<Point>>,
    /// Circuit it belongs to.
    pub circuit: Option<Index<Circuit>>,
    /// How it draws.
    pub behavior: Option<Behavior>,
    /// Volts at which the figure was stated.
    pub stated_at: Option<Volts>,
    /// Inrush current.
    pub inrush: Option<Amperes>,
    /// Duration of the inrush, milliseconds.
    pub inrush_ms: Option<f64>,
    /// Current with the rotor locked.
    pub locked_rotor: Option<Amperes>,
    /// Current with everything off.
    pub standby: Option<Amperes>,
    /// Least volts at which it works.
    pub min_volts: Option<Volts>,
    /// Greatest volts it stands.
    pub max_volts: Option<Volts>,
    /// Drop class.
    pub drop_class: Option<DropClass>,
    /// A drop limit of its own, percent of nominal.
    pub own_drop_limit_percent: Option<f64>,
    /// Where the figures come from.
    pub figure_from: Option<FigureFrom>,
    /// Where exactly they come from.
    pub figure_source: Option<String>,
    /// Part of the parts list that they were taken from.
    pub part: Option<String>,
    /// Whether it will not light fuel vapor around it.
    pub ignition_protected: Option<bool>,
    /// Use in each operating state; empty is not stated.
    pub runs_in: Vec<Use>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

impl Load {
    /// Whether it runs in a state. A load whose use is not stated is taken as running in each:
    /// the strictest reading, and listed as a gap.
    pub fn runs(&self, state: Index<OperatingState>) -> bool {
        self.runs_in.is_empty()
            || self
                .runs_in
                .iter()
                .any(|used| used.state == state && used.share > 0.0)
    }

    /// Full name, or the short one.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }

    /// Percent of nominal its drop may be: its own limit, else 3 for critical and 10 for other.
    /// `None` if neither is stated.
    pub fn drop_limit_percent(&self) -> Option<f64> {
        self.own_drop_limit_percent.or(match self.drop_class? {
            DropClass::Critical => Some(3.0),
            DropClass::Other => Some(10.0),
        })
    }
}

identified!(Source, Device, Bus, Load);
