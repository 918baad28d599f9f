//! The worst boat of every load, beside two general exact solvers and beside listing every boat
//! that has more loads than others.
//!
//! `cargo bench -p tests --bench worst`. Constant currents: the questions of `tests/facts/worst`,
//! whose committed answers and times are of HiGHS and CP-SAT, one thread each; where Python has
//! both they solve them again here, so that both times come from one run. *Warm* is our time for
//! all loads with the diagram at hand, *cold* with building it. Mixed kinds of loads: all worst
//! boats with their proof, beside the number of maximal boats times one plain solve.
//! `UPDATE_FACTS=1` writes the questions and the answers anew.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

use harness_core::boats::Firings;
use harness_core::network::{Scratch, Settling};
use harness_core::worst::{NoWorst, Worst};
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};
use tests::maximal_boats::Maximal;
use tests::worst_facts::{self, Solved};
use tests::worst_instances::{Instance, Kinds, Plan};

/// Runs of each figure; the median is taken.
const RUNS: usize = 5;
/// Ratios aimed at: solver to warm, solver to cold at least; to maximal boats at most.
const AIMS: (f64, f64, f64) = (50.0, 10.0, 1.5);
/// Volts within which an answer is that of HiGHS, and of CP-SAT, which rounds each weight.
const SAME_V: (f64, f64) = (1e-9, 1e-7);
/// More maximal boats than this are not listed.
const MOST_LISTED: u64 = 2_000_000;

/// All worst boats of an instance and the time they took.
struct Found {
    boats: String,
    nodes: usize,
    cold: Duration,
    warm: Duration,
    worst: Vec<Option<Worst>>,
    solves: usize,
}

fn median(mut run: impl FnMut() -> Duration) -> Duration {
    let mut times: Vec<Duration> = (0..RUNS).map(|_| run()).collect();
    times.sort_unstable();
    times[RUNS / 2]
}

/// The greatest drop of every load.
fn all_worst(instance: &Instance, firings: &Firings) -> (Vec<Option<Worst>>, usize) {
    let mut search = instance.search(firings).unwrap();
    let drops = instance.drops(&mut search.factors);
    let mut starts = Vec::new();
    let worst = drops.iter().enumerate().map(|(load, sum)| {
        let held = search.held(search.when(load), &[])?;
        // As the study does: each search starts from the boats found before.
        search.start_from(&starts);
        match search.greatest(sum, &held) {
            Ok(worst) => {
                if !starts.contains(&worst.way) {
                    starts.push(worst.way.clone());
                }
                Some(worst)
            }
            Err(NoWorst::NoBoat) => None,
            Err(why) => panic!("{:?}: {why:?}", instance.plan),
        }
    });
    let worst = worst.collect();
    (worst, search.solves())
}

fn find(instance: &Instance) -> Found {
    let firings = instance.firings().unwrap();
    let warm = median(|| {
        let start = Instant::now();
        black_box(all_worst(instance, &firings));
        start.elapsed()
    });
    let cold = median(|| {
        let start = Instant::now();
        black_box(all_worst(instance, &instance.firings().unwrap()));
        start.elapsed()
    });
    let (worst, solves) = all_worst(instance, &firings);
    let any = vec![None; firings.conditions().len()];
    let boats = firings.count(&any).to_string();
    Found {
        boats: if boats.len() > 7 {
            format!("{}.{}e{}", &boats[..1], &boats[1..3], boats.len() - 1)
        } else {
            boats
        },
        nodes: firings.node_count(),
        cold,
        warm,
        worst,
        solves,
    }
}

fn main() {
    let instances: Vec<Instance> = worst_facts::plans().into_iter().map(Instance::of).collect();
    let found: Vec<Found> = instances.iter().map(find).collect();
    let (questions, answers) = (
        worst_facts::folder().join("instances.json"),
        worst_facts::folder().join("solvers.json"),
    );
    if std::env::var("UPDATE_FACTS").is_ok_and(|value| value == "1") {
        std::fs::write(&questions, worst_facts::instances_text()).unwrap();
        assert!(solve(&questions, &answers), "Python with both solvers");
    }
    let committed = worst_facts::read_solved(&answers);
    println!("Constant currents, all loads; solvers' times are committed:");
    compare(&instances, &found, &committed);
    let here = std::env::temp_dir().join(format!("worst-{}.json", std::process::id()));
    if solve(&questions, &here) {
        println!("\nThe solvers in this run:");
        compare(&instances, &found, &worst_facts::read_solved(&here));
        std::fs::remove_file(&here).unwrap();
    } else {
        println!("\nPython has not both solvers here: the ratios above are all.");
    }
    println!(
        "Aim at 80 options: warm at least {}, cold at least {}.\n",
        AIMS.0, AIMS.1
    );
    mixed();
}

fn solve(questions: &Path, answers: &Path) -> bool {
    Command::new("python3")
        .arg(worst_facts::folder().join("solvers.py"))
        .arg("--instances")
        .arg(questions)
        .arg("--out")
        .arg(answers)
        .output()
        .is_ok_and(|output| output.status.success())
}

fn compare(instances: &[Instance], found: &[Found], solved: &Solved) {
    println!(
        "HiGHS {}, CP-SAT of OR-Tools {}, Python {}",
        solved.programs.highspy, solved.programs.ortools, solved.programs.python
    );
    println!(
        "{:20} {:>9} {:>6} {:>9} {:>9} {:>9} {:>11} {:>9} {:>11} {:>9}",
        "instance",
        "boats",
        "nodes",
        "warm ms",
        "cold ms",
        "HiGHS ms",
        "/warm /cold",
        "CP-SAT ms",
        "/warm /cold",
        "differ V"
    );
    for (instance, found) in instances.iter().zip(found) {
        let name = worst_facts::name(&instance.plan);
        let theirs = solved.instances.iter().find(|one| one.name == name);
        let theirs = theirs.expect("every question is answered");
        let differ = |worst_v: &[Option<f64>]| -> f64 {
            let pairs = found.worst.iter().zip(worst_v);
            let each = pairs.map(|(ours, theirs)| match (ours, theirs) {
                (Some(ours), Some(theirs)) if ours.is_proven() => (ours.value - theirs).abs(),
                (None, None) => 0.0,
                _ => f64::INFINITY,
            });
            each.fold(0.0, f64::max)
        };
        let (highs_v, cp_sat_v) = (
            differ(&theirs.highs.worst_v),
            differ(&theirs.cp_sat.worst_v),
        );
        assert!(
            highs_v <= SAME_V.0 && cp_sat_v <= SAME_V.1,
            "{name}: other worst boats are being compared: {highs_v} V, {cp_sat_v} V"
        );
        let ratios = |all_s: f64| {
            let (warm, cold) = (found.warm.as_secs_f64(), found.cold.as_secs_f64());
            format!("{:.0}  {:.0}", all_s / warm, all_s / cold)
        };
        println!(
            "{name:20} {:>9} {:>6} {:>9} {:>9} {:>9.1} {:>11} {:>9.1} {:>11} {highs_v:>9.1e}",
            found.boats,
            found.nodes,
            ms(found.warm),
            ms(found.cold),
            1e3 * theirs.highs.all_s,
            ratios(theirs.highs.all_s),
            1e3 * theirs.cp_sat.all_s,
            ratios(theirs.cp_sat.all_s),
        );
    }
}

/// Constant current, constant power and resistance, a third each.
fn mixed() {
    println!("A third each of constant current, constant power and resistance:");
    println!(
        "{:20} {:>6} {:>7} {:>9} {:>9} {:>9} {:>9} {:>9} {:>7} {:>9}",
        "instance",
        "loads",
        "proven",
        "solves",
        "warm ms",
        "cold ms",
        "maximal",
        "solve µs",
        "ratio",
        "differ V"
    );
    for plan in worst_facts::plans() {
        let plan = Plan {
            kinds: Kinds::Mixed,
            ..plan
        };
        let instance = Instance::of(plan);
        let found = find(&instance);
        let there = found.worst.iter().flatten();
        let proven = there.clone().filter(|worst| worst.is_proven()).count();
        let maximal = Maximal::of(&instance.options, &instance.conditions, 1);
        if maximal.count() > MOST_LISTED {
            println!(
                "{:20} {} ways: not listed",
                worst_facts::name(&plan),
                maximal.count()
            );
            continue;
        }
        let boats = maximal.boats();
        let network = &instance.system.network;
        let (_, minus, plus) = instance.system.sources[0];
        let mut scratch = Scratch::default();
        let mut worst = vec![f64::NEG_INFINITY; instance.loads.len()];
        let start = Instant::now();
        for boat in &boats {
            let on = instance.loads.iter().map(|load| load.when.holds(boat));
            let shares: Vec<f64> = on.map(|on| f64::from(u8::from(on))).collect();
            let settled = network.settle(&mut scratch, Some(&shares));
            assert!(matches!(settled, Settling::Settled { .. }));
            let at = |node| network.node_volts(&scratch, node).value();
            let terminals = at(plus) - at(minus);
            for (load, worst) in worst.iter_mut().enumerate() {
                if shares[load] > 0.0 {
                    let drop = terminals - network.load_volts(&scratch, load).value();
                    *worst = worst.max(drop);
                }
            }
        }
        let theirs = start.elapsed();
        let pairs = found.worst.iter().zip(&worst);
        let differ = pairs.map(|(ours, theirs)| match ours {
            Some(ours) => (ours.value - theirs).abs(),
            None if *theirs == f64::NEG_INFINITY => 0.0,
            None => f64::INFINITY,
        });
        let differ = differ.fold(0.0, f64::max);
        assert!(differ <= SAME_V.0, "{plan:?}: {differ} V");
        println!(
            "{:20} {:>6} {:>7} {:>9} {:>9} {:>9} {:>9} {:>9.2} {:>7.2} {differ:>9.1e}",
            worst_facts::name(&plan),
            there.count(),
            proven,
            found.solves,
            ms(found.warm),
            ms(found.cold),
            boats.len(),
            1e6 * theirs.as_secs_f64() / boats.len() as f64,
            found.cold.as_secs_f64() / theirs.as_secs_f64(),
        );
    }
    println!("Aim at 80 options: all proven, ratio at most {}.", AIMS.2);
}

fn ms(time: Duration) -> String {
    format!("{:.3}", 1e3 * time.as_secs_f64())
}
