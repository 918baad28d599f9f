//! The tree of a sweep without the places that carry only what one load or branch draws.
//!
//! Most loads have wires, contacts and a fuse of their own. Those are in series with the load,
//! so its current follows from the volts where they begin: by a division for a resistance, by
//! a square root for constant power. Only places where currents meet are left to iterate on.

use super::load_table::{LoadColumns, LoadTable};

/// Places where currents meet, each parent before its children; place 0 is the reference.
#[derive(Clone, Debug, Default)]
pub(super) struct Folded {
    pub(super) parent: Vec<u32>,
    pub(super) resistance: Vec<f64>,
    /// The loads of the whole tree in the same order, between places of this one.
    pub(super) table: LoadTable,
    /// Resistance in series with each constant-current load.
    pub(super) current_series: Vec<f64>,
    /// Resistance in series with each constant-power load.
    pub(super) power_series: Vec<f64>,
    /// Resistance in series with each resistance load.
    pub(super) conductance_series: Vec<f64>,
}

impl Folded {
    pub(super) fn new(parent: &[u32], resistance: &[f64], table: &LoadTable) -> Self {
        // What draws current at each place: load ends, and branches with load ends on them.
        let mut draws = vec![0u32; parent.len()];
        for columns in [&table.current, &table.power, &table.conductance] {
            for &place in columns.from.iter().chain(&columns.to) {
                draws[place as usize] += 1;
            }
        }
        for place in (1..parent.len()).rev() {
            if draws[place] > 0 {
                draws[parent[place] as usize] += 1;
            }
        }
        let mut folded = Self {
            parent: vec![0],
            resistance: vec![0.0],
            ..Self::default()
        };
        // Nearest place that is left, towards the root, and the resistance on the way there.
        let mut anchor = vec![(0u32, 0.0); parent.len()];
        for place in 1..parent.len() {
            let (above, on_the_way) = anchor[parent[place] as usize];
            let to_above = on_the_way + resistance[place];
            anchor[place] = if draws[place] >= 2 {
                folded.parent.push(above);
                folded.resistance.push(to_above);
                (folded.parent.len() as u32 - 1, 0.0)
            } else {
                (above, to_above)
            };
        }
        folded.table = table.clone();
        folded.current_series = move_to_anchors(&mut folded.table.current, &anchor);
        folded.power_series = move_to_anchors(&mut folded.table.power, &anchor);
        folded.conductance_series = move_to_anchors(&mut folded.table.conductance, &anchor);
        folded
    }
}

/// Moves both ends of each load to the anchors; the resistances left out between.
fn move_to_anchors(columns: &mut LoadColumns, anchor: &[(u32, f64)]) -> Vec<f64> {
    let mut series = vec![0.0; columns.len()];
    for ends in [&mut columns.from, &mut columns.to] {
        for (end, series) in ends.iter_mut().zip(&mut series) {
            let (place, resistance) = anchor[*end as usize];
            *end = place;
            *series += resistance;
        }
    }
    series
}
