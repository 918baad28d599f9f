//! The report of all network comparisons that the Verification page shows, kept byte for byte.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use std::path::Path;

use serde::Serialize;
use tests::network_checks::{Row, against_exact, against_ngspice, exact_plans};
use tests::network_facts;

#[derive(Serialize)]
struct Report {
    title: &'static str,
    how_to_repeat: &'static str,
    not_verified: &'static str,
    rows: Vec<Row>,
}

/// `UPDATE_VERIFICATION=1` rewrites the report.
#[test]
fn the_committed_report_is_what_the_checks_give() {
    let references = network_facts::read();
    let rows: Vec<Row> = references
        .iter()
        .flat_map(|reference| {
            reference
                .runs
                .iter()
                .map(|run| against_ngspice(reference, run))
        })
        .chain(exact_plans().into_iter().map(against_exact))
        .collect();
    for row in &rows {
        assert!(row.is_within(), "{row:#?}");
    }
    let report = Report {
        title: "Operating point of a network",
        how_to_repeat: "UPDATE_VERIFICATION=1 cargo test -p tests --test network_verification",
        not_verified: "Constant-power loads that feed the network, and loads with reversed volts, \
                       are held only against the laws of networks, not against another program.",
        rows,
    };
    let mut fresh = serde_json::to_string_pretty(&report).expect("plain values");
    fresh.push('\n');
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../server/verification/networks.json");
    if std::env::var("UPDATE_VERIFICATION").is_ok_and(|value| value == "1") {
        std::fs::write(&path, &fresh).expect("the report can be written");
    }
    let committed = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{} cannot be read: {error}", path.display()));
    assert!(
        committed == fresh,
        "{} differs from a fresh run: look at the difference, then {}",
        path.display(),
        report.how_to_repeat
    );
}
