//! Random networks for the outside checks and the benchmark: invented, the same for a seed.
//!
//! Each is laid out like wiring: junctions on a feed side and on a return side, every wire with
//! a contact at its end, loads on wires of their own. Wires are sized so that each drops a
//! drawn share of the nominal volts, as a designer would size them.

use fastrand::Rng;
use harness_core::network::{Behavior, Conductor, Load, Network, Source};
use harness_core::units::{Amperes, Ohms, Volts, Watts};

/// Shape of a random network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shape {
    /// A feed tree and a return tree of its own.
    Tree,
    /// A feed tree; all returns end on a few shared busbars.
    SharedReturn,
    /// Feed and return trees with extra links that close loops.
    Loops,
    /// Two sources of unequal volts at different places, and loops.
    TwoSources,
    /// Feed and return junctions each in a closed ring.
    Ring,
    /// Two ideal sources in series, a source of 0 V, joins without resistance.
    Ideal,
}

impl Shape {
    /// Every shape.
    pub const ALL: [Self; 6] = [
        Self::Tree,
        Self::SharedReturn,
        Self::Loops,
        Self::TwoSources,
        Self::Ring,
        Self::Ideal,
    ];

    /// Name in files and tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tree => "tree",
            Self::SharedReturn => "shared return",
            Self::Loops => "loops",
            Self::TwoSources => "two sources",
            Self::Ring => "ring",
            Self::Ideal => "ideal elements",
        }
    }
}

/// What a random network is to be.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Shape of the feed and return sides.
    pub shape: Shape,
    /// Seed of the random numbers.
    pub seed: u64,
    /// Number of loads; branches are about six times as many.
    pub loads: usize,
    /// Whether loads of constant power are among them.
    pub constant_power: bool,
    /// Factor on one load's power that makes the volts collapse; 1 leaves it.
    pub overload: f64,
}

/// A random network and the volts it is made for.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// The network; its reference is the minus of the first source.
    pub network: Network,
    /// Volts without drops, V.
    pub nominal_v: f64,
}

/// Branches a plan of so many loads comes to, about.
pub const BRANCHES_PER_LOAD: f64 = 19.0 / 3.0;

/// Junctions up to which a network counts as small.
const SMALL: usize = 40;
const REFERENCE: usize = 0;
const PLUS: usize = 1;

/// Lays the network out.
pub fn generate(plan: Plan) -> Case {
    let mut random = Rng::with_seed(plan.seed);
    let nominal_v = if plan.shape == Shape::Ideal || random.bool() {
        25.6
    } else {
        12.8
    };
    let mut layout = Layout::new(plan, nominal_v, random);
    layout.place_loads();
    layout.wire_junctions();
    layout.close_loops();
    layout.connect_sources();
    Case {
        network: layout.network,
        nominal_v,
    }
}

struct Layout {
    plan: Plan,
    random: Rng,
    nominal_v: f64,
    network: Network,
    /// Junction nodes: feed side, return side.
    sides: [Vec<usize>; 2],
    /// Junction each junction is fed from, by place; the first by the source.
    parents: [Vec<usize>; 2],
    /// Current through each junction, by place.
    through_a: [Vec<f64>; 2],
    /// Share of the nominal volts that a wire between junctions drops, at most.
    drop_share: f64,
}

impl Layout {
    fn new(plan: Plan, nominal_v: f64, mut random: Rng) -> Self {
        let junctions = plan.loads.div_ceil(3).max(2);
        let returns = if plan.shape == Shape::SharedReturn {
            3.min(junctions)
        } else {
            junctions
        };
        let mut network = Network {
            node_count: 2,
            reference: REFERENCE,
            ..Network::default()
        };
        let sides = [junctions, returns].map(|count| {
            (0..count)
                .map(|_| {
                    network.node_count += 1;
                    network.node_count - 1
                })
                .collect()
        });
        let ring = plan.shape == Shape::Ring;
        let feed: Vec<usize> = (0..junctions)
            .map(|place| {
                if ring {
                    place.max(1) - 1
                } else {
                    random.usize(0..place.max(1))
                }
            })
            .collect();
        // Returns mostly run beside their feed, the others elsewhere: anywhere in a small
        // network, one junction further up in a large one, as in a boat.
        let small = junctions <= SMALL;
        let back = (0..returns)
            .map(|place| {
                if random.u32(0..5) > 0 {
                    feed[place]
                } else if small {
                    random.usize(0..place.max(1))
                } else {
                    feed[feed[place]]
                }
            })
            .collect();
        // A random tree is about 2 ln n junctions deep.
        let depth = 2.0 * (junctions as f64).ln().max(1.0);
        Self {
            plan,
            random,
            nominal_v,
            network,
            sides,
            parents: [feed, back],
            through_a: [vec![0.0; junctions], vec![0.0; returns]],
            drop_share: 0.06 / depth,
        }
    }

    fn node(&mut self) -> usize {
        self.network.node_count += 1;
        self.network.node_count - 1
    }

    fn conductor(&mut self, from: usize, to: usize, ohms: f64) {
        self.network.conductors.push(Conductor {
            from,
            to,
            resistance: Ohms::new(ohms),
        });
    }

    /// A wire with a contact at its end.
    fn wire(&mut self, from: usize, to: usize, current_a: f64) {
        let share = self.drop_share * (0.1 + 0.9 * self.random.f64());
        let end = self.node();
        self.conductor(from, end, share * self.nominal_v / current_a.max(0.1));
        let joined = self.plan.shape == Shape::Ideal && self.random.u32(0..4) == 0;
        let contact_ohm = if joined {
            0.0
        } else {
            0.0002 + 0.003 * self.random.f64()
        };
        // Contacts grow with the current they are made for.
        self.conductor(end, to, contact_ohm / (1.0 + current_a / 10.0));
    }

    fn place_loads(&mut self) {
        let overloaded = if self.plan.overload > 1.0 {
            self.random.usize(0..self.plan.loads)
        } else {
            usize::MAX
        };
        for load in 0..self.plan.loads {
            let feed = self.random.usize(0..self.sides[0].len());
            let back = if self.random.u32(0..5) > 0 {
                feed.min(self.sides[1].len() - 1)
            } else if self.sides[0].len() <= SMALL {
                self.random.usize(0..self.sides[1].len())
            } else {
                self.parents[0][feed].min(self.sides[1].len() - 1)
            };
            let current_a = 0.2 + 8.0 * self.random.f64() * self.random.f64();
            let (plus, minus) = (self.node(), self.node());
            self.wire(self.sides[0][feed], plus, current_a);
            self.wire(minus, self.sides[1][back], current_a);
            let kind = if load == overloaded {
                0
            } else {
                self.random.u32(0..3)
            };
            let behavior = match kind {
                0 if self.plan.constant_power => {
                    let factor = if load == overloaded {
                        self.plan.overload
                    } else {
                        1.0
                    };
                    Behavior::Power(Watts::new(factor * self.nominal_v * current_a))
                }
                1 => Behavior::Resistance(Ohms::new(self.nominal_v / current_a)),
                _ => Behavior::Current(Amperes::new(current_a)),
            };
            self.network.loads.push(Load {
                from: plus,
                to: minus,
                behavior,
            });
            self.through_a[0][feed] += current_a;
            self.through_a[1][back] += current_a;
        }
    }

    fn wire_junctions(&mut self) {
        for side in 0..2 {
            for place in (1..self.parents[side].len()).rev() {
                let parent = self.parents[side][place];
                self.through_a[side][parent] += self.through_a[side][place];
            }
            for place in 0..self.parents[side].len() {
                let own = self.sides[side][place];
                let up = if place > 0 {
                    self.sides[side][self.parents[side][place]]
                } else if side == 0 {
                    PLUS
                } else {
                    REFERENCE
                };
                self.wire(up, own, self.through_a[side][place]);
            }
        }
    }

    fn close_loops(&mut self) {
        match self.plan.shape {
            Shape::Loops | Shape::TwoSources => {
                let branches = BRANCHES_PER_LOAD * self.plan.loads as f64;
                for _ in 0..2.max((branches / 500.0) as usize) {
                    let last = self.sides[1].len() - 1;
                    let one = self.random.usize(0..=last);
                    // Links join places that lie near each other.
                    let other = (one + 1 + self.random.usize(0..20)).min(last);
                    let (one, other) = (self.sides[1][one], self.sides[1][other]);
                    if one != other {
                        self.wire(one, other, 10.0);
                    }
                }
            }
            Shape::Ring => {
                for side in 0..2 {
                    let start = if side == 0 { PLUS } else { REFERENCE };
                    let end = self.sides[side][self.sides[side].len() - 1];
                    self.wire(end, start, self.through_a[side][0]);
                }
            }
            Shape::Tree | Shape::SharedReturn | Shape::Ideal => {}
        }
    }

    fn connect_sources(&mut self) {
        let total_a = self.through_a[0][0].max(1.0);
        let inner_ohm = 0.01 * self.nominal_v / total_a;
        let mut source = |from: usize, to: usize, volts: f64, ohms: f64| {
            let (emf, resistance) = (Volts::new(volts), Ohms::new(ohms));
            self.network.sources.push(Source {
                from,
                to,
                emf,
                resistance,
            });
        };
        match self.plan.shape {
            Shape::Ideal => {
                let middle = self.network.node_count;
                let meter = middle + 1;
                self.network.node_count += 2;
                source(REFERENCE, middle, 0.5 * self.nominal_v, 0.0);
                // Its plus stated at the other end: volts negative.
                source(meter, middle, -0.5 * self.nominal_v, 0.0);
                source(meter, PLUS, 0.0, 0.0);
            }
            Shape::TwoSources => {
                source(REFERENCE, PLUS, self.nominal_v, inner_ohm);
                let place = self.sides[0].len() / 2;
                let back = place.min(self.sides[1].len() - 1);
                let (plus, minus) = (self.sides[0][place], self.sides[1][back]);
                source(minus, plus, 0.985 * self.nominal_v, 3.0 * inner_ohm);
            }
            _ => source(REFERENCE, PLUS, self.nominal_v, inner_ohm),
        }
    }
}
