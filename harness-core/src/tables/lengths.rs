//! Tolerance on the finished length of a cable.

use std::sync::OnceLock;

use super::rows::read;
use crate::units::{Metres, Millimetres};
use crate::working::Cited;

struct ToleranceRow {
    upto_m: Option<f64>,
    plus_mm: Option<f64>,
    plus_percent: Option<f64>,
    source: Cited<()>,
}

/// How much longer than nominal a finished length may be; never shorter. The upper end of a
/// band belongs to it.
pub fn plus_tolerance(nominal: Metres) -> Cited<Millimetres> {
    static TABLE: OnceLock<Vec<ToleranceRow>> = OnceLock::new();
    let rows = TABLE.get_or_init(|| {
        read(
            "length_tolerance.csv",
            include_str!("../../data/length_tolerance.csv"),
        )
        .iter()
        .map(|row| ToleranceRow {
            upto_m: row.optional("upto_m"),
            plus_mm: row.optional("plus_mm"),
            plus_percent: row.optional("plus_percent"),
            source: row.cite(()),
        })
        .collect()
    });
    let row = rows
        .iter()
        .find(|row| row.upto_m.is_none_or(|upto| nominal.value() <= upto))
        .unwrap_or_else(|| panic!("length_tolerance.csv: no open last band"));
    let share = nominal.millimetres() * (row.plus_percent.unwrap_or(0.0) / 100.0);
    row.source
        .clone()
        .map(|()| share + Millimetres::new(row.plus_mm.unwrap_or(0.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_of_the_published_table() {
        // IPC/WHMA-A-620 as published by makers: +25, +50, +100, +150 mm, +5 %.
        for (metres, plus) in [
            (0.3, 25.0),
            (0.31, 50.0),
            (1.5, 50.0),
            (3.0, 100.0),
            (7.5, 150.0),
            (10.0, 500.0),
        ] {
            let found = plus_tolerance(Metres::new(metres)).value.value();
            assert!((found - plus).abs() < 1e-9, "{metres} m: {found}");
        }
    }
}
