//! Circuits, cables and wires.

use super::boat::word;
use super::{Into, at, each, maybe};
use crate::file_format::records;
use crate::model::{Cable, Circuit, Function, Pin, Pole, Role, Source, Table, Wire, WireEnd};
use crate::units::{Celsius, Millimetres, WireSize};

impl Into<'_> {
    pub(super) fn circuits(&self) -> Table<Circuit> {
        let circuit = |record: &records::CircuitRecord| Circuit {
            id: record.id.clone(),
            name: record.name.clone(),
            function: word(&record.function, Function::from_word),
            device: maybe(&self.positions.devices, &record.device),
            switch: maybe(&self.positions.devices, &record.switch),
        };
        Table::new(self.record.circuits.iter().map(circuit).collect())
    }

    pub(super) fn cables(&self) -> Table<Cable> {
        let cable = |record: &records::CableRecord| Cable {
            id: record.id.clone(),
            name: record.name.clone(),
            sheathed: record.sheathed,
            outside_diameter: record.outside_diameter_mm.map(Millimetres::new),
            lay: record.lay_mm.map(Millimetres::new),
        };
        Table::new(self.record.cables.iter().map(cable).collect())
    }

    fn wire_end(&self, record: &Option<records::WireEndRecord>) -> WireEnd {
        let Some(record) = record else {
            return WireEnd::default();
        };
        WireEnd {
            terminal: maybe(&self.positions.terminal_parts, &record.terminal),
            entry: record.entry_mm.map(Millimetres::new),
            service_loop: record.loop_mm.map(Millimetres::new),
            rework: record.rework_mm.map(Millimetres::new),
            outside_sheath: record.outside_sheath_mm.map(Millimetres::new),
            sleeve: record.sleeve.clone(),
            when_unused: self.end_treatment(&record.when_unused),
        }
    }

    /// Faults for a point that a wire must pass twice in a row.
    fn passed(&mut self, number: usize, record: &records::WireRecord) {
        for (place, pair) in record.through.windows(2).enumerate() {
            if pair[0] == pair[1] {
                let detail = format!(
                    "Wire \"{}\" goes through point \"{}\" twice in a row. Remove one.",
                    record.id, pair[0]
                );
                let pointer = format!("/wires/{number}/through/{}", place + 1);
                self.fault(
                    pointer,
                    detail,
                    &pair[1],
                    "another point than the one before",
                );
            }
        }
    }

    pub(super) fn wires(&mut self) -> Table<Wire> {
        let record = self.record;
        let mut wires = Vec::with_capacity(record.wires.len());
        for (number, record) in record.wires.iter().enumerate() {
            let from = self.pin(&record.from, format!("/wires/{number}/from"));
            let to = self.pin(&record.to, format!("/wires/{number}/to"));
            if record.from == record.to {
                let detail = format!(
                    "Wire \"{}\" starts and ends on the same pin. Name another.",
                    record.id
                );
                self.fault(
                    format!("/wires/{number}/to"),
                    detail,
                    &record.to,
                    "another pin",
                );
            }
            self.passed(number, record);
            let size = record
                .size
                .as_deref()
                .and_then(|text| text.parse::<WireSize>().ok());
            if let Some(size) = size
                && crate::tables::conductors::row(size).is_none()
            {
                let detail = format!(
                    "The conductor table has no {size}. Choose a size of the table for wire \"{}\".",
                    record.id
                );
                let limit = "18 AWG to 4/0 AWG, or 0.75 mm2 to 120 mm2";
                self.fault(
                    format!("/wires/{number}/size"),
                    detail,
                    &size.to_string(),
                    limit,
                );
            }
            // A pin that could not be found is a fault already; the stand-in is never used.
            let stand_in = Pin::Source(at::<Source>(&self.positions.sources, ""), Pole::Plus);
            wires.push(Wire {
                id: record.id.clone(),
                from: from.unwrap_or(stand_in),
                to: to.unwrap_or(stand_in),
                circuit: maybe(&self.positions.circuits, &record.circuit),
                role: word(&record.role, Role::from_word),
                size,
                stated_insulation: record.insulation_degc.map(Celsius::new),
                color: record.color.clone(),
                cable: maybe(&self.positions.cables, &record.cable),
                harness: maybe(&self.positions.harnesses, &record.harness),
                enclosed: record.enclosed,
                through: each(&self.positions.points, &record.through),
                avoid: each(&self.positions.runs, &record.avoid),
                from_end: self.wire_end(&record.from_end),
                to_end: self.wire_end(&record.to_end),
                fitted_when: self.condition(&record.fitted_when),
            });
        }
        Table::new(wires)
    }
}
