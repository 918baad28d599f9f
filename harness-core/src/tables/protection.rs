//! Protective devices: standard ratings, what they can interrupt, when they open.

use std::sync::OnceLock;

use super::rows::read;
use crate::units::{Amperes, Ohms, Volts};
use crate::working::Cited;

/// Family of protective device, by its open standard or trade form.
pub use crate::choices::Family;

/// The name of a family for people.
pub const fn title(kind: Family) -> &'static str {
    match kind {
        Family::BladeSmall => "small blade fuse",
        Family::BladeMedium => "blade fuse",
        Family::BladeLarge => "large blade fuse",
        Family::BoltInSmall => "small bolt-in fuse",
        Family::BoltInLarge => "large bolt-in fuse",
        Family::Strip => "strip fuse",
        Family::FastCartridge => "fast cartridge fuse",
        Family::Breaker => "circuit breaker",
        Family::Other => "protective device of another kind",
    }
}

/// One standard rating of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct StandardRating {
    /// The kind of device.
    pub kind: Family,
    /// Rated current.
    pub rating: Cited<Amperes>,
    /// Body color, where the standard gives one.
    pub color: Option<String>,
}

fn ratings() -> &'static [StandardRating] {
    static TABLE: OnceLock<Vec<StandardRating>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "protection_ratings.csv",
            include_str!("../../data/protection_ratings.csv"),
        )
        .iter()
        .map(|row| StandardRating {
            kind: row.word("kind", Family::from_word),
            rating: row.cited_number("rating_a").map(Amperes::new),
            color: row.optional("color"),
        })
        .collect()
    })
}

/// The standard ratings of a kind, smallest first.
pub fn standard_ratings(kind: Family) -> impl Iterator<Item = &'static StandardRating> {
    ratings().iter().filter(move |row| row.kind == kind)
}

/// The smallest standard rating of a kind that is at least `current`.
pub fn next_standard(kind: Family, current: Amperes) -> Option<Cited<Amperes>> {
    standard_ratings(kind)
        .map(|row| &row.rating)
        .find(|rating| rating.value >= current)
        .cloned()
}

/// The largest standard rating of a kind that is at most `current`.
pub fn largest_standard(kind: Family, current: Amperes) -> Option<Cited<Amperes>> {
    standard_ratings(kind)
        .map(|row| &row.rating)
        .take_while(|rating| rating.value <= current)
        .last()
        .cloned()
}

struct PartRow {
    kind: Family,
    quantity: String,
    rating: Option<f64>,
    value: Cited<f64>,
}

fn parts() -> &'static [PartRow] {
    static TABLE: OnceLock<Vec<PartRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "protection_parts.csv",
            include_str!("../../data/protection_parts.csv"),
        )
        .iter()
        .map(|row| PartRow {
            kind: row.word("kind", Family::from_word),
            quantity: row.text("quantity").to_owned(),
            rating: row.optional("rating_a"),
            value: row.cited_number("value"),
        })
        .collect()
    })
}

fn part(kind: Family, quantity: &str, rating: Option<Amperes>) -> Option<Cited<f64>> {
    parts()
        .iter()
        .find(|row| {
            row.kind == kind && row.quantity == quantity && row.rating == rating.map(Amperes::value)
        })
        .map(|row| row.value.clone())
}

/// Interrupting rating usual for a kind; none for breakers, whose part must state it.
pub fn interrupting_rating(kind: Family) -> Option<Cited<Amperes>> {
    part(kind, "interrupting", None).map(|cited| cited.map(Amperes::new))
}

/// Rated d.c. voltage usual for a kind; none for breakers, whose part must state it.
pub fn rated_voltage(kind: Family) -> Option<Cited<Volts>> {
    part(kind, "voltage", None).map(|cited| cited.map(Volts::new))
}

/// Cold resistance of a rating, where a data sheet was read.
pub fn cold_resistance(kind: Family, rating: Amperes) -> Option<Cited<Ohms>> {
    part(kind, "cold_resistance", Some(rating))
        .map(|cited| cited.map(|milliohms| Ohms::new(milliohms / 1000.0)))
}

/// Place of a device in the circuit, as the interrupting table sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlaceInCircuit {
    /// The first device after the battery.
    First,
    /// Any device after the first.
    Branch,
}

struct NeededRow {
    upto: Volts,
    from_cca: f64,
    to_cca: Option<f64>,
    place: String,
    interrupting: Cited<Amperes>,
}

/// Interrupting rating asked of a breaker: by the total cold cranking current connected, the
/// nominal voltage and the place. None above 32 V and for fractional cranking figures below 0.
pub fn interrupting_rating_needed(
    nominal: Volts,
    cold_cranking: Amperes,
    place: PlaceInCircuit,
) -> Option<Cited<Amperes>> {
    static TABLE: OnceLock<Vec<NeededRow>> = OnceLock::new();
    let word = match place {
        PlaceInCircuit::First => "first",
        PlaceInCircuit::Branch => "branch",
    };
    // The table counts whole amperes: 650.5 A belongs to the row from 651.
    let cca = cold_cranking.value().ceil();
    TABLE
        .get_or_init(|| {
            read(
                "interrupting_needed.csv",
                include_str!("../../data/interrupting_needed.csv"),
            )
            .iter()
            .map(|row| NeededRow {
                upto: Volts::new(row.value("upto_v")),
                from_cca: row.value("from_cca_a"),
                to_cca: row.optional("to_cca_a"),
                place: row.text("place_in_circuit").to_owned(),
                interrupting: row.cited_number("interrupting_a").map(Amperes::new),
            })
            .collect()
        })
        .iter()
        .find(|row| {
            nominal <= row.upto
                && row.from_cca <= cca
                && row.to_cca.is_none_or(|to| cca <= to)
                && row.place == word
        })
        .map(|row| row.interrupting.clone())
}

struct TimeRow {
    kind: Family,
    from: f64,
    to: f64,
    percent: f64,
    min_s: Option<f64>,
    max_s: Option<f64>,
    source: Cited<()>,
}

fn times() -> &'static [TimeRow] {
    static TABLE: OnceLock<Vec<TimeRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read(
            "time_current.csv",
            include_str!("../../data/time_current.csv"),
        )
        .iter()
        .map(|row| TimeRow {
            kind: row.word("kind", Family::from_word),
            from: row.value("from_a"),
            to: row.value("to_a"),
            percent: row.value("percent"),
            min_s: row.optional("min_s"),
            max_s: row.optional("max_s"),
            source: row.cite(()),
        })
        .collect()
    })
}

fn times_of(kind: Family, rating: Amperes) -> impl Iterator<Item = &'static TimeRow> {
    times().iter().filter(move |row| {
        row.kind == kind && row.from <= rating.value() && rating.value() <= row.to
    })
}

/// Longest time after which a device has opened at this current, s: the point at the greatest
/// tabled current not above it. None where no point says that it opens.
pub fn opens_within(kind: Family, rating: Amperes, current: Amperes) -> Option<Cited<f64>> {
    times_of(kind, rating)
        .filter(|row| row.percent * rating.value() <= 100.0 * current.value())
        .filter_map(|row| row.max_s.map(|max| row.source.clone().map(|()| max)))
        .last()
}

/// Time for which a device surely carries this current, s: the point at the least tabled
/// current not below it. None above the last point.
pub fn holds_for(kind: Family, rating: Amperes, current: Amperes) -> Option<Cited<f64>> {
    times_of(kind, rating)
        .filter(|row| row.percent * rating.value() >= 100.0 * current.value())
        .find_map(|row| row.min_s.map(|min| row.source.clone().map(|()| min)))
}

/// Least tabled current at which a device opens within `seconds`, with the row it comes from.
pub fn current_to_open_within(
    kind: Family,
    rating: Amperes,
    seconds: f64,
) -> Option<Cited<Amperes>> {
    times_of(kind, rating)
        .find(|row| row.max_s.is_some_and(|max| max <= seconds))
        .map(|row| row.source.clone().map(|()| rating * (row.percent / 100.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratings_ascend_in_every_kind() {
        for &kind in Family::ALL {
            let ratings: Vec<_> = standard_ratings(kind).map(|row| row.rating.value).collect();
            assert_eq!(ratings.len() > 5, kind != Family::Other, "{kind:?}");
            assert!(ratings.is_sorted(), "{kind:?}");
        }
    }

    #[test]
    fn next_and_largest_standard_rating() {
        let blade = Family::BladeMedium;
        let next = |a| next_standard(blade, Amperes::new(a)).map(|cited| cited.value.value());
        assert_eq!(next(5.0), Some(5.0));
        assert_eq!(next(5.01), Some(7.5));
        assert_eq!(next(40.01), None);
        let largest = |a| largest_standard(blade, Amperes::new(a)).map(|cited| cited.value.value());
        assert_eq!(largest(14.9), Some(10.0));
        assert_eq!(largest(0.9), None);
    }

    #[test]
    fn interrupting_table_on_both_sides_of_each_step() {
        // ABYC E-11 table of d.c. breaker interrupting capacity, as reprinted.
        let needed = |volts, cca, place| {
            interrupting_rating_needed(Volts::new(volts), Amperes::new(cca), place)
                .map(|cited| cited.value.value())
        };
        use PlaceInCircuit::{Branch, First};
        assert_eq!(needed(12.0, 650.0, First), Some(1500.0));
        assert_eq!(needed(12.0, 650.5, First), Some(3000.0));
        assert_eq!(needed(24.0, 1100.0, Branch), Some(1500.0));
        assert_eq!(needed(24.0, 1101.0, Branch), Some(2500.0));
        assert_eq!(needed(32.0, 1250.0, First), Some(3000.0));
        assert_eq!(needed(48.0, 600.0, First), None);
    }

    #[test]
    fn a_blade_fuse_is_below_what_a_battery_asks() {
        let blade = interrupting_rating(Family::BladeMedium).unwrap();
        assert_eq!(blade.value, Amperes::new(1000.0));
        assert!(interrupting_rating(Family::Breaker).is_none());
        assert_eq!(
            rated_voltage(Family::FastCartridge).unwrap().value,
            Volts::new(125.0)
        );
        let cold = cold_resistance(Family::BladeLarge, Amperes::new(40.0)).unwrap();
        assert!((cold.value.value() - 0.0014).abs() < 1e-12);
    }

    #[test]
    fn opening_times_are_read_to_the_safe_side() {
        let (kind, rating) = (Family::BladeMedium, Amperes::new(10.0));
        let within = |a| opens_within(kind, rating, Amperes::new(a)).map(|cited| cited.value);
        let holds = |a| holds_for(kind, rating, Amperes::new(a)).map(|cited| cited.value);
        // Points of ISO 8820-3: 135 % 0.75 to 600 s, 200 % 0.15 to 5 s, 350 % 0.04 to 0.5 s.
        assert_eq!(within(13.0), None);
        assert_eq!(within(20.0), Some(5.0));
        assert_eq!(within(34.9), Some(5.0));
        assert_eq!(within(35.0), Some(0.5));
        assert_eq!(holds(11.0), Some(360_000.0));
        assert_eq!(holds(14.0), Some(0.25));
        assert_eq!(holds(70.0), None);
        let opening = current_to_open_within(kind, rating, 5.0).unwrap();
        assert_eq!(opening.value, Amperes::new(20.0));
        assert!(opens_within(Family::Strip, Amperes::new(100.0), Amperes::new(900.0)).is_none());
    }
}
