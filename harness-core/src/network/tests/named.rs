//! Which load is named where a network has no operating point, and what absent loads leave behind.

use super::effort::heavier;
use super::*;

/// The load named is the one whose volts fall most, in parts of what they are, on the last way to
/// the limit: against solves a little before it.
#[test]
fn the_load_named_is_the_one_that_falls_fastest() {
    let mut compared = 0;
    for seed in 0..150 {
        let loops = [0, 12][seed as usize % 2];
        let parts = heavier(seed, loops, 60.0);
        let Outcome::NoOperatingPoint(fails) = outcome(&parts) else {
            continue;
        };
        let volts = |share: f64| {
            let solution = solved(&heavier(seed, loops, 60.0 * fails.share * share));
            let volts = solution.load_volts.iter();
            volts.map(|volts| volts.value()).collect::<Vec<f64>>()
        };
        let (before, near) = (volts(1.0 - 4e-4), volts(1.0 - 1e-4));
        let mut falls: Vec<(f64, usize)> = parts
            .loads
            .iter()
            .enumerate()
            .filter(|(_, load)| matches!(load.behavior, Behavior::Power(_)))
            .map(|(at, _)| ((before[at] - near[at]) / near[at], at))
            .collect();
        falls.sort_by(|a, b| b.0.total_cmp(&a.0));
        // Where two fall nearly alike, solves before the limit do not tell which is first at it.
        if falls[0].0 > 1.02 * falls[1].0 {
            compared += 1;
            assert_eq!(fails.load, falls[0].1, "seed {seed}: {falls:?}");
        }
    }
    assert!(compared > 60, "{compared} compared");
}

#[test]
fn a_load_between_joined_nodes_matters_only_if_it_draws_power() {
    // Nodes 1 and 2 are joined without resistance: nothing is left for a load between them.
    let wires = [conductor(1, 2, 0.0), conductor(1, 3, 0.5)];
    let battery = [source(0, 1, 12.0, 0.0)];
    let of = |power: f64| network(4, &wires, &battery, &[watts(1, 2, power), amps(3, 0, 2.0)]);
    assert_eq!(collapse(&of(5.0)).load, 0);
    let idle = solved(&of(0.0));
    assert_eq!(idle.load_amps[0], Amperes::ZERO);
    assert_close(idle.node_volts[3].value(), 11.0);
    let prepared = Prepared::new(&of(5.0)).expect("no fault");
    match prepared.solve_shares(&mut Scratch::default(), &[0.0, 1.0]) {
        Outcome::Solved(absent) => {
            assert_eq!(absent.load_amps[0], Amperes::ZERO);
            assert_close(absent.node_volts[3].value(), 11.0);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn nodes_behind_resistance_loads_float_only_without_them() {
    // Node 2 hangs on one load, nodes 3 and 4 on another, by way of each other.
    let parts = network(
        5,
        &[conductor(3, 4, 0.2)],
        &[source(0, 1, 12.0, 0.0)],
        &[
            ohms(1, 2, 2.0),
            ohms(2, 0, 4.0),
            ohms(1, 3, 2.0),
            ohms(4, 0, 3.8),
        ],
    );
    let prepared = Prepared::new(&parts).expect("no fault");
    let with = |shares: [f64; 4]| prepared.solve_shares(&mut Scratch::default(), &shares);
    let floats = |node| Outcome::NotEvaluated(NotEvaluated::NodeFloats { node });
    assert_eq!(with([0.0, 0.0, 1.0, 1.0]), floats(2));
    assert_eq!(with([1.0, 1.0, 0.0, 0.0]), floats(3));
    assert_eq!(with([0.0, 0.0, 0.0, 0.0]), floats(2));
    match with([1.0, 1.0, 0.0, 1.0]) {
        // Joined by one of the two: no current, so no volts.
        Outcome::Solved(solution) => assert!(solution.node_volts[3].value().abs() < 1e-9),
        other => panic!("{other:?}"),
    }
    match with([1.0; 4]) {
        Outcome::Solved(solution) => {
            assert_close(solution.node_volts[2].value(), 8.0);
            assert_close(solution.node_volts[4].value(), 12.0 * 3.8 / 6.0);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_currents_take_from_loads_is_multiplied_on_a_tree_and_nowhere_else() {
    let wires = [conductor(1, 2, 0.5), conductor(2, 3, 0.25)];
    let battery = [source(0, 1, 0.0, 0.1)];
    let loads = [amps(2, 0, 1.0), amps(3, 0, 1.0)];
    let tree = Prepared::new(&network(4, &wires, &battery, &loads)).expect("no fault");
    let mut room = Taken::default();
    let taken = tree.taken(&[[1.0, 0.0], [0.0, 2.0]], &mut room);
    let taken = taken.expect("a tree");
    for (found, expected) in taken.iter().zip([[0.6, 1.2], [0.6, 1.7]]) {
        for (found, expected) in found.iter().zip(expected) {
            assert_close(*found, expected);
        }
    }
    let mut looped = wires.to_vec();
    looped.push(conductor(1, 3, 1.0));
    let looped = Prepared::new(&network(4, &looped, &battery, &loads)).expect("no fault");
    assert_eq!(looped.taken(&[[1.0], [0.0]], &mut Taken::default()), None);
}
