//! Hull numbers: which options each can have, and whether what was ordered can be built.
//!
//! A hull is named by the builder's own text; its number is that text where it is a whole number,
//! leading zeros aside (`0147` is 147). Nothing is guessed from other names: whether hull `147-B`
//! lies in a range is *not evaluated*.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigUint;

use crate::boats::{Boat, BoatSet, OptionIndex, Options};
use crate::model::{BoatModel, BoatOption, Hull, Index};

/// The number of a hull, where its name is a whole number.
pub fn hull_number(hull: &Hull) -> Option<u64> {
    hull.id.parse().ok()
}

fn states_range(option: &BoatOption) -> bool {
    option.from_hull.is_some() || option.to_hull.is_some()
}

fn is_offered(option: &BoatOption, number: u64) -> bool {
    option
        .from_hull
        .is_none_or(|from| u64::from(from) <= number)
        && option.to_hull.is_none_or(|to| number <= u64::from(to))
}

/// The options that a hull number is outside the range of, ascending.
pub fn off_at(model: &BoatModel, number: u64) -> Vec<OptionIndex> {
    options_where(model, |option| !is_offered(option, number))
}

fn options_where(model: &BoatModel, wanted: impl Fn(&BoatOption) -> bool) -> Vec<OptionIndex> {
    model
        .options
        .iter()
        .filter(|(_, option)| wanted(option))
        .map(|(at, _)| OptionIndex(at.number()))
        .collect()
}

/// Hull numbers between which the same options are offered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HullRange {
    /// First hull number.
    pub from: u64,
    /// Last hull number; `None` is without end.
    pub to: Option<u64>,
    /// Options not offered there, ascending.
    pub off: Vec<OptionIndex>,
    /// How many of the buildable boats can be ordered there, exact.
    pub boats: BigUint,
}

/// The hull numbers from 1 on, split where an option begins or ends; one range without end where
/// no option states any.
pub fn ranges(model: &BoatModel, boats: &BoatSet) -> Vec<HullRange> {
    let starts: BTreeSet<u64> = model
        .options
        .iter()
        .flat_map(|(_, option)| {
            let after = option.to_hull.map(|to| u64::from(to) + 1);
            [option.from_hull.map(u64::from), after]
        })
        .flatten()
        .chain([1])
        .collect();
    let ends = starts.iter().skip(1).map(|next| Some(next - 1));
    starts
        .iter()
        .zip(ends.chain([None]))
        .map(|(&from, to)| {
            let off = off_at(model, from);
            HullRange {
                from,
                to,
                boats: boats.having(&[], &off).count(),
                off,
            }
        })
        .collect()
}

/// An ordered hull held against the rules and the ranges of its options.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderedHull {
    /// The hull.
    pub hull: Index<Hull>,
    /// Its number, where its name is one.
    pub number: Option<u64>,
    /// Rules its order breaks, by place in the rule list.
    pub broken: Vec<usize>,
    /// Options ordered that are not offered at its number.
    pub out_of_range: Vec<OptionIndex>,
    /// Options ordered whose range cannot be held against its name.
    pub range_unknown: Vec<OptionIndex>,
    /// How many boats could be ordered at its number; `None` where the name is no number and
    /// some option states a range.
    pub boats: Option<BigUint>,
}

/// Whether an ordered hull can be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It keeps every rule and range.
    Buildable,
    /// It breaks a rule or a range.
    Breaks,
    /// It keeps every rule, but a range could not be held against its name.
    NotEvaluated,
}

impl OrderedHull {
    /// Every hull of the model, in stated order. `options` are those of the model, `boats` what
    /// they allow.
    pub fn all(model: &BoatModel, options: &Options, boats: &BoatSet) -> Vec<Self> {
        let any_range = model.options.iter().any(|(_, option)| states_range(option));
        // Few hulls differ in what they are offered: each case is counted once.
        let mut counted: BTreeMap<Vec<OptionIndex>, BigUint> = BTreeMap::new();
        let mut offered = |off: &[OptionIndex]| -> BigUint {
            let count = counted.entry(off.to_vec());
            count
                .or_insert_with(|| boats.having(&[], off).count())
                .clone()
        };
        model
            .hulls
            .iter()
            .map(|(at, hull)| {
                let number = hull_number(hull);
                let off = number.map(|number| off_at(model, number));
                let ordered: Boat = hull.options.iter().copied().collect();
                let is_in = |list: &[OptionIndex]| -> Vec<OptionIndex> {
                    ordered.options().filter(|o| list.contains(o)).collect()
                };
                let unknown = match off {
                    None => options_where(model, states_range),
                    Some(_) => Vec::new(),
                };
                let broken = options.rules().iter().enumerate();
                Self {
                    hull: at,
                    number,
                    broken: broken
                        .filter(|(_, rule)| !rule.holds(&ordered))
                        .map(|(place, _)| place)
                        .collect(),
                    out_of_range: is_in(off.as_deref().unwrap_or_default()),
                    range_unknown: is_in(&unknown),
                    boats: match off {
                        Some(off) => Some(offered(&off)),
                        None if any_range => None,
                        None => Some(offered(&[])),
                    },
                }
            })
            .collect()
    }

    /// Whether it can be built.
    pub fn standing(&self) -> Standing {
        if !self.broken.is_empty() || !self.out_of_range.is_empty() {
            Standing::Breaks
        } else if self.range_unknown.is_empty() {
            Standing::Buildable
        } else {
            Standing::NotEvaluated
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::study::options_of;
    use serde_json::{Value, json};

    fn model(hulls: Value) -> BoatModel {
        file_format::read_json(json!({
            "format_version": 1, "name": "A",
            "options": [
                {"id": "old", "to_hull": 11}, {"id": "new", "from_hull": 12},
                {"id": "part", "from_hull": 5, "to_hull": 20}, {"id": "any"},
            ],
            "option_rules": [{"requires": ["any", "part"]}, {"excludes": ["old", "new"]}],
            "hulls": hulls,
        }))
        .unwrap()
    }

    fn ordered(hulls: Value) -> Vec<OrderedHull> {
        let model = model(hulls);
        let options = options_of(&model);
        OrderedHull::all(&model, &options, &BoatSet::of(&options).unwrap())
    }

    #[test]
    fn ranges_meet_without_gap_and_count_what_is_offered() {
        let model = model(json!([]));
        let boats = BoatSet::of(&options_of(&model)).unwrap();
        let told: Vec<_> = ranges(&model, &boats)
            .into_iter()
            .map(|range| {
                let off: Vec<_> = range.off.iter().map(|option| option.0).collect();
                (range.from, range.to, off, range.boats.to_string())
            })
            .collect();
        // By hand: old or new with and without (2), times part and any: 3, or 1 without part.
        let expected = [
            (1, Some(4), vec![1, 2], "2".to_owned()),
            (5, Some(11), vec![1], "6".to_owned()),
            (12, Some(20), vec![0], "6".to_owned()),
            (21, None, vec![0, 2], "2".to_owned()),
        ];
        assert_eq!(told, expected);
    }

    #[test]
    fn the_last_hull_of_a_range_is_inside_and_the_next_outside() {
        let found = ordered(json!([
            {"id": "0011", "options": ["old", "part"]}, {"id": "12", "options": ["old"]},
            {"id": "11", "options": ["new"]}, {"id": "21", "options": ["part"]},
        ]));
        let outside: Vec<Vec<usize>> = found
            .iter()
            .map(|hull| hull.out_of_range.iter().map(|option| option.0).collect())
            .collect();
        assert_eq!(outside, [vec![], vec![0], vec![1], vec![2]]);
        assert_eq!(found[0].number, Some(11));
        assert_eq!(found[0].standing(), Standing::Buildable);
        assert_eq!(found[1].standing(), Standing::Breaks);
        assert_eq!(found[0].boats, Some(BigUint::from(6u8)));
    }

    #[test]
    fn a_broken_rule_is_named_and_a_name_that_is_no_number_is_not_guessed() {
        let found = ordered(json!([
            {"id": "7", "options": ["any"]}, {"id": "147-B", "options": ["part"]},
            {"id": "proto", "options": []},
        ]));
        assert_eq!(found[0].broken, [0]);
        assert_eq!(found[1].standing(), Standing::NotEvaluated);
        assert_eq!(found[1].range_unknown, [OptionIndex(2)]);
        assert_eq!((found[1].number, &found[1].boats), (None, &None));
        assert_eq!(found[2].standing(), Standing::Buildable);
    }
}
