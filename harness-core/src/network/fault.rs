//! Why a network cannot be solved at all, whatever its loads draw.

use std::fmt;

use super::Element;
use super::elements::MAX_ELEMENTS;
use crate::units::{Ohms, Volts};

/// A network that has no defined currents and volts; each fault names its place.
#[derive(Clone, Debug, PartialEq)]
pub enum NetworkFault {
    /// More than [`MAX_ELEMENTS`] elements, or more nodes than they can join.
    TooLarge {
        /// Conductors, sources and loads together.
        elements: usize,
        /// Nodes stated.
        nodes: usize,
    },
    /// The reference is not one of the nodes.
    ReferenceMissing {
        /// Reference stated.
        reference: usize,
        /// Nodes of the network.
        node_count: usize,
    },
    /// An element ends at a node that does not exist.
    NodeMissing {
        /// The element.
        element: Element,
        /// Node stated.
        node: usize,
        /// Nodes of the network.
        node_count: usize,
    },
    /// Infinite, or not a number at all.
    NotANumber {
        /// The element.
        element: Element,
        /// Which of its numbers, by unit.
        quantity: &'static str,
        /// Value stated.
        value: f64,
    },
    /// A conductor or source of less than 0 Ω.
    NegativeResistance {
        /// The element.
        element: Element,
        /// Value stated.
        resistance: Ohms,
    },
    /// A resistance load of 0 Ω or less.
    LoadShorts {
        /// The load.
        element: Element,
        /// Value stated.
        resistance: Ohms,
    },
    /// Sources without resistance demand different volts between the same two nodes.
    Contradiction {
        /// The element that closes the loop.
        element: Element,
        /// Volts it demands from its `from` to its `to`.
        stated: Volts,
        /// Volts the others demand between the same nodes.
        held: Volts,
    },
    /// A loop without any resistance: how the current divides in it cannot be known.
    LoopWithoutResistance {
        /// The element that closes the loop.
        element: Element,
    },
    /// Nodes that no conductor, source or resistance load joins to the reference.
    NotConnected {
        /// Lowest node of the part.
        node: usize,
        /// Nodes in the part.
        nodes_in_part: usize,
        /// The reference of the network.
        reference: usize,
    },
    /// So many crossing loops that the equations would not fit into memory.
    TooTangled {
        /// Entries of the factored equations at which the work was given up.
        entries: usize,
    },
}

impl fmt::Display for NetworkFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLarge { elements, nodes } => write!(
                f,
                "The network has {elements} elements and {nodes} nodes; at most {MAX_ELEMENTS} \
                 elements can be solved. Split it at its sources."
            ),
            Self::ReferenceMissing {
                reference,
                node_count,
            } => write!(
                f,
                "The reference is node {reference}, but the network has only nodes 0 to {}. \
                 State one of them.",
                node_count.saturating_sub(1)
            ),
            Self::NodeMissing {
                element,
                node,
                node_count,
            } => write!(
                f,
                "{element} ends at node {node}, but the network has only nodes 0 to {}. \
                 State one of them.",
                node_count.saturating_sub(1)
            ),
            Self::NotANumber {
                element,
                quantity,
                value,
            } => {
                write!(
                    f,
                    "{element} has {value} {quantity}. State a finite number."
                )
            }
            Self::NegativeResistance {
                element,
                resistance,
            } => {
                write!(f, "{element} has {resistance}. State 0 Ω or more.")
            }
            Self::LoadShorts {
                element,
                resistance,
            } => write!(
                f,
                "{element} has {resistance}; a load needs more than 0 Ω. State its resistance, \
                 or make it a conductor."
            ),
            Self::Contradiction {
                element,
                stated,
                held,
            } => write!(
                f,
                "{element} demands {stated} between its nodes without any resistance, but other \
                 elements without resistance hold them at {held}. Give one of them a resistance."
            ),
            Self::LoopWithoutResistance { element } => write!(
                f,
                "{element} closes a loop without any resistance, so how the current divides in \
                 it cannot be known. Give one element of the loop a resistance."
            ),
            Self::NotConnected {
                node,
                nodes_in_part,
                reference,
            } => write!(
                f,
                "Node {node} and the part it belongs to ({nodes_in_part} in all) are not joined \
                 to the reference, node {reference}, by any conductor, source or resistance \
                 load, so their volts cannot be known. Join them, or solve them on their own."
            ),
            Self::TooTangled { entries } => write!(
                f,
                "The loops of the network cross so often that its equations need more than \
                 {entries} entries. Solve it in parts."
            ),
        }
    }
}

impl std::error::Error for NetworkFault {}
