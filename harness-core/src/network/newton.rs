//! Newton's method on the nodal equations: for loops, and where sweeps are too slow.
//!
//! It starts at the volts without load, above every operating point. There the equations are
//! positive definite, and they stay so down to the operating point at high volts; a pivot that
//! is not positive, or volts that reverse, mean that the constant-power loads ask too much.
//! Before that is reported, the loads are scaled down until they have an operating point, and
//! up again to the largest share that still has one.

use super::factor::{Numbers, Pattern};
use super::layout::Layout;
use super::load_table::{LoadTable, SharedValues, Values};
use super::ordering::minimum_degree;
use super::{Collapse, Load, has_settled, has_stalled};
use crate::units::Volts;

/// Steps after which an iteration counts as not settling.
pub(super) const MOST_STEPS: usize = 100;
/// Steps below this, in parts of the volts, that no longer halve are rounding.
const ROUNDING: f64 = 1e-10;
/// Halvings in the search for the largest share: it is found to a millionth.
const HALVINGS: usize = 20;
/// Volts below this part of the largest are none.
const NO_VOLTS: f64 = 1e-12;

/// Nodal equations with everything that does not change from solve to solve.
///
/// Unknowns are the drops of all clusters but the reference, in elimination order; one more
/// place at the end stands for the reference, is written to and never read.
#[derive(Clone, Debug)]
pub(super) struct Equations {
    /// Place of each cluster.
    place: Vec<u32>,
    pattern: Pattern,
    /// Matrix of the links alone.
    wires: Numbers,
    links: Vec<(u32, u32, f64)>,
    /// Currents driven by sources of unequal volts.
    pushed_amps: Vec<f64>,
    table: LoadTable,
    /// Entry of the matrix between the two ends of each constant-power load.
    power_entry: Vec<u32>,
    conductance_entry: Vec<u32>,
    /// Drops and load volts without load.
    open_drop: Vec<f64>,
    open_volts: Vec<f64>,
    volts_scale: f64,
}

/// Room for one solve.
#[derive(Clone, Debug, Default)]
pub(super) struct NewtonScratch {
    values: SharedValues,
    steady_amps: Vec<f64>,
    drop: Vec<f64>,
    solvable_drop: Vec<f64>,
    right: Vec<f64>,
    numbers: Numbers,
}

/// How Newton's method ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NewtonEnd {
    Settled(usize),
    Collapsed(Collapse),
    NotSettled,
}

/// Why one iteration stopped without result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stop {
    /// No operating point can be reached.
    Failed,
    /// Too many steps.
    Endless,
}

impl Equations {
    /// Orders and compiles the equations; `Err` holds the entries at which it gave up.
    pub(super) fn new(layout: &Layout, loads: &[Load]) -> Result<Self, usize> {
        let count = layout.clusters.count - 1;
        let unknown_of_cluster = |cluster: u32| cluster.wrapping_sub(1);
        let load_edges = loads
            .iter()
            .filter(|load| !matches!(load.behavior, super::Behavior::Current(_)))
            .map(|load| {
                (
                    layout.clusters.of_node[load.from],
                    layout.clusters.of_node[load.to],
                )
            });
        let edges: Vec<(u32, u32)> = layout
            .links
            .iter()
            .map(|link| (link.from, link.to))
            .chain(load_edges)
            .filter(|&(from, to)| from != to && from != 0 && to != 0)
            .map(|(from, to)| (unknown_of_cluster(from), unknown_of_cluster(to)))
            .collect();
        let elimination = minimum_degree(count, &edges)?;
        let mut place = vec![count as u32];
        place.extend_from_slice(&elimination.turn);
        let pattern = Pattern::new(elimination);

        let unread = pattern.entries();
        let entry = |from: u32, to: u32| {
            let outside = from as usize == count || to as usize == count;
            if outside {
                unread
            } else {
                pattern.entry(from, to)
            }
        };
        let mut wires = Numbers {
            diagonal: vec![0.0; count + 1],
            below: vec![0.0; unread + 1],
        };
        let mut links = Vec::with_capacity(layout.links.len());
        let mut pushed_amps = vec![0.0; count + 1];
        for link in &layout.links {
            let (from, to) = (place[link.from as usize], place[link.to as usize]);
            wires.diagonal[from as usize] += link.conductance;
            wires.diagonal[to as usize] += link.conductance;
            wires.below[entry(from, to)] -= link.conductance;
            pushed_amps[from as usize] += link.conductance * link.push;
            pushed_amps[to as usize] -= link.conductance * link.push;
            links.push((from, to, link.conductance));
        }
        links.sort_unstable_by_key(|&(from, to, _)| (from.min(to), from.max(to)));
        let table = LoadTable::new(layout, loads, &place);
        let entries_of = |columns: &super::load_table::LoadColumns| -> Vec<u32> {
            (0..columns.len())
                .map(|i| entry(columns.from[i], columns.to[i]) as u32)
                .collect()
        };
        let (power_entry, conductance_entry) =
            (entries_of(&table.power), entries_of(&table.conductance));
        let mut equations = Self {
            place,
            wires,
            links,
            pushed_amps,
            power_entry,
            conductance_entry,
            open_drop: vec![0.0; count + 1],
            open_volts: Vec::new(),
            volts_scale: layout.volts_scale,
            table,
            pattern,
        };
        equations.find_open_volts(layout.needs_loads);
        Ok(equations)
    }

    /// Solves without load; where resistance loads join nodes to the reference, with them.
    fn find_open_volts(&mut self, needs_loads: bool) {
        let none = vec![0.0; self.table.current.len().max(self.table.power.len())];
        let no_conductance = vec![0.0; self.table.conductance.len()];
        let values = Values {
            current: &none[..self.table.current.len()],
            power: &none[..self.table.power.len()],
            conductance: if needs_loads {
                &self.table.conductance.value
            } else {
                &no_conductance
            },
        };
        let mut scratch = NewtonScratch::default();
        let NewtonScratch {
            steady_amps,
            drop,
            right,
            numbers,
            ..
        } = &mut scratch;
        drop.clone_from(&self.open_drop);
        steady_amps.clone_from(&self.pushed_amps);
        let mut iteration = Iteration {
            equations: self,
            values,
            steady_amps,
            right,
            numbers,
        };
        // Linear and connected: it settles; if rounding keeps it from that, the last is near.
        let _settled = iteration.newton(drop, 0.0);
        self.open_volts = (0..self.table.power.len())
            .map(|i| self.table.power.volts(i, drop))
            .collect();
        self.open_drop = scratch.drop;
    }

    /// Finds the operating point at high volts and writes the drop of each cluster.
    pub(super) fn run(
        &self,
        scratch: &mut NewtonScratch,
        shares: Option<&[f64]>,
        cluster_drop: &mut [f64],
    ) -> NewtonEnd {
        let NewtonScratch {
            values,
            steady_amps,
            drop,
            solvable_drop,
            right,
            numbers,
        } = scratch;
        let values = values.of(&self.table, shares);
        steady_amps.clone_from(&self.pushed_amps);
        for (i, value) in values.current.iter().enumerate() {
            steady_amps[self.table.current.from[i] as usize] += value;
            steady_amps[self.table.current.to[i] as usize] -= value;
        }
        let mut iteration = Iteration {
            equations: self,
            values,
            steady_amps,
            right,
            numbers,
        };
        drop.clone_from(&self.open_drop);
        let end = match iteration.newton(drop, 1.0) {
            Ok(steps) => NewtonEnd::Settled(steps),
            Err(_) => iteration.approach(drop, solvable_drop),
        };
        if matches!(end, NewtonEnd::Settled(_)) {
            for (cluster_drop, &place) in cluster_drop.iter_mut().zip(&self.place) {
                *cluster_drop = drop[place as usize];
            }
        }
        end
    }
}

/// One set of loads on the equations, with the room to iterate.
struct Iteration<'a> {
    equations: &'a Equations,
    values: Values<'a>,
    /// Currents that do not depend on volts.
    steady_amps: &'a [f64],
    right: &'a mut Vec<f64>,
    numbers: &'a mut Numbers,
}

impl Iteration<'_> {
    /// Iterates `drop` with `share` of every constant-power load; the steps taken.
    fn newton(&mut self, drop: &mut [f64], share: f64) -> Result<usize, Stop> {
        let reference = drop.len() - 1;
        // Without constant power the matrix stays the same.
        let linear = self.values.power.iter().all(|&power| power == 0.0);
        let mut refactor = true;
        let mut last_step = f64::INFINITY;
        for steps in 1..=MOST_STEPS {
            self.assemble(drop, share, refactor)?;
            if refactor {
                self.equations
                    .pattern
                    .factor(self.numbers)
                    .map_err(|_| Stop::Failed)?;
            }
            self.equations.pattern.solve(self.numbers, self.right);
            self.right[reference] = 0.0;
            let mut step: f64 = 0.0;
            let mut scale = self.equations.volts_scale;
            for (drop, change) in drop.iter_mut().zip(&*self.right) {
                *drop += change;
                step = step.max(change.abs());
                scale = scale.max(drop.abs());
            }
            if !step.is_finite() {
                return Err(Stop::Failed);
            }
            let stalled = has_stalled(step, last_step, ROUNDING, scale);
            if stalled || has_settled(step, last_step, scale) {
                return Ok(steps);
            }
            refactor = !linear;
            last_step = step;
        }
        Err(Stop::Endless)
    }

    /// Right side: what is missing at each cluster at these drops; with `refactor`, the matrix.
    fn assemble(&mut self, drop: &[f64], share: f64, refactor: bool) -> Result<(), Stop> {
        let equations = self.equations;
        let right = &mut *self.right;
        right.clear();
        right.extend_from_slice(self.steady_amps);
        if refactor {
            self.numbers.diagonal.clone_from(&equations.wires.diagonal);
            self.numbers.below.clone_from(&equations.wires.below);
        }
        let numbers = &mut *self.numbers;
        let mut stamp = |from: usize, to: usize, entry: u32, slope: f64| {
            numbers.diagonal[from] += slope;
            numbers.diagonal[to] += slope;
            numbers.below[entry as usize] -= slope;
        };
        let power = &equations.table.power;
        for (i, &value) in self.values.power.iter().enumerate() {
            let value = value * share;
            if value == 0.0 {
                continue;
            }
            let volts = power.volts(i, drop);
            if volts * equations.open_volts[i] <= 0.0 {
                return Err(Stop::Failed);
            }
            let current = value / volts;
            let (from, to) = (power.from[i] as usize, power.to[i] as usize);
            right[from] += current;
            right[to] -= current;
            if refactor {
                stamp(from, to, equations.power_entry[i], -current / volts);
            }
        }
        let conductance = &equations.table.conductance;
        for (i, &value) in self.values.conductance.iter().enumerate() {
            let current = value * conductance.volts(i, drop);
            let (from, to) = (conductance.from[i] as usize, conductance.to[i] as usize);
            right[from] += current;
            right[to] -= current;
            if refactor {
                stamp(from, to, equations.conductance_entry[i], value);
            }
        }
        for &(from, to, conductance) in &equations.links {
            let current = conductance * (drop[from as usize] - drop[to as usize]);
            right[from as usize] -= current;
            right[to as usize] += current;
        }
        Ok(())
    }

    /// From no constant-power load upward: the operating point after all, or the largest share
    /// that has one and the load whose volts fall fastest there.
    fn approach(&mut self, drop: &mut Vec<f64>, solvable_drop: &mut Vec<f64>) -> NewtonEnd {
        drop.clone_from(&self.equations.open_drop);
        if self.newton(drop, 0.0).is_err() {
            return NewtonEnd::NotSettled;
        }
        if let Some((load, volts)) = self.load_without_volts(drop) {
            return NewtonEnd::Collapsed(Collapse {
                load,
                share: 0.0,
                volts,
            });
        }
        solvable_drop.clone_from(drop);
        let (mut solvable, mut too_much, mut share) = (0.0, 1.0, 1.0);
        let mut proven = false;
        for _ in 0..=HALVINGS {
            drop.clone_from(solvable_drop);
            match self.newton(drop, share) {
                Ok(steps) if share == 1.0 => return NewtonEnd::Settled(steps),
                Ok(_) => {
                    solvable = share;
                    std::mem::swap(drop, solvable_drop);
                }
                Err(stop) => {
                    too_much = share;
                    proven = stop == Stop::Failed;
                }
            }
            share = 0.5 * (solvable + too_much);
        }
        if !proven {
            return NewtonEnd::NotSettled;
        }
        match self.fastest_falling(solvable_drop, solvable) {
            Some((load, volts)) => NewtonEnd::Collapsed(Collapse {
                load,
                share: solvable,
                volts,
            }),
            None => NewtonEnd::NotSettled,
        }
    }

    /// The first constant-power load that has no volts, or reversed ones, before it draws.
    fn load_without_volts(&self, drop: &[f64]) -> Option<(usize, Volts)> {
        let power = &self.equations.table.power;
        let scale = drop.iter().fold(self.equations.volts_scale, |scale, drop| {
            scale.max(drop.abs())
        });
        (0..power.len())
            .filter(|&i| self.values.power[i] != 0.0)
            .map(|i| (i, power.volts(i, drop)))
            .filter(|&(i, volts)| {
                volts * self.equations.open_volts[i] <= 0.0 || volts.abs() <= NO_VOLTS * scale
            })
            .map(|(i, volts)| (power.load[i] as usize, Volts::new(volts)))
            .min_by_key(|&(load, _)| load)
    }

    /// The constant-power load whose volts fall most, in parts of what they are, as the share
    /// of all grows: near the limit all others follow this one.
    fn fastest_falling(&mut self, drop: &[f64], share: f64) -> Option<(usize, Volts)> {
        self.assemble(drop, share, true).ok()?;
        self.equations.pattern.factor(self.numbers).ok()?;
        let power = &self.equations.table.power;
        self.right.fill(0.0);
        for (i, value) in self.values.power.iter().enumerate() {
            if *value != 0.0 {
                let current = value / power.volts(i, drop);
                self.right[power.from[i] as usize] += current;
                self.right[power.to[i] as usize] -= current;
            }
        }
        self.equations.pattern.solve(self.numbers, self.right);
        let reference = drop.len() - 1;
        self.right[reference] = 0.0;
        let drawing = (0..power.len()).filter(|&i| self.values.power[i] > 0.0);
        let falls = drawing.map(|i| {
            let volts = power.volts(i, drop);
            let fall = self.right[power.from[i] as usize] - self.right[power.to[i] as usize];
            (fall / volts, power.load[i] as usize, Volts::new(volts))
        });
        // Of equals the first of the list.
        let fastest = falls.max_by(|one, other| {
            let by_fall = one.0.total_cmp(&other.0);
            by_fall.then(other.1.cmp(&one.1))
        });
        fastest.map(|(_, load, volts)| (load, volts))
    }
}
