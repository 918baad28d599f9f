//! The JSON API. Same engineering code as the pages; one file a kind of thing.

mod body;
pub mod calculations;
pub mod models;
pub mod openapi;
pub mod parts;

pub use body::ApiJson;
