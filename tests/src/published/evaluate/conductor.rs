//! One conductor: size, area, drop, resistance.

use harness_core::conductor::{
    self, Basis, ConductorAnswer, ConductorQuestion, DropAnswer, DropQuestion,
};
use harness_core::model::{AreaBasis, DropBasis, SizeSeriesChoice};
use harness_core::tables::conductors::{self, ConductorRow};
use harness_core::tables::{BundlePractice, Insulation, RuleSet, copper};
use harness_core::units::{
    Amperes, Celsius, CircularMils, Metres, Millimetres, Ohms, SizeSeries, SquareMillimetres,
    Volts, WireSize,
};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

/// Temperature this service takes where none is stated.
const USUAL_TEMPERATURE: f64 = 30.0;

pub(super) fn size_for_drop(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let answer = conductor::size(&question(fact)?);
    let size = answer.size.ok_or_else(|| {
        NotEvaluated::because(answer.reason.unwrap_or_else(|| "no size was found".into()))
    })?;
    // A maker's smallest size for its breaker: the thicker of the two.
    let Some(least) = fact.text("at_least") else {
        return Ok(Ours::Word(size));
    };
    let thicker = row_of(&size)?.area.value.max(row_of(least)?.area.value);
    let size = [size.as_str(), least]
        .into_iter()
        .find(|size| row_of(size).is_ok_and(|row| row.area.value == thicker))
        .unwrap_or(&size);
    Ok(Ours::Word(size.to_owned()))
}

pub(super) fn required_area(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let ConductorAnswer {
        required_area_cmil, ..
    } = conductor::size(&question(fact)?);
    required_area_cmil
        .map(Ours::Number)
        .ok_or_else(|| NotEvaluated::because("this basis has no area in it"))
}

/// Point loads along one feeder: the areas each asks for alone add up.
pub(super) fn area_for_drop(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let drop = Volts::new(fact.number("drop_v"));
    let resistivity = fact.number("ohm_mm2_per_km");
    let area: SquareMillimetres = fact
        .numbers("loads_a")
        .into_iter()
        .zip(fact.numbers("at_m"))
        .map(|(amps, at)| {
            let round_trip = Metres::new(2.0 * at);
            conductor::area_for_drop(resistivity, round_trip, Amperes::new(amps), drop)
        })
        .sum();
    Ok(Ours::Number(in_unit(area, &fact.unit)))
}

pub(super) fn drop(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let answer = drop_answer(fact)?;
    Ok(Ours::Number(match fact.unit.as_str() {
        "V" => answer.drop_v,
        "%" => answer.drop_percent,
        unit => panic!("{}: a drop is not printed in {unit}", fact.id),
    }))
}

pub(super) fn drop_at_most(fact: &Fact) -> Result<Ours, NotEvaluated> {
    Ok(Ours::AtMost(drop_answer(fact)?.drop_percent))
}

pub(super) fn drop_by_resistivity(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let resistance = conductor::by_resistivity(
        fact.number("ohm_mm2_per_km"),
        Metres::new(fact.number("length_m")),
        SquareMillimetres::new(fact.number("area_mm2")),
    );
    let drop = Amperes::new(fact.number("amps")) * resistance;
    Ok(Ours::Number(drop.value()))
}

/// The index counts one-way feet: one ampere over one foot and back, at 1 V, drops its inverse.
pub(super) fn drop_index(fact: &Fact) -> Result<Ours, NotEvaluated> {
    if fact.text("size").is_none() {
        // From the area a case asks for, with the trade constant taken out again.
        let area = conductor::size(&question(fact)?).required_area_cmil;
        return area
            .map(|cmil| Ours::Number(cmil / (200.0 * copper::trade_constant().value)))
            .ok_or_else(|| NotEvaluated::because("this basis has no area in it"));
    }
    let there_and_back = Metres::from_feet(2.0);
    let drop = conductor::drop(
        row(fact)?,
        there_and_back,
        Amperes::new(1.0),
        Volts::new(1.0),
        &basis(fact),
    )?;
    Ok(Ours::Number(1.0 / drop.value.percent))
}

/// Drop rises in step with length: the limit over the drop of one foot one way.
pub(super) fn longest_run(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let (nominal, limit) = (nominal(fact), fact.number("drop_limit_percent"));
    let current = Amperes::new(fact.number("current_a"));
    let of_a_foot = conductor::drop(
        row(fact)?,
        Metres::from_feet(2.0),
        current,
        nominal,
        &basis(fact),
    )?;
    Ok(Ours::Number(limit / of_a_foot.value.percent))
}

pub(super) fn greatest_current(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let limit = fact.number("drop_limit_percent");
    let round_trip = Metres::from_feet(fact.number("round_trip_ft"));
    let of_an_ampere = conductor::drop(
        row(fact)?,
        round_trip,
        Amperes::new(1.0),
        nominal(fact),
        &basis(fact),
    )?;
    Ok(Ours::Number(limit / of_an_ampere.value.percent))
}

pub(super) fn conductor_area(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let area = conductor::area(row(fact)?, basis(fact).area)?.value;
    Ok(Ours::Number(in_unit(area, &fact.unit)))
}

pub(super) fn conductor_resistance(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let lengths = fact.optional("times").unwrap_or(1.0);
    let ohms = |length| {
        conductor::resistance(row(fact)?, length, &basis(fact)).map(|found| found.value.value())
    };
    Ok(Ours::Number(match fact.unit.as_str() {
        "mohm/m" => ohms(Metres::new(lengths))? * 1000.0,
        "ohm/km" => ohms(Metres::new(1000.0 * lengths))?,
        "ohm/kft" => ohms(Metres::from_feet(1000.0 * lengths))?,
        unit => panic!("{}: a resistance is not printed in {unit}", fact.id),
    }))
}

pub(super) fn by_formula(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let length = fact
        .optional("length_ft")
        .map(Metres::from_feet)
        .unwrap_or_else(|| Metres::new(fact.number("length_m")));
    let resistance: Ohms = if let Some(constant) = fact.optional("ohm_cmil_per_ft") {
        let area = CircularMils::new(fact.number("area_cmil"));
        conductor::by_circular_mils(constant, length, area)
    } else {
        let area = Millimetres::new(fact.number("diameter_mm")).circle_area();
        conductor::by_resistivity(fact.number("ohm_mm2_per_km"), length, area)
    };
    Ok(Ours::Number(resistance.value()))
}

pub(super) fn at_temperature(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let temperature = Celsius::new(fact.number("temperature_degc"));
    let share = conductor::share_at_temperature(temperature);
    Ok(Ours::Number(fact.number("ohms_at_20") * share))
}

pub(super) fn resistivity(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let temperature = Celsius::new(fact.number("temperature_degc"));
    let share = conductor::share_at_temperature(temperature);
    Ok(Ours::Number(copper::resistivity_20c().value * share))
}

fn row_of(size: &str) -> Result<&'static ConductorRow, NotEvaluated> {
    let parsed: WireSize = size.parse().unwrap_or_else(|error| panic!("{error}"));
    conductors::row(parsed)
        .ok_or_else(|| NotEvaluated::because(format!("the conductor table has no row for {size}")))
}

fn row(fact: &Fact) -> Result<&'static ConductorRow, NotEvaluated> {
    row_of(fact.text("size").unwrap_or_default())
}

fn nominal(fact: &Fact) -> Volts {
    Volts::new(fact.number("nominal_v"))
}

fn basis(fact: &Fact) -> Basis {
    let method = fact.text("drop_basis").unwrap_or("trade-constant");
    let area = fact.text("area_basis").unwrap_or("awg");
    Basis {
        method: DropBasis::from_word(method)
            .unwrap_or_else(|| panic!("{}: no drop basis {method}", fact.id)),
        area: AreaBasis::from_word(area)
            .unwrap_or_else(|| panic!("{}: no area basis {area}", fact.id)),
        temperature: Celsius::new(
            fact.optional("conductor_temperature_degc")
                .unwrap_or(USUAL_TEMPERATURE),
        ),
    }
}

fn round_trip(fact: &Fact) -> Metres {
    let twice = |length: Metres| length * 2.0;
    fact.optional("round_trip_ft")
        .map(Metres::from_feet)
        .or_else(|| fact.optional("round_trip_m").map(Metres::new))
        .or_else(|| {
            fact.optional("one_way_ft")
                .map(Metres::from_feet)
                .map(twice)
        })
        .unwrap_or_else(|| twice(Metres::new(fact.number("one_way_m"))))
}

fn current(fact: &Fact) -> Result<Amperes, NotEvaluated> {
    fact.optional("current_a")
        .map(Amperes::new)
        .ok_or_else(|| NotEvaluated::because("the source states no current"))
}

fn rule_set(fact: &Fact) -> RuleSet {
    let word = fact.text("rule_set").unwrap_or("us-voluntary");
    RuleSet::from_word(word).unwrap_or_else(|| panic!("{}: no rule set {word}", fact.id))
}

fn question(fact: &Fact) -> Result<ConductorQuestion, NotEvaluated> {
    let current = current(fact)?;
    let series = fact.text("series").unwrap_or("awg");
    let drop_limit_percent = fact.optional("drop_limit_volts").map_or_else(
        || fact.number("drop_limit_percent"),
        |volts| 100.0 * (Volts::new(volts) / nominal(fact)),
    );
    Ok(ConductorQuestion {
        nominal: nominal(fact),
        current,
        round_trip: round_trip(fact),
        drop_limit_percent,
        basis: basis(fact),
        series: match SizeSeriesChoice::from_word(series) {
            Some(SizeSeriesChoice::Awg) => SizeSeries::Awg,
            Some(SizeSeriesChoice::Mm2) => SizeSeries::Metric,
            None => panic!("{}: no size series {series}", fact.id),
        },
        rule_set: rule_set(fact),
        insulation: Insulation::C105,
        engine_space: false,
        bundled_conductors: 1,
        bundling: BundlePractice::ByCount,
        governed_only_by_drop: fact.text("governed_only_by_drop") == Some("yes"),
    })
}

fn drop_answer(fact: &Fact) -> Result<DropAnswer, NotEvaluated> {
    let parallel = fact.optional("parallel").unwrap_or(1.0);
    conductor::drop_answer(&DropQuestion {
        size: row(fact)?.size,
        nominal: nominal(fact),
        current: current(fact)? / parallel,
        round_trip: round_trip(fact),
        basis: basis(fact),
        rule_set: rule_set(fact),
        insulation: Insulation::C105,
        engine_space: false,
        bundled_conductors: 1,
        bundling: BundlePractice::ByCount,
    })
}

fn in_unit(area: SquareMillimetres, unit: &str) -> f64 {
    match unit {
        "CM" => area.circular_mils().value(),
        "mm2" => area.value(),
        "cm2" => area.value() / 100.0,
        _ => panic!("an area is not printed in {unit}"),
    }
}
