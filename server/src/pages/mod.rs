//! What the templates are filled with: one file for the pages of a task. No computing here; a
//! page holds words and numbers ready to be shown.

mod frame;
mod parts;
mod models;
mod search;
mod error;

pub use error::ErrorPage;
pub use frame::{Crumb, Frame, InView, Link, first_page};
pub use models::{DeletePage, ModelFormPage, ModelsPage, RevisionsPage};
pub use parts::{FieldFault, Outcome, date};
pub use search::SearchPage;
