//! What people ask for: one file a task. A route reads the request, calls the store or the core,
//! and fills a page.

pub mod models;
pub mod edit;
pub mod edit_plan;
mod placing;
pub mod parts_list;
pub mod parts_spreadsheet;
pub mod history;
pub mod spreadsheet;
pub mod most;
pub mod overview;
pub mod failing;
pub mod circuits;
pub mod clears;
pub mod zones;
pub mod options;
pub mod add_option;
pub mod boats;
pub mod settings;
pub mod sheets;
pub mod sizes;
pub mod rules;
pub mod one_circuit;
pub mod harness_contents;
pub mod verification;
pub mod search;
pub mod health;
mod upload;
