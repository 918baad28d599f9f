//! What was acknowledged is there after a kill at any moment and after a power cut, and nothing is
//! there by halves.
//!
//! Short by default. At full size:
//! `KILLS=1000 POWER_CUTS=200 cargo test -p server --release --test durability`.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "a test may stop where it stands")]

mod client;
mod service;
mod editing;
mod books;
mod kills;
mod disk;
mod power_cuts;

use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own, removed in the end.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("harness-durability-{}-{number}", std::process::id());
        Self(std::env::temp_dir().join(name))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A size from the environment.
fn size(name: &str, short: usize) -> usize {
    match std::env::var(name) {
        Ok(text) => text
            .parse()
            .unwrap_or_else(|_| panic!("{name} is no number: {text}")),
        Err(_) => short,
    }
}

/// Figures are shown whether or not the test passes.
fn tell(line: &str) {
    let _ = writeln!(std::io::stderr(), "{line}");
}
