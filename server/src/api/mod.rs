//! The JSON API. Same engineering code as the pages; one file a kind of thing.

mod body;
pub mod models;

pub use body::ApiJson;
