//! What a circuit's sizes are held to: its wires, its loads, and the devices that protect it.

use crate::model::{BusPin, Device, Equipment, Index, Load, Pin, Wire};
use crate::rules::{Facts, Finding, Place, Subject, rule};
use std::collections::BTreeSet;

/// The things a proposal answers for.
pub(super) struct Scope {
    wires: BTreeSet<Index<Wire>>,
    /// Loads of the circuits of these wires, and those they end on.
    pub loads: BTreeSet<Index<Load>>,
    devices: BTreeSet<Index<Device>>,
}

impl Scope {
    pub(super) fn of(facts: &Facts<'_>, wires: &[Index<Wire>]) -> Self {
        let model = facts.model;
        let stated = || wires.iter().map(|wire| &model.wires[*wire]);
        let circuits: BTreeSet<_> = stated().filter_map(|wire| wire.circuit).collect();
        let pins: BTreeSet<_> = stated().flat_map(|wire| [wire.from, wire.to]).collect();
        let loads = facts
            .loads()
            .filter(|(at, load)| {
                let own = load
                    .circuit
                    .is_some_and(|circuit| circuits.contains(&circuit));
                own || pins
                    .iter()
                    .any(|pin| pin.equipment() == Equipment::Load(*at))
            })
            .map(|(at, _)| at)
            .collect();
        let devices = model
            .devices
            .iter()
            .filter(|(at, device)| {
                let named = circuits
                    .iter()
                    .any(|circuit| model.circuits[*circuit].device == Some(*at));
                let on_block = device.fitted_in.is_some_and(|(block, position)| {
                    pins.contains(&Pin::Bus(block, BusPin::Position(position)))
                });
                named
                    || on_block
                    || pins
                        .iter()
                        .any(|pin| pin.equipment() == Equipment::Device(*at))
            })
            .map(|(at, _)| at)
            .collect();
        Self {
            wires: wires.iter().copied().collect(),
            loads,
            devices,
        }
    }

    /// Whether a finding is about this circuit and of a subject that sizes can have to do with.
    pub(super) fn holds(&self, finding: &Finding) -> bool {
        let here = match finding.place {
            Place::Wire(at) => self.wires.contains(&at),
            Place::Load(at) => self.loads.contains(&at),
            Place::Device(at) => self.devices.contains(&at),
            _ => false,
        };
        here && rule(finding.rule).is_some_and(|rule| sized_by(rule.subject))
    }
}

/// Subjects whose limits hang on the size of conductors.
pub(super) const fn sized_by(subject: Subject) -> bool {
    match subject {
        Subject::Drop | Subject::Ampacity | Subject::Protection | Subject::Conductors => true,
        Subject::Joining | Subject::Installation => false,
    }
}
