//! Between which volts and currents the loads of a system lie on every boat looked at.
//!
//! With the factors `Z` (volts that one ampere of a load takes from another) the volts are
//! `V = V idle - Z I`, and each current lies between those at the least and the greatest volts.
//! Starting from idle volts the greatest currents lower the least volts until they settle; on no
//! boat are they lower, since each boat draws at most these currents at higher volts. With the
//! least currents it is the other way round.

use super::systems::{Consumer, System};
use crate::boats::Presence;
use crate::extremes::{greater, lesser};
use crate::network::{Behavior, Scratch, Settling, Taken};
use crate::units::Ohms;
use crate::working::NotEvaluated;
use std::collections::BTreeMap;

/// Rounds after which the least volts are taken as not to be had.
const MOST_ROUNDS: usize = 200;
/// Steps in which what follows from bounds has to come to lie within them.
const MOST_STEPS: usize = 12;
/// Part of the width of bounds by which they need not be narrowed any further.
const LITTLE: f64 = 0.2;
/// Share of the idle volts below which the least volts count as collapsed.
const COLLAPSED: f64 = 0.2;

/// What holds for each load of a system on every boat looked at.
#[derive(Clone, Debug, Default)]
pub struct Bounds {
    /// Its volts.
    volts: Vec<Between>,
    /// Change of its current with its volts, absent loads counted: least and greatest.
    pub slope: Vec<Between>,
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
    /// Currents that were multiplied last, and the volts they take.
    amps: Vec<Between>,
    taken: Vec<Between>,
    room: Taken<2>,
}

/// The least and the greatest of a value.
pub type Between = [f64; 2];

/// Most loads of a system with loops: their table is square.
const MOST_IN_TABLE: usize = 2_000;

impl<'s> Factors<'s> {
    /// Finds them.
    ///
    /// # Errors
    /// Where the system cannot be solved without load, or is too large a net of loops.
    pub fn of(system: &'s System) -> Result<Self, NotEvaluated> {
        let mut scratch = Scratch::default();
        let none = vec![0.0; system.loads.len()];
        let Settling::Settled { .. } = system.network.settle(&mut scratch, Some(&none)) else {
            return Err(NotEvaluated::because("they cannot be solved without load"));
        };
        let idle = (0..system.loads.len())
            .map(|load| system.network.load_volts(&scratch, load).value())
            .collect();
        let mut factors = Self {
            system,
            idle,
            table: None,
            scratch,
            amps: Vec::new(),
            taken: Vec::new(),
            room: Taken::default(),
        };
        // On a tree whose branches carry current one way only, what a load draws lowers the volts
        // of others or leaves them, so the least and greatest currents give the greatest and
        // least volts. Elsewhere loads may play against each other, which takes the table.
        let no_amps = vec![[0.0, 0.0]; system.loads.len()];
        let multiplies = system.unit.taken(&no_amps, &mut factors.room).is_some();
        if !(multiplies && system.unit.has_one_way() && flows_one_way(system)) {
            if system.loads.len() > MOST_IN_TABLE {
                return Err(NotEvaluated::because(format!(
                    "currents part or meet on the way of {} loads; up to {MOST_IN_TABLE} are searched",
                    system.loads.len()
                )));
            }
            let loads = 0..system.loads.len();
            factors.table = Some(loads.map(|load| factors.of_load(load)).collect());
        }
        Ok(factors)
    }

    /// Volts that one ampere of a load takes from each load.
    pub fn of_load(&mut self, load: usize) -> Vec<f64> {
        if let Some(table) = &self.table {
            // Reciprocal: what one takes from the other, the other takes from the one.
            return table[load].clone();
        }
        let mut amps = vec![[0.0]; self.system.loads.len()];
        amps[load] = [1.0];
        if let Some(taken) = self.system.unit.taken(&amps, &mut Taken::default()) {
            return taken.iter().map(|[volts]| *volts).collect();
        }
        self.settle_unit(amps.as_flattened());
        let loads = 0..amps.len();
        loads
            .map(|load| -self.system.unit.load_volts(&self.scratch, load).value())
            .collect()
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

    /// `Z` times currents between bounds, left in [`Self::taken`].
    fn multiply(&mut self, amps: impl Iterator<Item = Between>) {
        self.amps.clear();
        self.amps.extend(amps);
        self.taken.clear();
        match &self.table {
            Some(table) => {
                let row = |row: &Vec<f64>| {
                    let each = row.iter().zip(&self.amps);
                    each.fold([0.0, 0.0], |[low, high], (z, [a, b])| {
                        let (one, other) = (z * a, z * b);
                        [low + lesser(one, other), high + greater(one, other)]
                    })
                };
                self.taken.extend(table.iter().map(row));
            }
            None => {
                let taken = self.system.unit.taken(&self.amps, &mut self.room);
                // A tree, or there would be a table.
                self.taken.extend_from_slice(taken.unwrap_or_default());
            }
        }
    }

    /// Bounds on boats on which each load is present as told; `None` where the loads together
    /// may be more than the wires can carry. `outer` are bounds on these boats and more.
    pub fn bounds(&mut self, present: &[Presence], outer: Option<&Bounds>) -> Option<Bounds> {
        let loads = &self.system.network.network().loads;
        let behaviors: Vec<Behavior> = loads.iter().map(|load| load.behavior).collect();
        let mut volts = match outer {
            Some(outer) => self.narrowed(present, outer.volts.clone()),
            None => self.settled(present)?,
        };
        // What was still to come when the rounds ended, and rounding.
        for [low, high] in &mut volts {
            *low -= 1e-11 * low.abs();
            *high += 1e-11 * high.abs();
        }
        let slope = |load: usize| match (present[load], slopes(behaviors[load], volts[load])) {
            (Presence::Never, _) => [0.0, 0.0],
            (Presence::Always, slopes) => slopes,
            (Presence::Some, [least, most]) => [lesser(least, 0.0), greater(most, 0.0)],
        };
        let most = |load: usize| amps_between(behaviors[load], volts[load])[1];
        let each = 0..behaviors.len();
        Some(Bounds {
            slope: each.clone().map(slope).collect(),
            most_amps: each.map(most).collect(),
            volts,
        })
    }

    /// The volts that follow from volts between bounds, left in [`Self::taken`].
    fn following(&mut self, present: &[Presence], volts: &[Between]) {
        let loads = &self.system.network.network().loads;
        let each = loads.iter().zip(present).zip(volts);
        self.multiply(each.map(|((load, present), volts)| {
            let [least, most] = amps_between(load.behavior, *volts);
            match present {
                Presence::Never => [0.0, 0.0],
                Presence::Always => [least, most],
                // A load that comes is followed from nothing at the volts of one boat to its
                // current at those of another: the difference lies below nothing.
                Presence::Some => {
                    let rest = most - least;
                    let low = lesser(lesser(least, 0.0), -rest);
                    [low, greater(greater(most, 0.0), rest)]
                }
            }
        }));
        for (taken, idle) in self.taken.iter_mut().zip(&self.idle) {
            *taken = [idle - taken[1], idle - taken[0]];
        }
    }

    /// Volts on all these boats, from idle ones on until they settle.
    fn settled(&mut self, present: &[Presence]) -> Option<Vec<Between>> {
        let mut volts: Vec<Between> = self.idle.iter().map(|idle| [*idle, *idle]).collect();
        let scale = self.scale();
        for round in 0..MOST_ROUNDS {
            self.following(present, &volts);
            if round == 0 {
                // The first round starts from idle volts and only widens.
                for ([_, high], idle) in self.taken.iter_mut().zip(&self.idle) {
                    *high = greater(*high, *idle);
                }
            }
            let mut each = self.taken.iter().zip(&self.idle);
            if each.any(|([low, _], idle)| *low < COLLAPSED * idle.abs()) {
                return None;
            }
            let change = distance(&volts, &self.taken);
            volts.copy_from_slice(&self.taken);
            if change <= 1e-13 * scale {
                return Some(volts);
            }
        }
        None
    }

    /// Volts on some of the boats on which they lie between bounds: whatever follows from bounds
    /// bounds them too, so that the rounds may end when little more comes of them.
    fn narrowed(&mut self, present: &[Presence], mut volts: Vec<Between>) -> Vec<Between> {
        let scale = self.scale();
        for _ in 0..MOST_ROUNDS {
            self.following(present, &volts);
            for (next, known) in self.taken.iter_mut().zip(&volts) {
                *next = [greater(next[0], known[0]), lesser(next[1], known[1])];
            }
            let change = distance(&volts, &self.taken);
            volts.copy_from_slice(&self.taken);
            if change <= greater(LITTLE * widest(&volts), 1e-10 * scale) {
                break;
            }
        }
        volts
    }

    /// The greatest volts of a load with no load drawing.
    fn scale(&self) -> f64 {
        self.idle.iter().fold(1.0, |a, b| greater(a, b.abs()))
    }

    /// By how much one more ampere at each load changes a sum of the loads' currents, on every
    /// boat within the bounds: `x = a - Z (slope x)`. `None` where that does not settle. `rough` is
    /// the part of their width by which they may be wider still.
    ///
    /// What follows from bounds, in one step or several, within those bounds holds the solution:
    /// R. Krawczyk, "Newton-Algorithmen zur Bestimmung von Nullstellen mit Fehlerschranken",
    /// Computing 4, 1969 (from memory).
    pub fn sensitivity(
        &mut self,
        coefficients: &[f64],
        bounds: &Bounds,
        rough: f64,
    ) -> Option<Vec<Between>> {
        let mut found: Vec<Between> = coefficients.iter().map(|a| [*a, *a]).collect();
        // What does not hang on volts does not change with them.
        let mut pairs = coefficients.iter().zip(&bounds.slope);
        if pairs.all(|(a, slope)| *a == 0.0 || *slope == [0.0, 0.0]) {
            return Some(found);
        }
        let scale = coefficients.iter().fold(0.0, |a, b| greater(a, b.abs()));
        let mut last = scale;
        for round in 0..MOST_ROUNDS {
            self.answering(coefficients, bounds, &found);
            let change = distance(&found, &self.taken);
            let ratio = change / last;
            if ratio >= 0.9 && round > 0 {
                return None;
            }
            last = change;
            let is_near = change <= greater(rough * widest(&self.taken), 1e-9 * scale);
            if !(ratio < 0.9 && is_near) {
                found.copy_from_slice(&self.taken);
                continue;
            }
            // More than what is still to come, of each in proportion to what came last; whether it
            // is enough is proven.
            let ratio = greater(ratio, 0.1);
            let more = 4.0 * ratio / (1.0 - ratio);
            let each = found.iter().zip(&self.taken);
            let wide = each.map(|(before, now)| {
                let rest = more * distance(&[*before], &[*now]);
                [now[0] - rest, now[1] + rest]
            });
            let wide: Vec<Between> = wide.collect();
            found.copy_from_slice(&self.taken);
            let lost = 1e-12 * scale;
            let mut next = wide.clone();
            for _ in 0..MOST_STEPS {
                self.answering(coefficients, bounds, &next);
                next.copy_from_slice(&self.taken);
                let mut pairs = next.iter().zip(&wide);
                if pairs.all(|(next, wide)| wide[0] - lost <= next[0] && next[1] <= wide[1] + lost)
                {
                    return Some(next);
                }
            }
        }
        None
    }

    /// `a - Z (slope x)` for `x` between bounds, left in [`Self::taken`].
    fn answering(&mut self, coefficients: &[f64], bounds: &Bounds, found: &[Between]) {
        let each = found.iter().zip(&bounds.slope);
        self.multiply(each.map(|(x, slope)| product(*x, *slope)));
        for (taken, a) in self.taken.iter_mut().zip(coefficients) {
            *taken = [a - taken[1], a - taken[0]];
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
    amps_between(behavior, [volts, volts])[0]
}

/// Least and greatest current of a load between two volts.
fn amps_between(behavior: Behavior, [low, high]: Between) -> Between {
    let (one, other) = match behavior {
        Behavior::Current(amps) => (amps.value(), amps.value()),
        Behavior::Power(watts) if watts.value() == 0.0 => (0.0, 0.0),
        Behavior::Power(watts) => (watts.value() / low, watts.value() / high),
        Behavior::Resistance(ohms) => (low / ohms.value(), high / ohms.value()),
    };
    [lesser(one, other), greater(one, other)]
}

/// Change of a load's current with its volts between two volts: least and greatest.
fn slopes(behavior: Behavior, [low, high]: Between) -> Between {
    match behavior {
        Behavior::Current(_) => [0.0, 0.0],
        Behavior::Resistance(ohms) => [1.0 / ohms.value(), 1.0 / ohms.value()],
        Behavior::Power(watts) => {
            let one = -watts.value() / (low * low);
            let other = -watts.value() / (high * high);
            [lesser(one, other), greater(one, other)]
        }
    }
}

/// Product of two values between bounds.
fn product(a: Between, b: Between) -> Between {
    let (one, other) = (a[0] * b[0], a[1] * b[1]);
    let (third, fourth) = (a[0] * b[1], a[1] * b[0]);
    [
        lesser(lesser(one, other), lesser(third, fourth)),
        greater(greater(one, other), greater(third, fourth)),
    ]
}

/// How far bounds are from other bounds at most.
fn distance(one: &[Between], other: &[Between]) -> f64 {
    one.iter().zip(other).fold(0.0, |most, (one, other)| {
        let apart = greater((one[0] - other[0]).abs(), (one[1] - other[1]).abs());
        greater(most, apart)
    })
}

/// The greatest width of bounds.
fn widest(bounds: &[Between]) -> f64 {
    let widths = bounds.iter().map(|[low, high]| high - low);
    widths.fold(0.0, greater)
}
