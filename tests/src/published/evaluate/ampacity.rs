//! Allowable current.

use harness_core::conductor::{self, AmpacityQuestion};
use harness_core::tables::{BundlePractice, Insulation, RuleSet};
use harness_core::units::Amperes;
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

pub(super) fn ampacity(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let size = fact.text("size").unwrap_or_default();
    let degc = fact.number("insulation_degc");
    let question = AmpacityQuestion {
        size: size
            .parse()
            .unwrap_or_else(|error| panic!("{}: {error}", fact.id)),
        insulation: Insulation::from_degc(degc)
            .unwrap_or_else(|| panic!("{}: no insulation of {degc} degC", fact.id)),
        rule_set: RuleSet::UsFederal,
        engine_space: fact.text("engine_space") == Some("yes"),
        bundled_conductors: fact
            .text("bundled_conductors")
            .and_then(|count| count.parse().ok())
            .unwrap_or_else(|| panic!("{}: how many conductors together?", fact.id)),
        bundling: BundlePractice::ByCount,
    };
    Ok(Ours::Number(conductor::ampacity(&question)?.value.value()))
}

pub(super) fn factors(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let current = fact
        .numbers("factors")
        .into_iter()
        .fold(Amperes::new(fact.number("amps")), |current, factor| {
            current * factor
        });
    Ok(Ours::Number(current.value()))
}
