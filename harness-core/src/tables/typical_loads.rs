//! What equipment of a kind usually draws: to start from, until the figure of the part is known.

use std::sync::OnceLock;

use super::rows::read;
use crate::working::Source;

/// One kind of equipment.
#[derive(Clone, Debug, PartialEq)]
pub struct TypicalLoad {
    /// Short name.
    pub id: String,
    /// What it is, with its class: `bilge pump, 1100 GPH`.
    pub name: String,
    /// Current it draws running, A; the upper end where a range was published.
    pub running_a: Option<f64>,
    /// Volts at which that was stated.
    pub stated_at_v: Option<f64>,
    /// Greatest current in use or at the start, A.
    pub inrush_a: Option<f64>,
    /// Current with the rotor locked, A.
    pub locked_rotor_a: Option<f64>,
    /// Rating of its fuse or breaker, A.
    pub device_a: Option<f64>,
    /// Continuous or intermittent.
    pub duty: String,
    /// Where this was read.
    pub source: Source,
    /// Whether little speaks for it: a single report.
    pub low_trust: bool,
    /// What else was said there; empty if nothing.
    pub remark: String,
}

/// Typical draws, in the order of their table.
pub fn typical_loads() -> &'static [TypicalLoad] {
    static TABLE: OnceLock<Vec<TypicalLoad>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "typical_loads.csv",
            include_str!("../../data/typical_loads.csv"),
        )
        .iter()
        .map(|row| TypicalLoad {
            id: row.text("id").to_owned(),
            name: match row.text("class") {
                "" => row.text("item").to_owned(),
                class => format!("{}, {class}", row.text("item")),
            },
            running_a: row.optional("running_a"),
            stated_at_v: row.optional("stated_at_v"),
            inrush_a: row.optional("inrush_a"),
            locked_rotor_a: row.optional("locked_rotor_a"),
            device_a: row.optional("device_a"),
            duty: row.text("duty").to_owned(),
            source: row.source(),
            low_trust: row.text("trust") == "low",
            remark: row.text("remark").to_owned(),
        })
        .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// The published collection, as it was written down: item, class, running_a, peak_a,
    /// fuse_or_breaker_a, duty, status, url, remark.
    const PUBLISHED: &str = include_str!("../../../tests/facts/parts/typical-loads.csv");

    /// The greatest number of a text such as `3-6`, `<1`, `250 slow`.
    fn upper_end(text: &str) -> Option<f64> {
        let numbers = text.split(|c: char| !c.is_ascii_digit() && c != '.');
        let numbers = numbers.filter_map(|number| number.parse::<f64>().ok());
        numbers.reduce(f64::max)
    }

    #[test]
    fn every_figure_is_the_one_that_was_published() {
        let mut published = csv::Reader::from_reader(PUBLISHED.as_bytes());
        let all: Vec<_> = published.records().map(Result::unwrap).collect();
        // What charges a battery is a source, no load.
        let all = all.iter().filter(|row| &row[0] != "battery charger output");
        let mut count = 0;
        for (row, load) in all.zip(typical_loads()) {
            assert!(load.name.starts_with(&row[0]), "{}: {}", load.id, &row[0]);
            assert_eq!(load.running_a, upper_end(&row[2]), "{}", load.id);
            let peak = load.inrush_a.or(load.locked_rotor_a);
            assert_eq!(peak, upper_end(&row[3]), "{}", load.id);
            assert_eq!(load.locked_rotor_a.is_some(), row[3].ends_with("locked"));
            assert_eq!(load.device_a, upper_end(&row[4]), "{}", load.id);
            assert_eq!(load.duty, row[5]);
            let from_memory = load.source.status == crate::working::Status::FromMemory;
            assert_eq!(from_memory, &row[6] == "memory", "{}", load.id);
            assert_eq!(load.source.url.as_deref().unwrap_or_default(), &row[7]);
            assert_eq!(load.low_trust, row[6].contains("low trust"), "{}", load.id);
            count += 1;
        }
        assert_eq!(count, typical_loads().len());
        assert_eq!(count, 76);
    }

    #[test]
    fn each_has_a_figure_and_a_name_of_its_own() {
        let all = typical_loads();
        let ids: BTreeSet<_> = all.iter().map(|load| load.id.as_str()).collect();
        assert_eq!(ids.len(), all.len());
        for load in all {
            let figures = [load.running_a, load.inrush_a, load.device_a];
            assert!(figures.iter().any(Option::is_some), "{}", load.id);
            // What starts or stalls draws no less than what runs.
            for peak in [load.inrush_a, load.locked_rotor_a].into_iter().flatten() {
                assert!(load.running_a.is_none_or(|run| run <= peak), "{}", load.id);
            }
        }
    }
}
