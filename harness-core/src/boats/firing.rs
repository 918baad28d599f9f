//! Boats and conditions walked together: on the way through the diagram each condition is decided
//! on one arrow, so a weight may belong to a condition instead of an option.
//!
//! Most equipment is fitted under a condition of one or two options, some where an option is
//! absent. The diagram of the rules is walked together with what is still open of each condition;
//! the arrow on which a condition is decided carries it as met or unmet. Every question with
//! weights on conditions, and some conditions held met or unmet, is then one pass.

use std::collections::BTreeMap;

use num_bigint::BigUint;

use super::boat::Boat;
use super::condition::Condition;
use super::diagram::{BoatSet, TooWide, TooWideSubject};
use super::layers::NONE;
use super::rules::OptionIndex;

/// States of diagram and open conditions together before the walk is given up as too wide.
const MOST_STATES: usize = 1_000_000;

/// Every buildable boat with the conditions it meets.
#[derive(Clone, Debug)]
pub struct Firings {
    order: Vec<OptionIndex>,
    conditions: Vec<Condition>,
    layers: Vec<Vec<Fork>>,
    /// What arrows decide, each list once; number 0 decides nothing.
    decided: Vec<Decided>,
    /// Decided before any option is.
    at_start: Decided,
    any: bool,
}

/// Where to go when the option of this layer is left out or fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Fork {
    pub(super) left_out: Arrow,
    pub(super) fitted: Arrow,
}

/// An arrow to a node of the next layer, and the list of conditions it decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Arrow {
    pub(super) to: u32,
    pub(super) decides: u32,
}

const NOWHERE: Arrow = Arrow {
    to: NONE,
    decides: 0,
};

/// Conditions that one decision settles.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Decided {
    met: Vec<u32>,
    unmet: Vec<u32>,
}

/// Whether a condition is met on the boats looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// On none of them.
    Never,
    /// On some.
    Some,
    /// On each of them.
    Always,
}

/// One boat with the conditions it meets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Way {
    /// The boat.
    pub boat: Boat,
    /// For each condition whether the boat meets it.
    pub met: Vec<bool>,
}

/// What is still open of one condition.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Open {
    condition: u32,
    form: u32,
}

/// A layer at which an option of a condition is decided.
#[derive(Clone, Copy, Debug)]
struct Mention {
    condition: u32,
    /// Whether it is the last option of the condition.
    last: bool,
}

/// The forms one condition takes while its options are decided.
struct Forms {
    known: Vec<Condition>,
    numbers: BTreeMap<Condition, u32>,
    steps: BTreeMap<(u32, usize, bool), u32>,
}

const MET: u32 = 0;
const UNMET: u32 = 1;
const WHOLE: u32 = 2;

impl Forms {
    fn of(condition: &Condition, options: usize) -> Self {
        let mut whole = condition.simplified();
        for &outside in condition.options().range(OptionIndex(options)..) {
            whole = whole.given(outside, false);
        }
        let known = vec![Condition::Always, Condition::never(), whole];
        let numbers = known
            .iter()
            .enumerate()
            .rev()
            .map(|(number, form)| (form.clone(), number as u32))
            .collect();
        Self {
            known,
            numbers,
            steps: BTreeMap::new(),
        }
    }

    fn start(&self) -> u32 {
        self.numbers[&self.known[WHOLE as usize]]
    }

    fn step(&mut self, form: u32, option: OptionIndex, fitted: bool) -> u32 {
        if let Some(&next) = self.steps.get(&(form, option.0, fitted)) {
            return next;
        }
        let next = self.known[form as usize].given(option, fitted);
        let number = *self.numbers.entry(next.clone()).or_insert_with(|| {
            self.known.push(next);
            self.known.len() as u32 - 1
        });
        self.steps.insert((form, option.0, fitted), number);
        number
    }
}

impl BoatSet {
    /// These boats with each condition decided on the way. The order is best made for the
    /// conditions, see [`BoatSet::for_asking`].
    ///
    /// # Errors
    /// [`TooWide`] if rules and conditions tie too many options together.
    pub fn firings(&self, conditions: Vec<Condition>) -> Result<Firings, TooWide> {
        let count = self.option_count();
        let mut forms: Vec<Forms> = conditions.iter().map(|c| Forms::of(c, count)).collect();
        let mut at_start = Decided::default();
        let mut mentions: Vec<Vec<Mention>> = vec![Vec::new(); count];
        for (number, form) in forms.iter().enumerate() {
            match form.start() {
                MET => at_start.met.push(number as u32),
                UNMET => at_start.unmet.push(number as u32),
                start => {
                    let asked = form.known[start as usize].options();
                    let last = self.order.iter().rposition(|option| asked.contains(option));
                    for (layer, option) in self.order.iter().enumerate() {
                        if asked.contains(option) {
                            mentions[layer].push(Mention {
                                condition: number as u32,
                                last: Some(layer) == last,
                            });
                        }
                    }
                }
            }
        }
        let mut lists = Lists::default();
        let mut states: Vec<(u32, Vec<Open>)> = Vec::new();
        if !self.is_empty() {
            states.push((0, Vec::new()));
        }
        let mut raw = Vec::with_capacity(count);
        let mut total = states.len();
        for (layer, &option) in self.order.iter().enumerate() {
            let mut known: BTreeMap<(u32, Vec<Open>), u32> = BTreeMap::new();
            let mut forks = Vec::with_capacity(states.len());
            for (node, open) in &states {
                let mut arrow = |fitted: bool| {
                    let to = self.layers.follow(layer, *node, fitted);
                    if to == NONE {
                        return NOWHERE;
                    }
                    let (open, decided) = step(&mut forms, &mentions[layer], open, option, fitted);
                    let number = known.len() as u32;
                    Arrow {
                        to: *known.entry((to, open)).or_insert(number),
                        decides: lists.number(decided),
                    }
                };
                forks.push(Fork {
                    left_out: arrow(false),
                    fitted: arrow(true),
                });
            }
            total += known.len();
            if total > MOST_STATES {
                return Err(TooWide {
                    limit: MOST_STATES,
                    decided: layer + 1,
                    options: count,
                    subject: TooWideSubject::Condition,
                });
            }
            let mut numbered: Vec<_> = known.into_iter().collect();
            numbered.sort_unstable_by_key(|(_, number)| *number);
            states = numbered.into_iter().map(|(state, _)| state).collect();
            raw.push(forks);
        }
        Ok(Firings {
            order: self.order.clone(),
            conditions,
            layers: merge(raw, !self.is_empty()),
            decided: lists.lists,
            at_start,
            any: !self.is_empty(),
        })
    }
}

/// What stays open and what is decided when the option of a layer is.
fn step(
    forms: &mut [Forms],
    mentioned: &[Mention],
    open: &[Open],
    option: OptionIndex,
    fitted: bool,
) -> (Vec<Open>, Decided) {
    let mut next: Vec<Open> = open
        .iter()
        .filter(|open| mentioned.iter().all(|m| m.condition != open.condition))
        .cloned()
        .collect();
    let mut decided = Decided::default();
    for mention in mentioned {
        let condition = mention.condition;
        let own = &mut forms[condition as usize];
        let before = open.iter().find(|open| open.condition == condition);
        let before = before.map_or_else(|| own.start(), |open| open.form);
        let form = if before == MET || before == UNMET {
            before
        } else {
            let form = own.step(before, option, fitted);
            match form {
                MET => decided.met.push(condition),
                UNMET => decided.unmet.push(condition),
                _ => {}
            }
            form
        };
        // Kept though decided, so that a later option of it does not decide it again.
        if !mention.last {
            next.push(Open { condition, form });
        }
    }
    next.sort_unstable();
    (next, decided)
}

/// Lists of decided conditions, each kept once.
struct Lists {
    lists: Vec<Decided>,
    numbers: BTreeMap<Decided, u32>,
}

impl Default for Lists {
    fn default() -> Self {
        Self {
            lists: vec![Decided::default()],
            numbers: BTreeMap::from([(Decided::default(), 0)]),
        }
    }
}

impl Lists {
    fn number(&mut self, decided: Decided) -> u32 {
        if let Some(&known) = self.numbers.get(&decided) {
            return known;
        }
        let number = self.lists.len() as u32;
        self.lists.push(decided.clone());
        self.numbers.insert(decided, number);
        number
    }
}

/// Merges from the last layer up: equal forks become one.
fn merge(mut raw: Vec<Vec<Fork>>, any: bool) -> Vec<Vec<Fork>> {
    let mut renumbered: Vec<u32> = if any { vec![0] } else { Vec::new() };
    for forks in raw.iter_mut().rev() {
        let follow = |arrow: Arrow| match renumbered.get(arrow.to as usize) {
            Some(&to) => Arrow { to, ..arrow },
            None => NOWHERE,
        };
        let mut known: BTreeMap<Fork, u32> = BTreeMap::new();
        let mut kept = Vec::new();
        let numbers = forks
            .iter()
            .map(|fork| {
                let fork = Fork {
                    left_out: follow(fork.left_out),
                    fitted: follow(fork.fitted),
                };
                *known.entry(fork).or_insert_with(|| {
                    kept.push(fork);
                    kept.len() as u32 - 1
                })
            })
            .collect();
        renumbered = numbers;
        *forks = kept;
    }
    raw
}

impl Firings {
    /// The conditions, by number.
    pub fn conditions(&self) -> &[Condition] {
        &self.conditions
    }

    /// Number of nodes; every pass costs time in proportion.
    pub fn node_count(&self) -> usize {
        self.layers.iter().map(Vec::len).sum()
    }

    /// For each list of decided conditions its weight, or `None` where the boats looked at do not
    /// take such an arrow; `None` in all where they are none from the start.
    pub(super) fn gains(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Option<(f64, Vec<Option<f64>>)> {
        let gain = |decided: &Decided| {
            let against = |of: &[u32], wrong: bool| {
                of.iter()
                    .any(|number| held[*number as usize] == Some(wrong))
            };
            if against(&decided.met, false) || against(&decided.unmet, true) {
                return None;
            }
            // Not sum(): that of nothing is -0.
            let weights = decided.met.iter().map(|number| weights[*number as usize]);
            Some(weights.fold(0.0, |sum, weight| sum + weight))
        };
        if !self.any {
            return None;
        }
        let start = gain(&self.at_start)?;
        Some((start, self.decided.iter().map(gain).collect()))
    }

    pub(super) fn layers(&self) -> &[Vec<Fork>] {
        &self.layers
    }

    /// The heaviest of the boats that meet or do not meet the conditions `held` so: its weight,
    /// the sum of the weights of the conditions it meets, and the boat. Weights may be negative
    /// and must be finite; of equals the one found by leaving out options first. `None` if there
    /// is no such boat.
    ///
    /// # Panics
    /// If there is not one weight and one entry in `held` for each condition.
    pub fn heaviest(&self, weights: &[f64], held: &[Option<bool>]) -> Option<(f64, Way)> {
        assert_eq!(weights.len(), self.conditions.len(), "one weight each");
        assert_eq!(held.len(), self.conditions.len(), "one entry each");
        let (start, gains) = self.gains(weights, held)?;
        let mut below = vec![0.0];
        let mut choices: Vec<Vec<bool>> = Vec::with_capacity(self.layers.len());
        for forks in self.layers.iter().rev() {
            let reach = |arrow: Arrow| {
                let after = below.get(arrow.to as usize).copied()?;
                Some(gains[arrow.decides as usize]? + after)
                    .filter(|sum: &f64| *sum > f64::NEG_INFINITY)
            };
            let mut sums = Vec::with_capacity(forks.len());
            let mut fitted = Vec::with_capacity(forks.len());
            for fork in forks {
                let (out, on) = (reach(fork.left_out), reach(fork.fitted));
                let take = match (out, on) {
                    (Some(out), Some(on)) => on > out,
                    (None, Some(_)) => true,
                    _ => false,
                };
                let best = if take { on } else { out };
                sums.push(best.unwrap_or(f64::NEG_INFINITY));
                fitted.push(take);
            }
            below = sums;
            choices.push(fitted);
        }
        choices.reverse();
        let best = below[0];
        (best > f64::NEG_INFINITY).then(|| (start + best, self.way(&choices)))
    }

    /// The same among boats on which the conditions met count for at least so many. `None` if there
    /// is no such boat.
    pub fn heaviest_with(
        &self,
        weights: &[f64],
        (counts, least): (&[u32], u32),
        held: &[Option<bool>],
    ) -> Option<(f64, Way)> {
        let (start, gains) = self.gains(weights, held)?;
        let count_of = |decided: &Decided| -> usize {
            let met = decided.met.iter().map(|number| counts[*number as usize]);
            met.sum::<u32>() as usize
        };
        let counted: Vec<usize> = self.decided.iter().map(count_of).collect();
        let wanted = (least as usize).saturating_sub(count_of(&self.at_start));
        let none = f64::NEG_INFINITY;
        // For each node the best sum on when so many are still wanted.
        let mut below = vec![vec![none; wanted + 1]];
        below[0][0] = 0.0;
        let mut choices: Vec<Vec<Vec<bool>>> = Vec::with_capacity(self.layers.len());
        for forks in self.layers.iter().rev() {
            let reach = |arrow: Arrow, left: usize| {
                let gain = gains[arrow.decides as usize]?;
                let after = below.get(arrow.to as usize)?;
                let sum = gain + after[left.saturating_sub(counted[arrow.decides as usize])];
                (sum > none).then_some(sum)
            };
            let mut sums = Vec::with_capacity(forks.len());
            let mut fitted = Vec::with_capacity(forks.len());
            for fork in forks {
                let both = (0..=wanted).map(|left| {
                    let (out, on) = (reach(fork.left_out, left), reach(fork.fitted, left));
                    let take = on.is_some_and(|on| out.is_none_or(|out| on > out));
                    (if take { on } else { out }.unwrap_or(none), take)
                });
                let (sum, take): (Vec<f64>, Vec<bool>) = both.unzip();
                sums.push(sum);
                fitted.push(take);
            }
            below = sums;
            choices.push(fitted);
        }
        choices.reverse();
        let best = below[0][wanted];
        if best == none {
            return None;
        }
        let mut boat = Boat::bare();
        let (mut node, mut left) = (0, wanted);
        for ((forks, fitted), &option) in self.layers.iter().zip(&choices).zip(&self.order) {
            let arrow = if fitted[node][left] {
                boat.add(option);
                forks[node].fitted
            } else {
                forks[node].left_out
            };
            left = left.saturating_sub(counted[arrow.decides as usize]);
            node = arrow.to as usize;
        }
        Some((start + best, self.way_of(&boat)))
    }

    fn way(&self, choices: &[Vec<bool>]) -> Way {
        let mut boat = Boat::bare();
        let mut met = vec![false; self.conditions.len()];
        let mut mark = |decided: &Decided| {
            for number in &decided.met {
                met[*number as usize] = true;
            }
        };
        mark(&self.at_start);
        let mut node = 0;
        for ((forks, fitted), &option) in self.layers.iter().zip(choices).zip(&self.order) {
            let fork = forks[node];
            let arrow = if fitted[node] {
                boat.add(option);
                fork.fitted
            } else {
                fork.left_out
            };
            mark(&self.decided[arrow.decides as usize]);
            node = arrow.to as usize;
        }
        Way { boat, met }
    }

    /// How many lists of decided conditions there are.
    pub(super) fn decided_count(&self) -> usize {
        self.decided.len()
    }

    /// The boat reached by these decisions, layer by layer.
    pub(super) fn along(&self, path: &[(usize, bool)]) -> Way {
        let fitted = path.iter().filter(|(_, fitted)| *fitted);
        self.way_of(&fitted.map(|(layer, _)| self.order[*layer]).collect())
    }

    /// One boat with the conditions it meets.
    pub fn way_of(&self, boat: &Boat) -> Way {
        Way {
            boat: boat.clone(),
            met: self.conditions.iter().map(|c| c.holds(boat)).collect(),
        }
    }

    /// For each condition whether it is met on the boats that meet the `held` ones so; `None` if
    /// there is no such boat.
    pub fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        let weights = vec![0.0; self.conditions.len()];
        let (_, gains) = self.gains(&weights, held)?;
        let alive = self.alive(&gains);
        if !alive[0][0] {
            return None;
        }
        let mut used = vec![false; self.decided.len()];
        let mut reached = vec![true];
        for (layer, forks) in self.layers.iter().enumerate() {
            let mut next = vec![false; alive[layer + 1].len()];
            for (fork, _) in forks.iter().zip(&reached).filter(|(_, reached)| **reached) {
                for arrow in [fork.left_out, fork.fitted] {
                    let leads = arrow.to != NONE
                        && gains[arrow.decides as usize].is_some()
                        && alive[layer + 1][arrow.to as usize];
                    if leads {
                        used[arrow.decides as usize] = true;
                        next[arrow.to as usize] = true;
                    }
                }
            }
            reached = next;
        }
        let mut seen = vec![(false, false); self.conditions.len()];
        let lists = self.decided.iter().zip(&used).filter(|(_, used)| **used);
        for decided in lists.map(|(list, _)| list).chain([&self.at_start]) {
            for number in &decided.met {
                seen[*number as usize].0 = true;
            }
            for number in &decided.unmet {
                seen[*number as usize].1 = true;
            }
        }
        let presence = seen.into_iter().map(|seen| match seen {
            (true, true) => Presence::Some,
            (true, false) => Presence::Always,
            (false, _) => Presence::Never,
        });
        Some(presence.collect())
    }

    /// Which nodes of each layer, the end included, still reach the end.
    fn alive(&self, gains: &[Option<f64>]) -> Vec<Vec<bool>> {
        let mut alive = vec![vec![true]];
        for forks in self.layers.iter().rev() {
            let below = &alive[alive.len() - 1];
            let leads = |arrow: Arrow| {
                gains[arrow.decides as usize].is_some()
                    && below.get(arrow.to as usize).copied().unwrap_or(false)
            };
            let here = forks
                .iter()
                .map(|fork| leads(fork.left_out) || leads(fork.fitted))
                .collect();
            alive.push(here);
        }
        alive.reverse();
        alive
    }

    /// How many boats meet or do not meet the conditions `held` so.
    pub fn count(&self, held: &[Option<bool>]) -> BigUint {
        let weights = vec![0.0; self.conditions.len()];
        let Some((_, gains)) = self.gains(&weights, held) else {
            return BigUint::ZERO;
        };
        let mut counts = self.counts(&gains);
        counts[0].swap_remove(0)
    }

    /// For each node of each layer, the end included, how many boats follow.
    pub(super) fn counts(&self, gains: &[Option<f64>]) -> Vec<Vec<BigUint>> {
        let mut counts = vec![vec![BigUint::from(1u8)]];
        for forks in self.layers.iter().rev() {
            let below = &counts[counts.len() - 1];
            let after = |arrow: Arrow| match (
                gains[arrow.decides as usize],
                below.get(arrow.to as usize),
            ) {
                (Some(_), Some(count)) => count.clone(),
                _ => BigUint::ZERO,
            };
            let here = forks
                .iter()
                .map(|fork| after(fork.left_out) + after(fork.fitted))
                .collect();
            counts.push(here);
        }
        counts.reverse();
        counts
    }
}
