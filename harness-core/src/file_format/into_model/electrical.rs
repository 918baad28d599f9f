//! Sources, buses, devices and loads.

use super::boat::{milliohms, word};
use super::{Into, at, each, maybe};
use crate::file_format::records;
use crate::model::{
    Behavior, Bus, BusKind, Device, DeviceKind, DropClass, Family, FigureFrom, Load, Source,
    SourceKind, Table, Use,
};
use crate::units::{Amperes, Millimetres, Ohms, Volts, Watts};
use std::collections::{BTreeMap, BTreeSet};

fn volts(stated: Option<f64>) -> Option<Volts> {
    stated.map(Volts::new)
}

fn amperes(stated: Option<f64>) -> Option<Amperes> {
    stated.map(Amperes::new)
}

impl Into<'_> {
    pub(super) fn sources(&self) -> Table<Source> {
        let source = |record: &records::SourceRecord| Source {
            id: record.id.clone(),
            name: record.name.clone(),
            kind: word(&record.kind, SourceKind::from_word),
            point: maybe(&self.positions.points, &record.point),
            nominal: volts(record.nominal_v),
            running: volts(record.running_v),
            rested: volts(record.rested_v),
            low: volts(record.low_v),
            internal: record.internal_ohm.map(Ohms::new),
            cranking: amperes(record.cranking_a),
            capacity_ah: record.capacity_ah,
            max_current: amperes(record.max_a),
            figure_from: word(&record.figure_from, FigureFrom::from_word),
            figure_source: record.figure_source.clone(),
            active_in: each(&self.positions.states, &record.active_in),
            self_limiting: record.self_limiting,
            fitted_when: self.condition(&record.fitted_when),
        };
        Table::new(self.record.sources.iter().map(source).collect())
    }

    pub(super) fn buses(&mut self) -> Table<Bus> {
        self.stacks();
        let bus = |record: &records::BusRecord| Bus {
            id: record.id.clone(),
            name: record.name.clone(),
            kind: BusKind::from_word(&record.kind).unwrap_or(BusKind::Busbar),
            point: maybe(&self.positions.points, &record.point),
            positions: record.positions.unwrap_or(1),
            rating: amperes(record.rating_a),
            stud: record.stud_mm.map(Millimetres::new),
            stack: each(&self.positions.wires, &record.stack),
            covered: record.covered,
            ignition_protected: record.ignition_protected,
            fitted_when: self.condition(&record.fitted_when),
        };
        Table::new(self.record.buses.iter().map(bus).collect())
    }

    /// Faults for wires in the stack of a bus they do not end on.
    fn stacks(&mut self) {
        let record = self.record;
        for (number, bus) in record.buses.iter().enumerate() {
            for (place, wire) in bus.stack.iter().enumerate() {
                let Some(&wire) = self.positions.wires.get(wire) else {
                    continue;
                };
                let wire = &record.wires[wire];
                let ends_here = |end: &String| {
                    end.rsplit_once('.')
                        .is_some_and(|(equipment, _)| equipment == bus.id)
                };
                if !ends_here(&wire.from) && !ends_here(&wire.to) {
                    let detail = format!(
                        "Wire \"{}\" is in the stack of \"{}\" but runs from {} to {}. Remove it from \
                         the stack, or end it there.",
                        wire.id, bus.id, wire.from, wire.to
                    );
                    let pointer = format!("/buses/{number}/stack/{place}");
                    self.fault(pointer, detail, &wire.id, "a wire that ends on this bus");
                }
            }
        }
    }

    pub(super) fn devices(&mut self) -> Table<Device> {
        let record = self.record;
        let mut taken: BTreeMap<(&str, u32, String), &str> = BTreeMap::new();
        let mut devices = Vec::with_capacity(record.devices.len());
        for (number, record) in record.devices.iter().enumerate() {
            if let (Some(point), Some(place)) = (&record.point, &record.fitted_in) {
                let detail = format!(
                    "Device \"{}\" is fitted in block \"{}\" and states a point besides. Leave the \
                     point out: it sits where the block does.",
                    record.id, place.block
                );
                let pointer = format!("/devices/{number}/point");
                self.fault(pointer, detail, point, "no point for a device in a block");
            }
            if let Some(place) = &record.fitted_in {
                self.block_position(number, record, place);
                // Two devices may share a position only if they are for different boats.
                let boats = format!("{:?}", record.fitted_when);
                let first = taken
                    .entry((&place.block, place.position, boats))
                    .or_insert(&record.id);
                if *first != record.id {
                    let detail = format!(
                        "Position {} of block \"{}\" holds device \"{first}\" already on the same \
                         boats. Choose a free position.",
                        place.position, place.block
                    );
                    let pointer = format!("/devices/{number}/fitted_in/position");
                    let given = place.position.to_string();
                    self.fault(pointer, detail, &given, "a free position");
                }
            }
            devices.push(self.device(record));
        }
        Table::new(devices)
    }

    fn block_position(
        &mut self,
        number: usize,
        record: &records::DeviceRecord,
        place: &records::FittedIn,
    ) {
        let Some(&block) = self.positions.buses.get(&place.block) else {
            return;
        };
        let block = &self.record.buses[block];
        let positions = block.positions.unwrap_or(1);
        if block.kind != BusKind::FuseBlock.word() {
            let detail = format!(
                "Device \"{}\" is fitted in \"{}\", which is a {}. Only a fuse block holds devices.",
                record.id, block.id, block.kind
            );
            let pointer = format!("/devices/{number}/fitted_in/block");
            self.fault(pointer, detail, &block.id, "a fuse-block");
        } else if place.position > positions {
            let detail = format!(
                "Block \"{}\" has {positions} positions; \"{}\" is fitted in number {}. Choose one it \
                 has.",
                block.id, record.id, place.position
            );
            let pointer = format!("/devices/{number}/fitted_in/position");
            let limit = format!("1 to {positions}");
            self.fault(pointer, detail, &place.position.to_string(), &limit);
        }
    }

    fn device(&self, record: &records::DeviceRecord) -> Device {
        Device {
            id: record.id.clone(),
            name: record.name.clone(),
            kind: DeviceKind::from_word(&record.kind).unwrap_or(DeviceKind::Fuse),
            family: word(&record.family, Family::from_word),
            point: maybe(&self.positions.points, &record.point),
            fitted_in: record
                .fitted_in
                .as_ref()
                .map(|place| (at(&self.positions.buses, &place.block), place.position)),
            rating: amperes(record.rating_a),
            interrupting: amperes(record.interrupting_a),
            rated_volts: volts(record.rated_v),
            resistance: record.resistance_mohm.map(milliohms),
            figure_from: word(&record.figure_from, FigureFrom::from_word),
            figure_source: record.figure_source.clone(),
            part: record.part.clone(),
            ignition_protected: record.ignition_protected,
            open_in: each(&self.positions.states, &record.open_in),
            fitted_when: self.condition(&record.fitted_when),
        }
    }

    pub(super) fn loads(&mut self) -> Table<Load> {
        let record = self.record;
        let mut loads = Vec::with_capacity(record.loads.len());
        for (number, record) in record.loads.iter().enumerate() {
            let behavior = self.behavior(number, record);
            self.uses(number, record);
            loads.push(Load {
                id: record.id.clone(),
                name: record.name.clone(),
                point: maybe(&self.positions.points, &record.point),
                circuit: maybe(&self.positions.circuits, &record.circuit),
                behavior,
                stated_at: volts(record.stated_at_v),
                inrush: amperes(record.inrush_a),
                inrush_ms: record.inrush_ms,
                locked_rotor: amperes(record.locked_rotor_a),
                standby: record.standby_ma.map(|milli| Amperes::new(milli / 1000.0)),
                min_volts: volts(record.min_v),
                max_volts: volts(record.max_v),
                drop_class: word(&record.drop_class, DropClass::from_word),
                own_drop_limit_percent: record.drop_limit_percent,
                figure_from: word(&record.figure_from, FigureFrom::from_word),
                figure_source: record.figure_source.clone(),
                part: record.part.clone(),
                ignition_protected: record.ignition_protected,
                runs_in: record
                    .runs_in
                    .iter()
                    .map(|used| Use {
                        state: at(&self.positions.states, &used.state),
                        share: used.share,
                    })
                    .collect(),
                fitted_when: self.condition(&record.fitted_when),
            });
        }
        Table::new(loads)
    }

    /// Faults for a state in which a load's use is stated twice.
    fn uses(&mut self, number: usize, record: &records::LoadRecord) {
        let mut known = BTreeSet::new();
        for (place, used) in record.runs_in.iter().enumerate() {
            if !known.insert(&used.state) {
                let detail = format!(
                    "Load \"{}\" states its use in \"{}\" twice. Keep one.",
                    record.id, used.state
                );
                let pointer = format!("/loads/{number}/runs_in/{place}/state");
                self.fault(pointer, detail, &used.state, "each operating state once");
            }
        }
    }

    fn behavior(&mut self, number: usize, record: &records::LoadRecord) -> Option<Behavior> {
        let stated = [
            record
                .current_a
                .map(|value| Behavior::Current(Amperes::new(value))),
            record
                .power_w
                .map(|value| Behavior::Power(Watts::new(value))),
            record
                .resistance_ohm
                .map(|value| Behavior::Resistance(Ohms::new(value))),
        ];
        let mut stated = stated.into_iter().flatten();
        let first = stated.next();
        if stated.next().is_some() {
            let detail = format!(
                "Load \"{}\" states more than one of current_a, power_w and resistance_ohm. Keep \
                 the one it behaves as.",
                record.id
            );
            self.fault(
                format!("/loads/{number}"),
                detail,
                &record.id,
                "one of the three",
            );
        }
        if let (Some(min), Some(max)) = (record.min_v, record.max_v)
            && min > max
        {
            let detail = format!(
                "Load \"{}\" states min_v {min} above its max_v {max}. Correct one of them.",
                record.id
            );
            let limit = format!("at most {max}");
            self.fault(
                format!("/loads/{number}/min_v"),
                detail,
                &min.to_string(),
                &limit,
            );
        }
        first
    }
}
