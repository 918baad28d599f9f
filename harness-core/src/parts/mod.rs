//! Parts lists: what is shipped beside what a builder lists, and a part taken into a boat model.
//!
//! What is taken is copied, with where its figures come from: a boat model stays as it was
//! released, whatever becomes of the list. [`beside_the_list`] tells where both differ now.

mod shipped;
mod taking;
mod differing;

pub use differing::{Beside, Differing, beside_the_list};
pub use shipped::shipped;
pub use taking::{Origin, Part, find, offered, part_list_of, taken};
