//! The loads as a solver reads them: by behavior, with the solver's own cluster numbers.

use super::layout::Layout;
use super::{Behavior, Load};

/// Loads of one behavior, column by column.
#[derive(Clone, Debug, Default)]
pub(super) struct LoadColumns {
    /// Place in the network's list.
    pub(super) load: Vec<u32>,
    pub(super) from: Vec<u32>,
    pub(super) to: Vec<u32>,
    /// Volts at the load without drops.
    pub(super) base: Vec<f64>,
    /// Amperes, watts or siemens with a share of one.
    pub(super) value: Vec<f64>,
}

impl LoadColumns {
    fn push(&mut self, load: usize, ends: (u32, u32), base: f64, value: f64) {
        self.load.push(load as u32);
        self.from.push(ends.0);
        self.to.push(ends.1);
        self.base.push(base);
        self.value.push(value);
    }

    pub(super) fn len(&self) -> usize {
        self.load.len()
    }

    /// Volts at the load at place `i`.
    pub(super) fn volts(&self, i: usize, drop: &[f64]) -> f64 {
        self.base[i] - (drop[self.from[i] as usize] - drop[self.to[i] as usize])
    }

    /// Values times the share of each load.
    pub(super) fn shared(&self, shares: &[f64], values: &mut Vec<f64>) {
        values.clear();
        values.extend(
            self.load
                .iter()
                .zip(&self.value)
                .map(|(&load, value)| value * shares[load as usize]),
        );
    }
}

/// Loads between two different clusters, sorted for the solver's order.
#[derive(Clone, Debug, Default)]
pub(super) struct LoadTable {
    pub(super) current: LoadColumns,
    pub(super) power: LoadColumns,
    pub(super) conductance: LoadColumns,
}

impl LoadTable {
    /// `place[cluster]` is the number the solver gives a cluster.
    pub(super) fn new(layout: &Layout, loads: &[Load], place: &[u32]) -> Self {
        let place_of_node = |node: usize| place[layout.clusters.of_node[node] as usize];
        let mut sorted: Vec<(u32, u32, usize)> = loads
            .iter()
            .enumerate()
            .map(|(index, load)| (place_of_node(load.from), place_of_node(load.to), index))
            .filter(|(from, to, _)| from != to)
            .collect();
        sorted.sort_unstable();
        let mut table = Self::default();
        for (from, to, index) in sorted {
            let load = loads[index];
            let base = layout.node_base[load.from] - layout.node_base[load.to];
            let (columns, value) = match load.behavior {
                Behavior::Current(current) => (&mut table.current, current.value()),
                Behavior::Power(power) => (&mut table.power, power.value()),
                Behavior::Resistance(resistance) => {
                    (&mut table.conductance, 1.0 / resistance.value())
                }
            };
            columns.push(index, (from, to), base, value);
        }
        table
    }
}

/// Values of all loads in one solve; borrowed or scaled by shares.
#[derive(Clone, Copy)]
pub(super) struct Values<'a> {
    pub(super) current: &'a [f64],
    pub(super) power: &'a [f64],
    pub(super) conductance: &'a [f64],
}

/// Room for the values of one solve.
#[derive(Clone, Debug, Default)]
pub(super) struct SharedValues {
    current: Vec<f64>,
    power: Vec<f64>,
    conductance: Vec<f64>,
}

impl SharedValues {
    /// The table's values, times `shares` where they are given.
    pub(super) fn of<'a>(&'a mut self, table: &'a LoadTable, shares: Option<&[f64]>) -> Values<'a> {
        let Some(shares) = shares else {
            return Values {
                current: &table.current.value,
                power: &table.power.value,
                conductance: &table.conductance.value,
            };
        };
        table.current.shared(shares, &mut self.current);
        table.power.shared(shares, &mut self.power);
        table.conductance.shared(shares, &mut self.conductance);
        Values {
            current: &self.current,
            power: &self.power,
            conductance: &self.conductance,
        }
    }
}
