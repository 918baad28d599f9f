//! The web service around `harness-core`.
//!
//! It loads a boat model, hands it to the core, shows what comes back and stores what is accepted;
//! it computes nothing of its own. The modules stand in reading order: a request enters through
//! [`router`], is checked in [`guard`] and [`intake`], answered in [`routes`] (pages) or [`api`]
//! (JSON), and whatever goes wrong on the way becomes an answer in [`error`].

pub mod config;
pub mod serve;
pub mod check;
pub mod router;
pub mod guard;
pub mod intake;
pub mod spreadsheet;
pub mod view;
pub mod studies;
pub mod person;
pub mod shown;
pub mod history;
pub mod lists;
pub mod saving;
pub mod parts_list;
pub mod orders;
pub mod routes;
pub mod pages;
pub mod api;
pub mod answer;
pub mod conditional;
pub mod kept;
pub mod unfinished;
pub mod error;
pub mod assets;
pub mod samples;
pub mod store;
