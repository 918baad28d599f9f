//! One question about boats by option names, and its answer: what the programming interface asks.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::boat::Boat;
use super::conflict::contradicting_rules;
use super::diagram::{BoatSet, TooWide};
use super::rules::{OptionIndex, OptionRule, Options};
use crate::units::bounds;

/// Most options in one question (our practice: ten times a large price list).
pub const MOST_OPTIONS: usize = 500;
/// Most rules in one question (our practice: ten times a large price list).
pub const MOST_RULES: usize = 5_000;

/// Options, the rules between them, and optionally a weight for each.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct BoatsQuestion {
    /// Option names, each once.
    pub options: Vec<String>,
    /// Rules over those names.
    #[serde(default)]
    pub rules: Vec<RuleByName>,
    /// Weight of an option, whatever it stands for; an option without one weighs nothing. Without
    /// any weight there is no heaviest and no lightest boat.
    #[serde(default)]
    pub weights: BTreeMap<String, f64>,
}

/// A rule as written: lists may have any length here, so that a wrong one is reported in its
/// place with all other faults.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RuleByName {
    /// Two names: a boat with the first has the second.
    Requires(Vec<String>),
    /// Two names: no boat has both.
    Excludes(Vec<String>),
    /// Two names or more: a boat with the first has at least one of the others.
    OnlyWith(Vec<String>),
    /// One name or more: every boat has one and only one of them.
    ExactlyOneOf(Vec<String>),
    /// One name or more: no boat has two of them.
    AtMostOneOf(Vec<String>),
    /// Every boat has it.
    Always(String),
}

/// What can be built.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoatsAnswer {
    /// Number of buildable boats, exact, as a decimal number.
    pub buildable: String,
    /// Options on no buildable boat, in the order given.
    pub never: Vec<String>,
    /// Options on every buildable boat, in the order given; none if there is no boat.
    pub always: Vec<String>,
    /// The heaviest boat; `null` without weights or without boats. Among equals the one with the
    /// fewest options, then the one whose option list comes first.
    pub heaviest: Option<WeighedBoat>,
    /// The lightest boat, chosen among equals in the same way.
    pub lightest: Option<WeighedBoat>,
    /// If no boat can be built: rules that cannot hold together. Otherwise empty.
    pub conflict: Vec<ConflictingRule>,
    /// Whether those could hold together once any single one of them is dropped; `false` when the
    /// search for that ended at its limit, `null` without conflict.
    pub conflict_minimal: Option<bool>,
}

/// A boat and the sum of the weights of its options.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeighedBoat {
    /// Sum of the weights.
    pub weight: f64,
    /// Its options, in the order given.
    pub options: Vec<String>,
}

/// One of the rules that cannot hold together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ConflictingRule {
    /// Place of the rule in the question, as a JSON pointer (RFC 6901).
    pub pointer: String,
    /// The rule in words.
    pub says: String,
}

/// Something in the question that cannot be meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuestionFault {
    /// Place in the question, as a JSON pointer (RFC 6901).
    pub pointer: String,
    /// What is wrong and what to do.
    pub detail: String,
    /// The value given.
    pub given: Value,
    /// The limit it breaks, in words, where there is one.
    pub limit: Option<String>,
}

impl BoatsQuestion {
    /// Answers the question.
    ///
    /// # Errors
    /// Every fault of the question at once: a name twice or empty, a rule or weight for an
    /// unknown option, a rule with too few, too many or repeated names, a weight out of bounds;
    /// or the single fault that the rules tie too many options together.
    pub fn answer(&self) -> Result<BoatsAnswer, Vec<QuestionFault>> {
        let mut reading = Reading::default();
        reading.read_options(&self.options);
        let rules = reading.read_rules(&self.rules);
        let weights = reading.read_weights(&self.weights, self.options.len());
        if !reading.faults.is_empty() {
            return Err(reading.faults);
        }
        let options = Options::new(self.options.len(), rules).map_err(|unknown| {
            unknown
                .into_iter()
                .map(|fault| QuestionFault {
                    pointer: format!("/rules/{}", fault.rule),
                    detail: fault.to_string(),
                    given: json!(fault.option.0 + 1),
                    limit: Some(format!("{} options", fault.count)),
                })
                .collect::<Vec<_>>()
        })?;
        self.judge(&options, &weights).map_err(|wide| {
            vec![QuestionFault {
                pointer: "/rules".to_owned(),
                detail: wide.to_string(),
                given: json!(self.rules.len()),
                limit: Some(format!("{} cases", wide.limit)),
            }]
        })
    }

    fn judge(&self, options: &Options, weights: &[f64]) -> Result<BoatsAnswer, TooWide> {
        let boats = BoatSet::of(options)?;
        let conflict = if boats.is_empty() {
            contradicting_rules(options)?
        } else {
            None
        };
        let weighed = |found: Option<(f64, Boat)>| {
            let (weight, boat) = found.filter(|_| !self.weights.is_empty())?;
            Some(WeighedBoat {
                weight,
                options: boat.names(&self.options),
            })
        };
        let names = |found: Vec<OptionIndex>| {
            found
                .into_iter()
                .map(|option| self.options[option.0].clone())
                .collect()
        };
        Ok(BoatsAnswer {
            buildable: boats.count().to_string(),
            never: names(boats.never()),
            always: names(boats.always()),
            heaviest: weighed(boats.heaviest(weights)),
            lightest: weighed(boats.lightest(weights)),
            conflict_minimal: conflict.as_ref().map(|found| found.minimal),
            conflict: conflict
                .map(|found| found.rules)
                .unwrap_or_default()
                .into_iter()
                .map(|rule| ConflictingRule {
                    pointer: format!("/rules/{rule}"),
                    says: options.rules()[rule].says(&self.options),
                })
                .collect(),
        })
    }
}

/// Names looked up and faults gathered while a question is read.
#[derive(Default)]
struct Reading<'a> {
    index: BTreeMap<&'a str, OptionIndex>,
    faults: Vec<QuestionFault>,
}

impl<'a> Reading<'a> {
    fn fault(&mut self, pointer: String, given: Value, limit: Option<&str>, detail: String) {
        self.faults.push(QuestionFault {
            pointer,
            detail,
            given,
            limit: limit.map(str::to_owned),
        });
    }

    fn read_options(&mut self, options: &'a [String]) {
        self.at_most("/options", options.len(), MOST_OPTIONS, "options");
        for (at, name) in options.iter().enumerate() {
            let pointer = format!("/options/{at}");
            if name.trim().is_empty() {
                let detail = "the option has no name; give it the name rules use".to_owned();
                self.fault(pointer, json!(name), None, detail);
            } else if let Some(first) = self.index.get(name.as_str()) {
                let detail = format!(
                    "{name} is already listed at /options/{}; list each option once",
                    first.0
                );
                self.fault(pointer, json!(name), None, detail);
            } else {
                self.index.insert(name, OptionIndex(at));
            }
        }
    }

    fn at_most(&mut self, pointer: &str, count: usize, most: usize, of: &str) {
        if count > most {
            let detail = format!("{count} {of} are more than one question may have; ask in parts");
            let limit = format!("at most {most}");
            self.fault(pointer.to_owned(), json!(count), Some(&limit), detail);
        }
    }

    fn read_rules(&mut self, rules: &'a [RuleByName]) -> Vec<OptionRule> {
        self.at_most("/rules", rules.len(), MOST_RULES, "rules");
        rules
            .iter()
            .enumerate()
            .filter_map(|(at, rule)| self.read_rule(at, rule))
            .collect()
    }

    fn read_rule(&mut self, at: usize, rule: &'a RuleByName) -> Option<OptionRule> {
        match rule {
            RuleByName::Requires(names) => {
                let (a, b) = self.read_pair(format!("/rules/{at}/requires"), names)?;
                Some(OptionRule::Requires(a, b))
            }
            RuleByName::Excludes(names) => {
                let (a, b) = self.read_pair(format!("/rules/{at}/excludes"), names)?;
                Some(OptionRule::Excludes(a, b))
            }
            RuleByName::OnlyWith(names) => {
                let (a, others) = self.read_company(format!("/rules/{at}/only_with"), names)?;
                Some(OptionRule::OnlyWithAnyOf(a, others))
            }
            RuleByName::ExactlyOneOf(names) => {
                let group = self.read_group(format!("/rules/{at}/exactly_one_of"), names)?;
                Some(OptionRule::ExactlyOneOf(group))
            }
            RuleByName::AtMostOneOf(names) => {
                let group = self.read_group(format!("/rules/{at}/at_most_one_of"), names)?;
                Some(OptionRule::AtMostOneOf(group))
            }
            RuleByName::Always(name) => {
                let option = self.read_name(format!("/rules/{at}/always"), name)?;
                Some(OptionRule::Always(option))
            }
        }
    }

    fn read_pair(&mut self, at: String, names: &'a [String]) -> Option<(OptionIndex, OptionIndex)> {
        if names.len() != 2 {
            let detail = format!(
                "the rule stands between two options, {} given; name the option and the one it \
                 requires or excludes",
                names.len()
            );
            self.fault(at.clone(), json!(names), Some("exactly 2 options"), detail);
        }
        match self.read_names(&at, names)?[..] {
            [a, b] => Some((a, b)),
            _ => None,
        }
    }

    fn read_company(
        &mut self,
        at: String,
        names: &'a [String],
    ) -> Option<(OptionIndex, Vec<OptionIndex>)> {
        if names.len() < 2 {
            let detail = format!(
                "an option and those it needs at least one of are wanted, {} given; name the \
                 option first",
                names.len()
            );
            self.fault(at.clone(), json!(names), Some("at least 2 options"), detail);
        }
        match &self.read_names(&at, names)?[..] {
            [a, others @ ..] => Some((*a, others.to_vec())),
            [] => None,
        }
    }

    fn read_group(&mut self, at: String, names: &'a [String]) -> Option<Vec<OptionIndex>> {
        if names.is_empty() {
            let detail = "the group is empty; name its options or drop the rule".to_owned();
            self.fault(at.clone(), json!(names), Some("at least 1 option"), detail);
        }
        self.read_names(&at, names)
    }

    /// All names of a list; `None` if any is unknown or repeated.
    fn read_names(&mut self, at: &str, names: &'a [String]) -> Option<Vec<OptionIndex>> {
        let mut first_place: BTreeMap<&str, usize> = BTreeMap::new();
        let mut found = Some(Vec::with_capacity(names.len()));
        for (place, name) in names.iter().enumerate() {
            let pointer = format!("{at}/{place}");
            let option = if let Some(first) = first_place.get(name.as_str()) {
                let detail =
                    format!("{name} is already named at {at}/{first}; name each option once");
                self.fault(pointer, json!(name), None, detail);
                None
            } else {
                first_place.insert(name, place);
                self.read_name(pointer, name)
            };
            found = found.zip(option).map(|(mut found, option)| {
                found.push(option);
                found
            });
        }
        found
    }

    fn read_name(&mut self, pointer: String, name: &str) -> Option<OptionIndex> {
        let known = self.index.get(name).copied();
        if known.is_none() {
            let detail = format!("{name:?} is not in the option list; add it there or correct it");
            self.fault(pointer, json!(name), None, detail);
        }
        known
    }

    fn read_weights(&mut self, weights: &'a BTreeMap<String, f64>, count: usize) -> Vec<f64> {
        let mut by_option = vec![0.0; count];
        for (name, &weight) in weights {
            let pointer = format!("/weights/{}", name.replace('~', "~0").replace('/', "~1"));
            if !bounds::WEIGHT.contains(weight) {
                let detail = format!("the weight of {name} is out of bounds");
                let limit = bounds::WEIGHT.text();
                self.fault(pointer.clone(), json!(weight), Some(&limit), detail);
            }
            if let Some(option) = self.read_name(pointer, name) {
                by_option[option.0] = weight;
            }
        }
        by_option
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(json: Value) -> BoatsQuestion {
        serde_json::from_value(json).unwrap()
    }

    fn places(faults: &[QuestionFault]) -> Vec<&str> {
        faults.iter().map(|fault| fault.pointer.as_str()).collect()
    }

    #[test]
    fn a_small_price_list() {
        let answer = question(json!({
            "options": ["diesel", "petrol", "hardtop", "radar", "wiper"],
            "rules": [
                { "exactly_one_of": ["diesel", "petrol"] },
                { "requires": ["radar", "hardtop"] },
                { "excludes": ["petrol", "radar"] },
                { "always": "wiper" },
            ],
            "weights": { "diesel": 260.0, "petrol": 190.0, "hardtop": 85.5, "radar": 9.25 },
        }))
        .answer()
        .unwrap();
        // By hand: diesel with nothing, top, top and radar; petrol with nothing, top.
        assert_eq!(
            serde_json::to_value(answer).unwrap(),
            json!({
                "buildable": "5",
                "never": [],
                "always": ["wiper"],
                "heaviest": { "weight": 354.75, "options": ["diesel", "hardtop", "radar", "wiper"] },
                "lightest": { "weight": 190.0, "options": ["petrol", "wiper"] },
                "conflict": [],
                "conflict_minimal": null,
            })
        );
    }

    #[test]
    fn an_option_needs_at_least_one_of_others() {
        let answer = question(json!({
            "options": ["radar", "mast", "arch", "tower"],
            "rules": [{ "only_with": ["radar", "mast", "arch"] }],
        }))
        .answer()
        .unwrap();
        // By hand: 8 boats without radar, 6 with it (mast, arch or both; tower or not).
        assert_eq!(answer.buildable, "14");
        let blamed = question(json!({
            "options": ["radar", "mast", "arch"],
            "rules": [
                { "only_with": ["radar", "mast", "arch"] },
                { "excludes": ["radar", "mast"] },
                { "always": "radar" },
                { "excludes": ["arch", "radar"] },
            ],
        }))
        .answer()
        .unwrap();
        assert_eq!(blamed.conflict.len(), 4);
        assert_eq!(
            blamed.conflict[0].says,
            "radar only with at least one of mast, arch"
        );
    }

    #[test]
    fn one_other_is_enough_and_none_is_too_few() {
        let of = |names: &[&str]| {
            question(json!({ "options": ["radar", "mast"], "rules": [{ "only_with": names }] }))
                .answer()
        };
        assert_eq!(of(&["radar", "mast"]).unwrap().buildable, "3");
        let faults = of(&["radar"]).unwrap_err();
        assert_eq!(places(&faults), ["/rules/0/only_with"]);
    }

    #[test]
    fn a_contradiction_is_named() {
        let answer = question(json!({
            "options": ["a", "b", "c"],
            "rules": [
                { "at_most_one_of": ["a", "c"] },
                { "always": "a" },
                { "requires": ["a", "b"] },
                { "excludes": ["b", "a"] },
            ],
            "weights": { "a": 1.0 },
        }))
        .answer()
        .unwrap();
        assert_eq!(answer.buildable, "0");
        assert_eq!(answer.heaviest, None);
        assert_eq!(answer.conflict_minimal, Some(true));
        let said: Vec<&str> = answer.conflict.iter().map(|r| r.says.as_str()).collect();
        assert_eq!(said, ["always a", "a requires b", "b excludes a"]);
        assert_eq!(answer.conflict[0].pointer, "/rules/1");
    }

    #[test]
    fn without_weights_no_boat_is_heaviest() {
        let answer = question(json!({ "options": ["a"] })).answer().unwrap();
        assert_eq!(answer.buildable, "2");
        assert_eq!((answer.heaviest, answer.lightest), (None, None));
    }

    #[test]
    fn every_fault_is_reported_at_once() {
        let faults = question(json!({
            "options": ["a", "b", "a", " ", "x/y~z"],
            "rules": [
                { "requires": ["a"] },
                { "excludes": ["a", "b", "c"] },
                { "exactly_one_of": [] },
                { "at_most_one_of": ["a", "b", "a", "d"] },
                { "always": "e" },
                { "requires": ["b", "b"] },
                { "only_with": ["a"] },
                { "only_with": ["a", "b", "a"] },
            ],
            "weights": { "x/y~z": 2e12, "f/g": 1.0 },
        }))
        .answer()
        .unwrap_err();
        assert_eq!(
            places(&faults),
            [
                "/options/2",
                "/options/3",
                "/rules/0/requires",
                "/rules/1/excludes",
                "/rules/1/excludes/2",
                "/rules/2/exactly_one_of",
                "/rules/3/at_most_one_of/2",
                "/rules/3/at_most_one_of/3",
                "/rules/4/always",
                "/rules/5/requires/1",
                "/rules/6/only_with",
                "/rules/7/only_with/2",
                "/weights/f~1g",
                "/weights/x~1y~0z",
            ]
        );
        assert_eq!(faults[2].limit.as_deref(), Some("exactly 2 options"));
        assert_eq!(faults[4].given, json!("c"));
        assert!(faults[0].detail.contains("/options/0"));
    }

    #[test]
    fn the_largest_question_is_answered_and_one_more_option_refused() {
        let ask = |count: usize| BoatsQuestion {
            options: (0..count).map(|at| format!("option {at}")).collect(),
            ..BoatsQuestion::default()
        };
        assert!(ask(MOST_OPTIONS).answer().is_ok());
        let faults = ask(MOST_OPTIONS + 1).answer().unwrap_err();
        assert_eq!(places(&faults), ["/options"]);
        assert_eq!(faults[0].limit.as_deref(), Some("at most 500"));
    }

    #[test]
    fn an_unknown_field_is_refused() {
        let misspelled = json!({ "options": [], "rule": [] });
        assert!(serde_json::from_value::<BoatsQuestion>(misspelled).is_err());
    }
}
