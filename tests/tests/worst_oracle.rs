//! The worst boat of a drop, with its proof, against solving every boat that can be built.
//!
//! Expected values: each of the `2^n` sets of options is held against the rules, each boat left is
//! solved as a network with only its loads, and the greatest drop among them is taken. Tolerance:
//! a thousand-millionth of a volt or of the value, the rounding within which the search calls two
//! boats equal. Counts of boats over a limit are exact or bounds, with no tolerance.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::{Boat, Firings, Line, OptionIndex};
use harness_core::network::{Outcome, Scratch};
use harness_core::worst::search::Search;
use harness_core::worst::{NoWorst, Sum, Worst};
use num_bigint::BigUint;
use tests::worst_instances::{Instance, Kinds, Plan, Wiring};

const INSTANCES: u64 = 360;
/// Loads looked at in each.
const LOADS: usize = 8;
/// Steps of the counts that are to end with bounds.
const FEW_STEPS: usize = 12;
/// More than any drop: takes a sum below its limit on boats it does not speak of.
const OUTSIDE: f64 = 1e3;

/// What was compared.
#[derive(Debug, Default)]
struct Compared {
    boats: usize,
    greatest: usize,
    least: usize,
    /// Greatest values of loads that no boat has.
    on_none: usize,
    /// The search solved more boats than the one it started from.
    searched: usize,
    /// The worst boat is not the one with the most options.
    not_fullest: usize,
    /// The worst boat is not the one with the greatest sum at nominal volts.
    not_linear: usize,
    counts: usize,
    /// Counts between none and all of the boats that have the load.
    parted: usize,
    exact: usize,
    bounded: usize,
}

fn plan(number: u64) -> Plan {
    let pick = |of: u64, step: u64| (number / step % of) as usize;
    Plan {
        options: 6 + (number % 9) as usize,
        kinds: [Kinds::Current, Kinds::Mixed, Kinds::Mixed][pick(3, 1)],
        wiring: [
            Wiring::Tree,
            Wiring::TwoSources,
            Wiring::TwoBanks,
            Wiring::Ring,
        ][pick(4, 3)],
        unusual: pick(2, 12) == 1,
        seed: number,
    }
}

/// Every boat with the drop of each load, absent loads included.
fn every_boat(instance: &Instance) -> Vec<(Boat, Vec<f64>)> {
    let count = instance.plan.options;
    let mut scratch = Scratch::default();
    (0..1_usize << count)
        .map(|mask| {
            let on = (0..count).filter(|bit| mask >> bit & 1 == 1);
            on.map(OptionIndex).collect::<Boat>()
        })
        .filter(|boat| instance.options.allow(boat))
        .map(|boat| {
            let there =
                |when: &harness_core::boats::Condition| f64::from(u8::from(when.holds(&boat)));
            let shares: Vec<f64> = instance
                .loads
                .iter()
                .map(|load| there(&load.when))
                .collect();
            let outcome = instance.system.network.solve_shares(&mut scratch, &shares);
            let Outcome::Solved(solved) = outcome else {
                panic!("{:?} has no operating point: {outcome:?}", instance.plan);
            };
            let at = |node: usize| solved.node_volts[node].value();
            let drop = |(load, volts): (usize, &harness_core::units::Volts)| {
                let source = instance.system.loads[load].source;
                let (_, minus, plus) = instance.system.sources[source];
                at(plus) - at(minus) - volts.value()
            };
            (
                boat,
                solved.load_volts.iter().enumerate().map(drop).collect(),
            )
        })
        .collect()
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * other.abs().max(1.0)
}

/// The bounds of a sum around its worst boat, less a limit, on boats so `held`.
fn line(
    search: &mut Search<'_>,
    sum: &Sum,
    worst: &Worst,
    held: &[Option<bool>],
    limit: f64,
) -> Line {
    let change = search.changes_around(sum, &worst.way).unwrap();
    let mut line = Line {
        constant: (worst.value - limit, worst.value - limit),
        weights: Vec::new(),
    };
    for ((low, high), met) in change.into_iter().zip(&worst.way.met) {
        // What is missing is taken off the worst boat, what is not on it is added.
        line.weights
            .push(if *met { (high, low) } else { (low, high) });
        if *met {
            line.constant = (line.constant.0 - high, line.constant.1 - low);
        }
    }
    for (weight, held) in line.weights.iter_mut().zip(held) {
        if *held == Some(true) {
            *weight = (weight.0 + OUTSIDE, weight.1 + OUTSIDE);
            line.constant = (line.constant.0 - OUTSIDE, line.constant.1 - OUTSIDE);
        }
    }
    line
}

/// Holds the greatest of a sum against the boats that have its load.
fn compare(
    search: &mut Search<'_>,
    sum: &Sum,
    load: usize,
    with: &[(&Boat, f64)],
) -> Result<Option<Worst>, String> {
    let held = search.held(search.when(load), &[]).unwrap();
    let found = search.greatest(sum, &held);
    let expected = with.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    match (found, expected) {
        (Err(NoWorst::NoBoat), None) => Ok(None),
        (Ok(worst), Some((_, expected))) => {
            let own = with.iter().find(|(boat, _)| **boat == worst.way.boat);
            let witness = own.is_some_and(|(_, value)| near(*value, worst.value));
            if near(worst.value, *expected) && worst.is_proven() && witness {
                return Ok(Some(worst));
            }
            Err(format!(
                "{worst:?} instead of {expected}, its boat has {own:?}"
            ))
        }
        (found, expected) => Err(format!("{found:?} instead of {expected:?}")),
    }
}

#[test]
fn the_worst_boat_is_the_worst_of_all_boats_solved_one_by_one() {
    let mut all = Compared::default();
    let mut faults: Vec<String> = Vec::new();
    for number in 0..INSTANCES {
        let instance = Instance::of(plan(number));
        let firings = instance.firings().unwrap();
        let boats = every_boat(&instance);
        let none_held = vec![None; firings.conditions().len()];
        assert_eq!(firings.count(&none_held), BigUint::from(boats.len()));
        all.boats += boats.len();
        let fullest = boats.iter().map(|(boat, _)| boat.len()).max().unwrap();
        let mut search = instance.search(&firings).unwrap();
        let drops = instance.drops(&mut search.factors);
        let step = drops.len().div_ceil(LOADS);
        for (load, sum) in drops.iter().enumerate().step_by(step) {
            let when = &instance.loads[load].when;
            let has = |(boat, _): &&(Boat, Vec<f64>)| when.holds(boat);
            let with: Vec<(&Boat, f64)> = boats
                .iter()
                .filter(has)
                .map(|(boat, drops)| (boat, drops[load]))
                .collect();
            let mut fault = |what: String| {
                faults.push(format!("{:?}, load {load}: {what}", instance.plan));
            };
            let turned: Vec<(&Boat, f64)> = with.iter().map(|(boat, v)| (*boat, -v)).collect();
            let least = compare(&mut search, &sum.turned(), load, &turned);
            let greatest = compare(&mut search, sum, load, &with);
            let (least, worst) = match (least, greatest) {
                (Ok(Some(least)), Ok(Some(worst))) => (-least.value, worst),
                (Ok(None), Ok(None)) => {
                    all.on_none += 1;
                    continue;
                }
                (least, greatest) => {
                    for what in [least.err(), greatest.err()].into_iter().flatten() {
                        fault(what);
                    }
                    continue;
                }
            };
            all.greatest += 1;
            all.least += 1;
            all.searched += usize::from(worst.solves > 1);
            all.not_fullest += usize::from(worst.way.boat.len() < fullest);
            let held = search.held(search.when(load), &[]).unwrap();
            all.not_linear +=
                usize::from(!is_linear_worst(&mut search, &firings, sum, &held, &worst));
            for share in [0.95, 0.8] {
                let mut limit = least + share * (worst.value - least);
                // At a limit rounding decides; so it stands between values.
                while with.iter().any(|(_, value)| near(*value, limit)) {
                    limit -= 3e-9;
                }
                let expected = with.iter().filter(|(_, value)| *value > limit).count();
                let line = line(&mut search, sum, &worst, &held, limit);
                for steps in [300_000, FEW_STEPS] {
                    let over = firings.count_over(std::slice::from_ref(&line), steps, &mut |way| {
                        when.holds(&way.boat) && search.value(sum, way).unwrap() > limit
                    });
                    let expected = BigUint::from(expected);
                    if over.at_least > expected || over.at_most < expected {
                        fault(format!("{expected} over {limit}, not {over:?}"));
                    }
                    if steps != FEW_STEPS && !over.is_exact() {
                        fault(format!("{expected} over {limit}, only {over:?}"));
                    }
                    all.counts += 1;
                    all.exact += usize::from(over.is_exact());
                    all.bounded += usize::from(!over.is_exact());
                }
                all.parted += usize::from(expected > 0 && expected < with.len());
            }
        }
    }
    println!(
        "{INSTANCES} instances: {all:?}, {} differences",
        faults.len()
    );
    let shown = faults[..faults.len().min(8)].join("\n");
    assert!(faults.is_empty(), "{} differences\n{shown}", faults.len());
    assert!(all.greatest > 2_000 && all.on_none > 10, "{all:?}");
    assert!(
        all.searched > 80 && all.not_fullest > 500 && all.not_linear > 40,
        "{all:?}"
    );
    assert!(all.parted > 2_000 && all.bounded > 200, "{all:?}");
}

/// Whether the boat is also the heaviest by the currents at nominal volts.
fn is_linear_worst(
    search: &mut Search<'_>,
    firings: &Firings,
    sum: &Sum,
    held: &[Option<bool>],
    worst: &Worst,
) -> bool {
    use harness_core::network::Behavior;
    let mut weights = vec![0.0; held.len()];
    for (load, stated) in search.system.network.network().loads.iter().enumerate() {
        let volts = search.factors.idle(load);
        let amps = match stated.behavior {
            Behavior::Current(amps) => amps.value(),
            Behavior::Power(watts) => watts.value() / volts,
            Behavior::Resistance(ohms) => volts / ohms.value(),
        };
        if let Some(when) = search.when(load) {
            weights[when] += sum.factors[load] * amps;
        }
    }
    let (_, way) = firings.heaviest(&weights, held).unwrap();
    near(search.value(sum, &way).unwrap(), worst.value)
}
