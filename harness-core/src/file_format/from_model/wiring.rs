//! Circuits, cables and wires.

use super::{From, each, maybe};
use crate::file_format::records;
use crate::model::{Cable, Circuit, Wire, WireEnd};
use crate::units::{Celsius, Millimetres};

pub(super) fn cable(cable: &Cable) -> records::CableRecord {
    records::CableRecord {
        id: cable.id.clone(),
        name: cable.name.clone(),
        sheathed: cable.sheathed,
        outside_diameter_mm: cable.outside_diameter.map(Millimetres::value),
        lay_mm: cable.lay.map(Millimetres::value),
    }
}

impl From<'_> {
    pub(super) fn circuit(&self, circuit: &Circuit) -> records::CircuitRecord {
        records::CircuitRecord {
            id: circuit.id.clone(),
            name: circuit.name.clone(),
            function: circuit.function.map(|function| function.to_string()),
            device: maybe(&self.model.devices, circuit.device),
            switch: maybe(&self.model.devices, circuit.switch),
        }
    }

    /// `None` for an end of which nothing is stated.
    fn wire_end(&self, end: &WireEnd) -> Option<records::WireEndRecord> {
        (*end != WireEnd::default()).then(|| records::WireEndRecord {
            terminal: maybe(&self.model.terminal_parts, end.terminal),
            entry_mm: end.entry.map(Millimetres::value),
            loop_mm: end.service_loop.map(Millimetres::value),
            rework_mm: end.rework.map(Millimetres::value),
            outside_sheath_mm: end.outside_sheath.map(Millimetres::value),
            sleeve: end.sleeve.clone(),
            when_unused: self.end_treatment(&end.when_unused),
        })
    }

    pub(super) fn wire(&self, wire: &Wire) -> records::WireRecord {
        records::WireRecord {
            id: wire.id.clone(),
            from: wire.from.label(self.model),
            to: wire.to.label(self.model),
            circuit: maybe(&self.model.circuits, wire.circuit),
            role: wire.role.map(|role| role.to_string()),
            size: wire.size.map(|size| size.to_string()),
            insulation_degc: wire.stated_insulation.map(Celsius::value),
            color: wire.color.clone(),
            cable: maybe(&self.model.cables, wire.cable),
            harness: maybe(&self.model.harnesses, wire.harness),
            enclosed: wire.enclosed,
            through: each(&self.model.points, &wire.through),
            avoid: each(&self.model.runs, &wire.avoid),
            from_end: self.wire_end(&wire.from_end),
            to_end: self.wire_end(&wire.to_end),
            fitted_when: self.condition(&wire.fitted_when),
        }
    }
}
