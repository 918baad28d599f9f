//! Look-ups in `data/*.csv`. Every answer comes with the document and place it was read from.
//!
//! A table is read once, on first use. A row that cannot be read is a fault of the program, not
//! of the user: it stops with the file and line, and a test reads every table.

mod rows;
pub mod copper;
pub mod conductors;
pub mod rule_set;
pub mod ampacity;
pub mod bundling;
pub mod packing;
pub mod limits;
pub mod source_distance;
pub mod protection;
pub mod terminals;
pub mod colors;
pub mod lengths;
pub mod typical_loads;

pub use ampacity::Insulation;
pub use bundling::BundlePractice;
pub use rule_set::RuleSet;
