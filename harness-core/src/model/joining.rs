//! Connectors, couplers, splices, terminals, and how an unused end is treated.

use super::boat::{Harness, Point, Reach, identified};
use super::pin::{Equipment, Pin};
use super::table::{Identified, Index};
use crate::boats::Condition;
use crate::choices::{
    CavityUse, Contacts, EndTreatmentKind, FigureFrom, SpliceKind, TerminalKind, ViewFace,
};
use crate::units::{Amperes, Millimetres, Ohms, SquareMillimetres};
use std::collections::BTreeMap;

/// A terminal or contact part.
#[derive(Clone, Debug, PartialEq)]
pub struct TerminalPart {
    /// Part number.
    pub id: String,
    /// Description.
    pub name: Option<String>,
    /// What it is.
    pub kind: Option<TerminalKind>,
    /// Thinnest conductor it takes.
    pub min_area: Option<SquareMillimetres>,
    /// Thickest conductor it takes.
    pub max_area: Option<SquareMillimetres>,
    /// Stud it fits.
    pub stud: Option<Millimetres>,
    /// Insulation removed.
    pub strip: Option<Millimetres>,
    /// From the dimensioned reference face to the conductor tip.
    pub entry: Option<Millimetres>,
    /// Where the figures come from.
    pub figure_from: Option<FigureFrom>,
    /// Where exactly they come from.
    pub figure_source: Option<String>,
}

/// A connector part.
#[derive(Clone, Debug, PartialEq)]
pub struct ConnectorType {
    /// Part number.
    pub id: String,
    /// Description.
    pub name: Option<String>,
    /// Number of cavities, numbered from 1.
    pub cavities: u32,
    /// Resistance of one mated contact.
    pub contact_resistance: Option<Ohms>,
    /// Greatest current of one contact.
    pub contact_rating: Option<Amperes>,
    /// Thinnest conductor its contacts take.
    pub min_area: Option<SquareMillimetres>,
    /// Thickest conductor its contacts take.
    pub max_area: Option<SquareMillimetres>,
    /// Whether it is sealed.
    pub sealed: Option<bool>,
    /// From the mating face to the conductor tip.
    pub entry: Option<Millimetres>,
    /// Contact part crimped on a wire.
    pub contact: Option<Index<TerminalPart>>,
    /// Seal part of a wire.
    pub wire_seal: Option<String>,
    /// Part that closes an unused cavity.
    pub cavity_plug: Option<String>,
    /// Face from which cavities are numbered.
    pub view_face: Option<ViewFace>,
    /// Where the figures come from.
    pub figure_from: Option<FigureFrom>,
    /// Where exactly they come from.
    pub figure_source: Option<String>,
}

/// The equipment a connector plugs into.
#[derive(Clone, Debug, PartialEq)]
pub struct PlugsInto {
    /// The equipment.
    pub equipment: Equipment,
    /// Cavity number and the pin it meets.
    pub pins: Vec<(u32, Pin)>,
}

/// What is done with an end on boats where it serves nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct EndTreatment {
    /// The treatment.
    pub kind: EndTreatmentKind,
    /// Part used.
    pub part: Option<String>,
    /// Point it is tied to.
    pub tie_point: Option<Index<Point>>,
}

/// A connector on a harness.
#[derive(Clone, Debug, PartialEq)]
pub struct Connector {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// Its part.
    pub connector_type: Index<ConnectorType>,
    /// Which half it is.
    pub contacts: Option<Contacts>,
    /// Harness it belongs to.
    pub harness: Option<Index<Harness>>,
    /// Where it sits.
    pub point: Option<Index<Point>>,
    /// Equipment it plugs into.
    pub plugs_into: Option<PlugsInto>,
    /// Decisions on cavities that hold no wire, by cavity number.
    pub cavities: BTreeMap<u32, CavityUse>,
    /// What is done with it on boats where it serves nothing.
    pub when_unused: Option<EndTreatment>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

/// A mated pair of connectors that joins two harnesses.
#[derive(Clone, Debug, PartialEq)]
pub struct Coupler {
    /// Short name.
    pub id: String,
    /// Full name.
    pub name: Option<String>,
    /// One half.
    pub first: Index<Connector>,
    /// Other half.
    pub second: Index<Connector>,
    /// How it is reached after closing; `None` takes that of its zone.
    pub reach: Option<Reach>,
}

/// A permanent joint.
#[derive(Clone, Debug, PartialEq)]
pub struct Splice {
    /// Short name.
    pub id: String,
    /// How the ends meet.
    pub kind: Option<SpliceKind>,
    /// Where it sits.
    pub point: Option<Index<Point>>,
    /// Harness it belongs to.
    pub harness: Option<Index<Harness>>,
    /// Whether it is sealed against water.
    pub sealed: Option<bool>,
    /// Resistance between its sides.
    pub resistance: Option<Ohms>,
    /// When it is fitted.
    pub fitted_when: Condition,
}

identified!(TerminalPart, ConnectorType, Connector, Coupler, Splice);
