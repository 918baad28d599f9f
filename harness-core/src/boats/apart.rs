//! Boats asked by groups of conditions, where one diagram with all of them is too wide.
//!
//! Each group of conditions has a diagram of its own, with every option as a condition beside
//! them. What the groups weigh at most, each by itself, is together a bound for the heaviest boat.
//! Prices on the options, added in one group and taken off in another, draw the groups to the same
//! boat and lower the bound (dual decomposition: M. Guignard and S. Kim, *Lagrangean
//! decomposition*, Mathematical Programming 39, 1987, from memory; step of B. Polyak, from
//! memory). Where they still differ, an option in which they do is taken as fitted and as left out
//! in turn. The answer is exact: it ends when the bound meets the weight of a boat.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use num_bigint::BigUint;

use super::asking::Asking;
use super::boat::Boat;
use super::condition::Condition;
use super::diagram::{BoatSet, TooWide};
use super::firing::{Firings, Presence, Way};
use super::over::{Line, Over};
use super::rules::{OptionIndex, Options};

mod agree;
#[cfg(test)]
mod tests;

/// Nodes of diagrams kept for the next question.
const MOST_KEPT: usize = 1_000_000;

/// Boats asked by groups of conditions.
#[derive(Debug)]
pub struct Apart {
    options: Options,
    boats: BoatSet,
    conditions: Vec<Condition>,
    /// Number of the condition that is one option alone; `None` where there is none.
    of_option: Vec<Option<usize>>,
    groups: Vec<Group>,
    /// States of one diagram besides those of the rules.
    most_states: usize,
    kept: Mutex<Kept>,
    memory: Mutex<Memory>,
}

/// What questions leave for the next.
#[derive(Debug)]
struct Memory {
    /// By the first conditions of the groups.
    learned: BTreeMap<Vec<usize>, Learned>,
    /// Nodes that may still be passed for all questions, until the answers are settled.
    left: usize,
    settled: bool,
}

/// Nodes passed for all questions asked one after the other (our practice: about a minute).
const MOST_WORK_IN_ALL: usize = 10_000_000_000;

/// Prices of options in each group, in parts of the weights, and boats that were heaviest.
type Learned = (Vec<Vec<f64>>, Vec<Boat>);

/// Boats remembered with the prices.
const MOST_BOATS: usize = 8;

/// Conditions of a question that gets a diagram of its own at once.
const MOST_ALONE: usize = 12;

/// Some of the conditions, decided together.
#[derive(Clone, Debug)]
struct Group {
    numbers: Vec<usize>,
    firings: Arc<Firings>,
}

/// Diagrams for single questions, by the numbers of their conditions.
#[derive(Debug, Default)]
struct Kept {
    found: BTreeMap<Vec<usize>, Result<Arc<Firings>, TooWide>>,
    nodes: usize,
}

impl Group {
    /// What all conditions have, for those of the group.
    fn own<T: Copy>(&self, all: &[T]) -> Vec<T> {
        self.numbers.iter().map(|number| all[*number]).collect()
    }
}

impl Kept {
    /// Keeps one more; of more than `most` nodes together only the new one.
    fn keep(&mut self, numbers: Vec<usize>, found: Result<Arc<Firings>, TooWide>, most: usize) {
        let nodes = found.as_ref().map_or(0, |firings| firings.node_count());
        if self.nodes + nodes > most {
            *self = Self::default();
        }
        self.nodes += nodes;
        self.found.insert(numbers, found);
    }
}

impl Apart {
    /// Boats that can be asked by these conditions, and by each option alone. A group holds so many
    /// conditions, and a diagram so many states more than the rules have.
    ///
    /// # Errors
    /// [`TooWide`] if the rules alone tie too many options together, or one condition does.
    pub fn new(
        options: &Options,
        mut conditions: Vec<Condition>,
        (most_together, most_states): (usize, usize),
    ) -> Result<Self, TooWide> {
        let every = (0..options.count()).map(|at| Condition::Option(OptionIndex(at)));
        let missing: Vec<_> = every.filter(|one| !conditions.contains(one)).collect();
        conditions.extend(missing);
        let mut of_option = vec![None; options.count()];
        let mut open: Vec<usize> = Vec::new();
        for (number, condition) in conditions.iter().enumerate() {
            match condition {
                Condition::Option(option)
                    if of_option.get(option.0).is_some_and(Option::is_none) =>
                {
                    of_option[option.0] = Some(number);
                }
                _ => open.push(number),
            }
        }
        // Conditions with the same options lie together.
        open.sort_by_key(|number| (conditions[*number].options(), *number));
        let mut apart = Self {
            options: options.clone(),
            boats: BoatSet::of(options)?,
            conditions,
            of_option,
            groups: Vec::new(),
            most_states,
            kept: Mutex::default(),
            memory: Mutex::new(Memory {
                learned: BTreeMap::new(),
                left: MOST_WORK_IN_ALL,
                settled: false,
            }),
        };
        apart.groups = apart.grouped(&open, most_together)?;
        Ok(apart)
    }

    /// Groups as large as their diagrams may be, in the order of the conditions.
    fn grouped(&self, open: &[usize], most: usize) -> Result<Vec<Group>, TooWide> {
        let mut groups = Vec::new();
        let mut left = open;
        let mut size = left.len().clamp(1, most);
        loop {
            let (these, others) = left.split_at(size.min(left.len()));
            let mut numbers: Vec<usize> = these.to_vec();
            numbers.extend(self.of_option.iter().flatten());
            match self.decided(&numbers) {
                Ok(firings) => {
                    groups.push(Group {
                        numbers,
                        firings: Arc::new(firings),
                    });
                    left = others;
                }
                Err(wide) if size == 1 => return Err(wide),
                Err(_) => size = these.len().div_ceil(2),
            }
            if left.is_empty() {
                return Ok(groups);
            }
        }
    }

    fn key(groups: &[&Group]) -> Vec<usize> {
        let first = groups.iter().filter_map(|group| group.numbers.first());
        first.copied().collect()
    }

    fn memory(&self) -> MutexGuard<'_, Memory> {
        self.memory.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What a question to the same groups left.
    fn learned(&self, groups: &[&Group]) -> Option<Learned> {
        self.memory().learned.get(&Self::key(groups)).cloned()
    }

    fn learn(&self, groups: &[&Group], prices: Vec<Vec<f64>>, best: Option<Boat>) {
        let mut memory = self.memory();
        if memory.settled {
            return;
        }
        let known = memory.learned.entry(Self::key(groups)).or_default();
        known.0 = prices;
        if let Some(best) = best.filter(|best| !known.1.contains(best)) {
            known.1.insert(0, best);
            known.1.truncate(MOST_BOATS);
        }
    }

    fn work_left(&self) -> usize {
        let memory = self.memory();
        if memory.settled {
            usize::MAX
        } else {
            memory.left
        }
    }

    fn spend(&self, work: usize) {
        let mut memory = self.memory();
        if !memory.settled {
            memory.left = memory.left.saturating_sub(work);
        }
    }

    /// In how many groups the conditions come.
    pub fn group_count(&self) -> usize {
        self.groups.len()
    }

    fn decided(&self, numbers: &[usize]) -> Result<Firings, TooWide> {
        let conditions = numbers.iter().map(|n| self.conditions[*n].clone());
        let conditions: Vec<Condition> = conditions.collect();
        let boats = BoatSet::for_asking(&self.options, &conditions)?;
        let most = self.most_states + boats.node_count();
        boats.firings_within(conditions, most)
    }

    /// A diagram for one question.
    fn alone(&self, asked: impl Fn(usize) -> bool) -> Result<Group, TooWide> {
        let numbers: Vec<usize> = (0..self.conditions.len()).filter(|n| asked(*n)).collect();
        let lock = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lock().found.get(&numbers).cloned();
        let found = known.unwrap_or_else(|| {
            let found = self.decided(&numbers).map(Arc::new);
            lock().keep(numbers.clone(), found.clone(), MOST_KEPT);
            found
        });
        found.map(|firings| Group { numbers, firings })
    }

    /// The option that a condition is alone, if that is where the option is asked.
    fn option_of(&self, number: usize) -> Option<OptionIndex> {
        match self.conditions[number] {
            Condition::Option(option) => {
                (self.of_option.get(option.0) == Some(&Some(number))).then_some(option)
            }
            _ => None,
        }
    }

    fn is_option(&self, number: usize) -> bool {
        self.option_of(number).is_some()
    }

    /// The groups that a question weighs or holds something in; at least one.
    fn asked(&self, asked: impl Fn(usize) -> bool) -> Vec<&Group> {
        let own = |group: &&Group| {
            let mut numbers = group.numbers.iter();
            numbers.any(|number| !self.is_option(*number) && asked(*number))
        };
        let groups: Vec<&Group> = self.groups.iter().filter(own).collect();
        if groups.is_empty() {
            self.groups.iter().take(1).collect()
        } else {
            groups
        }
    }

    /// The weights by groups, those of options in the first.
    fn shared(&self, groups: &[&Group], weights: &[f64]) -> Vec<Vec<f64>> {
        let own = groups.iter().enumerate().map(|(at, group)| {
            let numbers = group.numbers.iter();
            let own = numbers.map(|number| match self.is_option(*number) && at > 0 {
                true => 0.0,
                false => weights[*number],
            });
            own.collect()
        });
        own.collect()
    }
}

impl Asking for Apart {
    fn conditions(&self) -> &[Condition] {
        &self.conditions
    }

    fn heaviest(
        &self,
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        let asked = |number: usize| weights[number] != 0.0 || held[number].is_some();
        let groups = self.asked(asked);
        let of_one = |one: &Group| {
            let found = one.firings.heaviest(&one.own(weights), &one.own(held));
            found.map(|(weight, way)| (weight, self.way_of(&way.boat)))
        };
        if let [one] = groups.as_slice() {
            return Ok(of_one(one));
        }
        let numbers = 0..self.conditions.len();
        let few = numbers.filter(|number| asked(*number) && !self.is_option(*number));
        if few.count() <= MOST_ALONE
            && let Ok(one) = self.alone(asked)
        {
            return Ok(of_one(&one));
        }
        self.heaviest_of_groups(&groups, weights, held)
    }

    fn heavy(&self, weights: &[f64], held: &[Option<bool>]) -> Result<Option<Way>, TooWide> {
        let of_options = weights.iter().enumerate();
        let of_options = of_options.map(|(n, weight)| match self.is_option(n) {
            true => *weight,
            false => 0.0,
        });
        let found = self.heaviest(&of_options.collect::<Vec<_>>(), held)?;
        Ok(found.map(|(_, way)| way))
    }

    fn heaviest_with(
        &self,
        weights: &[f64],
        (counts, least): (&[u32], u32),
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        let one = self.alone(|n| weights[n] != 0.0 || counts[n] != 0 || held[n].is_some())?;
        let (weights, held) = (one.own(weights), one.own(held));
        let counts = one.own(counts);
        let found = one.firings.heaviest_with(&weights, (&counts, least), &held);
        Ok(found.map(|(weight, way)| (weight, self.way_of(&way.boat))))
    }

    fn is_quick(&self) -> bool {
        false
    }

    fn settle(&self) {
        self.memory().settled = true;
    }

    fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)> {
        let groups = self.asked(|n| weights[n] != 0.0 || held[n].is_some());
        let own: Vec<Vec<(f64, f64)>> = groups
            .iter()
            .zip(self.shared(&groups, weights))
            .map(|(group, weights)| group.firings.heaviest_each(&weights, &group.own(held)))
            .collect();
        let most_of = |each: &Vec<(f64, f64)>| {
            let first = each.first();
            first.map_or(0.0, |(unmet, met)| unmet.max(*met))
        };
        let most: f64 = own.iter().map(most_of).sum();
        let mut each = vec![(most, most); self.conditions.len()];
        for (group, own) in groups.iter().zip(own) {
            let others = most - most_of(&own);
            for (number, (unmet, met)) in group.numbers.iter().zip(own) {
                let known = &mut each[*number];
                *known = (known.0.min(unmet + others), known.1.min(met + others));
            }
        }
        each
    }

    fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        let mut all = vec![Presence::Some; self.conditions.len()];
        for group in &self.groups {
            let presence = group.firings.presence(&group.own(held))?;
            for (number, presence) in group.numbers.iter().zip(presence) {
                if presence != Presence::Some {
                    all[*number] = presence;
                }
            }
        }
        Some(all)
    }

    fn count(&self, held: &[Option<bool>]) -> Over {
        match self.alone(|n| held[n].is_some()) {
            Ok(one) => Over::exactly(one.firings.count(&one.own(held))),
            Err(_) => {
                let groups = self.groups.iter();
                let counts = groups.map(|group| group.firings.count(&group.own(held)));
                Over {
                    at_least: BigUint::ZERO,
                    at_most: counts.min().unwrap_or_default(),
                }
            }
        }
    }

    fn count_over(
        &self,
        lines: &[Line],
        most: usize,
        decide: &mut dyn FnMut(&Way) -> bool,
    ) -> Over {
        let weighs = |number: usize| lines.iter().any(|line| line.weights[number] != (0.0, 0.0));
        let Ok(one) = self.alone(weighs) else {
            return Over {
                at_least: BigUint::ZERO,
                at_most: self.boats.count(),
            };
        };
        let own: Vec<Line> = lines
            .iter()
            .map(|line| Line {
                constant: line.constant,
                weights: one.own(&line.weights),
            })
            .collect();
        let mut decide = |way: &Way| decide(&self.way_of(&way.boat));
        one.firings.count_over(&own, most, &mut decide)
    }
}
