//! Which harnesses to make for the boats that are ordered: one full harness, a few contents, one
//! for each order; and which options are better added on.
//!
//! What is absent: volts, wires, options of a model. A module is a name, a cost and the orders
//! that have it.

mod money;
mod wiring;
pub mod worth;
mod plan;
mod columns;
mod walk;
mod prices;
mod search;
pub mod levels;
mod answer;
pub mod question;
#[cfg(test)]
mod every_plan;

pub use answer::{
    ContentAnswer, ContentsAnswer, CurvePoint, LevelAnswer, OrderAnswer, PerOrderAnswer,
    WorthAnswer,
};
pub use levels::{Content, Demand, Effort, Level, Levels, Order};
pub use money::Cents;
pub use question::{ContentsQuestion, ModuleByName, OrderByName, SharedByName};
pub use wiring::{MOST_MODULES, ModuleSet, Shared, Wiring};
pub use worth::{Place, Worth, WorthQuestion};
