//! Differences that were looked at, one by one, and why they stand.

use std::collections::BTreeMap;

use super::fact::rows;

/// The causes a difference may have.
pub const CAUSES: [&str; 9] = [
    "rounding in source",
    "other constant",
    "other temperature",
    "other area basis",
    "other conductor",
    "misprint in source",
    "other rule",
    "outside this service's calculations",
    "input missing in source",
];

/// Why one published value differs from ours or is not computed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explained {
    /// One of [`CAUSES`].
    pub cause: String,
    /// What the difference comes from, with the numbers that show it.
    pub explanation: String,
    /// Who decided that it stands.
    pub decided_by: String,
    /// Since when.
    pub since: String,
}

impl Explained {
    /// Every explanation by the fact it belongs to.
    ///
    /// # Panics
    /// When the file is malformed or explains a fact twice.
    pub fn all() -> BTreeMap<String, Self> {
        let mut found = BTreeMap::new();
        for row in rows("explained.csv", include_str!("../../facts/explained.csv")) {
            let entry = Self {
                cause: row["cause"].clone(),
                explanation: row["explanation"].clone(),
                decided_by: row["decided_by"].clone(),
                since: row["since"].clone(),
            };
            let id = row["id"].clone();
            assert!(
                found.insert(id.clone(), entry).is_none(),
                "explained.csv: {id} stands twice"
            );
        }
        found
    }
}
