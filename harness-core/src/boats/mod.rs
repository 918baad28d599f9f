//! Which boats can be ordered: options and their rules, compiled once into a decision diagram.
//!
//! A boat model with 80 options has more buildable boats than anyone can list, yet the rules
//! between options are local, so the diagram stays small: one layer per option, one path per
//! buildable boat. Everything asked here is one pass over it and exact: how many boats, which
//! options never or always occur, how many boats have each, the heaviest and lightest boat for any
//! weights, how many boats meet a condition, a boat drawn at random.
//!
//! What is absent: volts, amperes, wires. A weight is a number per option, whatever it stands for.

mod boat;
pub mod condition;
pub mod rules;
mod order;
mod propagation;
mod layers;
pub mod diagram;
mod narrow;
mod weigh;
pub mod firing;
mod fired;
pub mod over;
mod ways;
pub mod asking;
pub mod apart;
pub mod draw;
pub mod families;
pub mod conflict;
pub mod question;
#[cfg(test)]
mod every_boat;

pub use apart::Apart;
pub use asking::Asking;
pub use boat::Boat;
pub use condition::Condition;
pub use conflict::{Contradiction, contradicting_rules, rules_against};
pub use diagram::{BoatSet, Completion, TooWide};
pub use draw::Draw;
pub use families::Family;
pub use firing::{Firings, Presence, Way};
pub use over::{Line, Over};
pub use question::{BoatsAnswer, BoatsQuestion};
pub use rules::{OptionIndex, OptionRule, Options, UnknownOption};
