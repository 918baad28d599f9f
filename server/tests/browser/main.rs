//! The service in a browser: whole jobs with script and without, by keyboard alone, and every page
//! held against the accessibility guidelines.
//!
//! Needs Debian's `chromium` and `chromium-driver`, and axe-core by `npm ci` in this folder.
//! Without them the tests say so and are skipped; `REQUIRE_BROWSER=1` makes that a failure.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands, and says so when it is skipped"
)]

mod browser;
mod service;
mod addresses;
mod axe;
mod cleared;
mod accessibility;
mod planted;
mod jobs;
mod keyboard;
