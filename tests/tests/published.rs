//! Published values: each is reproduced to its last printed digit, or the difference is
//! explained by name. The committed report is what a fresh run gives.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use std::collections::BTreeSet;
use std::path::Path;

use tests::published::{CAUSES, Explained, Fact, Verdict, report};

const REPORT: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../server/verification/published.json"
);

#[test]
fn published_values_are_reproduced_or_explained() {
    let report = report();
    let open: Vec<_> = report
        .records
        .iter()
        .filter(|record| record.verdict == Verdict::Open)
        .map(|record| {
            format!(
                "{}: {} published {} {}, ours {}; {}",
                record.id,
                record.question,
                record.published,
                record.unit,
                record.ours.as_deref().unwrap_or("none"),
                record.explanation.as_deref().unwrap_or_default()
            )
        })
        .collect();
    assert!(
        open.is_empty(),
        "{} published values differ and nobody has said why; look at each, then correct the core \
         or explain it in tests/facts/explained.csv:\n{}",
        open.len(),
        open.join("\n")
    );
}

#[test]
fn no_explanation_outlives_its_difference() {
    let needed: BTreeSet<_> = report()
        .records
        .into_iter()
        .filter(|record| record.verdict != Verdict::Within)
        .map(|record| record.id)
        .collect();
    for (id, entry) in Explained::all() {
        assert!(
            needed.contains(&id),
            "explained.csv: {id} agrees now or does not exist; take the line out"
        );
        assert!(
            CAUSES.contains(&entry.cause.as_str()),
            "explained.csv: {id}: no cause is called {}",
            entry.cause
        );
        assert!(
            entry.explanation.len() > 20,
            "explained.csv: {id} explains nothing"
        );
        assert!(
            !entry.decided_by.is_empty() && entry.since.len() == 10,
            "{id}"
        );
    }
}

#[test]
fn facts_are_named_once_and_cover_the_job() {
    let facts = Fact::all();
    let ids: BTreeSet<_> = facts.iter().map(|fact| &fact.id).collect();
    assert_eq!(ids.len(), facts.len(), "two facts share a name");
    let counts = report().counts;
    assert!(counts.compared >= 300, "{counts:?}");
    assert!(counts.sources >= 15, "{counts:?}");
    assert!(counts.kinds >= 8, "{counts:?}");
}

#[test]
fn the_committed_report_is_what_a_fresh_run_gives() {
    let fresh = report().to_json();
    let path = Path::new(REPORT);
    if std::env::var_os("UPDATE_VERIFICATION").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, &fresh).unwrap();
    }
    let committed = std::fs::read_to_string(path).unwrap_or_default();
    let differing = committed
        .lines()
        .zip(fresh.lines())
        .find(|(old, new)| old != new);
    assert!(
        committed == fresh,
        "server/verification/published.json is out of date; run\n  \
         UPDATE_VERIFICATION=1 cargo test -p tests --test published\nfirst difference: {differing:?}"
    );
}
