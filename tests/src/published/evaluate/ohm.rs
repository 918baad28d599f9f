//! Ohm's law and power, by the products that the unit types allow.

use harness_core::units::{Amperes, Metres, Ohms, Volts, Watts};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

pub(super) fn ohms_law(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let volts = || Volts::new(fact.number("volts"));
    let amps = || Amperes::new(fact.number("amps"));
    let of_volts = || Volts::new(fact.number("of_volts"));
    let find = fact.text("find").unwrap_or_default();
    Ok(Ours::Number(match find {
        "volts" => (amps() * resistance(fact)).value(),
        "volts_left" => (volts() - Volts::new(fact.number("drop"))).value(),
        "amps" => match fact.optional("watts") {
            Some(watts) => (Watts::new(watts) / volts()).value(),
            None => (volts() / resistance(fact)).value(),
        },
        "ohms" if fact.text("series_ohm").is_some() => fact
            .numbers("series_ohm")
            .into_iter()
            .map(Ohms::new)
            .sum::<Ohms>()
            .value(),
        "ohms" => (volts() / amps()).value(),
        "milliohms" => (volts() / amps()).value() * 1000.0,
        "kilowatts" => (volts() * amps()).value() / 1000.0,
        "percent" => 100.0 * ((amps() * resistance(fact)) / of_volts()),
        "percent_of_volts" => 100.0 * (volts() / of_volts()),
        "length_ft" => {
            let per_foot = Ohms::new(fact.number("ohm_per_ft"));
            let feet = (volts() / amps()) / per_foot;
            feet * fact.optional("times_length").unwrap_or(1.0)
        }
        _ => panic!("{}: cannot find {find}", fact.id),
    }))
}

/// Resistance given whole, by length, or both in series.
fn resistance(fact: &Fact) -> Ohms {
    let length = fact
        .optional("length_ft")
        .map(Metres::from_feet)
        .or_else(|| fact.optional("length_m").map(Metres::new))
        .unwrap_or(Metres::ZERO);
    let by_length = [
        fact.optional("ohm_per_ft").map(|ohms| ohms * length.feet()),
        fact.optional("ohm_per_m").map(|ohms| ohms * length.value()),
        fact.optional("ohm_per_km")
            .map(|ohms| ohms * length.value() / 1000.0),
        fact.optional("ohms"),
    ];
    by_length.into_iter().flatten().map(Ohms::new).sum()
}
