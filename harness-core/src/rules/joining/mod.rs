//! Connectors, studs, splices and ends.

mod occurrence;
mod cavity_ends;
mod cavity_used_twice;
mod cavity_undecided;

pub use cavity_undecided::CAVITY_UNDECIDED;
pub use cavity_used_twice::CAVITY_USED_TWICE;
