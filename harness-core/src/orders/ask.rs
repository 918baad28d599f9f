//! Which boats have these options and not those, and what follows: a question about boats, and an
//! order that is still to be completed.

use num_bigint::BigUint;

use crate::boats::{Boat, BoatSet, OptionIndex, Options, rules_against};

/// Options wanted and not wanted; what is not named is open.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Question {
    /// Wanted.
    pub on: Vec<OptionIndex>,
    /// Not wanted.
    pub off: Vec<OptionIndex>,
}

/// The boats that are so, or why there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// What follows.
    Boats(Box<Follows>),
    /// No boat is so.
    None(Blame),
}

/// What holds on the boats asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Follows {
    /// How many there are, exact.
    pub count: BigUint,
    /// Options all of them have beyond those wanted.
    pub on: Vec<Forced>,
    /// Options none of them has beyond those not wanted.
    pub off: Vec<Forced>,
    /// Options some have and some have not, with the number that have them.
    pub open: Vec<(OptionIndex, BigUint)>,
    /// Rules that what is wanted and what follows from it do not keep yet, by place: a choice is
    /// still to be made for each.
    pub to_choose: Vec<usize>,
    /// The boat of them with the fewest options; of several, the first by its option list.
    pub fewest: Boat,
    /// The boat of them with the most options; of several, the first by its option list.
    pub fullest: Boat,
}

/// An option that follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Forced {
    /// The option.
    pub option: OptionIndex,
    /// Whether it is so on every buildable boat, whatever is asked.
    pub anyway: bool,
}

/// Why no boat is as asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Blame {
    /// Wishes that stand against each other; no wish is in two of these.
    pub conflicts: Vec<Conflict>,
    /// Each single wish without which there is such a boat.
    pub give_up: Vec<Wish>,
}

/// Wishes that no boat meets together, though it could meet all but any one of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The wishes.
    pub wishes: Vec<Wish>,
    /// Rules that together forbid it, by place; none where the search for them ended at its
    /// limit, or where an option is both wanted and not.
    pub rules: Vec<usize>,
    /// Whether none of those rules is spare.
    pub minimal: bool,
}

/// One part of a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wish {
    /// The option.
    pub option: OptionIndex,
    /// Whether it is wanted or not wanted.
    pub on: bool,
}

impl Question {
    /// Whether nothing is asked.
    pub fn is_empty(&self) -> bool {
        self.on.is_empty() && self.off.is_empty()
    }

    /// The answer among `boats`, which are those that `options` allow.
    pub fn answer(&self, options: &Options, boats: &BoatSet) -> Answer {
        let found = boats.having(&self.on, &self.off);
        let examples = fewest(&found).zip(found.fullest());
        match examples {
            Some((fewest, fullest)) => Answer::Boats(Box::new(
                self.follows(options, boats, &found, fewest, fullest),
            )),
            None => Answer::None(self.blame(options, boats)),
        }
    }

    fn follows(
        &self,
        options: &Options,
        boats: &BoatSet,
        found: &BoatSet,
        fewest: Boat,
        fullest: Boat,
    ) -> Follows {
        let (always, never) = (found.always(), found.never());
        let beyond = |those: &[OptionIndex], stated: &[OptionIndex], anyway: &[OptionIndex]| {
            let new = those.iter().filter(|option| !stated.contains(option));
            new.map(|&option| Forced {
                option,
                anyway: anyway.contains(&option),
            })
            .collect::<Vec<_>>()
        };
        let so_far: Boat = always.iter().copied().collect();
        let with_each = found.counts_with_each();
        let rules = options.rules().iter().enumerate();
        Follows {
            count: found.count(),
            on: beyond(&always, &self.on, &boats.always()),
            off: beyond(&never, &self.off, &boats.never()),
            open: with_each
                .into_iter()
                .enumerate()
                .map(|(at, with)| (OptionIndex(at), with))
                .filter(|(option, _)| !always.contains(option) && !never.contains(option))
                .collect(),
            to_choose: rules
                .filter(|(_, rule)| !rule.holds(&so_far))
                .map(|(place, _)| place)
                .collect(),
            fewest,
            fullest,
        }
    }

    fn blame(&self, options: &Options, boats: &BoatSet) -> Blame {
        let mut conflicts = Vec::new();
        let mut left = self.clone();
        // Without any boat at all no wish is to blame.
        while !boats.is_empty() && left.is_none_of(boats) {
            let conflict = left.smallest(boats);
            for wish in conflict.wishes() {
                left = left.without(wish);
            }
            conflicts.push(conflict.told(options));
        }
        Blame {
            conflicts,
            give_up: self
                .wishes()
                .filter(|wish| !self.without(*wish).is_none_of(boats))
                .collect(),
        }
    }

    /// Leaves out wishes, the last first, as long as no boat meets the others.
    fn smallest(&self, boats: &BoatSet) -> Self {
        let wishes: Vec<_> = self.wishes().collect();
        wishes.into_iter().rev().fold(self.clone(), |kept, wish| {
            let fewer = kept.without(wish);
            if fewer.is_none_of(boats) { fewer } else { kept }
        })
    }

    fn told(&self, options: &Options) -> Conflict {
        let against = rules_against(options, &self.on, &self.off).ok().flatten();
        Conflict {
            wishes: self.wishes().collect(),
            minimal: against.as_ref().is_some_and(|found| found.minimal),
            rules: against.map(|found| found.rules).unwrap_or_default(),
        }
    }

    fn wishes(&self) -> impl Iterator<Item = Wish> + '_ {
        let wish = |on: bool| move |&option: &OptionIndex| Wish { option, on };
        let wanted = self.on.iter().map(wish(true));
        wanted.chain(self.off.iter().map(wish(false)))
    }

    fn without(&self, wish: Wish) -> Self {
        let mut fewer = self.clone();
        let side = if wish.on {
            &mut fewer.on
        } else {
            &mut fewer.off
        };
        side.retain(|option| *option != wish.option);
        fewer
    }

    fn is_none_of(&self, boats: &BoatSet) -> bool {
        boats.having(&self.on, &self.off).is_empty()
    }
}

fn fewest(boats: &BoatSet) -> Option<Boat> {
    let ones = vec![1.0; boats.option_count()];
    boats.lightest(&ones).map(|(_, boat)| boat)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boats::OptionRule;

    const AT: fn(usize) -> OptionIndex = OptionIndex;

    /// 0 or 1 on each boat; 2 requires 0; 3 only with 4 or 5; 6 always.
    fn options() -> Options {
        let rules = vec![
            OptionRule::ExactlyOneOf(vec![AT(0), AT(1)]),
            OptionRule::Requires(AT(2), AT(0)),
            OptionRule::OnlyWithAnyOf(AT(3), vec![AT(4), AT(5)]),
            OptionRule::Always(AT(6)),
        ];
        Options::new(7, rules).unwrap()
    }

    fn ask(on: &[usize], off: &[usize]) -> Answer {
        let all = |list: &[usize]| list.iter().copied().map(OptionIndex).collect();
        let options = options();
        let question = Question {
            on: all(on),
            off: all(off),
        };
        question.answer(&options, &BoatSet::of(&options).unwrap())
    }

    fn boat(options: &[usize]) -> Boat {
        options.iter().copied().map(OptionIndex).collect()
    }

    #[test]
    fn what_follows_and_what_is_still_to_choose() {
        let Answer::Boats(found) = ask(&[2, 3], &[]) else {
            panic!("there are such boats");
        };
        // By hand: 0 follows; 4, 5 or both.
        assert_eq!(found.count, BigUint::from(3u8));
        let forced = |option, anyway| Forced {
            option: AT(option),
            anyway,
        };
        assert_eq!(found.on, [forced(0, false), forced(6, true)]);
        assert_eq!(found.off, [forced(1, false)]);
        let two = BigUint::from(2u8);
        assert_eq!(found.open, [(AT(4), two.clone()), (AT(5), two)]);
        assert_eq!(found.to_choose, [2]);
        assert_eq!(found.fewest, boat(&[0, 2, 3, 4, 6]));
        assert_eq!(found.fullest, boat(&[0, 2, 3, 4, 5, 6]));
    }

    #[test]
    fn why_there_is_no_such_boat_and_which_wish_to_give_up() {
        let wish = |option, on| Wish {
            option: AT(option),
            on,
        };
        let Answer::None(blame) = ask(&[4, 2, 1], &[6]) else {
            panic!("there is no such boat");
        };
        // 2 with 1 is forbidden, and so is a boat without 6: no single wish helps.
        let told: Vec<_> = blame
            .conflicts
            .iter()
            .map(|conflict| (conflict.wishes.clone(), conflict.rules.clone()))
            .collect();
        let expected = [
            (vec![wish(6, false)], vec![3]),
            (vec![wish(2, true), wish(1, true)], vec![0, 1]),
        ];
        let mut sorted = told.clone();
        sorted.sort_by_key(|(wishes, _)| wishes.len());
        assert_eq!(sorted, expected);
        assert!(blame.conflicts.iter().all(|conflict| conflict.minimal));
        assert!(blame.give_up.is_empty());
        let Answer::None(blame) = ask(&[4, 2, 1], &[]) else {
            panic!("there is no such boat");
        };
        assert_eq!(blame.conflicts.len(), 1);
        assert_eq!(blame.give_up, [wish(2, true), wish(1, true)]);
    }

    #[test]
    fn nothing_asked_is_answered_by_all_boats() {
        let Answer::Boats(found) = ask(&[], &[]) else {
            panic!("there are boats");
        };
        // (1 + 2) ways of 0, 1, 2; 8 - 1 of 3, 4, 5.
        assert_eq!(found.count, BigUint::from(21u8));
        assert!(found.on.iter().all(|forced| forced.anyway));
    }
}
