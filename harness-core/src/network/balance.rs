//! Volts and currents of every node and element from the drops, and whether they balance.

use super::layout::Layout;
use super::{Behavior, Element, Network, Solution};
use crate::units::{Amperes, Volts, Watts};

/// Spreads the drops of the clusters over nodes and elements.
pub(super) fn spread(
    network: &Network,
    layout: &Layout,
    drop: &[f64],
    shares: Option<&[f64]>,
    iterations: usize,
) -> Solution {
    let node_drop = |node: usize| drop[layout.clusters.of_node[node] as usize];
    let node_volts = (0..network.node_count)
        .map(|node| Volts::new(layout.node_base[node] - node_drop(node)))
        .collect();

    // Current that leaves each node through elements with resistance and through loads.
    let mut leaving = vec![0.0; network.node_count];
    let path_amps = |path: usize| {
        let path = &layout.paths[path];
        path.conductance * (path.push + (drop[path.to as usize] - drop[path.from as usize]))
    };
    let mut conductor_amps = Vec::with_capacity(network.conductors.len());
    for (index, conductor) in network.conductors.iter().enumerate() {
        let amps = path_amps(index);
        leaving[conductor.from] += amps;
        leaving[conductor.to] -= amps;
        conductor_amps.push(Amperes::new(amps));
    }
    let mut source_amps = Vec::with_capacity(network.sources.len());
    for (index, source) in network.sources.iter().enumerate() {
        let amps = path_amps(network.conductors.len() + index);
        leaving[source.from] += amps;
        leaving[source.to] -= amps;
        source_amps.push(Amperes::new(amps));
    }
    let mut load_volts = Vec::with_capacity(network.loads.len());
    let mut load_amps = Vec::with_capacity(network.loads.len());
    for (index, load) in network.loads.iter().enumerate() {
        let volts = load_volts_at(layout, drop, load);
        let share = shares.map_or(1.0, |shares| shares[index]);
        let amps = match load.behavior {
            Behavior::Current(current) => current.value() * share,
            Behavior::Power(power) if power.value() * share == 0.0 => 0.0,
            Behavior::Power(power) => power.value() * share / volts,
            Behavior::Resistance(resistance) => volts / resistance.value() * share,
        };
        leaving[load.from] += amps;
        leaving[load.to] -= amps;
        load_volts.push(Volts::new(volts));
        load_amps.push(Amperes::new(amps));
    }

    // What leaves a node and all that hangs on it comes in through its tie.
    for tie in &layout.clusters.ties {
        let amps = std::mem::take(&mut leaving[tie.child as usize]);
        leaving[tie.parent as usize] += amps;
        let amps = Amperes::new(if tie.from_child { -amps } else { amps });
        match tie.element {
            Element::Conductor(index) => conductor_amps[index] = amps,
            Element::Source(index) => source_amps[index] = amps,
            // Loads never tie nodes.
            Element::Load(_) => {}
        }
    }
    let current_residual = leaving
        .iter()
        .fold(0.0, |most: f64, amps| most.max(amps.abs()));

    let given: Watts = network
        .sources
        .iter()
        .zip(&source_amps)
        .map(|(source, &amps)| source.emf * amps)
        .sum();
    let lost_in_sources: Watts = network
        .sources
        .iter()
        .zip(&source_amps)
        .map(|(source, &amps)| amps * source.resistance * amps)
        .sum();
    let lost_in_conductors: Watts = network
        .conductors
        .iter()
        .zip(&conductor_amps)
        .map(|(conductor, &amps)| amps * conductor.resistance * amps)
        .sum();
    let used: Watts = load_volts
        .iter()
        .zip(&load_amps)
        .map(|(&volts, &amps)| volts * amps)
        .sum();
    Solution {
        node_volts,
        conductor_amps,
        source_amps,
        load_volts,
        load_amps,
        iterations,
        current_residual: Amperes::new(current_residual),
        power_residual: given - lost_in_sources - lost_in_conductors - used,
    }
}

/// Volts of one load at these drops.
pub(super) fn load_volts_at(layout: &Layout, drop: &[f64], load: &super::Load) -> f64 {
    let node_drop = |node: usize| drop[layout.clusters.of_node[node] as usize];
    (layout.node_base[load.from] - layout.node_base[load.to])
        - (node_drop(load.from) - node_drop(load.to))
}
