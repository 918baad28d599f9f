//! Engineering of the DC wiring harness of a production boat model.
//!
//! No I/O, no clock, no web. Data flows one way, in the order of these modules:
//! `file_format -> model -> {boats, routing} -> network -> worst -> rules -> {sizing, sheets}`,
//! and `study` strings them together.

pub mod units;
pub mod working;
pub mod tables;
pub mod conductor;
pub mod boats;
pub mod file_format;
pub mod model;
pub mod routing;
pub mod network;
pub mod rules;
pub mod sizing;
pub mod sheets;
pub mod gaps;
pub mod study;
pub mod report;
