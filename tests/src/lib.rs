//! Shared pieces of the outside checks: generators and readers of committed facts.

pub mod generated;
pub mod published;
