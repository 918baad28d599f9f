//! Runs, holes, supports, water, vapor, reach.

mod wire_unroutable;
mod conduit_overfull;
mod bundle_over_hole;
mod hole_without_edge_protection;
mod support_spacing_too_wide;
mod device_not_ignition_protected;
mod coupler_unreachable;
mod connection_below_bilge_water;

pub use bundle_over_hole::BUNDLE_OVER_HOLE;
pub use conduit_overfull::CONDUIT_OVERFULL;
pub use connection_below_bilge_water::CONNECTION_BELOW_BILGE_WATER;
pub use coupler_unreachable::COUPLER_UNREACHABLE;
pub use device_not_ignition_protected::DEVICE_NOT_IGNITION_PROTECTED;
pub use hole_without_edge_protection::HOLE_WITHOUT_EDGE_PROTECTION;
pub use support_spacing_too_wide::SUPPORT_SPACING_TOO_WIDE;
pub use wire_unroutable::WIRE_UNROUTABLE;
