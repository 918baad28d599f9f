//! Shared pieces of the outside checks: generators and readers of committed facts.

pub mod generated;
pub mod published;
pub mod networks;
pub mod ngspice;
pub mod exact;
pub mod network_facts;
pub mod network_checks;
pub mod contents;
pub mod worst_instances;
pub mod worst_facts;
pub mod maximal_boats;
pub mod sized_boats;
pub mod sizing_facts;
