//! What the user states about a boat model, resolved and in units; nothing computed.
//!
//! Built from the saved form by `file_format`, so every reference leads somewhere. Whatever may
//! be unfinished is an `Option`: a missing value makes the results that need it *not evaluated*.

mod table;
mod settings;
mod boat;
mod electrical;
mod joining;
mod wiring;
mod ordering;
mod pin;

pub use crate::boats::{Condition, OptionIndex, OptionRule};
pub use crate::choices::{
    AreaBasis, BusKind, CavityUse, Contacts, DcBundling, DeviceKind, DropBasis, DropClass,
    EdgeProtection, EndTreatmentKind, Family, FigureFrom, Fixing, Function, Role, RuleSet,
    SizeSeriesChoice, SourceKind, SpliceKind, TerminalKind, ViewFace,
};
pub use boat::{Harness, Hole, Moulding, Point, Reach, Run, Zone};
pub use electrical::{Behavior, Bus, Device, Load, Source, Use};
pub use joining::{
    Connector, ConnectorType, Coupler, EndTreatment, PlugsInto, Splice, TerminalPart,
};
pub use ordering::{BoatOption, Hull, OperatingState, StatedRule};
pub use pin::{BusPin, Equipment, Pin, Pole, Port, Side};
pub use settings::Settings;
pub use table::{Identified, Index, Table};
pub use wiring::{Cable, Circuit, Wire, WireEnd};

/// A boat model: everything stated, every reference resolved.
#[derive(Clone, Debug, PartialEq)]
pub struct BoatModel {
    /// Name of the boat model.
    pub name: String,
    /// What it is, for a reader who does not know it.
    pub about: Option<String>,
    /// How it is judged and cut.
    pub settings: Settings,
    /// Hull, deck, console, roof ...
    pub mouldings: Table<Moulding>,
    /// Named parts of the boat.
    pub zones: Table<Zone>,
    /// Places where runs meet and equipment sits.
    pub points: Table<Point>,
    /// Stretches between two points.
    pub runs: Table<Run>,
    /// Harness parts.
    pub harnesses: Table<Harness>,
    /// Operating states.
    pub states: Table<OperatingState>,
    /// Orderable options.
    pub options: Table<BoatOption>,
    /// Which options may be ordered together.
    pub option_rules: Vec<StatedRule>,
    /// Terminal parts.
    pub terminal_parts: Table<TerminalPart>,
    /// Connector parts.
    pub connector_types: Table<ConnectorType>,
    /// Battery banks, alternators, chargers.
    pub sources: Table<Source>,
    /// Busbars, fuse blocks, studs.
    pub buses: Table<Bus>,
    /// Fuses, breakers, switches, relays, diodes.
    pub devices: Table<Device>,
    /// Consumers.
    pub loads: Table<Load>,
    /// Connectors of the harnesses.
    pub connectors: Table<Connector>,
    /// Mated pairs.
    pub couplers: Table<Coupler>,
    /// Permanent joints.
    pub splices: Table<Splice>,
    /// Circuits.
    pub circuits: Table<Circuit>,
    /// Jackets and twisted groups.
    pub cables: Table<Cable>,
    /// Wires.
    pub wires: Table<Wire>,
    /// Boats of the series.
    pub hulls: Table<Hull>,
}
