//! Which rules cannot hold together.

use std::collections::BTreeSet;

use super::diagram::{TooWide, TooWideSubject};
use super::order::decision_order;
use super::propagation::Propagation;
use super::rules::{OptionIndex, OptionRule, Options};

/// Half-decided boats looked at before the search for one boat is given up.
const MOST_STATES: usize = 1_000_000;

/// Rules that no boat keeps all of, though one does once any single one of them is dropped: their
/// places in the rule list, ascending. Empty if the rules can hold together.
///
/// There may be other contradictions beside this one; it is found by leaving out rules in turn,
/// once from the front and once from the back, and the shorter result is given. A rule whose
/// absence could not be searched through within the limit is kept.
///
/// # Errors
/// [`TooWide`] if even a single buildable boat could not be searched for within the limit.
pub fn contradicting_rules(options: &Options) -> Result<Vec<usize>, TooWide> {
    rules_against(options, &[], &[])
}

/// The rules that together forbid a boat with the options in `on` and without those in `off`,
/// found and given as in [`contradicting_rules`]. Empty if such a boat can be built, and if no
/// rule is to blame: `on` and `off` share an option, or `on` has one outside the list.
///
/// # Errors
/// [`TooWide`] if even a single such boat could not be searched for within the limit.
pub fn rules_against(
    options: &Options,
    on: &[OptionIndex],
    off: &[OptionIndex],
) -> Result<Vec<usize>, TooWide> {
    let search = Search {
        options,
        stated: on
            .iter()
            .map(|&option| OptionRule::Always(option))
            .chain(
                off.iter()
                    .filter(|option| option.0 < options.count())
                    .map(|&option| OptionRule::Excludes(option, option)),
            )
            .collect(),
        order: decision_order(options),
    };
    let rules: Vec<usize> = (0..options.rules().len()).collect();
    if search.any_boat(&rules)? {
        return Ok(Vec::new());
    }
    let from_back = search.without_spare(rules.clone());
    let from_front = search.without_spare(rules.into_iter().rev().collect());
    let mut shorter = if from_front.len() < from_back.len() {
        from_front
    } else {
        from_back
    };
    shorter.sort_unstable();
    Ok(shorter)
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
    fn without_spare(&self, mut kept: Vec<usize>) -> Vec<usize> {
        let mut stretch = kept.len().div_ceil(2);
        loop {
            let mut end = kept.len();
            while end > 0 {
                let start = end.saturating_sub(stretch);
                let fewer: Vec<usize> = [&kept[..start], &kept[end..]].concat();
                // Undecided counts as needed: what is kept contradicts itself either way.
                if self.any_boat(&fewer) == Ok(false) {
                    kept = fewer;
                }
                end = start;
            }
            if stretch <= 1 {
                return kept;
            }
            stretch = stretch.div_ceil(2);
        }
    }

    /// Whether any boat keeps these rules and is as stated.
    fn any_boat(&self, kept: &[usize]) -> Result<bool, TooWide> {
        let options = self.options.with_only(kept, &self.stated);
        let Some(options) = options else {
            return Ok(false);
        };
        let rules = Propagation::new(&options, &self.order);
        let mut open: Vec<(usize, _)> = rules.start().map(|start| (0, start)).into_iter().collect();
        let mut seen = BTreeSet::new();
        let mut deepest = 0;
        while let Some((decided, state)) = open.pop() {
            if decided == self.order.len() {
                return Ok(true);
            }
            deepest = deepest.max(decided);
            if seen.contains(&(decided, state.clone())) {
                continue;
            }
            if seen.len() == MOST_STATES {
                return Err(TooWide {
                    limit: MOST_STATES,
                    decided: deepest,
                    options: self.order.len(),
                    subject: TooWideSubject::Rules,
                });
            }
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
