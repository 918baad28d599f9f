//! Values read from the tables as they stand.

use harness_core::tables::RuleSet;
use harness_core::tables::limits::{self, Limit};
use harness_core::tables::packing::conduit_fill_limit;
use harness_core::tables::protection::{PlaceInCircuit, interrupting_rating_needed};
use harness_core::tables::source_distance::{self, SourceCase};
use harness_core::tables::terminals::{PullStandard, pull_force_n};
use harness_core::units::{Amperes, Volts};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

/// Newtons in a pound-force, by definition of the pound and of standard gravity.
const NEWTONS_PER_POUND_FORCE: f64 = 0.453_592_37 * 9.806_65;

pub(super) fn limit(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let name = fact.text("limit").unwrap_or_default();
    let limit = Limit::ALL
        .into_iter()
        .find(|limit| format!("{limit:?}") == name)
        .unwrap_or_else(|| panic!("{}: no limit is called {name}", fact.id));
    found(
        fact,
        limits::number(limit, rule_set(fact)).map(|cited| in_unit(fact, cited.value)),
    )
}

pub(super) fn smallest_size(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let in_sheath = fact.text("in_sheath") == Some("yes");
    limits::smallest_size(rule_set(fact), in_sheath)
        .map(|cited| Ours::Word(cited.value.to_string()))
        .ok_or_else(|| missing(fact))
}

pub(super) fn source_distance(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let case = match fact.text("case") {
        Some("bare") => SourceCase::Bare,
        Some("covered") => SourceCase::Covered,
        Some("battery") => SourceCase::Battery,
        Some("battery-covered") => SourceCase::BatteryCovered,
        Some("charging") => SourceCase::Charging,
        other => panic!("{}: no case is called {other:?}", fact.id),
    };
    let length = source_distance::greatest(rule_set(fact), case);
    found(fact, length.map(|cited| in_unit(fact, cited.value.value())))
}

pub(super) fn interrupting_rating(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let place = match fact.text("place") {
        Some("first") => PlaceInCircuit::First,
        Some("branch") => PlaceInCircuit::Branch,
        other => panic!("{}: no place is called {other:?}", fact.id),
    };
    let needed = interrupting_rating_needed(
        Volts::new(fact.number("nominal_v")),
        Amperes::new(fact.number("cold_cranking_a")),
        place,
    );
    found(fact, needed.map(|cited| cited.value.value()))
}

pub(super) fn conduit_fill(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let conductors = fact.number("conductors") as usize;
    found(
        fact,
        conduit_fill_limit(conductors).map(|cited| cited.value),
    )
}

pub(super) fn pull_force(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let size = fact.text("size").unwrap_or_default();
    let size = size
        .parse()
        .unwrap_or_else(|error| panic!("{}: {error}", fact.id));
    let pull = pull_force_n(PullStandard::Ul486a, size);
    found(
        fact,
        pull.map(|cited| cited.value / NEWTONS_PER_POUND_FORCE),
    )
}

fn rule_set(fact: &Fact) -> RuleSet {
    let word = fact.text("rule_set").unwrap_or_default();
    RuleSet::from_word(word).unwrap_or_else(|| panic!("{}: no rule set {word}", fact.id))
}

/// Lengths stand in millimetres; a source in inches is compared in inches.
fn in_unit(fact: &Fact, value: f64) -> f64 {
    if fact.unit == "in" {
        value / 25.4
    } else {
        value
    }
}

fn found(fact: &Fact, value: Option<f64>) -> Result<Ours, NotEvaluated> {
    value.map(Ours::Number).ok_or_else(|| missing(fact))
}

fn missing(fact: &Fact) -> NotEvaluated {
    NotEvaluated::because(format!("no table answers {}", fact.inputs_text))
}
