//! When iterating ends, how soon it does, and what is told where nothing can be found.

use super::*;

#[test]
fn iterating_ends_when_what_is_still_to_come_is_below_rounding() {
    let unknown = f64::INFINITY;
    // (change, change before, volts, whether it has settled): what is to come is a geometric
    // series of the ratio of the two, at most 0.9.
    let cases = [
        (0.0, unknown, 12.0, true),
        (0.0, 1.0, 12.0, true),
        (2e-15, unknown, 12.0, true),
        (2e-15, unknown, 8.0, false),
        (1e-15, 2e-15, 1.0, true),
        (1e-15, 2e-15, 0.25, false),
        (3e-15, 4e-15, 1.0, false),
        (3e-15, 4e-15, 6.0, true),
        (3e-15, 3e-15, 10.0, false),
        (3e-15, 3e-15, 14.0, true),
    ];
    for (change, before, volts, settled) in cases {
        assert_eq!(
            has_settled(change, before, volts),
            settled,
            "{change} after {before} at {volts} V"
        );
    }
}

#[test]
fn changes_of_the_size_of_rounding_that_no_longer_halve_have_stalled() {
    // (change, change before, rounding in parts of the volts, volts, whether it has stalled)
    let cases = [
        (1e-13, 1.5e-13, 1e-14, 12.0, true),
        (1e-13, 1.5e-13, 1e-14, 8.0, false),
        (1e-13, 1.5e-13, 1e-15, 12.0, false),
        (1e-13, 1.5e-13, 1e-12, 0.25, true),
        (1e-13, 1.5e-13, 1e-12, 0.05, false),
        (1e-13, 1e-13, 1e-14, 12.0, true),
        (1e-13, 2e-13, 1e-14, 12.0, false),
        (1e-13, f64::INFINITY, 1e-14, 12.0, false),
    ];
    for (change, before, rounding, volts, stalled) in cases {
        assert_eq!(
            has_stalled(change, before, rounding, volts),
            stalled,
            "{change} after {before} at {volts} V"
        );
    }
}

#[test]
fn sweeps_are_given_up_as_soon_as_a_load_has_no_volts() {
    use crate::network::layout::Layout;
    use crate::network::sweep::{Sweep, SweepEnd, SweepScratch};
    // Two loads behind 1 Ω: at 10 V they draw 10 A, which leaves nothing, or 12 A, which
    // reverses the volts. With 4 A together there is an operating point.
    for (power, given_up) in [(50.0, true), (60.0, true), (10.0, false)] {
        let parts = network(
            3,
            &[conductor(1, 2, 1.0)],
            &[source(0, 1, 10.0, 0.0)],
            &[watts(2, 0, power), watts(2, 0, power)],
        );
        let layout = Layout::new(&parts).expect("no fault");
        let mut drop = vec![0.0; layout.clusters.count];
        let sweep = Sweep::new(&layout, &parts.loads);
        let end = sweep.run(&mut SweepScratch::default(), None, &mut drop);
        assert_eq!(end == SweepEnd::GivenUp(1), given_up, "{power} W: {end:?}");
    }
}

/// A network with its constant power made larger.
pub(super) fn heavier(seed: u64, loops: usize, times: f64) -> Network {
    let mut parts = random_network(seed, loops);
    for load in &mut parts.loads {
        if let Behavior::Power(power) = &mut load.behavior {
            *power = *power * times;
        }
    }
    parts
}

#[test]
fn solving_takes_no_more_steps_than_it_did() {
    // Counted, not derived: an iteration that is led astray takes more, one that ends too early
    // fewer.
    let steps = |loops: usize, times: f64| -> Vec<usize> {
        let taken = |seed| match outcome(&heavier(seed, loops, times)) {
            Outcome::Solved(solution) => solution.iterations,
            _ => 0,
        };
        (0..12).map(taken).collect()
    };
    let taken = [
        (0, 1.0),
        (0, 8.0),
        (12, 1.0),
        (12, 8.0),
        (12, 14.0),
        (12, 18.0),
    ];
    let expected = [
        [7, 7, 7, 7, 8, 6, 7, 6, 7, 7, 8, 8],
        [17, 20, 16, 22, 23, 12, 15, 13, 15, 12, 23, 30],
        [3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3],
        [4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4],
        [4, 4, 4, 5, 4, 5, 5, 4, 5, 5, 5, 5],
        [5, 4, 5, 6, 5, 5, 5, 5, 6, 0, 0, 6],
    ];
    assert_eq!(taken.map(|(loops, times)| steps(loops, times)), expected);
}

/// A source of 12 V at node 1 and a ring of three wires to nodes 2 and 3, 0.1 Ω each.
fn ring(loads: &[Load]) -> Network {
    let wires = [
        conductor(1, 2, 0.1),
        conductor(2, 3, 0.1),
        conductor(3, 1, 0.1),
    ];
    network(4, &wires, &[source(0, 1, 12.0, 0.0)], loads)
}

#[test]
fn a_load_that_others_leave_no_volts_is_named_before_it_draws() {
    // 240 A at node 2 take 16 V there and 8 V at node 3.
    let reversed = [amps(2, 0, 240.0), watts(3, 0, 1.0), watts(2, 0, 1.0)];
    let fails = collapse(&ring(&reversed));
    assert_eq!((fails.load, fails.share), (2, 0.0));
    assert_close(fails.volts.value(), -4.0);
    // 180 A take all 12 V.
    let nothing = [watts(1, 0, 1.0), watts(2, 0, 1.0), amps(2, 0, 180.0)];
    let fails = collapse(&ring(&nothing));
    assert_eq!((fails.load, fails.share), (1, 0.0));
    assert!(fails.volts.value().abs() < 1e-12);
    // Of several the first of the list.
    let both = [
        amps(2, 0, 180.0),
        amps(3, 0, 180.0),
        watts(3, 0, 2.0),
        watts(2, 0, 1.0),
    ];
    assert_eq!(collapse(&ring(&both)).load, 2);
    let mut turned = both;
    turned.swap(2, 3);
    assert_eq!(collapse(&ring(&turned)).load, 2);
    // One that has volts is not named, however large it is.
    let mut healthy = both;
    healthy[3] = watts(1, 0, 1.0e6);
    healthy.swap(2, 3);
    assert_eq!(collapse(&ring(&healthy)).load, 3);
}

#[test]
fn a_load_with_few_volts_still_draws() {
    // 179 A leave 0.0667 V behind 0.0667 Ω: at most 1/4 · 0.0667² / 0.0667 = 0.01667 W.
    let share = |power: f64| {
        let parts = ring(&[amps(2, 0, 179.0), watts(2, 0, power)]);
        match outcome(&parts) {
            Outcome::Solved(_) => 1.0,
            Outcome::NoOperatingPoint(fails) => fails.share,
            other => panic!("{other:?}"),
        }
    };
    let most = 1.0 / 60.0;
    assert_close(share(0.999 * most), 1.0);
    assert!(
        (share(4.0 * most) - 0.25).abs() < 1e-5,
        "{}",
        share(4.0 * most)
    );
}

#[test]
fn the_load_that_falls_fastest_is_named_in_loops_too() {
    // The far node of an open ring falls most, whichever load is listed first.
    for turned in [false, true] {
        let mut loads = vec![watts(1, 0, 900.0), watts(2, 0, 900.0), watts(3, 0, 30.0)];
        if turned {
            loads.reverse();
        }
        let fails = collapse(&ring(&loads));
        assert_eq!(fails.load, 1);
        assert!(fails.share > 0.5 && fails.share < 0.7, "{}", fails.share);
    }
    // Of two that fall alike the first of the list.
    let alike = [watts(3, 0, 900.0), watts(3, 0, 900.0), amps(2, 0, 1.0)];
    assert_eq!(collapse(&ring(&alike)).load, 0);
    // One beside it that draws nothing is not named.
    let beside = [watts(3, 0, 0.0), watts(3, 0, 1800.0), amps(2, 0, 1.0)];
    assert_eq!(collapse(&ring(&beside)).load, 1);
    // What feeds the network does not fall by itself.
    let fed = [watts(2, 0, -50.0), watts(2, 0, 1500.0)];
    assert_eq!(collapse(&ring(&fed)).load, 1);
}

#[test]
fn a_load_of_no_power_draws_nothing_at_any_volts() {
    let parts = network(
        3,
        &[conductor(1, 2, 0.1)],
        &[source(0, 1, 12.0, 0.0)],
        &[watts(2, 0, 0.0), amps(2, 0, 120.0), watts(1, 0, 24.0)],
    );
    let solution = solved(&parts);
    // 120 A take all 12 V.
    assert_eq!(solution.load_amps[0], Amperes::ZERO);
    assert_close(solution.load_amps[2].value(), 2.0);
    let prepared = Prepared::new(&parts).expect("no fault");
    let shares = [1.0, 0.5, 0.25];
    let Outcome::Solved(partly) = prepared.solve_shares(&mut Scratch::default(), &shares) else {
        panic!("has an operating point")
    };
    assert_close(partly.load_amps[1].value(), 60.0);
    assert_close(partly.load_amps[2].value(), 0.5);
}
