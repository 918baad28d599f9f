//! Mouldings, zones, points, runs and harness parts.

use super::table::{Identified, Index};
use crate::choices::{EdgeProtection, Fixing};
use crate::units::{Celsius, Metres, Millimetres};

macro_rules! identified {
    ($($kind:ty),+) => {
        $(impl Identified for $kind {
            fn id(&self) -> &str {
                &self.id
            }
        })+
    };
}
pub(super) use identified;

/// One moulding of the boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Moulding {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
}

/// How a place is reached after its zone has been closed for good.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reach {
    /// Through this hatch or panel.
    Through(String),
    /// Not at all.
    Nowhere,
}

/// A named part of the boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// Moulding it belongs to.
    pub moulding: Option<Index<Moulding>>,
    /// Outline on the plan: forward of the transom, to starboard.
    pub outline: Vec<(Millimetres, Millimetres)>,
    /// Highest ambient temperature.
    pub ambient: Option<Celsius>,
    /// Whether it is an engine space.
    pub engine_space: Option<bool>,
    /// Whether fuel vapor may gather.
    pub fuel_vapor: Option<bool>,
    /// Height of bilge water at rest.
    pub bilge_water_z: Option<Millimetres>,
    /// Distance of its nearest part from the compass.
    pub compass_distance: Option<Millimetres>,
    /// Station at which it is closed for good; `None` stays open.
    pub closes_at: Option<String>,
    /// How it is reached after closing; `None` is not stated.
    pub reach: Option<Reach>,
}

/// A place where runs meet and equipment sits.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// Zone it lies in.
    pub zone: Option<Index<Zone>>,
    /// Forward of the transom.
    pub x: Option<Millimetres>,
    /// To starboard of the centerline.
    pub y: Option<Millimetres>,
    /// Above the datum.
    pub z: Option<Millimetres>,
}

/// A hole that a run passes.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Number painted beside it.
    pub number: Option<String>,
    /// Diameter.
    pub diameter: Option<Millimetres>,
    /// What keeps its edge off the wires.
    pub edge_protection: Option<EdgeProtection>,
    /// Whether it pierces a watertight bulkhead.
    pub watertight: Option<bool>,
}

/// A stretch between two points that wires may follow.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Short name.
    pub id: String,
    /// One end.
    pub from: Index<Point>,
    /// Other end.
    pub to: Index<Point>,
    /// Length along the path as stated; `None` takes the straight distance of its points.
    pub stated_length: Option<Metres>,
    /// Zone it belongs to as stated; `None` takes the zone both points share.
    pub stated_zone: Option<Index<Zone>>,
    /// How wires are held.
    pub fixing: Option<Fixing>,
    /// Inside diameter of a conduit or leg.
    pub bore: Option<Millimetres>,
    /// Number of bends in a conduit or leg.
    pub bends: Option<u32>,
    /// Greatest distance between supports.
    pub support_spacing: Option<Millimetres>,
    /// Hole it passes.
    pub hole: Option<Hole>,
    /// Direction on the assembly board, degrees.
    pub board_angle_degrees: Option<f64>,
    /// No wire may follow it.
    pub closed_to_wires: bool,
}

/// One harness part.
#[derive(Clone, Debug, PartialEq)]
pub struct Harness {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// Part number.
    pub part_number: Option<String>,
    /// Revision of the part.
    pub revision: Option<String>,
    /// Moulding it is laid in.
    pub moulding: Option<Index<Moulding>>,
    /// Point its dimensions start from.
    pub datum: Option<Index<Point>>,
    /// Covering over the bundle.
    pub covering: Option<String>,
}

identified!(Moulding, Zone, Point, Run, Harness);

impl Zone {
    /// Full name, or the short one.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }
}

impl Point {
    /// Full name, or the short one.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.id)
    }
}
