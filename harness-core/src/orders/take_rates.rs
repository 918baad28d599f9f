//! Take rates held against the rules.
//!
//! A take rate is a share of the boats sold, so some things follow from it whatever else was
//! ordered with it: an option that requires another is not sold more often than that other, and
//! the rates of a group of which each boat has one sum to 1. Only such things are told; how often
//! two options are sold *together* does not follow from their rates, and nothing is assumed of it.

use crate::boats::{OptionIndex, OptionRule, Options};
use crate::model::BoatModel;

/// How far a rate may be off by rounding: half a percent (our practice: rates are stated in whole
/// percents).
const ROUNDING: f64 = 0.005;

/// Take rates that cannot all be true under a rule every boat keeps.
#[derive(Clone, Debug, PartialEq)]
pub struct Impossible {
    /// The rule, by place in the rule list.
    pub rule: usize,
    /// Options it joins.
    pub options: Vec<OptionIndex>,
    /// What does not fit, with the numbers.
    pub says: String,
}

/// How many options an average boat sold has: the sum of the take rates. `None` unless every
/// option states one.
pub fn options_of_a_mean_boat(model: &BoatModel) -> Option<f64> {
    let mut sum = 0.0;
    for (_, option) in model.options.iter() {
        sum += option.take_rate?;
    }
    Some(sum)
}

/// The rules under which stated take rates cannot all be true. Rules that name an option without
/// a take rate are not held against any.
pub fn impossible_take_rates(model: &BoatModel, options: &Options) -> Vec<Impossible> {
    let rates: Vec<Option<f64>> = model.options.iter().map(|(_, o)| o.take_rate).collect();
    let names: Vec<&str> = model.options.iter().map(|(_, o)| o.id.as_str()).collect();
    options
        .rules()
        .iter()
        .enumerate()
        .filter_map(|(place, rule)| {
            let joined = rule.options();
            let stated = |option: &OptionIndex| rates.get(option.0).copied().flatten();
            let of: Vec<f64> = joined.iter().map(stated).collect::<Option<_>>()?;
            let says = contradiction(rule, &of, |option| names[option.0])?;
            Some(Impossible {
                rule: place,
                options: joined,
                says,
            })
        })
        .collect()
}

/// What does not fit; `rates` are those of the options of the rule, as listed.
fn contradiction<'m>(
    rule: &OptionRule,
    rates: &[f64],
    name: impl Fn(&OptionIndex) -> &'m str,
) -> Option<String> {
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let sum = |rates: &[f64]| rates.iter().sum::<f64>();
    let slack = ROUNDING * rates.len() as f64 + 1e-9;
    let more_than = |limit: f64, is: f64| is > limit + slack;
    match rule {
        OptionRule::Requires(a, b) => more_than(rates[1], rates[0]).then(|| {
            format!(
                "{} is sold on {} of boats, {}, which it requires, on {}",
                name(a),
                percent(rates[0]),
                name(b),
                percent(rates[1])
            )
        }),
        OptionRule::OnlyWithAnyOf(a, others) if !others.contains(a) => {
            let company = sum(&rates[1..]);
            more_than(company, rates[0]).then(|| {
                format!(
                    "{} is sold on {} of boats, those it needs one of on {} at most",
                    name(a),
                    percent(rates[0]),
                    percent(company)
                )
            })
        }
        OptionRule::OnlyWithAnyOf(..) => None,
        OptionRule::Excludes(a, b) if a == b => more_than(0.0, rates[0])
            .then(|| format!("{} is on no boat, but has a take rate", name(a))),
        OptionRule::Excludes(..) | OptionRule::AtMostOneOf(_) => {
            more_than(1.0, sum(rates)).then(|| {
                format!(
                    "their take rates sum to {}, but no boat has two",
                    percent(sum(rates))
                )
            })
        }
        OptionRule::ExactlyOneOf(_) => ((sum(rates) - 1.0).abs() > slack).then(|| {
            format!(
                "their take rates sum to {}, but each boat has one",
                percent(sum(rates))
            )
        }),
        OptionRule::Always(a) => more_than(rates[0], 1.0).then(|| {
            format!(
                "{} is on each boat, but its take rate is {}",
                name(a),
                percent(rates[0])
            )
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::study::options_of;
    use serde_json::{Value, json};

    fn told(rates: [f64; 3], rules: Value) -> Vec<String> {
        let model = file_format::read_json(json!({
            "format_version": 1, "name": "A",
            "options": [
                {"id": "a", "take_rate": rates[0]}, {"id": "b", "take_rate": rates[1]},
                {"id": "c", "take_rate": rates[2]}, {"id": "d"},
            ],
            "option_rules": rules,
        }))
        .unwrap();
        assert_eq!(options_of_a_mean_boat(&model), None);
        impossible_take_rates(&model, &options_of(&model))
            .into_iter()
            .map(|found| found.says)
            .collect()
    }

    #[test]
    fn each_kind_of_rule_bounds_the_rates() {
        for (rule, fits, contradicts) in [
            (
                json!({"requires": ["a", "b"]}),
                [0.3, 0.3, 0.0],
                [0.32, 0.3, 0.0],
            ),
            (
                json!({"excludes": ["a", "b"]}),
                [0.4, 0.6, 0.0],
                [0.42, 0.6, 0.0],
            ),
            (
                json!({"only_with": ["a", "b", "c"]}),
                [0.5, 0.3, 0.2],
                [0.52, 0.3, 0.2],
            ),
            (
                json!({"exactly_one_of": ["a", "b", "c"]}),
                [0.5, 0.3, 0.19],
                [0.5, 0.3, 0.18],
            ),
            (
                json!({"at_most_one_of": ["a", "b", "c"]}),
                [0.5, 0.3, 0.0],
                [0.5, 0.3, 0.22],
            ),
            (json!({"always": "a"}), [1.0, 0.0, 0.0], [0.9, 0.0, 0.0]),
        ] {
            assert!(told(fits, json!([rule])).is_empty(), "{rule}");
            assert_eq!(told(contradicts, json!([rule])).len(), 1, "{rule}");
        }
    }

    #[test]
    fn a_rule_with_an_option_without_rate_is_left_alone() {
        assert!(
            told(
                [0.9, 0.9, 0.0],
                json!([{"exactly_one_of": ["a", "b", "d"]}])
            )
            .is_empty()
        );
        let said = told([0.9, 0.2, 0.0], json!([{"requires": ["a", "b"]}]));
        assert_eq!(
            said,
            ["a is sold on 90 % of boats, b, which it requires, on 20 %"]
        );
    }
}
