//! Counts of buildable boats against those committed in `facts/boats`.
//!
//! Source of the expected numbers: `dd`, a general decision-diagram library in Python, run by
//! `facts/boats/count_with_dd.py`; its version stands in the results. Tolerance: none.

#![allow(clippy::unwrap_used, reason = "a test may stop where it stands")]

use harness_core::boats::question::RuleByName;
use harness_core::boats::{BoatSet, BoatsQuestion, OptionIndex, OptionRule, Options};
use serde::Deserialize;
use std::collections::BTreeSet;

const COUNTS: &str = include_str!("../facts/boats/counts.json");

#[derive(Deserialize)]
struct Counts {
    program: String,
    models: Vec<Counted>,
}

#[derive(Deserialize)]
struct Counted {
    options: Vec<String>,
    rules: Vec<RuleByName>,
    buildable: String,
    with_each: Vec<String>,
}

/// The rule by positions, and the name of its kind.
fn rule(options: &[String], rule: &RuleByName) -> (OptionRule, &'static str) {
    let at = |name: &String| OptionIndex(options.iter().position(|option| option == name).unwrap());
    let all = |names: &[String]| names.iter().map(at).collect::<Vec<_>>();
    match rule {
        RuleByName::Requires(two) => (OptionRule::Requires(at(&two[0]), at(&two[1])), "requires"),
        RuleByName::Excludes(two) => (OptionRule::Excludes(at(&two[0]), at(&two[1])), "excludes"),
        RuleByName::OnlyWith(names) => (
            OptionRule::OnlyWithAnyOf(at(&names[0]), all(&names[1..])),
            "only with",
        ),
        RuleByName::ExactlyOneOf(group) => (OptionRule::ExactlyOneOf(all(group)), "exactly one"),
        RuleByName::AtMostOneOf(group) => (OptionRule::AtMostOneOf(all(group)), "at most one"),
        RuleByName::Always(name) => (OptionRule::Always(at(name)), "always"),
    }
}

#[test]
fn boats_and_boats_with_each_option_are_as_many_as_counted_elsewhere() {
    let counts: Counts = serde_json::from_str(COUNTS).unwrap();
    assert!(counts.program.starts_with("dd "), "{}", counts.program);
    assert!(counts.models.len() >= 60);
    let mut kinds = BTreeSet::new();
    for model in &counts.models {
        assert!((20..=40).contains(&model.options.len()));
        let rules = model.rules.iter().map(|stated| {
            let (rule, kind) = rule(&model.options, stated);
            kinds.insert(kind);
            rule
        });
        let options = Options::new(model.options.len(), rules.collect()).unwrap();
        let boats = BoatSet::of(&options).unwrap();
        assert_eq!(boats.count().to_string(), model.buildable, "{options:?}");
        let with_each: Vec<String> = boats
            .counts_with_each()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(with_each, model.with_each, "{options:?}");
        // The same by names, as the programming interface is asked.
        let asked = BoatsQuestion {
            options: model.options.clone(),
            rules: model.rules.clone(),
            ..BoatsQuestion::default()
        };
        assert_eq!(asked.answer().unwrap().buildable, model.buildable);
    }
    assert_eq!(kinds.len(), 6, "every kind of rule: {kinds:?}");
}
