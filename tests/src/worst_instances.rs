//! Abstract boat models for the checks of the worst boat: options with rules, and one system of
//! loads under conditions. Invented, the same for a seed.
//!
//! Of `n` options some stand in groups of which each boat has exactly one, about `n / 4` rules
//! require an option (packages included), `n / 8` exclude one. There are `2 n` loads: a fifth on
//! every boat, three fifths under one option, a fifth under two. They hang on a tree of feeds and
//! a tree of returns of its own, with wires sized so that each loses a drawn share of the volts.

use fastrand::Rng;
use harness_core::boats::{BoatSet, Condition, Firings, OptionIndex, OptionRule, Options, TooWide};
use harness_core::model::Index;
use harness_core::network::assembly::{Known, Shared, SourceCondition};
use harness_core::network::{Behavior, Conductor, Load, Network, Prepared, Source};
use harness_core::units::{Amperes, Ohms, Volts, Watts};
use harness_core::worst::Sum;
use harness_core::worst::bounds::Factors;
use harness_core::worst::search::Search;
use harness_core::worst::systems::{Consumer, System};
use num_bigint::BigUint;
use std::collections::BTreeSet;

/// Volts of the main source.
const EMF: f64 = 12.8;
/// Part of all loads together that wires are sized for.
const AT_ONCE: f64 = 0.6;

/// Which kinds of loads there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kinds {
    /// Constant current only.
    Current,
    /// A third each of constant current, constant power and resistance.
    Mixed,
}

/// How the loads are wired.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Wiring {
    /// One source, a tree of feeds, a tree of returns.
    Tree,
    /// A second source of other volts at a junction.
    TwoSources,
    /// Two sources, each with trees of its own, whose minus poles are joined; for an odd seed some
    /// loads of one return to the other.
    TwoBanks,
    /// Feeds and returns each closed to a ring.
    Ring,
}

/// What an instance is to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    /// Number of options.
    pub options: usize,
    /// Kinds of loads.
    pub kinds: Kinds,
    /// Wiring.
    pub wiring: Wiring,
    /// Whether some loads are there where an option is absent, or under either of two, and some
    /// feed instead of draw.
    pub unusual: bool,
    /// Seed of the random numbers.
    pub seed: u64,
}

/// A stretch of a tree of feeds or returns, to a junction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The junction nearer to the source; `None` at the source itself.
    pub from: Option<usize>,
    /// Its resistance, Ω.
    pub ohm: f64,
}

/// A load where it hangs.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Junction of feeds.
    pub feed: usize,
    /// Resistance of its own feed, Ω.
    pub feed_ohm: f64,
    /// Junction of returns.
    pub back: usize,
    /// Resistance of its own return, Ω.
    pub back_ohm: f64,
    /// Boats that have it.
    pub when: Condition,
    /// What it draws.
    pub behavior: Behavior,
}

/// Options, rules and one system.
#[derive(Debug)]
pub struct Instance {
    /// What it was to be.
    pub plan: Plan,
    /// The options and their rules; some boat keeps them.
    pub options: Options,
    /// The conditions of the loads, each once, without *always*.
    pub conditions: Vec<Condition>,
    /// Stretches to the junctions of feeds.
    pub feeds: Vec<Stretch>,
    /// Stretches from the junctions of returns.
    pub returns: Vec<Stretch>,
    /// The loads.
    pub loads: Vec<Placed>,
    /// The same as a system to be searched.
    pub system: System,
}

impl Instance {
    /// Draws an instance.
    pub fn of(plan: Plan) -> Self {
        let mut rng = Rng::with_seed(plan.seed << 8 | plan.options as u64);
        let options = options(&mut rng, plan.options);
        let mut drawing = Drawing { rng, plan };
        let loads = drawing.loads();
        let sides = [drawing.tree(&loads, true), drawing.tree(&loads, false)];
        let [feeds, returns] = sides;
        let system = drawing.system(&feeds, &returns, &loads);
        let conditions: BTreeSet<Condition> = loads.iter().map(|load| load.when.clone()).collect();
        Self {
            plan,
            options,
            conditions: conditions
                .into_iter()
                .filter(|condition| *condition != Condition::Always)
                .collect(),
            feeds,
            returns,
            loads,
            system,
        }
    }

    /// Every buildable boat with the conditions of the loads decided on the way.
    ///
    /// # Errors
    /// [`TooWide`] where rules and conditions tie too many options together.
    pub fn firings(&self) -> Result<Firings, TooWide> {
        BoatSet::for_asking(&self.options, &self.conditions)?.firings(self.conditions.clone())
    }

    /// The system made ready to be searched.
    pub fn search<'s>(&'s self, firings: &'s Firings) -> Option<Search<'s>> {
        let number = |asked: &Condition| self.conditions.binary_search(asked).ok();
        Search::new(&self.system, firings, &number).ok()
    }

    /// Volts lost on the way to each load and back, as sums of the currents of all.
    pub fn drops(&self, factors: &mut Factors<'_>) -> Vec<Sum> {
        let sources = 0..self.system.sources.len();
        let at_sources: Vec<(f64, Vec<f64>)> = sources
            .map(|source| (factors.idle_of_source(source), factors.of_source(source)))
            .collect();
        let consumers = self.system.loads.iter().enumerate();
        consumers
            .map(|(load, consumer)| {
                let (idle, at_source) = &at_sources[consumer.source];
                let own = factors.of_load(load);
                let pairs = own.iter().zip(at_source);
                Sum {
                    constant: idle - factors.idle(load),
                    factors: pairs.map(|(own, at)| own - at).collect(),
                }
            })
            .collect()
    }
}

/// Rules that some boat keeps; drawn again until they are so.
fn options(rng: &mut Rng, count: usize) -> Options {
    loop {
        let mut order: Vec<usize> = (0..count).collect();
        rng.shuffle(&mut order);
        let mut rules = Vec::new();
        let mut left = &order[..];
        let (groups, largest) = if count >= 20 {
            (4, 5)
        } else {
            (count.div_ceil(7), 3)
        };
        for _ in 0..groups {
            let (group, rest) = left.split_at(rng.usize(2..=largest).min(left.len()));
            rules.push(OptionRule::ExactlyOneOf(
                group.iter().copied().map(OptionIndex).collect(),
            ));
            left = rest;
        }
        let two = |rng: &mut Rng| {
            let one = rng.usize(..count);
            let other = (one + rng.usize(1..count)) % count;
            (OptionIndex(one), OptionIndex(other))
        };
        let mut requires = 0;
        while requires < count / 4 {
            let (one, other) = two(rng);
            rules.push(OptionRule::Requires(one, other));
            requires += 1;
            // One in four is a package of several.
            while rng.u8(..4) == 0 && requires < count / 4 {
                let part = OptionIndex(rng.usize(..count));
                if part != one {
                    rules.push(OptionRule::Requires(one, part));
                    requires += 1;
                }
            }
        }
        for _ in 0..count / 8 {
            let (one, other) = two(rng);
            rules.push(OptionRule::Excludes(one, other));
        }
        let options = Options::of_known(count, rules);
        let boats = BoatSet::of(&options).map(|boats| boats.count());
        if boats.is_ok_and(|count| count > BigUint::from(3u8)) {
            return options;
        }
    }
}

struct Drawing {
    rng: Rng,
    plan: Plan,
}

impl Drawing {
    fn junctions(&self) -> usize {
        (self.plan.options / 3).max(4)
    }

    fn banks(&self) -> usize {
        match self.plan.wiring {
            Wiring::TwoBanks => 2,
            _ => 1,
        }
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.rng.f64()
    }

    fn option(&mut self) -> OptionIndex {
        OptionIndex(self.rng.usize(..self.plan.options))
    }

    fn condition(&mut self) -> Condition {
        let (one, other) = (self.option(), self.option());
        let both = |other: Condition| Condition::All(vec![Condition::Option(one), other]);
        if self.plan.unusual {
            match self.rng.u8(..10) {
                0..2 => return Condition::without(one),
                2 => return both(Condition::without(other)).simplified(),
                3 => {
                    let either = vec![Condition::Option(one), Condition::Option(other)];
                    return Condition::Any(either).simplified();
                }
                _ => {}
            }
        }
        match self.rng.u8(..5) {
            0 => Condition::Always,
            4 => both(Condition::Option(other)).simplified(),
            _ => Condition::Option(one),
        }
    }

    fn loads(&mut self) -> Vec<Placed> {
        (0..2 * self.plan.options)
            .map(|_| {
                let amps = 0.3 + 7.0 * self.rng.f64() * self.rng.f64();
                let share = self.between(0.004, 0.016) * EMF / amps;
                let out = self.between(0.4, 0.6);
                let feed = self.rng.usize(..self.junctions());
                // Most returns run beside their feed.
                let beside = self.rng.u8(..4) > 0
                    || (self.plan.wiring == Wiring::TwoBanks && self.plan.seed.is_multiple_of(2));
                Placed {
                    feed,
                    feed_ohm: share * out,
                    back: if beside {
                        feed
                    } else {
                        self.rng.usize(..self.junctions())
                    },
                    back_ohm: share * (1.0 - out),
                    when: self.condition(),
                    behavior: self.behavior(amps),
                }
            })
            .collect()
    }

    fn behavior(&mut self, amps: f64) -> Behavior {
        let feeds = self.plan.unusual && self.rng.u8(..12) == 0;
        let sign = if feeds { -1.0 } else { 1.0 };
        let kind = match self.plan.kinds {
            Kinds::Current => 0,
            Kinds::Mixed => self.rng.u8(..3),
        };
        match kind {
            0 => Behavior::Current(Amperes::new(sign * amps)),
            1 => Behavior::Power(Watts::new(sign * amps * EMF)),
            _ if feeds => Behavior::Current(Amperes::new(-amps)),
            _ => Behavior::Resistance(Ohms::new(EMF / amps)),
        }
    }

    /// A tree to all junctions of one side, sized for what the loads draw there.
    fn tree(&mut self, loads: &[Placed], feed: bool) -> Vec<Stretch> {
        let count = self.junctions();
        let banks = self.banks();
        // Junctions of two banks take turns.
        let from: Vec<Option<usize>> = (0..count)
            .map(|place| {
                let before = place / banks;
                (before > 0).then(|| self.rng.usize(..before) * banks + place % banks)
            })
            .collect();
        let mut amps = vec![0.0; count];
        for load in loads {
            let place = if feed { load.feed } else { load.back };
            amps[place] += match load.behavior {
                Behavior::Current(amps) => amps.value().abs(),
                Behavior::Power(watts) => watts.value().abs() / EMF,
                Behavior::Resistance(ohms) => EMF / ohms.value(),
            };
        }
        for place in (0..count).rev() {
            if let Some(before) = from[place] {
                amps[before] += amps[place];
            }
        }
        (0..count)
            .map(|place| Stretch {
                from: from[place],
                ohm: self.between(0.0008, 0.0065) * EMF / (AT_ONCE * amps[place]).max(1.0),
            })
            .collect()
    }

    fn system(&mut self, feeds: &[Stretch], returns: &[Stretch], loads: &[Placed]) -> System {
        let banks = self.banks();
        // Minus and plus of each bank, then the junctions.
        let poles: Vec<(usize, usize)> = (0..banks).map(|bank| (2 * bank, 2 * bank + 1)).collect();
        let feed = |junction: usize| 2 * banks + junction;
        let back = |junction: usize| 2 * banks + feeds.len() + junction;
        let up = |at: usize| feeds[at].from.map_or(poles[at % banks].1, feed);
        let down = |at: usize| returns[at].from.map_or(poles[at % banks].0, back);
        let mut network = Network {
            node_count: back(returns.len()),
            ..Network::default()
        };
        let conductor = |from, to, ohm| Conductor {
            from,
            to,
            resistance: Ohms::new(ohm),
        };
        let out = feeds.iter().enumerate();
        let out = out.map(|(at, own)| conductor(up(at), feed(at), own.ohm));
        let home = returns.iter().enumerate();
        let home = home.map(|(at, own)| conductor(back(at), down(at), own.ohm));
        network.conductors = out.chain(home).collect();
        let link = network.conductors.len();
        if banks > 1 {
            network
                .conductors
                .push(conductor(poles[1].0, poles[0].0, returns[0].ohm));
        }
        let mut consumers = Vec::new();
        for (number, load) in loads.iter().enumerate() {
            let (to, from) = (network.node_count, network.node_count + 1);
            network.node_count += 2;
            let own = network.conductors.len();
            network
                .conductors
                .push(conductor(feed(load.feed), to, load.feed_ohm));
            network
                .conductors
                .push(conductor(from, back(load.back), load.back_ohm));
            network.loads.push(Load {
                from: to,
                to: from,
                behavior: load.behavior,
            });
            let mut way = path(feeds, load.feed, 0);
            way.reverse();
            let out = way.len() + 1;
            way.extend([own, own + 1]);
            way.extend(path(returns, load.back, feeds.len()));
            let mut way: Vec<(usize, bool)> = way.into_iter().map(|at| (at, true)).collect();
            let (source, returned) = (load.feed % banks, load.back % banks);
            if source != returned {
                way.push((link, returned > source));
            }
            consumers.push(Consumer {
                load: Index::new(number),
                when: load.when.clone(),
                source,
                way,
                out,
            });
        }
        let mut sources: Vec<_> = (0..banks)
            .map(|bank| (poles[bank].0, poles[bank].1, EMF, feeds[bank].ohm))
            .collect();
        let last = (feed(feeds.len() - 1), back(returns.len() - 1));
        match self.plan.wiring {
            Wiring::Tree | Wiring::TwoBanks => {}
            Wiring::TwoSources => {
                let volts = EMF * self.between(0.985, 1.01);
                sources.push((last.1, last.0, volts, 3.0 * feeds[0].ohm));
            }
            Wiring::Ring => {
                let ohm = 4.0 * feeds[0].ohm;
                let (minus, plus) = poles[0];
                network.conductors.push(conductor(plus, last.0, ohm));
                network.conductors.push(conductor(last.1, minus, ohm));
            }
        }
        network.sources = sources
            .iter()
            .map(|&(from, to, volts, ohm)| Source {
                from,
                to,
                emf: Volts::new(volts),
                resistance: Ohms::new(ohm),
            })
            .collect();
        let mut unit = network.clone();
        for source in &mut unit.sources {
            source.emf = Volts::ZERO;
        }
        for load in &mut unit.loads {
            load.behavior = Behavior::Current(Amperes::new(1.0));
        }
        let numbered = sources.iter().enumerate();
        let conductors = network.conductors.iter().enumerate();
        let known: Vec<Known<'_>> = conductors
            .map(|(number, conductor)| (number, (conductor.from, conductor.to), None))
            .collect();
        let poles: Vec<_> = sources.iter().map(|source| (source.0, source.1)).collect();
        System {
            shared: Shared::of(network.node_count, &known, &poles),
            state: None,
            condition: SourceCondition::Nominal,
            shape: Vec::new(),
            sources: numbered
                .map(|(number, &(minus, plus, ..))| (Index::new(number), minus, plus))
                .collect(),
            loads: consumers,
            unknown: Vec::new(),
            branches: (0..network.conductors.len()).collect(),
            network: Prepared::new(&network).expect("drawn networks have no fault"),
            unit: Prepared::new(&unit).expect("drawn networks have no fault"),
        }
    }
}

/// Conductors from a junction to the source.
fn path(tree: &[Stretch], junction: usize, first: usize) -> Vec<usize> {
    std::iter::successors(Some(junction), |&at| tree[at].from)
        .map(|at| first + at)
        .collect()
}
