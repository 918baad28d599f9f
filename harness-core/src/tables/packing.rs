//! Closest packing of equal circles, and how much of a conduit may be filled.

use std::sync::OnceLock;

use super::rows::read;
use crate::working::Cited;

fn ratios() -> &'static [Cited<f64>] {
    static TABLE: OnceLock<Vec<Cited<f64>>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("packing.csv", include_str!("../../data/packing.csv"))
            .iter()
            .map(|row| row.cited_number("ratio"))
            .collect()
    })
}

/// Diameter of the smallest circle round `wires` equal circles, over their diameter; none for
/// no wires and above 30.
pub fn ratio(wires: usize) -> Option<Cited<f64>> {
    wires
        .checked_sub(1)
        .and_then(|index| ratios().get(index))
        .cloned()
}

struct FillRow {
    from: usize,
    to: Option<usize>,
    limit_percent: Cited<f64>,
}

/// Greatest share of the bore that `cables` cables may fill, percent.
pub fn conduit_fill_limit(cables: usize) -> Option<Cited<f64>> {
    static TABLE: OnceLock<Vec<FillRow>> = OnceLock::new();
    TABLE
        .get_or_init(|| {
            read(
                "conduit_fill.csv",
                include_str!("../../data/conduit_fill.csv"),
            )
            .iter()
            .map(|row| FillRow {
                from: row.value("from"),
                to: row.optional("to"),
                limit_percent: row.cited_number("limit_percent"),
            })
            .collect()
        })
        .iter()
        .find(|row| row.from <= cables && row.to.is_none_or(|to| cables <= to))
        .map(|row| row.limit_percent.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_with_a_closed_form() {
        let exact = [
            (1, 1.0),
            (2, 2.0),
            (3, 1.0 + 2.0 / 3f64.sqrt()),
            (4, 1.0 + 2f64.sqrt()),
            (7, 3.0),
            (19, 1.0 + 2f64.sqrt() + 6f64.sqrt()),
        ];
        for (wires, expected) in exact {
            let found = ratio(wires).unwrap().value;
            assert!(
                (found - expected).abs() < 1e-6,
                "{wires}: {found} {expected}"
            );
        }
        assert!(ratio(0).is_none() && ratio(31).is_none());
    }

    #[test]
    fn ratios_never_shrink_and_never_overfill() {
        for wires in 2..=30 {
            let (less, more) = (ratio(wires - 1).unwrap().value, ratio(wires).unwrap().value);
            assert!(less <= more);
            // The circles' own area can never exceed the circle around them.
            assert!(more * more > wires as f64);
        }
    }

    #[test]
    fn fill_limits_by_count() {
        // NEC chapter 9 table 1.
        let limit = |cables| conduit_fill_limit(cables).map(|cited| cited.value);
        assert_eq!(limit(0), None);
        assert_eq!(limit(1), Some(53.0));
        assert_eq!(limit(2), Some(31.0));
        assert_eq!(limit(3), Some(40.0));
        assert_eq!(limit(200), Some(40.0));
    }
}
