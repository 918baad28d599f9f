//! Backward/forward sweep: exact and fastest where conductors and sources form a tree.
//!
//! With the currents of the loads given, every other current follows by adding from the tips
//! to the root (backward), every drop by adding from the root to the tips (forward). New drops
//! give new load currents, until they settle. A feed tree and a return tree that meet only at
//! the source and in loads are one tree here. Method: Shirmohammadi et al., "A compensation-based
//! power flow method for weakly meshed distribution and transmission networks", IEEE Trans.
//! Power Systems 3(2), 1988 (from memory). The sweeps run on the folded tree; one last pass
//! spreads the settled currents over the whole of it.

use super::fold::Folded;
use super::layout::Layout;
use super::load_table::{LoadTable, SharedValues, Values};
use super::{Load, has_settled, has_stalled};

/// Sweeps after which Newton's method is the faster one.
const MOST_SWEEPS: usize = 25;
/// Changes below this, in parts of the volts, that no longer halve are rounding.
const ROUNDING: f64 = 1e-14;

/// The tree in an order with every parent before its children; place 0 is the reference.
#[derive(Clone, Debug)]
pub(super) struct Sweep {
    parent: Vec<u32>,
    resistance: Vec<f64>,
    cluster: Vec<u32>,
    table: LoadTable,
    folded: Folded,
    volts_scale: f64,
}

/// Room for one solve.
#[derive(Clone, Debug, Default)]
pub(super) struct SweepScratch {
    values: SharedValues,
    steady_amps: Vec<f64>,
    amps: Vec<f64>,
    drop: Vec<f64>,
    power: Drawn,
    conductance: Drawn,
}

/// What loads of one behavior see and draw in the sweep at hand.
#[derive(Clone, Debug, Default)]
struct Drawn {
    volts: Vec<f64>,
    amps: Vec<f64>,
}

/// Room for the volts that given currents take, and these volts.
#[derive(Clone, Debug)]
pub struct Taken<const SETS: usize> {
    drop: Vec<[f64; SETS]>,
    taken: Vec<[f64; SETS]>,
}

impl<const SETS: usize> Default for Taken<SETS> {
    fn default() -> Self {
        Self {
            drop: Vec::new(),
            taken: Vec::new(),
        }
    }
}

/// How a run of sweeps ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SweepEnd {
    /// Settled after this many sweeps.
    Settled(usize),
    /// Given up after this many: a load cannot be served at these volts, or too slow.
    GivenUp(usize),
}

impl Sweep {
    /// Orders the tree depth first, so that neighbors lie close in memory, and folds it.
    pub(super) fn new(layout: &Layout, loads: &[Load]) -> Self {
        let count = layout.clusters.count;
        let neighbors = layout.link_neighbors();
        const NONE: u32 = u32::MAX;
        let mut place = vec![NONE; count];
        let mut parent = Vec::with_capacity(count);
        let mut resistance = Vec::with_capacity(count);
        let mut cluster = Vec::with_capacity(count);
        let mut stack = vec![(0u32, 0u32, 0.0)];
        while let Some((next, above, ohms)) = stack.pop() {
            let own = cluster.len() as u32;
            place[next as usize] = own;
            cluster.push(next);
            parent.push(above);
            resistance.push(ohms);
            for &(other, link) in neighbors.of(next).iter().rev() {
                if place[other as usize] == NONE {
                    stack.push((other, own, 1.0 / layout.links[link as usize].conductance));
                }
            }
        }
        let table = LoadTable::new(layout, loads, &place);
        let folded = Folded::new(&parent, &resistance, &table);
        Self {
            parent,
            resistance,
            cluster,
            table,
            folded,
            volts_scale: layout.volts_scale,
        }
    }

    /// Sweeps from no drops until the load volts settle; writes the drop of each cluster.
    pub(super) fn run(
        &self,
        scratch: &mut SweepScratch,
        shares: Option<&[f64]>,
        cluster_drop: &mut [f64],
    ) -> SweepEnd {
        let SweepScratch {
            values,
            steady_amps,
            amps,
            drop,
            power,
            conductance,
        } = scratch;
        let values = values.of(&self.table, shares);
        let folded = &self.folded;
        let count = folded.parent.len();
        steady_amps.clear();
        steady_amps.resize(count, 0.0);
        let current = &folded.table.current;
        add_amps(values.current, &current.from, &current.to, steady_amps);
        drop.clear();
        drop.resize(count, 0.0);
        power.start(&folded.table.power.base);
        conductance.start(&folded.table.conductance.base);
        let mut last_change = f64::INFINITY;
        let mut sweeps = 0;
        loop {
            let Some(change) = self.draw(values, drop, power, conductance) else {
                return SweepEnd::GivenUp(sweeps);
            };
            if sweeps > 0 {
                let scale = self.volts_scale;
                let stalled = has_stalled(change, last_change, ROUNDING, scale);
                if stalled || has_settled(change, last_change, scale) {
                    break;
                }
                last_change = change;
            }
            if sweeps == MOST_SWEEPS {
                return SweepEnd::GivenUp(sweeps);
            }
            amps.clone_from(steady_amps);
            add_amps(
                &power.amps,
                &folded.table.power.from,
                &folded.table.power.to,
                amps,
            );
            let table = &folded.table.conductance;
            add_amps(&conductance.amps, &table.from, &table.to, amps);
            pass(&folded.parent, &folded.resistance, amps, drop);
            sweeps += 1;
        }
        self.spread(values, power, conductance, (amps, drop), cluster_drop);
        SweepEnd::Settled(sweeps)
    }

    /// Volts that given currents of the loads, in the order of the network, take from each of
    /// them: one pass over the places where currents meet, for several sets of currents at once.
    pub(super) fn taken<'r, const SETS: usize>(
        &self,
        load_amps: &[[f64; SETS]],
        room: &'r mut Taken<SETS>,
    ) -> &'r [[f64; SETS]] {
        let folded = &self.folded;
        let columns = || {
            let table = &folded.table;
            let series = [
                &folded.current_series,
                &folded.power_series,
                &folded.conductance_series,
            ];
            [&table.current, &table.power, &table.conductance]
                .into_iter()
                .zip(series)
        };
        let each = || 0..SETS;
        let amps = &mut room.drop;
        amps.clear();
        amps.resize(folded.parent.len(), [0.0; SETS]);
        for (columns, _) in columns() {
            for ((&load, &from), &to) in columns.load.iter().zip(&columns.from).zip(&columns.to) {
                for set in each() {
                    amps[from as usize][set] += load_amps[load as usize][set];
                    amps[to as usize][set] -= load_amps[load as usize][set];
                }
            }
        }
        for place in (1..amps.len()).rev() {
            let own = amps[place];
            let above = &mut amps[folded.parent[place] as usize];
            for set in each() {
                above[set] += own[set];
            }
        }
        // From here on volts, in the same room.
        let drop = amps;
        drop[0] = [0.0; SETS];
        for place in 1..drop.len() {
            let above = drop[folded.parent[place] as usize];
            let (own, ohms) = (&mut drop[place], folded.resistance[place]);
            for set in each() {
                own[set] = above[set] + ohms * own[set];
            }
        }
        let taken = &mut room.taken;
        taken.resize(load_amps.len(), [0.0; SETS]);
        for (columns, series) in columns() {
            let ends = columns.from.iter().zip(&columns.to);
            for ((&load, (&from, &to)), ohms) in columns.load.iter().zip(ends).zip(series) {
                let (out, back) = (&drop[from as usize], &drop[to as usize]);
                for set in each() {
                    taken[load as usize][set] =
                        out[set] - back[set] + ohms * load_amps[load as usize][set];
                }
            }
        }
        taken
    }

    /// Volts and currents of the loads at the present drops. Returns the largest change of
    /// volts, or nothing where constant power cannot be had.
    fn draw(
        &self,
        values: Values<'_>,
        drop: &[f64],
        power: &mut Drawn,
        conductance: &mut Drawn,
    ) -> Option<f64> {
        let mut change: f64 = 0.0;
        let columns = &self.folded.table.power;
        for (i, &value) in values.power.iter().enumerate() {
            let before_wires = columns.volts(i, drop);
            let root = before_wires * before_wires - 4.0 * value * self.folded.power_series[i];
            let volts = 0.5 * (before_wires + root.sqrt().copysign(before_wires));
            // Reversed or no volts, or a negative root, which gives a NaN.
            let served = volts * columns.base[i] > 0.0;
            if !served && value != 0.0 {
                return None;
            }
            change = change.max((volts - power.volts[i]).abs());
            power.volts[i] = volts;
            power.amps[i] = if value == 0.0 { 0.0 } else { value / volts };
        }
        let columns = &self.folded.table.conductance;
        for (i, &value) in values.conductance.iter().enumerate() {
            let volts = columns.volts(i, drop);
            change = change.max((volts - conductance.volts[i]).abs());
            conductance.volts[i] = volts;
            let series = self.folded.conductance_series[i];
            conductance.amps[i] = value * volts / (1.0 + value * series);
        }
        Some(change)
    }

    /// One pass over the whole tree with the settled currents.
    fn spread(
        &self,
        values: Values<'_>,
        power: &Drawn,
        conductance: &Drawn,
        (amps, drop): (&mut Vec<f64>, &mut Vec<f64>),
        cluster_drop: &mut [f64],
    ) {
        amps.clear();
        amps.resize(self.parent.len(), 0.0);
        let table = &self.table;
        add_amps(values.current, &table.current.from, &table.current.to, amps);
        add_amps(&power.amps, &table.power.from, &table.power.to, amps);
        add_amps(
            &conductance.amps,
            &table.conductance.from,
            &table.conductance.to,
            amps,
        );
        drop.resize(self.parent.len(), 0.0);
        pass(&self.parent, &self.resistance, amps, drop);
        for (&cluster, &drop) in self.cluster.iter().zip(&*drop) {
            cluster_drop[cluster as usize] = drop;
        }
    }
}

impl Drawn {
    fn start(&mut self, volts: &[f64]) {
        self.volts.clear();
        self.volts.extend_from_slice(volts);
        self.amps.clear();
        self.amps.resize(volts.len(), 0.0);
    }
}

/// Adds each load's current where it leaves the tree, and takes it off where it comes back.
fn add_amps(load_amps: &[f64], from: &[u32], to: &[u32], amps: &mut [f64]) {
    for ((&load, &from), &to) in load_amps.iter().zip(from).zip(to) {
        amps[from as usize] += load;
        amps[to as usize] -= load;
    }
}

/// Currents from the tips to the root, then drops from the root to the tips.
fn pass(parent: &[u32], resistance: &[f64], amps: &mut [f64], drop: &mut [f64]) {
    let count = parent.len();
    for place in (1..count).rev() {
        amps[parent[place] as usize] += amps[place];
    }
    for place in 1..count {
        drop[place] = drop[parent[place] as usize] + resistance[place] * amps[place];
    }
}
