//! The records of a saved boat model, version 1, in the order they are explained to a reader.

mod boat;
mod electrical;
mod joining;
mod wiring;
mod ordering;
mod parts;

pub use boat::{
    HarnessRecord, Hole, Moulding, OutlineCorner, PointRecord, RunRecord, Settings, ZoneRecord,
};
pub use electrical::{BusRecord, DeviceRecord, FittedIn, LoadRecord, SourceRecord, Use};
pub use joining::{
    CavityRecord, ConnectorRecord, ConnectorTypeRecord, CouplerRecord, EndTreatment, MatedPin,
    PlugsInto, SpliceRecord, TerminalPartRecord,
};
pub use ordering::{ConditionRecord, HullRecord, OptionRecord, OptionRuleRecord, StateRecord};
pub use parts::{ConductorPartRecord, DevicePartRecord, LoadPartRecord, PartsRecord};
pub use wiring::{CableRecord, CircuitRecord, WireEndRecord, WireRecord};

use super::form::{Shape, record};

record! {
    /// A whole boat model as saved: what the user states, nothing computed.
    ModelRecord
    required {
        /// Version of this format; this is version 1.
        format_version: u32 = Shape::Whole(1, 1);
        /// Name of the boat model.
        name: String = Shape::Text;
    }
    optional {
        /// What the model is, for a reader who does not know it.
        about: Option<String> = Shape::Text;
        /// How this model is judged and cut.
        settings: Option<Settings> = Shape::Record(Settings::FORM);
        /// Hull, deck, console, roof ...
        mouldings: Vec<Moulding> = Shape::List(&Shape::Record(Moulding::FORM), 0);
        /// Named parts of the boat.
        zones: Vec<ZoneRecord> = Shape::List(&Shape::Record(ZoneRecord::FORM), 0);
        /// Places where runs meet and equipment sits.
        points: Vec<PointRecord> = Shape::List(&Shape::Record(PointRecord::FORM), 0);
        /// Stretches between two points.
        runs: Vec<RunRecord> = Shape::List(&Shape::Record(RunRecord::FORM), 0);
        /// Harness parts.
        harnesses: Vec<HarnessRecord> = Shape::List(&Shape::Record(HarnessRecord::FORM), 0);
        /// Operating states.
        states: Vec<StateRecord> = Shape::List(&Shape::Record(StateRecord::FORM), 0);
        /// Orderable options.
        options: Vec<OptionRecord> = Shape::List(&Shape::Record(OptionRecord::FORM), 0);
        /// Which options may be ordered together.
        option_rules: Vec<OptionRuleRecord> = Shape::List(&Shape::Record(OptionRuleRecord::FORM), 0);
        /// Terminal parts.
        terminal_parts: Vec<TerminalPartRecord> = Shape::List(&Shape::Record(TerminalPartRecord::FORM), 0);
        /// Connector parts.
        connector_types: Vec<ConnectorTypeRecord> = Shape::List(&Shape::Record(ConnectorTypeRecord::FORM), 0);
        /// Battery banks, alternators, chargers.
        sources: Vec<SourceRecord> = Shape::List(&Shape::Record(SourceRecord::FORM), 0);
        /// Busbars, fuse blocks, studs.
        buses: Vec<BusRecord> = Shape::List(&Shape::Record(BusRecord::FORM), 0);
        /// Fuses, breakers, switches, relays, diodes.
        devices: Vec<DeviceRecord> = Shape::List(&Shape::Record(DeviceRecord::FORM), 0);
        /// Consumers.
        loads: Vec<LoadRecord> = Shape::List(&Shape::Record(LoadRecord::FORM), 0);
        /// Connectors of the harnesses.
        connectors: Vec<ConnectorRecord> = Shape::List(&Shape::Record(ConnectorRecord::FORM), 0);
        /// Mated pairs that join two harnesses.
        couplers: Vec<CouplerRecord> = Shape::List(&Shape::Record(CouplerRecord::FORM), 0);
        /// Permanent joints.
        splices: Vec<SpliceRecord> = Shape::List(&Shape::Record(SpliceRecord::FORM), 0);
        /// From a protective device to its loads and back.
        circuits: Vec<CircuitRecord> = Shape::List(&Shape::Record(CircuitRecord::FORM), 0);
        /// Jackets and twisted groups.
        cables: Vec<CableRecord> = Shape::List(&Shape::Record(CableRecord::FORM), 0);
        /// Insulated conductors from pin to pin.
        wires: Vec<WireRecord> = Shape::List(&Shape::Record(WireRecord::FORM), 0);
        /// Boats of the series.
        hulls: Vec<HullRecord> = Shape::List(&Shape::Record(HullRecord::FORM), 0);
    }
}

/// Id shape of a kind of equipment: unique in its kind and among all a wire can end on.
macro_rules! equipment_id {
    ($kind:ident) => {
        Shape::Id(&[Kind::$kind, Kind::Equipment])
    };
}
pub(crate) use equipment_id;
