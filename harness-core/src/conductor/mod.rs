//! Calculations of one conductor: resistance, drop, ampacity, size, bundle, fault, length.
//!
//! Each gives its result together with the working: formula, numbers, table row, source. The
//! questions and answers of the four quick calculations stand beside the function that answers
//! them, so that pages and the API call exactly the same code.
//!
//! Inputs are expected within `units::bounds`; whoever reads them from a user checks that first.

mod resistance;
mod drop;
mod ampacity;
mod size;
mod bundle;
mod fault;
mod length;

pub use ampacity::{AmpacityAnswer, AmpacityQuestion, allowable, ampacity};
pub use bundle::{BundleAnswer, BundleQuestion, bundle, bundle_diameter};
pub use drop::{Drop, DropAnswer, DropQuestion, drop, drop_answer};
pub use fault::{adiabatic_k, withstand};
pub use length::finished_length_tolerance;
pub use resistance::{
    Basis, area, by_circular_mils, by_resistivity, ohms_per_metre, resistance, share_at_temperature,
};
pub use size::{ConductorAnswer, ConductorQuestion, area_for_drop, size};
