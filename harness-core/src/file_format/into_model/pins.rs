//! `equipment.pin` to the pin, or the fault that says which pins there are.

use super::{Into, at};
use crate::model::{BusKind, BusPin, Equipment, Pin, Pole, Port, Side};

impl Into<'_> {
    pub(super) fn equipment(&self, id: &str) -> Option<Equipment> {
        let known = &self.positions;
        if known.sources.contains_key(id) {
            Some(Equipment::Source(at(&known.sources, id)))
        } else if known.devices.contains_key(id) {
            Some(Equipment::Device(at(&known.devices, id)))
        } else if known.buses.contains_key(id) {
            Some(Equipment::Bus(at(&known.buses, id)))
        } else if known.connectors.contains_key(id) {
            Some(Equipment::Connector(at(&known.connectors, id)))
        } else if known.splices.contains_key(id) {
            Some(Equipment::Splice(at(&known.splices, id)))
        } else if known.loads.contains_key(id) {
            Some(Equipment::Load(at(&known.loads, id)))
        } else {
            None
        }
    }

    /// The pin behind a text; a pin the equipment does not have is a fault at `pointer`.
    pub(super) fn pin(&mut self, end: &str, pointer: String) -> Option<Pin> {
        let (id, name) = end.rsplit_once('.')?;
        let equipment = self.equipment(id)?;
        let number = name.parse::<u32>().ok().filter(|number| *number > 0);
        let pole = match name {
            "plus" => Some(Pole::Plus),
            "minus" => Some(Pole::Minus),
            _ => None,
        };
        let (pin, pins) = match equipment {
            Equipment::Source(source) => (
                pole.map(|pole| Pin::Source(source, pole)),
                "plus, minus".to_owned(),
            ),
            Equipment::Load(load) => (
                pole.map(|pole| Pin::Load(load, pole)),
                "plus, minus".to_owned(),
            ),
            Equipment::Device(device) => {
                if self.record.devices[device.number()].fitted_in.is_some() {
                    (
                        None,
                        "none: end the wire on the block position it is fitted in".to_owned(),
                    )
                } else {
                    let port = match name {
                        "in" => Some(Port::In),
                        "out" => Some(Port::Out),
                        _ => None,
                    };
                    (
                        port.map(|port| Pin::Device(device, port)),
                        "in, out".to_owned(),
                    )
                }
            }
            Equipment::Bus(bus) => {
                let stated = &self.record.buses[bus.number()];
                let count = stated.positions.unwrap_or(1);
                let block = stated.kind == BusKind::FuseBlock.word();
                let place = match (name, number) {
                    ("feed", _) if block => Some(BusPin::Feed),
                    (_, Some(number)) if number <= count => Some(BusPin::Position(number)),
                    _ => None,
                };
                let pins = format!("{}1 to {count}", if block { "feed, " } else { "" });
                (place.map(|place| Pin::Bus(bus, place)), pins)
            }
            Equipment::Connector(connector) => {
                let count = self.cavity_count(&self.record.connectors[connector.number()])?;
                let cavity = number.filter(|number| *number <= count);
                (
                    cavity.map(|cavity| Pin::Cavity(connector, cavity)),
                    format!("1 to {count}"),
                )
            }
            Equipment::Splice(splice) => {
                let side = match name {
                    "a" => Some(Side::A),
                    "b" => Some(Side::B),
                    _ => None,
                };
                (
                    side.map(|side| Pin::Splice(splice, side)),
                    "a, b".to_owned(),
                )
            }
        };
        if pin.is_none() {
            let detail = format!("\"{id}\" has no pin \"{name}\". Name a pin it has.");
            self.fault(pointer, detail, end, &format!("pins of \"{id}\": {pins}"));
        }
        pin
    }
}
