//! A diagram for each question, where one with all conditions is too wide.
//!
//! A question weighs or holds few of the conditions of a model, so the diagram is walked together
//! with those alone. Where even that is too wide, one option is taken as fitted and as left out in
//! turn, which leaves two narrower parts, and so on: every boat is in exactly one part, so the
//! heaviest of the parts is the heaviest of all, and their counts add up.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use num_bigint::BigUint;

use super::asking::Asking;
use super::boat::Boat;
use super::condition::Condition;
use super::diagram::{BoatSet, TooWide};
use super::firing::{Firings, Presence, Way};
use super::over::{Line, Over};
use super::rules::{OptionIndex, Options};

/// Parts of one question before it is given up (our practice: seconds, not minutes).
const MOST_PARTS: usize = 32;
/// Nodes of diagrams kept for the next question.
const MOST_KEPT: usize = 1_000_000;

/// Boats that answer each question by a diagram of its own.
#[derive(Debug)]
pub struct Apart {
    options: Options,
    boats: BoatSet,
    conditions: Vec<Condition>,
    /// States of one part.
    most_states: usize,
    kept: Mutex<Kept>,
}

/// Diagrams by the numbers of their conditions.
#[derive(Debug, Default)]
struct Kept {
    parts: BTreeMap<Vec<usize>, Result<Arc<Vec<Firings>>, TooWide>>,
    nodes: usize,
}

/// The conditions of one question, and the parts that answer it.
struct Question {
    numbers: Vec<usize>,
    parts: Arc<Vec<Firings>>,
}

impl Question {
    /// What all conditions have, for those of the question.
    fn own<T: Copy>(&self, all: &[T]) -> Vec<T> {
        self.numbers.iter().map(|number| all[*number]).collect()
    }
}

impl Apart {
    /// Boats that can be asked by these conditions; a part of a question may take so many states.
    ///
    /// # Errors
    /// [`TooWide`] if the rules alone tie too many options together.
    pub fn new(
        options: &Options,
        conditions: Vec<Condition>,
        most_states: usize,
    ) -> Result<Self, TooWide> {
        Ok(Self {
            options: options.clone(),
            boats: BoatSet::of(options)?,
            conditions,
            most_states,
            kept: Mutex::default(),
        })
    }

    /// The parts that answer a question with these conditions.
    fn question(&self, asked: impl Fn(usize) -> bool) -> Result<Question, TooWide> {
        let numbers: Vec<usize> = (0..self.conditions.len()).filter(|n| asked(*n)).collect();
        let lock = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = lock().parts.get(&numbers) {
            let parts = known.clone()?;
            return Ok(Question { numbers, parts });
        }
        let conditions = numbers.iter().map(|n| self.conditions[*n].clone());
        let found = self.parts(conditions.collect()).map(Arc::new);
        let nodes = match &found {
            Ok(parts) => parts.iter().map(Firings::node_count).sum(),
            Err(_) => 0,
        };
        let mut kept = lock();
        if kept.nodes + nodes > MOST_KEPT {
            *kept = Kept::default();
        }
        kept.nodes += nodes;
        kept.parts.insert(numbers.clone(), found.clone());
        drop(kept);
        Ok(Question {
            numbers,
            parts: found?,
        })
    }

    /// All boats in parts with these conditions decided.
    fn parts(&self, conditions: Vec<Condition>) -> Result<Vec<Firings>, TooWide> {
        let mut parts = Vec::new();
        let mut open = vec![(Vec::new(), conditions)];
        while let Some((taken, conditions)) = open.pop() {
            match self.part(&taken, &conditions) {
                Ok(part) => parts.push(part),
                Err(wide) => {
                    if parts.len() + open.len() + 2 > MOST_PARTS {
                        return Err(wide);
                    }
                    let option = most_mentioned(&conditions).ok_or(wide)?;
                    for fitted in [true, false] {
                        let mut taken: Vec<(OptionIndex, bool)> = taken.clone();
                        taken.push((option, fitted));
                        let given = conditions.iter().map(|c| c.given(option, fitted));
                        open.push((taken, given.collect()));
                    }
                }
            }
        }
        Ok(parts)
    }

    /// The boats on which options are so taken, with what is left of the conditions.
    fn part(
        &self,
        taken: &[(OptionIndex, bool)],
        conditions: &[Condition],
    ) -> Result<Firings, TooWide> {
        let with = |wanted: bool| -> Vec<OptionIndex> {
            let so = taken.iter().filter(|(_, fitted)| *fitted == wanted);
            so.map(|(option, _)| *option).collect()
        };
        let boats = BoatSet::for_asking(&self.options, conditions)?;
        let boats = boats.having(&with(true), &with(false));
        boats.firings_within(conditions.to_vec(), self.most_states)
    }

    /// The best that some part finds.
    fn best(
        &self,
        question: &Question,
        of: impl Fn(&Firings) -> Option<(f64, Way)>,
    ) -> Option<(f64, Way)> {
        let mut best: Option<(f64, Boat)> = None;
        for (weight, way) in question.parts.iter().filter_map(of) {
            if best.as_ref().is_none_or(|(most, _)| weight > *most) {
                best = Some((weight, way.boat));
            }
        }
        best.map(|(weight, boat)| (weight, self.way_of(&boat)))
    }

    fn is_option(&self, number: usize) -> bool {
        matches!(self.conditions[number], Condition::Option(_))
    }

    fn all_boats(&self) -> Over {
        Over {
            at_least: BigUint::ZERO,
            at_most: self.boats.count(),
        }
    }
}

/// The option in most of the conditions, the first of equals.
fn most_mentioned(conditions: &[Condition]) -> Option<OptionIndex> {
    let mut mentions: BTreeMap<OptionIndex, usize> = BTreeMap::new();
    // What is an option alone is decided in one step and makes nothing wide.
    let wide = conditions
        .iter()
        .filter(|condition| !matches!(condition, Condition::Option(_)));
    for option in wide.flat_map(Condition::options) {
        *mentions.entry(option).or_default() += 1;
    }
    let most = mentions.values().copied().max()?;
    let found = mentions.into_iter().find(|(_, times)| *times == most);
    found.map(|(option, _)| option)
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
        let question = self.question(|n| weights[n] != 0.0 || held[n].is_some())?;
        let (weights, held) = (question.own(weights), question.own(held));
        Ok(self.best(&question, |part| part.heaviest(&weights, &held)))
    }

    fn heavy(&self, weights: &[f64], held: &[Option<bool>]) -> Result<Option<Way>, TooWide> {
        let question = self.question(|n| held[n].is_some() || self.is_option(n))?;
        let (weights, held) = (question.own(weights), question.own(held));
        let found = self.best(&question, |part| part.heaviest(&weights, &held));
        Ok(found.map(|(_, way)| way))
    }

    fn heaviest_with(
        &self,
        weights: &[f64],
        (counts, least): (&[u32], u32),
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        let question =
            self.question(|n| weights[n] != 0.0 || counts[n] != 0 || held[n].is_some())?;
        let (weights, held) = (question.own(weights), question.own(held));
        let counts = question.own(counts);
        Ok(self.best(&question, |part| {
            part.heaviest_with(&weights, (&counts, least), &held)
        }))
    }

    fn heaviest_each(&self, weights: &[f64], held: &[Option<bool>]) -> Vec<(f64, f64)> {
        let all = self.conditions.len();
        let Ok(question) = self.question(|n| weights[n] != 0.0 || held[n].is_some()) else {
            return vec![(f64::INFINITY, f64::INFINITY); all];
        };
        let (weights, held) = (question.own(weights), question.own(held));
        let mut own = vec![(f64::NEG_INFINITY, f64::NEG_INFINITY); question.numbers.len()];
        let mut most = f64::NEG_INFINITY;
        for part in question.parts.iter() {
            for (own, part) in own.iter_mut().zip(part.heaviest_each(&weights, &held)) {
                *own = (own.0.max(part.0), own.1.max(part.1));
            }
            if let Some((weight, _)) = part.heaviest(&weights, &held) {
                most = most.max(weight);
            }
        }
        // Of a condition that is no part of the question nothing more is known.
        let mut each = vec![(most, most); all];
        for (number, own) in question.numbers.iter().zip(own) {
            each[*number] = own;
        }
        each
    }

    fn presence(&self, held: &[Option<bool>]) -> Option<Vec<Presence>> {
        let Ok(question) = self.question(|n| held[n].is_some() || self.is_option(n)) else {
            return Some(vec![Presence::Some; self.conditions.len()]);
        };
        let own = question.own(held);
        let mut of_options: BTreeMap<OptionIndex, BTreeSet<bool>> = BTreeMap::new();
        let mut any = false;
        for part in question.parts.iter() {
            let Some(presence) = part.presence(&own) else {
                continue;
            };
            any = true;
            for (number, presence) in question.numbers.iter().zip(presence) {
                let Condition::Option(option) = self.conditions[*number] else {
                    continue;
                };
                let seen: &[bool] = match presence {
                    Presence::Never => &[false],
                    Presence::Always => &[true],
                    Presence::Some => &[false, true],
                };
                of_options.entry(option).or_default().extend(seen);
            }
        }
        // A condition is decided where its options are; of others either is taken for possible.
        let on_all = |condition: &Condition| {
            let known = of_options.iter().filter(|(_, seen)| seen.len() == 1);
            let known =
                known.flat_map(|(option, seen)| seen.first().map(|fitted| (option, fitted)));
            match known.fold(condition.clone(), |condition, (option, fitted)| {
                condition.given(*option, *fitted)
            }) {
                Condition::Always => Presence::Always,
                left if left == Condition::never() => Presence::Never,
                _ => Presence::Some,
            }
        };
        let each = self.conditions.iter().zip(held);
        let presence = each.map(|(condition, held)| match held {
            Some(true) => Presence::Always,
            Some(false) => Presence::Never,
            None => on_all(condition),
        });
        any.then(|| presence.collect())
    }

    fn count(&self, held: &[Option<bool>]) -> Over {
        let Ok(question) = self.question(|n| held[n].is_some()) else {
            return self.all_boats();
        };
        let held = question.own(held);
        Over::exactly(question.parts.iter().map(|part| part.count(&held)).sum())
    }

    fn count_over(
        &self,
        lines: &[Line],
        most: usize,
        decide: &mut dyn FnMut(&Way) -> bool,
    ) -> Over {
        let weighs = |number: usize| lines.iter().any(|line| line.weights[number] != (0.0, 0.0));
        let Ok(question) = self.question(weighs) else {
            return self.all_boats();
        };
        let own: Vec<Line> = lines
            .iter()
            .map(|line| Line {
                constant: line.constant,
                weights: question.own(&line.weights),
            })
            .collect();
        let mut decide = |way: &Way| decide(&self.way_of(&way.boat));
        let mut over = Over::exactly(BigUint::ZERO);
        for part in question.parts.iter() {
            let here = part.count_over(&own, most / question.parts.len(), &mut decide);
            over.at_least += here.at_least;
            over.at_most += here.at_most;
        }
        over
    }
}
