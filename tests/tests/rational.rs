//! Linear networks in exact rational arithmetic: at least 12 digits of every node voltage.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use tests::network_checks::{against_exact, exact_plans};

#[test]
fn every_node_voltage_has_twelve_digits_of_the_exact_one() {
    let rows: Vec<_> = exact_plans().into_iter().map(against_exact).collect();
    assert!(rows.len() >= 100);
    for row in &rows {
        assert!(row.is_within(), "{row:#?}");
    }
    let fewest = rows
        .iter()
        .filter_map(|row| row.digits)
        .min()
        .expect("rows");
    println!("{} networks, fewest digits {fewest}", rows.len());
}
