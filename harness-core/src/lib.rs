//! Engineering of the DC wiring harness of a production boat model.
//!
//! No I/O, no clock, no web. Data flows one way, in the order of these modules:
//! `file_format -> model -> {boats, routing} -> network -> worst -> rules -> {sizing, sheets}`,
//! and `study` strings them together.

/// What stands on every page and sheet with results.
pub const CAUTION: &str = "This is a design aid. Wiring can burn a boat: follow the marine \
    electrical standards that apply, local rules and the makers\u{2019} instructions, and have the \
    result checked by a qualified person before anything is built.";

mod extremes;
pub mod units;
pub mod choices;
pub mod working;
pub mod tables;
pub mod conductor;
pub mod boats;
pub mod contents;
pub mod file_format;
pub mod tabular;
pub mod model;
pub mod edits;
pub mod parts;
pub mod routing;
pub mod network;
pub mod rules;
pub mod worst;
pub mod sizing;
pub mod sheets;
pub mod gaps;
pub mod by_circuit;
pub mod study;
pub mod guesses;
pub mod orders;
pub mod report;
pub mod effect;
pub mod cures;
pub mod most;
pub mod adding;
pub mod requests;
