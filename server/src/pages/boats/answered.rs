//! The answer to the question of the page of boats.

use std::collections::BTreeSet;

use harness_core::model::OptionIndex;
use harness_core::orders::{Answer, Blame, Follows, Forced, Question, Wish};
use num_bigint::BigUint;

use super::super::findings::Linked;
use super::super::ordering::{BoatLink, OptionLink, RuleWords, Share};
use super::asked::question_href;
use crate::orders::Orders;

/// An option that follows.
#[derive(Clone, Debug)]
pub struct ForcedRow {
    pub(super) option: OptionLink,
    pub(super) anyway: bool,
}

/// An option still open, with the questions that settle it.
#[derive(Clone, Debug)]
pub struct OpenRow {
    pub(super) option: OptionLink,
    pub(super) share: Share,
    pub(super) with_href: String,
    pub(super) without_href: String,
}

/// A choice still to be made.
#[derive(Clone, Debug)]
pub struct Choice {
    pub(super) rule: RuleWords,
    pub(super) candidates: Vec<Linked>,
}

/// What the boats asked for have in common.
#[derive(Clone, Debug)]
pub struct FoundBoats {
    pub(super) share: Share,
    pub(super) on: Vec<ForcedRow>,
    pub(super) off: Vec<ForcedRow>,
    pub(super) open: Vec<OpenRow>,
    pub(super) to_choose: Vec<Choice>,
    pub(super) fewest: BoatLink,
    pub(super) fullest: BoatLink,
}

/// Why there is no such boat.
#[derive(Clone, Debug)]
pub struct NoBoat {
    pub(super) conflicts: Vec<ConflictWords>,
    pub(super) give_up: Vec<Linked>,
}

/// Wishes that stand against each other.
#[derive(Clone, Debug)]
pub struct ConflictWords {
    pub(super) wishes: String,
    pub(super) rules: Vec<RuleWords>,
    pub(super) minimal: bool,
}

/// The question with its answer.
#[derive(Clone, Debug)]
pub struct AnsweredBoats {
    pub(super) with: Vec<OptionLink>,
    pub(super) without: Vec<OptionLink>,
    pub(super) found: Option<FoundBoats>,
    pub(super) none: Option<NoBoat>,
}

impl AnsweredBoats {
    pub(super) fn of(orders: &Orders, question: &Question) -> Self {
        let answer = orders
            .boats
            .as_ref()
            .ok()
            .map(|boats| (question.answer(&orders.options, boats), boats.count()));
        let (found, none) = match answer {
            Some((Answer::Boats(found), all)) => {
                (Some(FoundBoats::of(orders, question, *found, &all)), None)
            }
            Some((Answer::None(blame), _)) => (None, Some(NoBoat::of(orders, question, blame))),
            None => (None, None),
        };
        Self {
            with: OptionLink::all(orders, &question.on),
            without: OptionLink::all(orders, &question.off),
            found,
            none,
        }
    }
}

impl FoundBoats {
    fn of(orders: &Orders, question: &Question, found: Follows, all: &BigUint) -> Self {
        let forced = |those: Vec<Forced>| {
            let row = |forced: Forced| ForcedRow {
                option: OptionLink::of(orders, forced.option),
                anyway: forced.anyway,
            };
            those.into_iter().map(row).collect()
        };
        let more = |option: OptionIndex, is_on: bool| {
            let mut more = question.clone();
            let side = if is_on { &mut more.on } else { &mut more.off };
            side.push(option);
            question_href(orders, &more)
        };
        let open: BTreeSet<_> = found.open.iter().map(|(option, _)| *option).collect();
        let choice = |place: usize| {
            let options = orders.options.rules()[place].options();
            let candidates = options.into_iter().filter(|option| open.contains(option));
            Choice {
                rule: RuleWords::of(orders, place),
                candidates: candidates
                    .map(|option| Linked {
                        text: orders.codes[option.0].clone(),
                        href: more(option, true),
                    })
                    .collect(),
            }
        };
        Self {
            share: Share::of(&found.count, all),
            to_choose: found.to_choose.iter().copied().map(choice).collect(),
            on: forced(found.on),
            off: forced(found.off),
            open: found
                .open
                .iter()
                .map(|(option, with)| OpenRow {
                    option: OptionLink::of(orders, *option),
                    share: Share::of(with, &found.count),
                    with_href: more(*option, true),
                    without_href: more(*option, false),
                })
                .collect(),
            fewest: BoatLink::of(orders, &found.fewest),
            fullest: BoatLink::of(orders, &found.fullest),
        }
    }
}

impl NoBoat {
    fn of(orders: &Orders, question: &Question, blame: Blame) -> Self {
        let words = |wish: &Wish| {
            let word = if wish.on { "with" } else { "without" };
            format!("{word} {}", orders.codes[wish.option.0])
        };
        let fewer = blame.give_up.iter().map(|wish| {
            let mut fewer = question.clone();
            fewer.on.retain(|option| !wish.on || *option != wish.option);
            fewer.off.retain(|option| wish.on || *option != wish.option);
            Linked {
                text: words(wish),
                href: question_href(orders, &fewer),
            }
        });
        Self {
            give_up: fewer.collect(),
            conflicts: blame
                .conflicts
                .into_iter()
                .map(|conflict| ConflictWords {
                    wishes: conflict
                        .wishes
                        .iter()
                        .map(words)
                        .collect::<Vec<_>>()
                        .join(", "),
                    minimal: conflict.minimal,
                    rules: RuleWords::all(orders, conflict.rules),
                })
                .collect(),
        }
    }
}
