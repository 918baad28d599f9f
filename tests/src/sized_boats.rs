//! Boat models to size: options with rules, loads that options bring, a tree of feeds and a tree
//! of returns. Invented, the same for a seed.
//!
//! All currents are constant, so the drop of a load is a sum of one term for each option fitted,
//! and the boat where it is largest is the heaviest boat of the decision diagram.

use std::collections::BTreeMap;

use fastrand::Rng;
use harness_core::boats::{Boat, BoatSet, OptionIndex, OptionRule, Options};
use harness_core::sizing::least_copper::{Choice, Instance, Row, Segment, Term};

/// Areas to choose from, mm2.
pub const AREAS_MM2: [f64; 19] = [
    0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0, 150.0, 185.0,
    240.0, 300.0, 400.0,
];
/// Resistivity of warm copper, ohm mm2/m.
pub const OHM_MM2_PER_M: f64 = 0.0195;
/// Mass of copper, kg for each m and mm2.
pub const KG_PER_M_MM2: f64 = 0.00889;
/// Nominal volts.
const NOMINAL_V: f64 = 12.0;
/// Part of nominal that may drop: every second load is critical, the others are not.
const LIMITS: [f64; 2] = [0.03, 0.10];

/// A junction hangs on one of this many before it.
const NEAR: usize = 16;

/// A stand-in for a table of ampacities, A, so that the smallest sizes are plausible; for these
/// invented models only.
fn stand_in_ampacity_a(area_mm2: f64) -> f64 {
    13.0 * libm::pow(area_mm2, 0.7)
}

/// What a model is to be.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Seed of the random numbers.
    pub seed: u64,
    /// Number of options.
    pub options: usize,
    /// Number of loads, each a circuit of its own.
    pub loads: usize,
    /// Junctions on the feed side, and as many on the return side.
    pub junctions: usize,
}

/// A load of a model.
#[derive(Clone, Debug)]
pub struct BoatLoad {
    /// The option that brings it; `None` where every boat has it.
    pub option: Option<OptionIndex>,
    /// What it draws, A.
    pub current_a: f64,
    /// The drop allowed, V.
    pub limit_v: f64,
    /// The segments from the source to it and back.
    pub path: Vec<usize>,
}

impl BoatLoad {
    /// Whether a boat has it.
    pub fn is_on(&self, boat: &Boat) -> bool {
        self.option.is_none_or(|option| boat.has(option))
    }
}

/// A model, its boats and the boats found to be the worst for a load so far.
#[derive(Clone, Debug)]
pub struct SizedBoats {
    /// Options and rules.
    pub options: Options,
    /// Every boat that can be ordered.
    pub boats: BoatSet,
    /// The loads.
    pub loads: Vec<BoatLoad>,
    /// Length of each segment, m.
    pub lengths_m: Vec<f64>,
    /// Boats that rows were made for; a row gives its boat by the place here.
    pub worst_boats: Vec<Boat>,
}

impl SizedBoats {
    /// The model of a plan.
    pub fn generate(plan: Plan) -> Self {
        let mut rng = Rng::with_seed(plan.seed);
        let (options, boats) = any_buildable(&mut rng, plan.options);
        let mut lengths_m = Vec::new();
        let feeds = tree(&mut rng, plan.junctions, &mut lengths_m);
        let returns = tree(&mut rng, plan.junctions, &mut lengths_m);
        let mut loads = Vec::new();
        for load in 0..plan.loads {
            let standard = rng.usize(..5) == 0;
            let mut path = feeds[rng.usize(..feeds.len())].clone();
            path.extend(&returns[rng.usize(..returns.len())]);
            for _ in 0..2 {
                path.push(lengths_m.len());
                lengths_m.push(between(&mut rng, 0.5, 4.0));
            }
            let option = OptionIndex(rng.usize(..plan.options));
            loads.push(BoatLoad {
                option: (!standard).then_some(option),
                // Most draw little, a few draw much.
                current_a: 0.5 + 14.5 * libm::pow(rng.f64(), 3.0),
                limit_v: NOMINAL_V * LIMITS[load % 2],
                path,
            });
        }
        Self {
            options,
            boats,
            loads,
            lengths_m,
            worst_boats: Vec::new(),
        }
    }

    /// Segments with the sizes that carry the largest current any boat puts on them; no rows yet.
    pub fn instance(&self) -> Instance {
        let segments = (0..self.lengths_m.len()).map(|segment| {
            let most = self.heaviest(None, |load| {
                if load.path.contains(&segment) {
                    load.current_a
                } else {
                    0.0
                }
            });
            let most_a = most.map_or(0.0, |(amperes, _)| amperes);
            let least = AREAS_MM2
                .iter()
                .position(|&area| stand_in_ampacity_a(area) >= most_a)
                .unwrap_or(AREAS_MM2.len() - 1);
            sizes_from(least, self.lengths_m[segment])
        });
        Instance {
            segments: segments.collect(),
            ..Instance::default()
        }
    }

    /// The sum over the loads of the boat where it is largest, among the boats with an option.
    fn heaviest(
        &self,
        having: Option<OptionIndex>,
        weight: impl Fn(&BoatLoad) -> f64,
    ) -> Option<(f64, Boat)> {
        let mut weights = vec![0.0; self.options.count()];
        let mut always = 0.0;
        for load in &self.loads {
            match load.option {
                Some(option) => weights[option.0] += weight(load),
                None => always += weight(load),
            }
        }
        let on: Vec<_> = having.into_iter().collect();
        let (sum, boat) = self.boats.having(&on, &[]).heaviest(&weights)?;
        Some((sum + always, boat))
    }

    /// The drop of a load on a boat that has it, as a row.
    pub fn row(&self, load: usize, boat: &Boat, boat_number: usize) -> Row {
        let mut on_segment: BTreeMap<usize, f64> =
            self.loads[load].path.iter().map(|s| (*s, 0.0)).collect();
        for other in self.loads.iter().filter(|other| other.is_on(boat)) {
            for segment in &other.path {
                if let Some(amperes) = on_segment.get_mut(segment) {
                    *amperes += other.current_a;
                }
            }
        }
        let term = |(segment, amperes)| Term {
            segment,
            volts_mm2: OHM_MM2_PER_M * self.lengths_m[segment] * amperes,
        };
        Row {
            load,
            boat: boat_number,
            state: 0,
            terms: on_segment.into_iter().map(term).collect(),
            constant_v: 0.0,
            limit_v: self.loads[load].limit_v,
        }
    }

    /// For each load the boat where it drops most with these areas, where that breaks its limit.
    pub fn broken(&mut self, areas_mm2: &[f64]) -> Vec<Row> {
        let mut rows = Vec::new();
        for load in 0..self.loads.len() {
            let of = &self.loads[load];
            let mut ohms = vec![0.0; self.lengths_m.len()];
            for &segment in &of.path {
                ohms[segment] = OHM_MM2_PER_M * self.lengths_m[segment] / areas_mm2[segment];
            }
            let worst = self.heaviest(of.option, |other| {
                other.current_a * other.path.iter().map(|segment| ohms[*segment]).sum::<f64>()
            });
            let Some((_, boat)) = worst else { continue };
            let row = self.row(load, &boat, self.worst_boats.len());
            if !row.is_met(areas_mm2) {
                rows.push(row);
                self.worst_boats.push(boat);
            }
        }
        rows
    }
}

/// A segment of this length that takes every size from one on.
pub fn sizes_from(least: usize, length_m: f64) -> Segment {
    let choice = |&area_mm2: &f64| Choice {
        area_mm2,
        mass_kg: KG_PER_M_MM2 * length_m * area_mm2,
    };
    Segment {
        choices: AREAS_MM2[least..].iter().map(choice).collect(),
    }
}

fn between(rng: &mut Rng, least: f64, most: f64) -> f64 {
    least + (most - least) * rng.f64()
}

/// A tree of junctions, each with its way from the source; a segment leads to each.
fn tree(rng: &mut Rng, junctions: usize, lengths_m: &mut Vec<f64>) -> Vec<Vec<usize>> {
    let mut ways: Vec<Vec<usize>> = Vec::new();
    for at in 0..junctions {
        // On one of the last few junctions, so that the trunks are long; 0 is the source.
        let mut way = match rng.usize(at.saturating_sub(NEAR)..=at) {
            0 => Vec::new(),
            from => ways[from - 1].clone(),
        };
        way.push(lengths_m.len());
        lengths_m.push(between(rng, 0.3, 2.5));
        ways.push(way);
    }
    ways
}

/// Options with rules of every kind that leave boats to build.
fn any_buildable(rng: &mut Rng, count: usize) -> (Options, BoatSet) {
    loop {
        let mut rules = Vec::new();
        let mut first = 0;
        for _ in 0..count.div_ceil(8) {
            let size = rng.usize(2..=5).min(count - first);
            rules.push(OptionRule::ExactlyOneOf(
                (first..first + size).map(OptionIndex).collect(),
            ));
            first += size;
        }
        let mut pair = || {
            (
                OptionIndex(rng.usize(..count)),
                OptionIndex(rng.usize(..count)),
            )
        };
        for _ in 0..count / 4 {
            let (a, b) = pair();
            rules.push(OptionRule::Requires(a, b));
        }
        for _ in 0..count / 8 {
            let (a, b) = pair();
            rules.push(OptionRule::Excludes(a, b));
        }
        let options = Options::new(count, rules).expect("every option named is in the list");
        let boats = BoatSet::of(&options).expect("few rules are never too wide");
        if !boats.is_empty() {
            return (options, boats);
        }
    }
}
