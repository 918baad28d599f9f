//! The heaviest boat of several groups: they are drawn to agree on one.

use super::{Apart, Group};
use crate::boats::asking::Asking;
use crate::boats::boat::Boat;
use crate::boats::diagram::{TooWide, TooWideSubject};
use crate::boats::firing::Way;
use crate::boats::rules::OptionIndex;

/// Nodes passed for one question before it is given up (our practice: seconds).
const MOST_WORK: usize = 500_000_000;
/// Times prices are set anew for all boats, and for some of them.
const ROUNDS_AT_ROOT: usize = 60;
const ROUNDS_BELOW: usize = 3;
/// What counts as nothing, in parts of the weights: rounding of sums.
const NOTHING: f64 = 1e-12;

/// Some of the boats: options taken so, with the prices found for them.
struct Region {
    bound: f64,
    held: Vec<Option<bool>>,
    /// For each group what each option costs or brings there; over the groups they add up to 0.
    prices: Vec<Vec<f64>>,
}

/// What the groups say of a region.
struct Said {
    bound: f64,
    boats: Vec<Boat>,
}

/// One question put to several groups.
struct Agreement<'a> {
    of: &'a Apart,
    groups: &'a [&'a Group],
    weights: &'a [f64],
    shared: Vec<Vec<f64>>,
    asked_held: &'a [Option<bool>],
    /// Sum of the weights, to tell rounding by.
    scale: f64,
    best: Option<(f64, Way)>,
    rounds: usize,
}

impl Apart {
    /// The heaviest of the boats so `held`, where several groups weigh or hold something.
    pub(super) fn heaviest_of_groups(
        &self,
        groups: &[&Group],
        weights: &[f64],
        held: &[Option<bool>],
    ) -> Result<Option<(f64, Way)>, TooWide> {
        let mut agreement = Agreement {
            of: self,
            groups,
            weights,
            shared: self.shared(groups, weights),
            asked_held: held,
            scale: match weights.iter().map(|weight| weight.abs()).sum() {
                0.0 => 1.0,
                scale => scale,
            },
            best: None,
            rounds: 0,
        };
        let learned = self.learned(groups);
        let (prices, boats) = learned.unwrap_or_default();
        agreement.try_boats(&boats);
        let each = groups.iter().map(|group| group.firings.node_count());
        let each = each.sum::<usize>().max(1);
        let rounds = self.work_left().min(MOST_WORK) / each;
        let reached = agreement.reach(held, &prices, rounds);
        self.spend(agreement.rounds * each);
        reached.map(|()| agreement.best)
    }
}

impl Agreement<'_> {
    /// Starts from prices that served a question like this one, in parts of the weights.
    fn reach(
        &mut self,
        held: &[Option<bool>],
        known: &[Vec<f64>],
        most: usize,
    ) -> Result<(), TooWide> {
        let options = self.of.options.count();
        let scaled = |own: &Vec<f64>| own.iter().map(|price| price * self.scale).collect();
        let known: Vec<Vec<f64>> = known.iter().map(scaled).collect();
        let none = vec![vec![0.0; options]; self.groups.len()];
        let mut open = vec![Region {
            bound: f64::INFINITY,
            held: held.to_vec(),
            prices: if known.is_empty() { none } else { known },
        }];
        let mut rounds = ROUNDS_AT_ROOT;
        while let Some(mut region) = open.pop() {
            if self.is_beaten(region.bound) {
                continue;
            }
            if self.rounds >= most {
                return Err(TooWide {
                    limit: most,
                    decided: options,
                    options,
                    subject: TooWideSubject::Agreement,
                });
            }
            let Some(said) = self.priced(&mut region, rounds) else {
                continue;
            };
            if rounds == ROUNDS_AT_ROOT {
                self.learn(&region.prices);
                rounds = ROUNDS_BELOW;
            }
            if self.is_beaten(region.bound) {
                continue;
            }
            let Some(option) = self.dividing(&said) else {
                continue;
            };
            for fitted in [true, false] {
                let mut held = region.held.clone();
                if let Some(number) = self.of.of_option[option] {
                    held[number] = Some(fitted);
                }
                open.push(Region {
                    bound: region.bound,
                    held,
                    prices: region.prices.clone(),
                });
            }
            // The region that may hold most comes last.
            open.sort_by(|a, b| a.bound.total_cmp(&b.bound));
        }
        Ok(())
    }

    fn learn(&self, prices: &[Vec<f64>]) {
        let part = |own: &Vec<f64>| own.iter().map(|price| price / self.scale).collect();
        let prices = prices.iter().map(part).collect();
        let best = self.best.as_ref().map(|(_, way)| way.boat.clone());
        self.of.learn(self.groups, prices, best);
    }

    fn is_beaten(&self, bound: f64) -> bool {
        let best = self.best.as_ref();
        best.is_some_and(|(best, _)| bound - best <= NOTHING * self.scale)
    }

    /// Sets prices anew as long as it lowers the bound; what the groups say at the lowest.
    fn priced(&mut self, region: &mut Region, rounds: usize) -> Option<Said> {
        let mut prices = region.prices.clone();
        let mut lowest: Option<Said> = None;
        let mut pace = 1.0;
        for _ in 0..rounds {
            let said = self.say(&region.held, &prices)?;
            let lower = lowest.as_ref().is_none_or(|known| said.bound < known.bound);
            pace = if lower { pace } else { 0.7 * pace };
            let step = self.step(&said, pace);
            if lower {
                region.prices.clone_from(&prices);
                region.bound = region.bound.min(said.bound);
                lowest = Some(said);
            }
            let Some((length, turned)) = step else { break };
            if self.is_beaten(region.bound) {
                break;
            }
            for (own, turned) in prices.iter_mut().zip(turned) {
                for (price, turned) in own.iter_mut().zip(turned) {
                    *price -= length * turned;
                }
            }
        }
        lowest
    }

    /// How far and which way prices go: against what a group has more than all on average. `None`
    /// where all have the same.
    fn step(&self, said: &Said, pace: f64) -> Option<(f64, Vec<Vec<f64>>)> {
        let count = said.boats.len() as f64;
        let options = self.of.options.count();
        let has = |boat: &Boat, option| f64::from(u8::from(boat.has(OptionIndex(option))));
        let average: Vec<f64> = (0..options)
            .map(|option| said.boats.iter().map(|boat| has(boat, option)).sum::<f64>() / count)
            .collect();
        let turned: Vec<Vec<f64>> = said
            .boats
            .iter()
            .map(|boat| (0..options).map(|o| has(boat, o) - average[o]).collect())
            .collect();
        let square: f64 = turned.iter().flatten().map(|turned| turned * turned).sum();
        if square == 0.0 {
            return None;
        }
        let best = self.best.as_ref().map_or(0.0, |(best, _)| *best);
        let over = (said.bound - best).max(1e-6 * self.scale);
        Some((pace * over / square, turned))
    }

    /// Asks each group for its heaviest boat; `None` where one has none.
    fn say(&mut self, held: &[Option<bool>], prices: &[Vec<f64>]) -> Option<Said> {
        self.rounds += 1;
        let mut said = Said {
            bound: 0.0,
            boats: Vec::with_capacity(self.groups.len()),
        };
        for ((group, own), prices) in self.groups.iter().zip(&self.shared).zip(prices) {
            let weights = group.numbers.iter().zip(own).map(|(number, own)| {
                match self.of.option_of(*number) {
                    Some(option) => own + prices[option.0],
                    None => *own,
                }
            });
            let weights: Vec<f64> = weights.collect();
            let (weight, way) = group.firings.heaviest(&weights, &group.own(held))?;
            said.bound += weight;
            said.boats.push(way.boat);
        }
        self.try_all(&said);
        Some(said)
    }

    /// Weighs what the groups found, each once, and what most of them have.
    fn try_all(&mut self, said: &Said) {
        let mut votes = vec![0.0; self.groups[0].numbers.len()];
        for (vote, number) in votes.iter_mut().zip(&self.groups[0].numbers) {
            if let Some(option) = self.of.option_of(*number) {
                let with = said.boats.iter().filter(|boat| boat.has(option)).count();
                *vote = 2.0 * with as f64 - said.boats.len() as f64 + 0.5;
            }
        }
        let first = &self.groups[0];
        let voted = first.firings.heaviest(&votes, &first.own(self.asked_held));
        let voted = voted.map(|(_, way)| way.boat);
        let mut tried: Vec<Boat> = Vec::new();
        for boat in voted.into_iter().chain(said.boats.iter().cloned()) {
            if !tried.contains(&boat) {
                tried.push(boat);
            }
        }
        self.try_boats(&tried);
    }

    /// Keeps the heaviest that is as asked.
    fn try_boats(&mut self, boats: &[Boat]) {
        for boat in boats {
            let way = self.of.way_of(boat);
            let mut pairs = self.asked_held.iter().zip(&way.met);
            if !pairs.all(|(held, met)| held.is_none_or(|held| held == *met)) {
                continue;
            }
            let met = self.weights.iter().zip(&way.met).filter(|(_, met)| **met);
            let weight = met.fold(0.0, |sum, (weight, _)| sum + weight);
            if self.best.as_ref().is_none_or(|(best, _)| weight > *best) {
                self.best = Some((weight, way));
            }
        }
    }

    /// The option in which the groups differ most evenly: those held they have alike.
    fn dividing(&self, said: &Said) -> Option<usize> {
        let count = said.boats.len();
        let differing = (0..self.of.options.count()).filter_map(|option| {
            let boats = said.boats.iter();
            let with = boats.filter(|boat| boat.has(OptionIndex(option))).count();
            let even = with.min(count - with);
            (even > 0).then_some((even, option))
        });
        // The first of equals.
        differing
            .max_by_key(|(even, option)| (*even, usize::MAX - option))
            .map(|(_, option)| option)
    }
}
