//! Between which volts and currents the loads of a system lie on every boat looked at.
//!
//! With the factors `Z` (volts that one ampere of a load takes from another) the volts are
//! `V = V idle - Z I`, and each current lies between those at the least and the greatest volts.
//! Starting from idle volts the greatest currents lower the least volts until they settle; on no
//! boat are they lower, since each boat draws at most these currents at higher volts. With the
//! least currents it is the other way round.

use super::systems::{Consumer, System};
use crate::boats::Presence;
use crate::network::{Behavior, Scratch, Settling};
use crate::units::Ohms;
use std::collections::BTreeMap;

/// Rounds after which the least volts are taken as not to be had.
const MOST_ROUNDS: usize = 200;
/// Share of the idle volts below which the least volts count as collapsed.
const COLLAPSED: f64 = 0.2;

/// What holds for each load of a system on every boat looked at.
#[derive(Clone, Debug, Default)]
pub struct Bounds {
    /// Change of its current with its volts, absent loads counted: least and greatest.
    pub slope: Vec<(f64, f64)>,
    /// What it draws at most.
    pub most_amps: Vec<f64>,
}

/// The loads of a system on one boat.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawn {
    /// What each draws; nothing where it is absent.
    pub amps: Vec<f64>,
    /// What each draws, or would draw at the volts where it would be.
    pub would: Vec<f64>,
}

/// The factors of one system and room for its solves.
#[derive(Debug)]
pub struct Factors<'s> {
    system: &'s System,
    /// Volts of each load with no load drawing.
    idle: Vec<f64>,
    /// `Z`, row by row, where loads may play against each other; elsewhere a tree multiplies by
    /// itself.
    table: Option<Vec<Vec<f64>>>,
    scratch: Scratch,
}

/// Most loads of a system with loops: their table is square.
const MOST_IN_TABLE: usize = 2_000;

impl<'s> Factors<'s> {
    /// Finds them; `None` when the system cannot be solved without load, or is too large a net of
    /// loops.
    pub fn of(system: &'s System) -> Option<Self> {
        let mut scratch = Scratch::default();
        let none = vec![0.0; system.loads.len()];
        let Settling::Settled { .. } = system.network.settle(&mut scratch, Some(&none)) else {
            return None;
        };
        let idle = (0..system.loads.len())
            .map(|load| system.network.load_volts(&scratch, load).value())
            .collect();
        let mut factors = Self {
            system,
            idle,
            table: None,
            scratch,
        };
        // On a tree whose branches carry current one way only, what a load draws lowers the volts
        // of others or leaves them, so the least and greatest currents give the greatest and
        // least volts. Elsewhere loads may play against each other, which takes the table.
        if !(system.unit.has_one_way() && flows_one_way(system)) {
            if system.loads.len() > MOST_IN_TABLE {
                return None;
            }
            let loads = 0..system.loads.len();
            factors.table = Some(loads.map(|load| factors.of_load(load)).collect());
        }
        Some(factors)
    }

    /// Volts that one ampere of a load takes from each load.
    pub fn of_load(&mut self, load: usize) -> Vec<f64> {
        if let Some(table) = &self.table {
            // Reciprocal: what one takes from the other, the other takes from the one.
            return table[load].clone();
        }
        let mut amps = vec![[0.0]; self.system.loads.len()];
        amps[load] = [1.0];
        self.times(&amps).into_iter().map(|[volts]| volts).collect()
    }

    /// Volts that one ampere of each load in turn takes from the terminals of a source.
    pub fn of_source(&mut self, source: usize) -> Vec<f64> {
        let count = self.system.loads.len();
        if self.system.unit.has_one_way() {
            let inner = self.system.network.network().sources[source].resistance;
            let fed = |load: &Consumer| {
                if load.source == source {
                    inner
                } else {
                    Ohms::ZERO
                }
            };
            return self
                .system
                .loads
                .iter()
                .map(|load| fed(load).value())
                .collect();
        }
        let (_, minus, plus) = self.system.sources[source];
        (0..count)
            .map(|load| {
                let mut amps = vec![0.0; count];
                amps[load] = 1.0;
                self.settle_unit(&amps);
                let volts = |node| self.system.unit.node_volts(&self.scratch, node).value();
                volts(minus) - volts(plus)
            })
            .collect()
    }

    /// Volts of a load with no load drawing.
    pub fn idle(&self, load: usize) -> f64 {
        self.idle[load]
    }

    /// Volts between the terminals of a source with no load drawing.
    pub fn idle_of_source(&mut self, source: usize) -> f64 {
        let (_, minus, plus) = self.system.sources[source];
        let none = vec![0.0; self.system.loads.len()];
        self.system.network.settle(&mut self.scratch, Some(&none));
        let volts = |node| self.system.network.node_volts(&self.scratch, node).value();
        volts(plus) - volts(minus)
    }

    fn settle_unit(&mut self, amps: &[f64]) {
        let settled = self.system.unit.settle(&mut self.scratch, Some(amps));
        debug_assert!(
            matches!(settled, Settling::Settled { .. }),
            "given currents always settle"
        );
    }

    /// `Z` times given currents, for several sets of currents.
    fn times<const SETS: usize>(&mut self, amps: &[[f64; SETS]]) -> Vec<[f64; SETS]> {
        if let Some(taken) = self.system.unit.taken(amps) {
            return taken;
        }
        let mut taken = vec![[0.0; SETS]; amps.len()];
        for set in 0..SETS {
            let one: Vec<f64> = amps.iter().map(|amps| amps[set]).collect();
            self.settle_unit(&one);
            for (load, taken) in taken.iter_mut().enumerate() {
                taken[set] = -self.system.unit.load_volts(&self.scratch, load).value();
            }
        }
        taken
    }

    /// `Z` times currents between bounds.
    pub fn times_between(&mut self, amps: &[(f64, f64)]) -> Vec<(f64, f64)> {
        if let Some(table) = &self.table {
            let row = |row: &Vec<f64>| {
                row.iter()
                    .zip(amps)
                    .fold((0.0, 0.0), |(low, high), (z, (a, b))| {
                        let (one, other) = (z * a, z * b);
                        (low + one.min(other), high + one.max(other))
                    })
            };
            return table.iter().map(row).collect();
        }
        let pairs: Vec<[f64; 2]> = amps.iter().map(|&pair| pair.into()).collect();
        self.times(&pairs).into_iter().map(Into::into).collect()
    }

    /// Bounds on boats on which each load is present as told; `None` where the loads together
    /// may be more than the wires can carry.
    pub fn bounds(&mut self, present: &[Presence]) -> Option<Bounds> {
        let loads = &self.system.network.network().loads;
        let count = loads.len();
        let behaviors: Vec<Behavior> = loads.iter().map(|load| load.behavior).collect();
        let mut volts: Vec<(f64, f64)> = self.idle.iter().map(|idle| (*idle, *idle)).collect();
        let drawn = |volts: &[(f64, f64)]| -> Vec<(f64, f64)> {
            (0..count)
                .map(|load| {
                    let (least, most) = amps_between(behaviors[load], volts[load]);
                    match present[load] {
                        Presence::Never => (0.0, 0.0),
                        Presence::Always => (least, most),
                        // A load that comes is followed from nothing at the volts of one boat to
                        // its current at those of another: the difference lies below nothing.
                        Presence::Some => {
                            let rest = most - least;
                            (least.min(0.0).min(-rest), most.max(0.0).max(rest))
                        }
                    }
                })
                .collect()
        };
        let scale = self.idle.iter().fold(1.0, |a: f64, b| a.max(b.abs()));
        for round in 0..MOST_ROUNDS {
            let taken = self.times_between(&drawn(&volts));
            let mut change: f64 = 0.0;
            for load in 0..count {
                let mut next = (
                    self.idle[load] - taken[load].1,
                    self.idle[load] - taken[load].0,
                );
                // The first round starts from idle volts and only widens.
                if round == 0 {
                    next.1 = next.1.max(self.idle[load]);
                }
                change = change
                    .max((next.0 - volts[load].0).abs())
                    .max((next.1 - volts[load].1).abs());
                if next.0 < COLLAPSED * self.idle[load].abs() {
                    return None;
                }
                volts[load] = next;
            }
            if change <= 1e-13 * scale {
                // What was still to come when the rounds ended, and rounding.
                for (low, high) in &mut volts {
                    *low -= 1e-11 * low.abs();
                    *high += 1e-11 * high.abs();
                }
                let slope =
                    |load: usize| match (present[load], slopes(behaviors[load], volts[load])) {
                        (Presence::Never, _) => (0.0, 0.0),
                        (Presence::Always, slopes) => slopes,
                        (Presence::Some, (least, most)) => (least.min(0.0), most.max(0.0)),
                    };
                let most = |load: usize| amps_between(behaviors[load], volts[load]).1;
                return Some(Bounds {
                    slope: (0..count).map(slope).collect(),
                    most_amps: (0..count).map(most).collect(),
                });
            }
        }
        None
    }

    /// By how much one more ampere at each load changes a sum of the loads' currents, on every
    /// boat within the bounds: `x = a - Z (slope x)`. `None` where that does not settle.
    pub fn sensitivity(
        &mut self,
        coefficients: &[f64],
        bounds: &Bounds,
    ) -> Option<Vec<(f64, f64)>> {
        let start: Vec<(f64, f64)> = coefficients.iter().map(|a| (*a, *a)).collect();
        if bounds.slope.iter().all(|slope| *slope == (0.0, 0.0)) {
            return Some(start);
        }
        let mut found = start;
        let mut last = f64::INFINITY;
        loop {
            let inner: Vec<(f64, f64)> = found
                .iter()
                .zip(&bounds.slope)
                .map(|(x, slope)| product(*x, *slope))
                .collect();
            let taken = self.times_between(&inner);
            let mut change: f64 = 0.0;
            let mut scale: f64 = 0.0;
            for ((x, a), taken) in found.iter_mut().zip(coefficients).zip(taken) {
                let next = (a - taken.1, a - taken.0);
                change = change.max((next.0 - x.0).abs()).max((next.1 - x.1).abs());
                scale = scale.max(next.0.abs()).max(next.1.abs());
                *x = next;
            }
            let ratio = change / last;
            if ratio >= 0.9 {
                return None;
            }
            if change <= 1e-6 * scale {
                // The rest shrinks by the same ratio from round to round.
                let ratio = ratio.max(0.1);
                let rest = change * ratio / (1.0 - ratio) + 1e-15 * scale;
                for x in &mut found {
                    *x = (x.0 - rest, x.1 + rest);
                }
                return Some(found);
            }
            last = change;
        }
    }

    /// Currents of the loads with these loads present; `None` without operating point.
    pub fn solve(&mut self, present: &[bool]) -> Option<Drawn> {
        let shares: Vec<f64> = present.iter().map(|on| f64::from(u8::from(*on))).collect();
        let network = &self.system.network;
        let Settling::Settled { .. } = network.settle(&mut self.scratch, Some(&shares)) else {
            return None;
        };
        let loads = network.network().loads.iter().enumerate();
        let would: Vec<f64> = loads
            .map(|(load, stated)| {
                let volts = network.load_volts(&self.scratch, load).value();
                amps_at(stated.behavior, volts)
            })
            .collect();
        let on = present.iter().zip(&would);
        Some(Drawn {
            amps: on.map(|(on, amps)| if *on { *amps } else { 0.0 }).collect(),
            would,
        })
    }
}

/// Whether no branch carries the current of one load one way and that of another the other way.
pub(crate) fn flows_one_way(system: &System) -> bool {
    let mut ways: BTreeMap<usize, bool> = BTreeMap::new();
    let mut passed = system.loads.iter().flat_map(|load| &load.way);
    passed.all(|&(branch, forward)| *ways.entry(branch).or_insert(forward) == forward)
}

/// Current of a load at some volts.
pub(super) fn amps_at(behavior: Behavior, volts: f64) -> f64 {
    amps_between(behavior, (volts, volts)).0
}

/// Least and greatest current of a load between two volts.
fn amps_between(behavior: Behavior, (low, high): (f64, f64)) -> (f64, f64) {
    let (one, other) = match behavior {
        Behavior::Current(amps) => (amps.value(), amps.value()),
        Behavior::Power(watts) if watts.value() == 0.0 => (0.0, 0.0),
        Behavior::Power(watts) => (watts.value() / low, watts.value() / high),
        Behavior::Resistance(ohms) => (low / ohms.value(), high / ohms.value()),
    };
    (one.min(other), one.max(other))
}

/// Change of a load's current with its volts between two volts: least and greatest.
fn slopes(behavior: Behavior, (low, high): (f64, f64)) -> (f64, f64) {
    match behavior {
        Behavior::Current(_) => (0.0, 0.0),
        Behavior::Resistance(ohms) => (1.0 / ohms.value(), 1.0 / ohms.value()),
        Behavior::Power(watts) => {
            let one = -watts.value() / (low * low);
            let other = -watts.value() / (high * high);
            (one.min(other), one.max(other))
        }
    }
}

/// Product of two values between bounds.
fn product(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    let all = [a.0 * b.0, a.0 * b.1, a.1 * b.0, a.1 * b.1];
    let fold = |choose: fn(f64, f64) -> f64| all.into_iter().fold(all[0], choose);
    (fold(f64::min), fold(f64::max))
}
