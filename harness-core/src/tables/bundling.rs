//! Factors on ampacity for conductors that lie together.

use std::sync::OnceLock;

use super::rows::read;
use crate::working::{Cited, Source, Status};

/// How bundled d.c. conductors below 50 V are reduced. Public sources disagree, so it is a
/// setting; `ByCount` is the strictest and the default, and findings name the one used.
pub use crate::choices::DcBundling as BundlePractice;

/// A practice in words, as a finding names it.
pub const fn title(practice: BundlePractice) -> &'static str {
    match practice {
        BundlePractice::ByCount => "every step by number of loaded conductors",
        BundlePractice::Flat70 => "0.70 for any bundle of three or more",
        BundlePractice::NoneBelow50V => "no reduction below 50 V",
    }
}

struct BundleRow {
    practice: BundlePractice,
    from: u32,
    to: Option<u32>,
    factor: Cited<f64>,
}

fn rows() -> &'static [BundleRow] {
    static TABLE: OnceLock<Vec<BundleRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "bundle_factors.csv",
            include_str!("../../data/bundle_factors.csv"),
        )
        .iter()
        .map(|row| BundleRow {
            practice: row.word("practice", BundlePractice::from_word),
            from: row.value("from"),
            to: row.optional("to"),
            factor: row.cited_number("factor"),
        })
        .collect()
    })
}

/// Factor on the ampacity of each of `conductors` loaded conductors lying together, the
/// conductor itself counted. None or one together counts as one.
pub fn bundle_factor(practice: BundlePractice, conductors: u32) -> Cited<f64> {
    let count = conductors.max(1);
    rows()
        .iter()
        .find(|row| {
            row.practice == practice && row.from <= count && row.to.is_none_or(|to| count <= to)
        })
        .map_or_else(
            || Cited::new(1.0, Source::new("no factor", "", Status::OurPractice)),
            |row| row.factor.clone(),
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_count_has_exactly_one_row() {
        for &practice in BundlePractice::ALL {
            for count in 1..=60 {
                let matching = rows()
                    .iter()
                    .filter(|row| {
                        row.practice == practice
                            && row.from <= count
                            && row.to.is_none_or(|to| count <= to)
                    })
                    .count();
                assert_eq!(matching, 1, "{practice:?} {count}");
            }
        }
    }

    #[test]
    fn steps_of_note_2() {
        // 33 CFR 183.425 Table 5 note 2, both sides of each step.
        let factor = |count| bundle_factor(BundlePractice::ByCount, count).value;
        for (count, expected) in [
            (0, 1.0),
            (2, 1.0),
            (3, 0.7),
            (4, 0.6),
            (6, 0.6),
            (7, 0.5),
            (24, 0.5),
            (25, 0.4),
        ] {
            assert_eq!(factor(count), expected, "{count}");
        }
    }

    #[test]
    fn the_default_is_never_milder_than_the_others() {
        for count in 1..=40 {
            let strict = bundle_factor(BundlePractice::ByCount, count).value;
            for &practice in BundlePractice::ALL {
                assert!(strict <= bundle_factor(practice, count).value);
            }
        }
    }
}
