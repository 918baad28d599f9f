//! Laws, closed forms and refusals. Other programs are asked in the `tests` crate.

mod effort;
mod named;
mod words;

use super::*;
use crate::units::{Amperes, Ohms, Volts, Watts};

fn conductor(from: usize, to: usize, ohms: f64) -> Conductor {
    Conductor {
        from,
        to,
        resistance: Ohms::new(ohms),
    }
}

fn source(from: usize, to: usize, volts: f64, ohms: f64) -> Source {
    Source {
        from,
        to,
        emf: Volts::new(volts),
        resistance: Ohms::new(ohms),
    }
}

fn amps(from: usize, to: usize, value: f64) -> Load {
    Load {
        from,
        to,
        behavior: Behavior::Current(Amperes::new(value)),
    }
}

fn watts(from: usize, to: usize, value: f64) -> Load {
    Load {
        from,
        to,
        behavior: Behavior::Power(Watts::new(value)),
    }
}

fn ohms(from: usize, to: usize, value: f64) -> Load {
    Load {
        from,
        to,
        behavior: Behavior::Resistance(Ohms::new(value)),
    }
}

fn network(
    node_count: usize,
    conductors: &[Conductor],
    sources: &[Source],
    loads: &[Load],
) -> Network {
    Network {
        node_count,
        reference: 0,
        conductors: conductors.to_vec(),
        sources: sources.to_vec(),
        loads: loads.to_vec(),
    }
}

fn outcome(network: &Network) -> Outcome {
    Prepared::new(network)
        .expect("no fault")
        .solve(&mut Scratch::default())
}

fn solved(network: &Network) -> Solution {
    match outcome(network) {
        Outcome::Solved(solution) => {
            assert_laws(network, &solution);
            solution
        }
        other => panic!("{other:?}"),
    }
}

fn collapse(network: &Network) -> Collapse {
    match outcome(network) {
        Outcome::NoOperatingPoint(collapse) => collapse,
        other => panic!("{other:?}"),
    }
}

fn faults(network: &Network) -> Vec<NetworkFault> {
    Prepared::new(network).expect_err("faults")
}

#[track_caller]
fn assert_close(found: f64, expected: f64) {
    let scale = expected.abs().max(1e-3);
    assert!(
        (found - expected).abs() <= 1e-12 * scale,
        "{found} against {expected}"
    );
}

/// Currents sum to zero at each node, each element obeys its own law, power in = load + loss.
#[track_caller]
fn assert_laws(network: &Network, solution: &Solution) {
    let mut leaving = vec![0.0; network.node_count];
    let mut flow = |from: usize, to: usize, amps: Amperes| {
        leaving[from] += amps.value();
        leaving[to] -= amps.value();
    };
    let volts = |node: usize| solution.node_volts[node].value();
    let mut most_amps: f64 = 1.0;
    let mut power = 0.0;
    let mut most_watts: f64 = 1.0;
    for (conductor, &amps) in network.conductors.iter().zip(&solution.conductor_amps) {
        flow(conductor.from, conductor.to, amps);
        let drop = volts(conductor.from) - volts(conductor.to);
        assert!((drop - amps.value() * conductor.resistance.value()).abs() < 1e-10);
        power -= drop * amps.value();
        most_amps = most_amps.max(amps.value().abs());
    }
    for (source, &amps) in network.sources.iter().zip(&solution.source_amps) {
        flow(source.from, source.to, amps);
        let rise = volts(source.to) - volts(source.from);
        let inner = amps.value() * source.resistance.value();
        assert!((rise + inner - source.emf.value()).abs() < 1e-10);
        power += rise * amps.value();
        most_watts = most_watts.max((rise * amps.value()).abs());
        most_amps = most_amps.max(amps.value().abs());
    }
    for (index, load) in network.loads.iter().enumerate() {
        let (across, amps) = (solution.load_volts[index], solution.load_amps[index]);
        flow(load.from, load.to, amps);
        assert!((volts(load.from) - volts(load.to) - across.value()).abs() < 1e-10);
        match load.behavior {
            Behavior::Current(current) => assert_eq!(amps, current),
            Behavior::Power(power) => {
                assert_close((across * amps).value(), power.value());
            }
            Behavior::Resistance(resistance) => {
                assert_close((amps * resistance).value(), across.value())
            }
        }
        power -= across.value() * amps.value();
    }
    let worst = leaving
        .iter()
        .fold(0.0, |worst: f64, sum| worst.max(sum.abs()));
    assert!(worst <= 1e-10 * most_amps, "currents sum to {worst}");
    assert!(solution.current_residual.value() <= 1e-10 * most_amps);
    assert!(power.abs() <= 1e-9 * most_watts, "power differs by {power}");
    assert!(solution.power_residual.value().abs() <= 1e-9 * most_watts);
}

#[test]
fn two_loads_on_a_shared_feed_and_return_by_hand() {
    // 12 V, 0.01 Ω inside; 0.02 Ω shared feed, 0.03 Ω shared return; 10 A and 5 A.
    // 0 minus, 1 plus, 2 feed end, 3 return end.
    let solution = solved(&network(
        4,
        &[conductor(1, 2, 0.02), conductor(3, 0, 0.03)],
        &[source(0, 1, 12.0, 0.01)],
        &[amps(2, 3, 10.0), amps(2, 3, 5.0)],
    ));
    assert_close(solution.node_volts[1].value(), 12.0 - 15.0 * 0.01);
    assert_close(solution.node_volts[2].value(), 12.0 - 15.0 * 0.03);
    assert_close(solution.node_volts[3].value(), 15.0 * 0.03);
    assert_close(solution.load_volts[1].value(), 12.0 - 15.0 * 0.06);
    assert_close(solution.source_amps[0].value(), 15.0);
    assert_eq!(solution.iterations, 1);
}

#[test]
fn two_batteries_and_a_bridge_by_hand() {
    // Two sources of 13 V and 12 V, 0.1 Ω each, on one load of 1 Ω: Millman's theorem.
    let solution = solved(&network(
        3,
        &[conductor(1, 2, 0.1)],
        &[source(0, 1, 13.0, 0.1), source(0, 2, 12.0, 0.1)],
        &[ohms(2, 0, 1.0)],
    ));
    let volts = (13.0 / 0.2 + 12.0 / 0.1) / (1.0 / 0.2 + 1.0 / 0.1 + 1.0);
    assert_close(solution.node_volts[2].value(), volts);
    assert_close(solution.source_amps[0].value(), (13.0 - volts) / 0.2);
    assert_close(solution.source_amps[1].value(), (12.0 - volts) / 0.1);
}

#[test]
fn constant_power_takes_the_operating_point_at_high_volts() {
    for (volts, resistance, power) in [(12.0, 0.05, 120.0), (25.6, 0.2, 500.0), (12.0, 0.3, 119.99)]
    {
        for loop_resistance in [None, Some(1e6)] {
            let mut conductors = vec![conductor(1, 2, resistance)];
            // A wire that closes a loop makes it Newton's task; it changes the resistance little.
            conductors.extend(loop_resistance.map(|ohms| conductor(0, 1, ohms)));
            let solution = solved(&network(
                3,
                &conductors,
                &[source(0, 1, volts, 0.0)],
                &[watts(2, 0, power)],
            ));
            let expected: f64 = 0.5 * (volts + (volts * volts - 4.0 * power * resistance).sqrt());
            assert!(
                (solution.load_volts[0].value() - expected).abs() < 1e-9,
                "{expected}"
            );
        }
    }
}

#[test]
fn the_volts_collapse_just_over_the_largest_power() {
    let most = 12.0 * 12.0 / (4.0 * 0.1);
    for looped in [false, true] {
        let build = |power: f64| {
            let mut conductors = vec![conductor(1, 2, 0.1), conductor(2, 3, 0.0)];
            if looped {
                conductors = vec![
                    conductor(1, 2, 0.2),
                    conductor(1, 3, 0.2),
                    conductor(2, 3, 1.0),
                ];
            }
            let loads = [amps(1, 0, 3.0), watts(3, 0, power), watts(1, 0, 20.0)];
            network(4, &conductors, &[source(0, 1, 12.0, 0.0)], &loads)
        };
        // Looped: 0.2 Ω beside 1.2 Ω.
        let most = if looped {
            144.0 / 4.0 * (1.0 / 0.2 + 1.0 / 1.2)
        } else {
            most
        };
        solved(&build(most * (1.0 - 1e-9)));
        let fails = collapse(&build(most * (1.0 + 1e-9)));
        assert_eq!(fails.load, 1);
        assert!((fails.share - 1.0).abs() < 2e-6, "{}", fails.share);
        let fails = collapse(&build(most * 4.0));
        assert_eq!(fails.load, 1);
        assert!((fails.share - 0.25).abs() < 2e-6, "{}", fails.share);
        assert!((fails.volts.value() - 6.0).abs() < 0.05, "{}", fails.volts);
    }
}

#[test]
fn the_collapsing_load_is_named_among_healthy_ones() {
    // Five loads on wires of their own; only the fourth asks too much.
    let mut parts = network(6, &[], &[source(0, 1, 12.0, 0.001)], &[]);
    parts.node_count = 7;
    for load in 0..5 {
        parts.conductors.push(conductor(1, 2 + load, 0.1));
        parts
            .loads
            .push(watts(2 + load, 0, if load == 3 { 500.0 } else { 40.0 }));
    }
    let fails = collapse(&parts);
    assert_eq!(fails.load, 3);
    assert!(fails.share > 0.6 && fails.share < 0.75, "{}", fails.share);
    // Without it the others run.
    let prepared = Prepared::new(&parts).expect("no fault");
    let mut scratch = Scratch::default();
    let outcome = prepared.solve_shares(&mut scratch, &[1.0, 1.0, 1.0, 0.0, 1.0]);
    let Outcome::Solved(solution) = outcome else {
        panic!("{outcome:?}")
    };
    assert_eq!(solution.load_amps[3], Amperes::ZERO);
    // And the same scratch still tells the collapse.
    assert_eq!(
        prepared.solve(&mut scratch),
        Outcome::NoOperatingPoint(fails)
    );
}

#[test]
fn elements_without_resistance_carry_the_current_of_what_hangs_on_them() {
    // Ideal source 0-1, zero-ohm 1-2, two ideal sources in series 2-3-4.
    let solution = solved(&network(
        5,
        &[conductor(1, 2, 0.0)],
        &[
            source(0, 1, 12.0, 0.0),
            source(2, 3, 12.0, 0.0),
            source(4, 3, -1.5, 0.0),
        ],
        &[amps(4, 0, 2.0), ohms(3, 2, 4.0), watts(1, 0, 24.0)],
    ));
    assert_close(solution.node_volts[4].value(), 25.5);
    assert_close(solution.conductor_amps[0].value(), 2.0);
    assert_close(solution.source_amps[0].value(), 4.0);
    assert_close(solution.source_amps[1].value(), 5.0);
    assert_close(solution.source_amps[2].value(), -2.0);
}

#[test]
fn reversed_sources_give_reversed_volts() {
    let solution = solved(&network(
        3,
        &[conductor(1, 2, 0.1)],
        &[source(0, 1, -12.0, 0.0)],
        &[watts(2, 0, 60.0)],
    ));
    assert_close(
        solution.node_volts[2].value(),
        -0.5 * (12.0 + f64::sqrt(144.0 - 4.0 * 60.0 * 0.1)),
    );
    assert!(solution.load_amps[0].value() < 0.0);
}

#[test]
fn a_load_without_volts_cannot_get_its_power() {
    let fails = collapse(&network(
        2,
        &[conductor(0, 1, 0.1)],
        &[],
        &[watts(1, 0, 5.0)],
    ));
    assert_eq!((fails.load, fails.share), (0, 0.0));
    let fails = collapse(&network(
        2,
        &[conductor(0, 1, 0.0)],
        &[],
        &[watts(1, 0, 5.0)],
    ));
    assert_eq!((fails.load, fails.share), (0, 0.0));
}

#[test]
fn resistance_loads_may_join_nodes_and_leave_them_afloat_when_absent() {
    let parts = network(
        3,
        &[],
        &[source(0, 1, 12.0, 0.0)],
        &[ohms(1, 2, 2.0), ohms(2, 0, 4.0), amps(2, 0, 0.5)],
    );
    let solution = solved(&parts);
    // 12 V behind 2 Ω, 4 Ω and 0.5 A.
    assert_close(solution.node_volts[2].value(), (6.0 - 0.5) / (0.5 + 0.25));
    let prepared = Prepared::new(&parts).expect("no fault");
    assert_eq!(
        prepared.solve_shares(&mut Scratch::default(), &[0.0, 0.0, 0.0]),
        Outcome::NotEvaluated(NotEvaluated::NodeFloats { node: 2 })
    );
}

#[test]
fn undefined_networks_are_refused_with_their_place() {
    let parts = network(
        5,
        &[conductor(3, 4, 0.1)],
        &[source(0, 1, 12.0, 0.0)],
        &[amps(2, 0, 1.0)],
    );
    let not_connected = |node, nodes_in_part| NetworkFault::NotConnected {
        node,
        nodes_in_part,
        reference: 0,
    };
    assert_eq!(faults(&parts), [not_connected(2, 1), not_connected(3, 2)]);

    let parts = network(
        2,
        &[],
        &[source(0, 1, 12.0, 0.0), source(1, 0, -13.0, 0.0)],
        &[],
    );
    let contradiction = NetworkFault::Contradiction {
        element: Element::Source(1),
        stated: Volts::new(-13.0),
        held: Volts::new(-12.0),
    };
    assert_eq!(faults(&parts), [contradiction]);

    let parts = network(2, &[conductor(0, 1, 0.0), conductor(1, 0, 0.0)], &[], &[]);
    let element = Element::Conductor(1);
    assert_eq!(
        faults(&parts),
        [NetworkFault::LoopWithoutResistance { element }]
    );

    // What adds up to the same but for rounding contradicts nothing.
    assert_ne!(100.1 + 200.2, 300.3);
    let rises = [(0, 1, 100.1), (1, 2, 200.2), (0, 2, 300.3)];
    let stacked = rises.map(|(from, to, volts)| source(from, to, volts, 0.0));
    let element = Element::Source(2);
    assert_eq!(
        faults(&network(3, &[], &stacked, &[])),
        [NetworkFault::LoopWithoutResistance { element }]
    );

    let parts = network(
        2,
        &[conductor(0, 1, -0.1), conductor(0, 7, 0.1)],
        &[source(0, 1, f64::NAN, 0.0)],
        &[ohms(1, 0, 0.0)],
    );
    assert_eq!(faults(&parts).len(), 4);
}

/// A tree of feeds with a tree of returns, or with loops and a second source.
fn random_network(seed: u64, loops: usize) -> Network {
    let mut random = fastrand::Rng::with_seed(seed);
    let half = 60;
    let mut parts = network(2 * half, &[], &[source(0, 1, 12.6, 0.005)], &[]);
    for node in 2..half {
        let ohms = 0.0005 + 0.02 * random.f64();
        let ohms = if random.u32(0..6) == 0 { 0.0 } else { ohms };
        parts
            .conductors
            .push(conductor(random.usize(1..node), node, ohms));
    }
    for node in half..2 * half {
        let parent = random.usize(half - 1..node);
        let parent = if parent == half - 1 { 0 } else { parent };
        parts
            .conductors
            .push(conductor(node, parent, 0.0005 + 0.02 * random.f64()));
    }
    for _ in 0..loops {
        let (a, b) = (random.usize(0..2 * half), random.usize(0..2 * half));
        if (a == 0 || a >= half) == (b == 0 || b >= half) {
            parts
                .conductors
                .push(conductor(a, b, 0.001 + 0.05 * random.f64()));
        }
    }
    if loops > 0 {
        parts
            .sources
            .push(source(0, random.usize(2..half), 12.9, 0.02));
    }
    for _ in 0..40 {
        let (from, to) = (random.usize(2..half), random.usize(half..2 * half));
        parts.loads.push(match random.u32(0..3) {
            0 => amps(from, to, random.f64()),
            1 => watts(from, to, 10.0 * random.f64()),
            _ => ohms(from, to, 12.0 + 100.0 * random.f64()),
        });
    }
    parts
}

#[test]
fn laws_hold_on_trees_and_on_loops_with_two_sources() {
    for seed in 0..40 {
        let solution = solved(&random_network(seed, if seed % 2 == 0 { 0 } else { 12 }));
        assert!(
            solution.iterations < 20,
            "seed {seed}: {}",
            solution.iterations
        );
    }
}

#[test]
fn a_thicker_wire_in_a_tree_never_lowers_a_load() {
    // Not for resistance loads: one that gets more volts draws more and lowers its neighbors.
    for seed in 0..10 {
        let mut parts = random_network(seed, 0);
        parts
            .loads
            .retain(|load| !matches!(load.behavior, Behavior::Resistance(_)));
        let before = solved(&parts);
        for wire in 0..parts.conductors.len() {
            let mut thicker = parts.clone();
            let ohms = &mut thicker.conductors[wire].resistance;
            *ohms = *ohms * 0.5;
            for (after, before) in solved(&thicker).load_volts.iter().zip(&before.load_volts) {
                assert!(
                    after.value() >= before.value() - 1e-11,
                    "seed {seed}, wire {wire}"
                );
            }
        }
    }
}

#[test]
fn a_thicker_wire_in_loops_never_raises_the_losses_of_constant_currents() {
    // Rayleigh's monotonicity law: with constant currents the power lost never rises.
    for seed in 0..10 {
        let mut parts = random_network(seed, 12);
        parts
            .loads
            .retain(|load| matches!(load.behavior, Behavior::Current(_)));
        parts.sources.truncate(1);
        let used = |solution: &Solution| -> f64 {
            let each = solution.load_volts.iter().zip(&solution.load_amps);
            each.map(|(&volts, &amps)| (volts * amps).value()).sum()
        };
        let before = used(&solved(&parts));
        for wire in 0..parts.conductors.len() {
            let mut thicker = parts.clone();
            let ohms = &mut thicker.conductors[wire].resistance;
            *ohms = *ohms * 0.5;
            assert!(
                used(&solved(&thicker)) >= before - 1e-9,
                "seed {seed}, wire {wire}"
            );
        }
    }
}

#[test]
fn sweeps_and_newton_agree() {
    for seed in 100..120 {
        let parts = random_network(seed, 0);
        let swept = solved(&parts);
        let mut looped = parts.clone();
        // Each carries a billionth of an ampere, but closes a loop.
        looped
            .conductors
            .extend((2..10).map(|node| conductor(0, node, 1e10)));
        let stepped = solved(&looped);
        assert!(stepped.iterations < swept.iterations);
        for (a, b) in swept.node_volts.iter().zip(&stepped.node_volts) {
            assert!(
                (a.value() - b.value()).abs() < 1e-8,
                "seed {seed}: {a} and {b}"
            );
        }
    }
}

#[test]
fn the_same_network_gives_the_same_bits() {
    let parts = random_network(5, 12);
    assert_eq!(solved(&parts), solved(&parts));
}
