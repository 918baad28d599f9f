//! What a network is made of, and the checks of its numbers.

use super::NetworkFault;
use crate::units::{Amperes, Ohms, Volts, Watts};

/// Most conductors, sources and loads together that one network may have.
pub const MAX_ELEMENTS: usize = 200_000;

/// A connected graph of sources, conductors and loads between numbered nodes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Network {
    /// Nodes are numbered `0..node_count`.
    pub node_count: usize,
    /// The node that is at 0 V.
    pub reference: usize,
    /// Wires, contacts, fuses, switches: everything that only resists.
    pub conductors: Vec<Conductor>,
    /// Batteries, chargers, alternators.
    pub sources: Vec<Source>,
    /// Equipment that uses the current.
    pub loads: Vec<Load>,
}

/// A resistance between two nodes; its current counts positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conductor {
    /// Node at one end.
    pub from: usize,
    /// Node at the other end.
    pub to: usize,
    /// Zero or more; zero joins the two nodes.
    pub resistance: Ohms,
}

/// A source of fixed volts behind a resistance; its plus is `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Node at the minus.
    pub from: usize,
    /// Node at the plus.
    pub to: usize,
    /// Volts with no current; zero and negative are allowed.
    pub emf: Volts,
    /// Inner resistance, zero or more.
    pub resistance: Ohms,
}

/// Equipment between two nodes; its current counts positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// Node at the feed.
    pub from: usize,
    /// Node at the return.
    pub to: usize,
    /// How its current depends on its volts.
    pub behavior: Behavior,
}

/// How the current of a load depends on its volts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Behavior {
    /// The same current at any volts; negative feeds the network.
    Current(Amperes),
    /// The same power at any volts: current rises as volts fall. Negative feeds the network.
    Power(Watts),
    /// A resistance above zero.
    Resistance(Ohms),
}

/// One element of a network, by its place in the list of its kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Element {
    /// Place in [`Network::conductors`].
    Conductor(usize),
    /// Place in [`Network::sources`].
    Source(usize),
    /// Place in [`Network::loads`].
    Load(usize),
}

impl std::fmt::Display for Element {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Conductor(index) => write!(f, "conductor {index}"),
            Self::Source(index) => write!(f, "source {index}"),
            Self::Load(index) => write!(f, "load {index}"),
        }
    }
}

impl Network {
    /// Conductors, sources and loads together.
    pub fn element_count(&self) -> usize {
        self.conductors.len() + self.sources.len() + self.loads.len()
    }

    /// Every node or number that cannot be used.
    pub(super) fn faults(&self) -> Vec<NetworkFault> {
        if self.element_count() > MAX_ELEMENTS || self.node_count > MAX_ELEMENTS + 1 {
            return vec![NetworkFault::TooLarge {
                elements: self.element_count(),
                nodes: self.node_count,
            }];
        }
        let mut faults = Vec::new();
        if self.reference >= self.node_count {
            faults.push(NetworkFault::ReferenceMissing {
                reference: self.reference,
                node_count: self.node_count,
            });
        }
        for (index, conductor) in self.conductors.iter().enumerate() {
            let element = Element::Conductor(index);
            self.check_ends(element, conductor.from, conductor.to, &mut faults);
            check_resistance(element, conductor.resistance, &mut faults);
        }
        for (index, source) in self.sources.iter().enumerate() {
            let element = Element::Source(index);
            self.check_ends(element, source.from, source.to, &mut faults);
            check_resistance(element, source.resistance, &mut faults);
            check_finite(element, "volts", source.emf.value(), &mut faults);
        }
        for (index, load) in self.loads.iter().enumerate() {
            let element = Element::Load(index);
            self.check_ends(element, load.from, load.to, &mut faults);
            match load.behavior {
                Behavior::Current(current) => {
                    check_finite(element, "amperes", current.value(), &mut faults);
                }
                Behavior::Power(power) => {
                    check_finite(element, "watts", power.value(), &mut faults);
                }
                Behavior::Resistance(resistance) => {
                    check_finite(element, "ohms", resistance.value(), &mut faults);
                    if resistance.value() <= 0.0 {
                        faults.push(NetworkFault::LoadShorts {
                            element,
                            resistance,
                        });
                    }
                }
            }
        }
        faults
    }

    fn check_ends(&self, element: Element, from: usize, to: usize, faults: &mut Vec<NetworkFault>) {
        for node in [from, to] {
            if node >= self.node_count {
                let node_count = self.node_count;
                faults.push(NetworkFault::NodeMissing {
                    element,
                    node,
                    node_count,
                });
            }
        }
    }
}

fn check_resistance(element: Element, resistance: Ohms, faults: &mut Vec<NetworkFault>) {
    check_finite(element, "ohms", resistance.value(), faults);
    if resistance.value() < 0.0 {
        faults.push(NetworkFault::NegativeResistance {
            element,
            resistance,
        });
    }
}

fn check_finite(
    element: Element,
    quantity: &'static str,
    value: f64,
    faults: &mut Vec<NetworkFault>,
) {
    if !value.is_finite() {
        faults.push(NetworkFault::NotANumber {
            element,
            quantity,
            value,
        });
    }
}
