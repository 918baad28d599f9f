//! The service from outside, in process: every request passes all layers.

#![allow(clippy::unwrap_used, reason = "a test fails where its bench fails")]

mod bench;
mod form_fields;
mod api;
mod calculations;
mod harness_contents;
mod editing;
mod every_boat;
mod add_option;
mod guards;
mod model_pages;
mod pages;
mod plan;
mod parts;
mod ordering;
mod demo;
mod spreadsheet;
mod spreadsheet_files;
mod settings;
mod names;
mod store;
