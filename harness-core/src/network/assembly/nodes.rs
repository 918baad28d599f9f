//! Pins joined without resistance are one node.

use crate::model::{BoatModel, Bus, BusKind, BusPin, Index, Pin};
use std::collections::BTreeMap;

/// What a node stands for: one pin, or all places of a bar or stud together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Joint {
    Pin(Pin),
    Bar(Index<Bus>),
}

/// Numbers nodes in the order they are first met.
#[derive(Clone, Debug, Default)]
pub(super) struct Nodes {
    numbers: BTreeMap<Joint, usize>,
}

impl Nodes {
    /// The node of a pin.
    pub fn of(&mut self, model: &BoatModel, pin: Pin) -> usize {
        let joint = match pin {
            Pin::Bus(bus, BusPin::Position(_)) if model.buses[bus].kind != BusKind::FuseBlock => {
                Joint::Bar(bus)
            }
            pin => Joint::Pin(pin),
        };
        let next = self.numbers.len();
        *self.numbers.entry(joint).or_insert(next)
    }

    pub fn count(&self) -> usize {
        self.numbers.len()
    }
}
