//! Current of conductors and contacts.

mod loaded;
pub(in crate::rules) mod allowance;
mod conductor_overloaded;
mod contact_overloaded;
mod source_overloaded;

pub use conductor_overloaded::CONDUCTOR_OVERLOADED;
pub use contact_overloaded::CONTACT_OVERLOADED;
pub use loaded::Loaded;
pub use source_overloaded::SOURCE_OVERLOADED;
