//! Fuses and breakers.

mod walk;
mod device_missing;
mod device_too_far_from_source;
mod device_over_conductor_rating;
mod device_below_load;
mod interrupting_rating_too_small;

pub use device_below_load::DEVICE_BELOW_LOAD;
pub use device_missing::DEVICE_MISSING;
pub use device_over_conductor_rating::DEVICE_OVER_CONDUCTOR_RATING;
pub use device_too_far_from_source::DEVICE_TOO_FAR_FROM_SOURCE;
pub use interrupting_rating_too_small::INTERRUPTING_RATING_TOO_SMALL;
pub use walk::Walks;
