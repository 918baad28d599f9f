//! Wires, devices, contacts and splices of one boat, each with its resistance or the reason why
//! it has none.

use super::nodes::Nodes;
use crate::boats::{Boat, Condition};
use crate::conductor::{Basis, ohms_per_metre};
use crate::model::{
    BoatModel, BusPin, Connector, Coupler, Device, Identified, Index, Pin, Port, Side, Splice, Wire,
};
use crate::routing::Routing;
use crate::tables::conductors::{self, ConductorRow};
use crate::units::{Celsius, Ohms};
use crate::working::NotEvaluated;

/// What a branch stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// A wire from pin to pin.
    Wire(Index<Wire>),
    /// A closed device.
    Device(Index<Device>),
    /// One contact of a coupler, by cavity number.
    Coupler(Index<Coupler>, u32),
    /// One contact of a connector plugged into equipment, by cavity number.
    Contact(Index<Connector>, u32),
    /// A splice, between its sides.
    Splice(Index<Splice>),
}

impl Part {
    /// On which boats it is there: a contact on those that have both its halves.
    pub fn fitted_when(self, model: &BoatModel) -> Condition {
        let (own, other) = self.conditions(model);
        other.map_or_else(|| own.simplified(), |other| own.and(other))
    }

    /// Whether a boat has it.
    pub fn is_fitted(self, model: &BoatModel, boat: &Boat) -> bool {
        let (own, other) = self.conditions(model);
        own.holds(boat) && other.is_none_or(|other| other.holds(boat))
    }

    /// The conditions that a boat has to meet to have it: its own, or those of both halves.
    fn conditions(self, model: &BoatModel) -> (&Condition, Option<&Condition>) {
        let connector = |at: Index<Connector>| &model.connectors[at].fitted_when;
        match self {
            Self::Wire(at) => (&model.wires[at].fitted_when, None),
            Self::Device(at) => (&model.devices[at].fitted_when, None),
            Self::Splice(at) => (&model.splices[at].fitted_when, None),
            Self::Coupler(at, _) => {
                let coupler = &model.couplers[at];
                (connector(coupler.first), Some(connector(coupler.second)))
            }
            Self::Contact(at, _) => {
                let plugged = model.connectors[at].plugs_into.as_ref();
                let other = plugged.map(|plugged| plugged.equipment.fitted_when(model));
                (connector(at), other)
            }
        }
    }

    /// The part in the words of a sheet.
    pub fn label(self, model: &BoatModel) -> String {
        match self {
            Self::Wire(wire) => format!("wire {}", model.wires[wire].id()),
            Self::Device(device) => {
                let device = &model.devices[device];
                format!("{} {}", device.kind, device.id())
            }
            Self::Coupler(coupler, cavity) => {
                format!("coupler {} cavity {cavity}", model.couplers[coupler].id())
            }
            Self::Contact(connector, cavity) => {
                format!(
                    "connector {} cavity {cavity}",
                    model.connectors[connector].id()
                )
            }
            Self::Splice(splice) => format!("splice {}", model.splices[splice].id()),
        }
    }
}

/// Something that only resists, between two nodes.
#[derive(Clone, Debug)]
pub struct Branch {
    /// What it stands for.
    pub part: Part,
    /// Node at one end: a wire's first end, a device's `in`, a coupler's first half.
    pub from: usize,
    /// Node at the other end.
    pub to: usize,
    /// Its resistance at working temperature.
    pub resistance: Result<Ohms, NotEvaluated>,
}

/// Ambient where a zone states none, 30 °C, and in an engine space 50 °C: the bases of the
/// ampacity table of 33 CFR 183.425 and its note 1.
const AMBIENT: Celsius = Celsius::new(30.0);
const ENGINE_SPACE_AMBIENT: Celsius = Celsius::new(50.0);

/// Temperature at which the resistance of a wire is judged: the highest ambient of the zones it
/// passes, so that limits are judged on the hot boat.
pub fn wire_temperature(model: &BoatModel, routing: &Routing, wire: Index<Wire>) -> Celsius {
    let stated = &model.wires[wire];
    let ends = [stated.from, stated.to].into_iter().filter_map(|pin| {
        pin.equipment()
            .point(model)
            .and_then(|point| model.points[point].zone)
    });
    let passed = routing
        .path(wire)
        .into_iter()
        .flat_map(|path| path.legs.iter().filter_map(|leg| routing.zone(leg.run)));
    let hottest = ends.chain(passed).map(|zone| {
        let zone = &model.zones[zone];
        let usual = if zone.engine_space == Some(true) {
            ENGINE_SPACE_AMBIENT
        } else {
            AMBIENT
        };
        zone.ambient.unwrap_or(usual)
    });
    hottest.fold(AMBIENT, Celsius::max)
}

/// Resistance of a wire by the settings of the model.
///
/// # Errors
/// When the wire has no route or no size, or the basis has no area for the size.
pub fn wire_resistance(
    model: &BoatModel,
    routing: &Routing,
    wire: Index<Wire>,
) -> Result<Ohms, NotEvaluated> {
    let length = routing.electrical_length(model, wire)?;
    let basis = resistance_basis(model, routing, wire);
    let row = conductor_row(model, wire)?;
    Ok(Ohms::new(ohms_per_metre(row, &basis)? * length.value()))
}

/// The basis on which the resistance of a wire is found.
pub fn resistance_basis(model: &BoatModel, routing: &Routing, wire: Index<Wire>) -> Basis {
    Basis {
        method: model.settings.drop_basis,
        area: model.settings.area_basis,
        temperature: wire_temperature(model, routing, wire),
    }
}

/// The conductor table's row for a wire.
///
/// # Errors
/// When the wire states no size.
pub fn conductor_row(
    model: &BoatModel,
    wire: Index<Wire>,
) -> Result<&'static ConductorRow, NotEvaluated> {
    let stated = &model.wires[wire];
    stated
        .size
        .and_then(conductors::row)
        .ok_or_else(|| NotEvaluated::because(format!("wire {} states no size", stated.id())))
}

/// Everything that only resists on any boat, in a fixed order.
pub(super) fn of(model: &BoatModel, routing: &Routing, nodes: &mut Nodes) -> Vec<Branch> {
    let mut branches = Vec::new();
    for (index, wire) in model.wires.iter() {
        branches.push(Branch {
            part: Part::Wire(index),
            from: nodes.of(model, wire.from),
            to: nodes.of(model, wire.to),
            resistance: wire_resistance(model, routing, index),
        });
    }
    for (index, device) in model.devices.iter() {
        let (from, to) = match device.fitted_in {
            Some((block, position)) => (
                Pin::Bus(block, BusPin::Feed),
                Pin::Bus(block, BusPin::Position(position)),
            ),
            None => (Pin::Device(index, Port::In), Pin::Device(index, Port::Out)),
        };
        branches.push(Branch {
            part: Part::Device(index),
            from: nodes.of(model, from),
            to: nodes.of(model, to),
            resistance: device.resistance.ok_or_else(|| {
                NotEvaluated::because(format!("device {} states no resistance", device.id()))
            }),
        });
    }
    contacts(model, nodes, &mut branches);
    for (index, splice) in model.splices.iter() {
        branches.push(Branch {
            part: Part::Splice(index),
            from: nodes.of(model, Pin::Splice(index, Side::A)),
            to: nodes.of(model, Pin::Splice(index, Side::B)),
            resistance: splice.resistance.ok_or_else(|| {
                NotEvaluated::because(format!("splice {} states no resistance", splice.id()))
            }),
        });
    }
    branches
}

fn contacts(model: &BoatModel, nodes: &mut Nodes, branches: &mut Vec<Branch>) {
    for (index, coupler) in model.couplers.iter() {
        let resistance = contact_resistance(model, coupler.first);
        let count = model.connector_types[model.connectors[coupler.first].connector_type].cavities;
        for cavity in 1..=count {
            branches.push(Branch {
                part: Part::Coupler(index, cavity),
                from: nodes.of(model, Pin::Cavity(coupler.first, cavity)),
                to: nodes.of(model, Pin::Cavity(coupler.second, cavity)),
                resistance: resistance.clone(),
            });
        }
    }
    for (index, connector) in model.connectors.iter() {
        let Some(plugged) = &connector.plugs_into else {
            continue;
        };
        for &(cavity, pin) in &plugged.pins {
            branches.push(Branch {
                part: Part::Contact(index, cavity),
                from: nodes.of(model, Pin::Cavity(index, cavity)),
                to: nodes.of(model, pin),
                resistance: contact_resistance(model, index),
            });
        }
    }
}

fn contact_resistance(
    model: &BoatModel,
    connector: Index<Connector>,
) -> Result<Ohms, NotEvaluated> {
    let part = &model.connector_types[model.connectors[connector].connector_type];
    part.contact_resistance
        .or(model.settings.contact_resistance)
        .ok_or_else(|| {
            NotEvaluated::because(format!(
                "connector type {} states no contact resistance, nor do the settings",
                part.id()
            ))
        })
}
