//! Backward/forward sweep: exact and fastest where conductors and sources form a tree.
//!
//! With the currents of the loads given, every other current follows by adding from the tips
//! to the root (backward), every drop by adding from the root to the tips (forward). New drops
//! give new load currents, until they settle. A feed tree and a return tree that meet only at
//! the source and in loads are one tree here. Method: Shirmohammadi et al., "A compensation-based
//! power flow method for weakly meshed distribution and transmission networks", IEEE Trans.
//! Power Systems 3(2), 1988 (from memory).

use super::Load;
use super::layout::Layout;
use super::load_table::{LoadTable, SharedValues, Values};

/// Sweeps after which Newton's method is the faster one.
const MOST_SWEEPS: usize = 25;

/// The tree in an order with every parent before its children; place 0 is the reference.
#[derive(Clone, Debug)]
pub(super) struct Sweep {
    parent: Vec<u32>,
    resistance: Vec<f64>,
    cluster: Vec<u32>,
    table: LoadTable,
    volts_scale: f64,
}

/// Room for one solve.
#[derive(Clone, Debug, Default)]
pub(super) struct SweepScratch {
    values: SharedValues,
    steady_amps: Vec<f64>,
    amps: Vec<f64>,
    drop: Vec<f64>,
    power_volts: Vec<f64>,
    conductance_volts: Vec<f64>,
}

/// How a run of sweeps ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SweepEnd {
    /// Settled after this many sweeps.
    Settled(usize),
    /// Given up after this many: volts reversed at a load, or too slow.
    GivenUp(usize),
}

impl Sweep {
    /// Orders the tree depth first, so that neighbors lie close in memory.
    pub(super) fn new(layout: &Layout, loads: &[Load]) -> Self {
        let count = layout.clusters.count;
        let mut first = vec![0u32; count + 1];
        for link in &layout.links {
            first[link.from as usize + 1] += 1;
            first[link.to as usize + 1] += 1;
        }
        for cluster in 0..count {
            first[cluster + 1] += first[cluster];
        }
        let mut next = first.clone();
        let mut neighbors = vec![(0u32, 0.0); layout.links.len() * 2];
        for link in &layout.links {
            for (end, other) in [(link.from, link.to), (link.to, link.from)] {
                neighbors[next[end as usize] as usize] = (other, 1.0 / link.conductance);
                next[end as usize] += 1;
            }
        }
        const NONE: u32 = u32::MAX;
        let mut place = vec![NONE; count];
        let mut sweep = Self {
            parent: Vec::with_capacity(count),
            resistance: Vec::with_capacity(count),
            cluster: Vec::with_capacity(count),
            table: LoadTable::default(),
            volts_scale: layout.volts_scale,
        };
        let mut stack = vec![(0u32, 0u32, 0.0)];
        while let Some((cluster, parent, resistance)) = stack.pop() {
            let own = sweep.cluster.len() as u32;
            place[cluster as usize] = own;
            sweep.cluster.push(cluster);
            sweep.parent.push(parent);
            sweep.resistance.push(resistance);
            let range = first[cluster as usize] as usize..first[cluster as usize + 1] as usize;
            for &(other, resistance) in neighbors[range].iter().rev() {
                if place[other as usize] == NONE {
                    stack.push((other, own, resistance));
                }
            }
        }
        sweep.table = LoadTable::new(layout, loads, &place);
        sweep
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
            power_volts,
            conductance_volts,
        } = scratch;
        let values = values.of(&self.table, shares);
        let count = self.parent.len();
        steady_amps.clear();
        steady_amps.resize(count, 0.0);
        for (i, value) in values.current.iter().enumerate() {
            steady_amps[self.table.current.from[i] as usize] += value;
            steady_amps[self.table.current.to[i] as usize] -= value;
        }
        amps.resize(count, 0.0);
        drop.clear();
        drop.resize(count, 0.0);
        power_volts.clone_from(&self.table.power.base);
        conductance_volts.clone_from(&self.table.conductance.base);
        let mut last_change = f64::INFINITY;
        let mut sweeps = 0;
        loop {
            amps.copy_from_slice(steady_amps);
            let Some(change) = self.draw(values, drop, amps, power_volts, conductance_volts) else {
                return SweepEnd::GivenUp(sweeps);
            };
            if sweeps > 0 {
                if super::has_settled(change, last_change, self.volts_scale) {
                    break;
                }
                last_change = change;
            }
            if sweeps == MOST_SWEEPS {
                return SweepEnd::GivenUp(sweeps);
            }
            for place in (1..count).rev() {
                amps[self.parent[place] as usize] += amps[place];
            }
            for place in 1..count {
                drop[place] =
                    drop[self.parent[place] as usize] + self.resistance[place] * amps[place];
            }
            sweeps += 1;
        }
        for (place, &cluster) in self.cluster.iter().enumerate() {
            cluster_drop[cluster as usize] = drop[place];
        }
        SweepEnd::Settled(sweeps)
    }

    /// Adds the load currents at the present drops; the largest change of a load's volts, or
    /// nothing where volts reversed at a constant-power load.
    fn draw(
        &self,
        values: Values<'_>,
        drop: &[f64],
        amps: &mut [f64],
        power_volts: &mut [f64],
        conductance_volts: &mut [f64],
    ) -> Option<f64> {
        let mut change: f64 = 0.0;
        let power = &self.table.power;
        for (i, (&value, last)) in values.power.iter().zip(power_volts).enumerate() {
            let volts = power.volts(i, drop);
            if volts * power.base[i] <= 0.0 && value != 0.0 {
                return None;
            }
            change = change.max((volts - *last).abs());
            *last = volts;
            let current = if value == 0.0 { 0.0 } else { value / volts };
            amps[power.from[i] as usize] += current;
            amps[power.to[i] as usize] -= current;
        }
        let conductance = &self.table.conductance;
        for (i, (&value, last)) in values.conductance.iter().zip(conductance_volts).enumerate() {
            let volts = conductance.volts(i, drop);
            change = change.max((volts - *last).abs());
            *last = volts;
            amps[conductance.from[i] as usize] += value * volts;
            amps[conductance.to[i] as usize] -= value * volts;
        }
        Some(change)
    }
}
