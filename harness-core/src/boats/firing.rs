//! Boats and conditions walked together: on the way through the diagram each condition is decided
//! on one arrow, so a weight may belong to a condition instead of an option.
//!
//! Most equipment is fitted under a condition of one or two options, some where an option is
//! absent. The diagram of the rules is walked together with what is still open of each condition;
//! the arrow on which a condition is decided carries it as met or unmet. Every question with
//! weights on conditions, and some conditions held met or unmet, is then one pass.

use std::collections::BTreeMap;

use super::boat::Boat;
use super::condition::Condition;
use super::diagram::{BoatSet, TooWide, TooWideSubject};
use super::layers::NONE;
use super::rules::OptionIndex;

/// States of diagram and open conditions together before the walk is given up as too wide: each
/// carries what is open of every condition.
pub(crate) const MOST_STATES: usize = 200_000;

/// Every buildable boat with the conditions it meets.
#[derive(Clone, Debug)]
pub struct Firings {
    pub(super) order: Vec<OptionIndex>,
    pub(super) conditions: Vec<Condition>,
    pub(super) layers: Vec<Vec<Fork>>,
    /// What arrows decide, each list once; number 0 decides nothing.
    pub(super) decided: Vec<Decided>,
    /// Decided before any option is.
    pub(super) at_start: Decided,
    pub(super) any: bool,
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
pub(super) struct Decided {
    pub(super) met: Vec<u32>,
    pub(super) unmet: Vec<u32>,
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
        self.firings_within(conditions, MOST_STATES)
    }

    /// The same with so many states at most.
    pub(crate) fn firings_within(
        &self,
        conditions: Vec<Condition>,
        most_states: usize,
    ) -> Result<Firings, TooWide> {
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
            if total > most_states {
                return Err(TooWide {
                    limit: most_states,
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
