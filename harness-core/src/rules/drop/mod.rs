//! Volts at the equipment.

mod drop_over_limit;

pub use drop_over_limit::DROP_OVER_LIMIT;
