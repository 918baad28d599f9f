//! The worst buildable boat for every limit, with the proof that it is the worst.
//!
//! Every boat of a model is a choice of what is fitted in one and the same wiring. So the wiring
//! of all boats together is taken apart once ([`systems`]): for each operating state into systems
//! that solve by themselves, split by the few conditions that change their shape. In a system
//! every drop, current and voltage is a sum of the loads' currents with fixed factors; what is
//! not fixed, the currents themselves, lies between bounds that hold on every boat ([`bounds`]).
//! The search ([`search`]) starts from a boat, asks the diagram for the boat that could at most
//! be worse than it, solves that one exactly, and ends when nothing can be worse: the answer is a
//! boat, and the proof a bound that meets its value. No monotony is assumed anywhere: a charger,
//! a load that is there when an option is absent, a load that draws less at fewer volts are
//! bounded like everything else.
//!
//! What is absent: limits. `every_boat.rs` lets the rules judge the boats found here.

mod bridges;
pub mod systems;
mod splitting;
mod undrawn;
pub mod bounds;
mod region;
mod greatest;
pub mod search;
mod searched;
mod sum;

pub mod protected;
mod quantity;
mod candidates;
mod groups;
mod leading;
mod beside;
mod filled;
mod extent;
mod processors;
mod together;
mod leads;
mod shared_returns;
mod returns;
mod areas;
mod compared;
mod earlier;
mod asked;
mod every_boat;

pub(crate) use beside::loaded;
pub use candidates::Candidates;
pub use earlier::{Changes, Earlier};
pub use every_boat::{Counted, EveryBoat, Supply};
pub use extent::Extent;
pub(crate) use filled::filled_when;
pub use greatest::{NoWorst, Worst};
pub use quantity::Quantity;
pub use sum::Sum;
pub(crate) use undrawn::Open;
#[cfg(test)]
mod tests;
