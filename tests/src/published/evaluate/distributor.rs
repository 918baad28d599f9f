//! Distributors fed at one or two ends or in a ring, by the network solver.
//!
//! Feed and return stand as one resistance, as the textbooks write them; the far side of every
//! load is the reference. A load spread evenly along a segment becomes many equal parts, half
//! of each at either end of its piece, which gives the exact volts at every end of a piece.

use std::collections::BTreeMap;

use harness_core::network::{
    Behavior, Conductor, Load, Network, Outcome, Prepared, Scratch, Solution, Source,
};
use harness_core::units::{Amperes, Ohms, Volts, Watts};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

/// Pieces of a segment with a load spread along it.
const PIECES: usize = 200;

pub(super) fn distributor(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let line = Line::new(fact);
    let solved = line.solve()?;
    let find = fact.text("find").unwrap_or_default();
    let (what, of) = find.split_once(':').unwrap_or((find, ""));
    Ok(match what {
        "V" => Ours::Number(solved.node_volts[line.node(of)].value()),
        "drop" => Ours::Number(line.highest_feed() - solved.node_volts[line.node(of)].value()),
        "I" => {
            let (from, to) = of
                .split_once('-')
                .unwrap_or_else(|| panic!("{}: {of} is no segment", fact.id));
            Ours::Number(line.current(&solved, from, to))
        }
        "S" => Ours::Number(solved.source_amps[line.source(of)].value()),
        "Vmin" => Ours::Number(line.lowest(&solved).volts),
        "drop_max" => Ours::Number(line.highest_feed() - line.lowest(&solved).volts),
        "min_at" => Ours::Word(line.lowest(&solved).place),
        "x_m" => Ours::Number(line.lowest(&solved).ohms_from_first / fact.number("ohm_per_m")),
        _ => panic!("{}: cannot find {find}", fact.id),
    })
}

/// Where between two sources a moving load finds the least volts, and what each source gives.
pub(super) fn moving_load(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let feeds = fact.numbers("feeds");
    let length = fact.number("length_km");
    let ohms = |km: f64| fact.number("ohm_per_km") * km;
    let at = |km: f64| {
        let mut line = Line::default();
        line.feed("A", feeds[0]);
        line.feed("B", feeds[1]);
        line.segment("A", "X", ohms(km), 0.0);
        line.segment("X", "B", ohms(length - km), 0.0);
        line.load("X", Behavior::Current(Amperes::new(fact.number("amps"))));
        line.solve()
            .map(|solved| (solved.node_volts[line.node("X")].value(), solved))
    };
    let (mut low, mut high) = (0.0, length);
    for _ in 0..120 {
        let third = (high - low) / 3.0;
        if at(low + third)?.0 < at(high - third)?.0 {
            high -= third;
        } else {
            low += third;
        }
    }
    let place = (low + high) / 2.0;
    let (_, solved) = at(place)?;
    Ok(Ours::Number(match fact.text("find") {
        Some("x_km") => place,
        Some("IA") => solved.source_amps[0].value(),
        Some("IB") => solved.source_amps[1].value(),
        other => panic!("{}: cannot find {other:?}", fact.id),
    }))
}

/// A piece of a segment: its ends, and whether it carries part of a spread load.
struct Piece {
    conductor: usize,
    first: bool,
    last: bool,
}

#[derive(Default)]
struct Line {
    network: Network,
    nodes: BTreeMap<String, usize>,
    sources: BTreeMap<String, (usize, f64)>,
    segments: Vec<(String, String, Vec<Piece>, bool)>,
}

struct Lowest {
    volts: f64,
    place: String,
    ohms_from_first: f64,
}

impl Line {
    fn new(fact: &Fact) -> Self {
        let mut line = Self::default();
        let list = |name: &str| -> Vec<Vec<String>> {
            fact.text(name)
                .unwrap_or_default()
                .split_whitespace()
                .map(|item| item.split(':').map(str::to_owned).collect())
                .collect()
        };
        let number = |text: &str| -> f64 {
            text.parse()
                .unwrap_or_else(|_| panic!("{}: {text} is no number", fact.id))
        };
        for feed in list("feeds") {
            line.feed(&feed[0], number(&feed[1]));
        }
        for segment in list("segments") {
            let (from, to) = segment[0]
                .split_once('-')
                .unwrap_or_else(|| panic!("{}: {} is no segment", fact.id, segment[0]));
            let spread = segment.get(2).map_or(0.0, |text| number(text));
            line.segment(from, to, number(&segment[1]), spread);
        }
        for load in list("loads") {
            line.load(&load[0], Behavior::Current(Amperes::new(number(&load[1]))));
        }
        for load in list("watts") {
            line.load(&load[0], Behavior::Power(Watts::new(number(&load[1]))));
        }
        line
    }

    /// Node 0 is the reference; others are numbered as they come.
    fn node_or_new(&mut self, name: &str) -> usize {
        if let Some(&node) = self.nodes.get(name) {
            return node;
        }
        let node = self.new_node();
        self.nodes.insert(name.to_owned(), node);
        node
    }

    fn new_node(&mut self) -> usize {
        let node = self.network.node_count.max(1);
        self.network.node_count = node + 1;
        node
    }

    fn node(&self, name: &str) -> usize {
        self.nodes[name]
    }

    fn source(&self, name: &str) -> usize {
        self.sources[name].0
    }

    fn highest_feed(&self) -> f64 {
        self.sources
            .values()
            .map(|&(_, volts)| volts)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn feed(&mut self, name: &str, volts: f64) {
        let to = self.node_or_new(name);
        self.sources
            .insert(name.to_owned(), (self.network.sources.len(), volts));
        self.network.sources.push(Source {
            from: 0,
            to,
            emf: Volts::new(volts),
            resistance: Ohms::ZERO,
        });
    }

    fn load(&mut self, name: &str, behavior: Behavior) {
        let from = self.node_or_new(name);
        self.network.loads.push(Load {
            from,
            to: 0,
            behavior,
        });
    }

    fn segment(&mut self, from: &str, to: &str, ohms: f64, spread: f64) {
        let (start, end) = (self.node_or_new(from), self.node_or_new(to));
        let count = if spread == 0.0 { 1 } else { PIECES };
        let mut pieces = Vec::with_capacity(count);
        let mut near = start;
        for piece in 0..count {
            let far = if piece + 1 == count {
                end
            } else {
                self.new_node()
            };
            pieces.push(Piece {
                conductor: self.network.conductors.len(),
                first: piece == 0,
                last: piece + 1 == count,
            });
            self.network.conductors.push(Conductor {
                from: near,
                to: far,
                resistance: Ohms::new(ohms / count as f64),
            });
            if spread != 0.0 {
                let half = Behavior::Current(Amperes::new(spread / count as f64 / 2.0));
                for node in [near, far] {
                    self.network.loads.push(Load {
                        from: node,
                        to: 0,
                        behavior: half,
                    });
                }
            }
            near = far;
        }
        self.segments
            .push((from.to_owned(), to.to_owned(), pieces, spread != 0.0));
    }

    fn solve(&self) -> Result<Solution, NotEvaluated> {
        let prepared = Prepared::new(&self.network)
            .map_err(|faults| NotEvaluated::because(format!("{faults:?}")))?;
        match prepared.solve(&mut Scratch::default()) {
            Outcome::Solved(solution) => Ok(solution),
            other => Err(NotEvaluated::because(format!("{other:?}"))),
        }
    }

    fn current(&self, solved: &Solution, from: &str, to: &str) -> f64 {
        for (start, end, pieces, _) in &self.segments {
            let first = || solved.conductor_amps[pieces[0].conductor].value();
            if start == from && end == to {
                return first();
            }
            if start == to && end == from {
                return -first();
            }
        }
        panic!("no segment {from}-{to}")
    }

    /// Least volts along the line: at a named point, or inside a segment with a spread load,
    /// where the volts follow a parabola.
    fn lowest(&self, solved: &Solution) -> Lowest {
        let volts = |node: usize| solved.node_volts[node].value();
        let mut best = Lowest {
            volts: f64::INFINITY,
            place: String::new(),
            ohms_from_first: 0.0,
        };
        let mut take = |volts: f64, place: &str, ohms: f64| {
            if volts < best.volts - 1e-9 {
                best = Lowest {
                    volts,
                    place: place.to_owned(),
                    ohms_from_first: ohms,
                };
            }
        };
        let mut walked = 0.0;
        for (from, to, pieces, spread) in &self.segments {
            let inside = format!("{from}{to}");
            for piece in pieces {
                let conductor = self.network.conductors[piece.conductor];
                let ohms = conductor.resistance.value();
                if piece.first {
                    take(volts(conductor.from), from, walked);
                }
                if *spread {
                    let amps = solved.conductor_amps[piece.conductor].value();
                    let load = self.piece_load(piece.conductor);
                    // Current falls along the piece from amps + load/2 to amps - load/2.
                    let at = (amps + load / 2.0) / load;
                    // A hair wider, for a lowest point that falls on the joint of two pieces.
                    if (-1e-6..=1.0 + 1e-6).contains(&at) {
                        let lost = ohms * ((amps + load / 2.0) * at - load * at * at / 2.0);
                        take(volts(conductor.from) - lost, &inside, walked + ohms * at);
                    }
                }
                walked += ohms;
                if piece.last {
                    take(volts(conductor.to), to, walked);
                }
            }
        }
        best
    }

    /// The part of a spread load that belongs to one piece.
    fn piece_load(&self, conductor: usize) -> f64 {
        let Conductor { from, to, .. } = self.network.conductors[conductor];
        self.network
            .loads
            .windows(2)
            .find(|pair| pair[0].from == from && pair[1].from == to)
            .map_or(0.0, |pair| {
                pair.iter()
                    .map(|load| match load.behavior {
                        Behavior::Current(amps) => amps.value(),
                        Behavior::Power(_) | Behavior::Resistance(_) => 0.0,
                    })
                    .sum()
            })
    }
}
