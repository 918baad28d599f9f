//! Volts at the equipment.

mod over_states;
mod load_not_supplied;
mod no_operating_point;
mod drop_over_limit;
mod supply_below_minimum;

pub use drop_over_limit::DROP_OVER_LIMIT;
pub use load_not_supplied::LOAD_NOT_SUPPLIED;
pub use no_operating_point::NO_OPERATING_POINT;
pub use supply_below_minimum::SUPPLY_BELOW_MINIMUM;
