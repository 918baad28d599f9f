//! Operating point of networks of 100 to 100 000 branches, beside ngspice on the same netlist.
//!
//! `cargo bench -p tests --bench network`. ngspice repeats `.op` inside one process, so that
//! neither its start nor reading the netlist counts: (time of K repetitions - time of one)
//! / (K - 1). `destroy all` after each keeps its results from piling up and slowing it down.
//! It is timed with its own default tolerances, which save it steps, and compared with tight
//! ones. Constant power is guarded in the netlist; unguarded, ngspice settles at low volts.
//! Our time is that of one solve on a prepared network, every node voltage found; preparing
//! and writing out all currents stand beside it.

#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

use std::path::Path;
use std::time::{Duration, Instant};

use harness_core::network::{Outcome, Prepared, Scratch, Settling};
use tests::network_checks::largest_relative_difference;
use tests::networks::{BRANCHES_PER_LOAD, Case, Plan, Shape, generate};
use tests::ngspice;

/// Branches, repetitions of ours, repetitions of ngspice, runs of ngspice.
const SIZES: [(usize, usize, usize, usize); 4] = [
    (100, 2001, 2000, 5),
    (1_000, 501, 200, 5),
    (10_000, 101, 20, 3),
    (100_000, 21, 3, 1),
];
/// Shapes with the ratio aimed at for each size.
const SHAPES: [(Shape, [f64; 4]); 2] = [
    (Shape::Tree, [40.0, 50.0, 100.0, 300.0]),
    (Shape::Loops, [15.0, 25.0, 50.0, 150.0]),
];
/// Part of nominal below which ngspice's constant-power loads draw no more.
const GUARD: f64 = 0.5;

fn main() {
    let version = ngspice::version();
    match &version {
        Some(version) => println!("Beside {version}, `.op` repeated inside one process."),
        None => println!("ngspice is not installed: only our own times."),
    }
    println!(
        "{:8} {:>8} {:>10} {:>10} {:>10} {:>5} {:>10} {:>6} {:>4} {:>10}",
        "shape",
        "branches",
        "prepare",
        "solve",
        "all values",
        "steps",
        "ngspice",
        "ratio",
        "aim",
        "difference"
    );
    for (shape, aims) in SHAPES {
        for ((branches, ours, theirs, runs), aim) in SIZES.into_iter().zip(aims) {
            let loads = (branches as f64 / BRANCHES_PER_LOAD) as usize;
            let plan = Plan {
                shape,
                seed: 1,
                loads,
                constant_power: true,
                overload: 1.0,
            };
            let case = generate(plan);
            let own = Own::measure(&case, ours);
            print!(
                "{:8} {:>8} {:>10} {:>10} {:>10} {:>5}",
                shape.name(),
                case.network.element_count(),
                short(own.prepare),
                short(own.solve),
                short(own.all_values),
                own.iterations
            );
            if version.is_some() {
                let (time, difference) = measure_ngspice(&case, &own, theirs, runs);
                let ratio = time.as_secs_f64() / own.solve.as_secs_f64();
                print!(
                    " {:>10} {ratio:>6.0} {aim:>4} {difference:>10.1e}",
                    short(time)
                );
            }
            println!();
        }
    }
}

/// Our own medians on one network.
struct Own {
    prepare: Duration,
    solve: Duration,
    all_values: Duration,
    iterations: usize,
    node_volts: Vec<f64>,
}

impl Own {
    fn measure(case: &Case, repetitions: usize) -> Self {
        let prepare = median((0..repetitions.min(21)).map(|_| {
            let start = Instant::now();
            let prepared = Prepared::new(&case.network);
            let time = start.elapsed();
            prepared.expect("generated networks have no fault");
            time
        }));
        let prepared = Prepared::new(&case.network).expect("generated networks have no fault");
        let mut scratch = Scratch::default();
        let solve = median((0..repetitions).map(|_| {
            let start = Instant::now();
            let settling = prepared.settle(&mut scratch, None);
            let time = start.elapsed();
            assert!(matches!(settling, Settling::Settled { .. }), "{settling:?}");
            time
        }));
        let mut solved = None;
        let all_values = median((0..repetitions).map(|_| {
            let start = Instant::now();
            let outcome = prepared.solve(&mut scratch);
            let time = start.elapsed();
            let Outcome::Solved(solution) = outcome else {
                panic!("{outcome:?}")
            };
            solved = Some(solution);
            time
        }));
        let solution = solved.expect("at least one repetition");
        Self {
            prepare,
            solve,
            all_values,
            iterations: solution.iterations,
            node_volts: solution
                .node_volts
                .iter()
                .map(|volts| volts.value())
                .collect(),
        }
    }
}

/// Time of one `.op` in ngspice, and the largest relative difference of a node voltage.
fn measure_ngspice(case: &Case, own: &Own, repetitions: usize, runs: usize) -> (Duration, f64) {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("bench.cir");
    let netlist = ngspice::netlist(&case.network, GUARD * case.nominal_v, 1.0);
    let time = |repetitions: usize| {
        let control = format!("repeat {repetitions}\nop\ndestroy all\nend\n");
        let start = Instant::now();
        ngspice::run(&netlist, &control, &file);
        start.elapsed()
    };
    let single = median((0..runs).map(|_| time(1)));
    let many = median((0..runs).map(|_| time(repetitions)));
    let each = many.saturating_sub(single) / (repetitions as u32 - 1);
    let theirs = ngspice::node_volts(&case.network, &netlist, &file)
        .expect("ngspice finds the operating point");
    let difference = largest_relative_difference(&case.network, &own.node_volts, &theirs);
    assert!(
        difference < 1e-6,
        "other results are being compared: {difference:e}"
    );
    (each, difference)
}

fn median(times: impl Iterator<Item = Duration>) -> Duration {
    let mut times: Vec<Duration> = times.collect();
    times.sort_unstable();
    times[times.len() / 2]
}

/// Three or four digits and a unit.
fn short(time: Duration) -> String {
    let seconds = time.as_secs_f64();
    if seconds < 1e-3 {
        format!("{:.2} µs", seconds * 1e6)
    } else {
        format!("{:.2} ms", seconds * 1e3)
    }
}
