//! Which rules cannot hold together.

use std::collections::BTreeSet;

use super::diagram::{TooWide, TooWideSubject};
use super::order::decision_order;
use super::propagation::{Propagation, State};
use super::rules::{OptionIndex, OptionRule, Options};

/// Half-decided boats looked at before the search for one boat is given up.
const MOST_STATES: usize = 1_000_000;
/// The same in all while leaving out rules in one direction.
const MOST_STATES_LEAVING_OUT: usize = 300_000;

/// Rules that no boat keeps all of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contradiction {
    /// Their places in the rule list, ascending.
    pub rules: Vec<usize>,
    /// Whether some boat keeps the others once any single one of them is dropped. False when the
    /// search for that ended at its limit: then some of them may be spare.
    pub minimal: bool,
}

/// Rules that cannot hold together, as few as leaving out finds; `None` if all rules can.
///
/// There may be other contradictions beside this one. Rules are left out in turn, once from the
/// back of the list and once from the front, and the shorter result is given.
///
/// # Errors
/// [`TooWide`] if even a single buildable boat could not be searched for within the limit.
pub fn contradicting_rules(options: &Options) -> Result<Option<Contradiction>, TooWide> {
    rules_against(options, &[], &[])
}

/// The rules that together forbid a boat with the options in `on` and without those in `off`,
/// found and given as in [`contradicting_rules`]; `None` if such a boat can be built. No rule is
/// named where none is to blame: `on` and `off` share an option, or `on` has one outside the list.
///
/// # Errors
/// [`TooWide`] if even a single such boat could not be searched for within the limit.
pub fn rules_against(
    options: &Options,
    on: &[OptionIndex],
    off: &[OptionIndex],
) -> Result<Option<Contradiction>, TooWide> {
    let wanted = on.iter().map(|&option| OptionRule::Always(option));
    let unwanted = off
        .iter()
        .filter(|option| option.0 < options.count())
        .map(|&option| OptionRule::Excludes(option, option));
    let search = Search {
        options,
        stated: wanted.chain(unwanted).collect(),
        order: decision_order(options, &[]),
    };
    let rules: Vec<usize> = (0..options.rules().len()).collect();
    if search.any_boat(&rules, &mut { MOST_STATES })? {
        return Ok(None);
    }
    let from_back = search.without_spare(rules.clone(), MOST_STATES_LEAVING_OUT);
    let turned = rules.into_iter().rev().collect();
    let from_front = search.without_spare(turned, MOST_STATES_LEAVING_OUT);
    let rank = |found: &Contradiction| (!found.minimal, found.rules.len());
    let mut found = if rank(&from_front) < rank(&from_back) {
        from_front
    } else {
        from_back
    };
    found.rules.sort_unstable();
    Ok(Some(found))
}

struct Search<'a> {
    options: &'a Options,
    /// What is stated of the boat beside the rules; never left out.
    stated: Vec<OptionRule>,
    order: Vec<OptionIndex>,
}

impl Search<'_> {
    /// Leaves out rules, the last listed first, as long as what is kept has no boat: whole
    /// stretches at first, single rules in the end, after which none is spare.
    fn without_spare(&self, mut kept: Vec<usize>, mut states_left: usize) -> Contradiction {
        let mut stretch = kept.len().div_ceil(2);
        loop {
            let mut end = kept.len();
            while end > 0 {
                let start = end.saturating_sub(stretch);
                let fewer: Vec<usize> = [&kept[..start], &kept[end..]].concat();
                match self.any_boat(&fewer, &mut states_left) {
                    Ok(true) => {}
                    Ok(false) => kept = fewer,
                    Err(TooWide { .. }) => {
                        return Contradiction {
                            rules: kept,
                            minimal: false,
                        };
                    }
                }
                end = start;
            }
            if stretch <= 1 {
                return Contradiction {
                    rules: kept,
                    minimal: true,
                };
            }
            stretch = stretch.div_ceil(2);
        }
    }

    /// Whether any boat keeps these rules and is as stated; takes the half-decided boats looked at
    /// off those left.
    fn any_boat(&self, kept: &[usize], states_left: &mut usize) -> Result<bool, TooWide> {
        let limit = *states_left;
        let Some(options) = self.options.with_only(kept, &self.stated) else {
            return Ok(false);
        };
        let rules = Propagation::new(&options, &self.order);
        let mut open: Vec<(usize, State)> =
            rules.start().map(|start| (0, start)).into_iter().collect();
        let mut seen = BTreeSet::new();
        while let Some((decided, state)) = open.pop() {
            if decided == self.order.len() {
                return Ok(true);
            }
            if seen.contains(&(decided, state.clone())) {
                continue;
            }
            if *states_left == 0 {
                return Err(TooWide {
                    limit,
                    decided,
                    options: self.order.len(),
                    subject: TooWideSubject::Rules,
                });
            }
            *states_left -= 1;
            for fitted in [true, false] {
                if let Some(next) = rules.decide(&state, decided, fitted) {
                    open.push((decided + 1, next));
                }
            }
            seen.insert((decided, state));
        }
        Ok(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_contradictions_the_shorter_one_is_given() {
        let at = OptionIndex;
        // 0 always, 0 excludes 1, 1 always; and a longer one through 2, 3, 4.
        let rules = vec![
            OptionRule::Always(at(0)),
            OptionRule::Requires(at(2), at(3)),
            OptionRule::Excludes(at(3), at(0)),
            OptionRule::Always(at(2)),
            OptionRule::Always(at(1)),
            OptionRule::Excludes(at(0), at(1)),
        ];
        let found = contradicting_rules(&Options::new(5, rules).unwrap()).unwrap();
        assert_eq!(
            found,
            Some(Contradiction {
                rules: vec![0, 4, 5],
                minimal: true,
            })
        );
    }

    #[test]
    fn of_two_contradictions_of_a_length_the_earlier_rules_are_given() {
        let at = OptionIndex;
        let rules = vec![
            OptionRule::Requires(at(0), at(1)),
            OptionRule::Excludes(at(0), at(1)),
            OptionRule::Requires(at(0), at(2)),
            OptionRule::Excludes(at(0), at(2)),
        ];
        let options = Options::new(3, rules).unwrap();
        let found = rules_against(&options, &[at(0)], &[]).unwrap();
        assert_eq!(found.map(|found| found.rules), Some(vec![0, 1]));
    }

    #[test]
    fn rules_that_forbid_a_wish_are_named() {
        let at = OptionIndex;
        let rules = vec![
            OptionRule::Requires(at(0), at(1)),
            OptionRule::Requires(at(1), at(2)),
            OptionRule::Requires(at(3), at(2)),
        ];
        let options = Options::new(4, rules).unwrap();
        let against = |on: usize, off: usize| {
            let found = rules_against(&options, &[at(on)], &[at(off)]).unwrap();
            found.map(|contradiction| contradiction.rules)
        };
        assert_eq!(against(0, 2), Some(vec![0, 1]));
        assert_eq!(against(0, 3), None);
        assert_eq!(against(0, 0), Some(Vec::new()));
    }

    #[test]
    fn a_search_that_reaches_its_limit_says_so() {
        // Five options in pairs around a ring, one of each pair: an odd ring has no boat, and
        // none of the five rules is spare.
        let rules = (0..5)
            .map(|from| {
                OptionRule::ExactlyOneOf(vec![OptionIndex(from), OptionIndex((from + 1) % 5)])
            })
            .collect();
        let options = Options::new(5, rules).unwrap();
        let search = Search {
            options: &options,
            stated: Vec::new(),
            order: decision_order(&options, &[]),
        };
        let found = |states_left| search.without_spare((0..5).collect(), states_left);
        assert!(!found(10).minimal && found(1000).minimal);
        assert_eq!(found(10).rules, [0, 1, 2, 3, 4]);
        assert_eq!(found(1000).rules, [0, 1, 2, 3, 4]);
    }
}
