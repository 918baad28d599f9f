//! Changes to a boat model: one thing at a time, the difference of two states, and two people's
//! changes brought together.
//!
//! A model is taken as the lists of its file: each thing stands in a list under a key, its short
//! name. What is changed here is the saved form, so that a half-stated thing stays as it was
//! typed; the reader of the file says afterwards what is wrong with the whole.

mod lists;
mod whole;
mod difference;
mod merge;
mod rename;
#[cfg(test)]
mod tests;

pub use difference::{Change, FieldChange, What, difference};
pub use lists::{List, SETTINGS, find_list, find_parts, lists, lists_of};
pub use merge::{Clash, merge};
pub use rename::{mentions, renamed};
pub use whole::{Key, NoSuchThing, Whole};
