//! Ordered hulls, and the hull numbers between which the same options are offered.

use harness_core::model::{Index, OptionIndex};
use harness_core::orders::{HullRange, OrderedHull, Question, Standing};
use num_bigint::BigUint;

use super::super::findings::Linked;
use super::super::options::hull_range;
use super::super::ordering::{OptionLink, RuleWords, Share, hull_link};
use super::asked::question_href;
use crate::orders::Orders;
use crate::shown::grouped;
use crate::studies::AskedBoat;

/// Whether an ordered hull can be built, as a word and a shape.
#[derive(Clone, Copy, Debug)]
pub struct StandingWord(Standing);

impl StandingWord {
    /// Class in the style sheet.
    pub fn class(self) -> &'static str {
        match self.0 {
            Standing::Buildable => "met",
            Standing::Breaks => "fails",
            Standing::NotEvaluated => "not-evaluated",
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self.0 {
            Standing::Buildable => "buildable",
            Standing::Breaks => "not buildable",
            Standing::NotEvaluated => "not evaluated",
        }
    }
}

/// One ordered hull.
#[derive(Clone, Debug)]
pub struct HullRow {
    pub(super) hull: Linked,
    pub(super) is_in_view: bool,
    pub(super) standing: StandingWord,
    pub(super) options: Vec<OptionLink>,
    pub(super) broken: Vec<RuleWords>,
    pub(super) why: Vec<String>,
    pub(super) order_href: String,
    pub(super) boats: String,
}

/// Hull numbers between which the same options are offered.
#[derive(Clone, Debug)]
pub struct RangeRow {
    pub(super) hulls: String,
    pub(super) off: Vec<OptionLink>,
    pub(super) boats: Share,
}

impl HullRow {
    pub(super) fn of(orders: &Orders, ordered: &OrderedHull) -> Self {
        let hull = &orders.model.hulls[ordered.hull];
        let code = |option: &OptionIndex| orders.codes[option.0].as_str();
        let range = |option: &OptionIndex| {
            let option = &orders.model.options[Index::new(option.0)];
            hull_range(option)
        };
        let outside = ordered
            .out_of_range
            .iter()
            .map(|option| format!("{} is offered {}", code(option), range(option)));
        let unknown = ordered.range_unknown.iter().map(|option| {
            format!(
                "{} is offered {}, and the name of this hull is no whole number to hold against it",
                code(option),
                range(option)
            )
        });
        let standing = ordered.standing();
        let question = Question {
            on: hull.options.clone(),
            off: Vec::new(),
        };
        Self {
            is_in_view: orders.addresses.boat() == &AskedBoat::Hull(hull.id.clone()),
            hull: hull_link(orders, hull),
            standing: StandingWord(standing),
            options: OptionLink::all(orders, &hull.options),
            broken: RuleWords::all(orders, ordered.broken.iter().copied()),
            why: outside.chain(unknown).collect(),
            order_href: question_href(orders, &question),
            boats: ordered.boats.as_ref().map_or_else(
                || "not evaluated, because the hull number is not a whole number".to_owned(),
                grouped,
            ),
        }
    }
}

/// Nothing where every hull number is offered the same.
pub(super) fn range_rows(orders: &Orders, ranges: Vec<HullRange>, all: &BigUint) -> Vec<RangeRow> {
    if ranges.len() < 2 {
        return Vec::new();
    }
    ranges
        .into_iter()
        .map(|range| RangeRow {
            hulls: match range.to {
                Some(to) if to == range.from => to.to_string(),
                Some(to) => format!("{} to {to}", range.from),
                None => format!("from {} on", range.from),
            },
            off: OptionLink::all(orders, &range.off),
            boats: Share::of(&range.boats, all),
        })
        .collect()
}
