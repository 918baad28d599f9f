//! Where a wire can end.

use super::boat::Point;
use super::electrical::{Bus, Device, Load, Source};
use super::joining::{Connector, Splice};
use super::table::Index;
use super::{BoatModel, Condition, Identified};
use std::collections::BTreeSet;

/// Plus or minus of a source or load.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pole {
    /// `plus`.
    Plus,
    /// `minus`.
    Minus,
}

/// Side of a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Port {
    /// `in`, towards the source.
    In,
    /// `out`, towards the load.
    Out,
}

/// Side of a splice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// `a`.
    A,
    /// `b`.
    B,
}

/// Place on a bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BusPin {
    /// `feed` of a fuse block.
    Feed,
    /// A numbered position, from 1.
    Position(u32),
}

/// Anything a wire can end on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Equipment {
    /// Battery bank, alternator, charger.
    Source(Index<Source>),
    /// Fuse, breaker, switch, relay, diode.
    Device(Index<Device>),
    /// Busbar, fuse block, stud.
    Bus(Index<Bus>),
    /// Connector.
    Connector(Index<Connector>),
    /// Splice.
    Splice(Index<Splice>),
    /// Consumer.
    Load(Index<Load>),
}

/// One pin of one equipment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pin {
    /// Pole of a source.
    Source(Index<Source>, Pole),
    /// Side of a device that stands alone.
    Device(Index<Device>, Port),
    /// Place on a bus.
    Bus(Index<Bus>, BusPin),
    /// Cavity of a connector, from 1.
    Cavity(Index<Connector>, u32),
    /// Side of a splice.
    Splice(Index<Splice>, Side),
    /// Pole of a load.
    Load(Index<Load>, Pole),
}

impl Equipment {
    /// Short name.
    pub fn id(self, model: &BoatModel) -> &str {
        match self {
            Self::Source(at) => model.sources[at].id(),
            Self::Device(at) => model.devices[at].id(),
            Self::Bus(at) => model.buses[at].id(),
            Self::Connector(at) => model.connectors[at].id(),
            Self::Splice(at) => model.splices[at].id(),
            Self::Load(at) => model.loads[at].id(),
        }
    }

    /// Full name, or the short one.
    pub fn title(self, model: &BoatModel) -> &str {
        let name = match self {
            Self::Source(at) => &model.sources[at].name,
            Self::Device(at) => &model.devices[at].name,
            Self::Bus(at) => &model.buses[at].name,
            Self::Connector(at) => &model.connectors[at].name,
            Self::Splice(_) => &None,
            Self::Load(at) => &model.loads[at].name,
        };
        name.as_deref().unwrap_or(self.id(model))
    }

    /// Where it sits; a device fitted in a block sits where the block does.
    pub fn point(self, model: &BoatModel) -> Option<Index<Point>> {
        match self {
            Self::Source(at) => model.sources[at].point,
            Self::Device(at) => {
                let device = &model.devices[at];
                device
                    .point
                    .or_else(|| model.buses[device.fitted_in?.0].point)
            }
            Self::Bus(at) => model.buses[at].point,
            Self::Connector(at) => model.connectors[at].point,
            Self::Splice(at) => model.splices[at].point,
            Self::Load(at) => model.loads[at].point,
        }
    }

    /// When it is fitted.
    pub fn fitted_when(self, model: &BoatModel) -> &Condition {
        match self {
            Self::Source(at) => &model.sources[at].fitted_when,
            Self::Device(at) => &model.devices[at].fitted_when,
            Self::Bus(at) => &model.buses[at].fitted_when,
            Self::Connector(at) => &model.connectors[at].fitted_when,
            Self::Splice(at) => &model.splices[at].fitted_when,
            Self::Load(at) => &model.loads[at].fitted_when,
        }
    }
}

impl Pin {
    /// The equipment it belongs to.
    pub fn equipment(self) -> Equipment {
        match self {
            Self::Source(at, _) => Equipment::Source(at),
            Self::Device(at, _) => Equipment::Device(at),
            Self::Bus(at, _) => Equipment::Bus(at),
            Self::Cavity(at, _) => Equipment::Connector(at),
            Self::Splice(at, _) => Equipment::Splice(at),
            Self::Load(at, _) => Equipment::Load(at),
        }
    }

    /// The pin's name on its equipment, as in the file.
    pub fn name(self) -> String {
        let pole = |pole| if pole == Pole::Plus { "plus" } else { "minus" };
        match self {
            Self::Source(_, side) | Self::Load(_, side) => pole(side).to_owned(),
            Self::Device(_, Port::In) => "in".to_owned(),
            Self::Device(_, Port::Out) => "out".to_owned(),
            Self::Bus(_, BusPin::Feed) => "feed".to_owned(),
            Self::Bus(_, BusPin::Position(number)) | Self::Cavity(_, number) => number.to_string(),
            Self::Splice(_, Side::A) => "a".to_owned(),
            Self::Splice(_, Side::B) => "b".to_owned(),
        }
    }

    /// `equipment.pin`, as in the file and on labels.
    pub fn label(self, model: &BoatModel) -> String {
        format!("{}.{}", self.equipment().id(model), self.name())
    }
}

impl BoatModel {
    /// Positions of a block or bar that no wire and no device of any boat takes, ascending.
    pub fn free_positions(&self, bus: Index<Bus>) -> Vec<u32> {
        let devices = self.devices.iter();
        let fitted = devices.filter_map(|(_, device)| device.fitted_in);
        let mut taken: BTreeSet<u32> = fitted
            .filter(|(block, _)| *block == bus)
            .map(|(_, position)| position)
            .collect();
        for (_, wire) in self.wires.iter() {
            for pin in [wire.from, wire.to] {
                if let Pin::Bus(at, BusPin::Position(position)) = pin
                    && at == bus
                {
                    taken.insert(position);
                }
            }
        }
        let every = 1..=self.buses[bus].positions;
        every.filter(|position| !taken.contains(position)).collect()
    }
}
