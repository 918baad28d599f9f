//! What people ask for: one file a task. A route reads the request, calls the store or the core,
//! and fills a page.

pub mod models;
pub mod search;
pub mod health;
mod upload;
