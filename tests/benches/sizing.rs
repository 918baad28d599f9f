//! The least copper for 60 circuits on every boat that can be ordered, beside HiGHS.
//!
//! `cargo bench -p tests --bench sizing`. Four invented models: 30 options with rules, 60 loads,
//! 244 segments, 19 sizes. Our time over all boats holds everything: finding the boats that break
//! a limit, round by round, and sizing. HiGHS is given the rows found (one thread, 45 s, committed
//! with its version in `tests/facts/sizing`); on the same rows our own time is taken once more.
//! Two ratios: 45 s to our time, and the seconds HiGHS took until it had sizes as light as ours.
//!
//! Where Python has `highspy`, HiGHS also runs live, for a shorter time. `UPDATE_FACTS=1` writes
//! the instances anew; `tests/facts/sizing/highs.py` then makes the results.

#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use harness_core::sizing::least_copper::{Instance, LeastCopper, solve, solve_with};
use tests::sized_boats::SizedBoats;
use tests::sizing_facts::{self, Committed, Found, SEEDS};

const REPETITIONS: usize = 11;
/// How long HiGHS runs here, for each instance.
const LIVE_SECONDS: f64 = 10.0;
/// Ratios aimed at: mass to that of HiGHS at most, time at least.
const AIMS: (f64, f64) = (1.01, 100.0);

fn main() {
    let update = std::env::var("UPDATE_FACTS").is_ok_and(|value| value == "1");
    println!("Every boat that can be ordered, median of {REPETITIONS}:");
    println!(
        "{:>4} {:>8} {:>5} {:>6} {:>10} {:>10} {:>10} {:>7} {:>10}",
        "seed", "segments", "rows", "rounds", "least kg", "mass kg", "bound kg", "gap %", "time"
    );
    for seed in SEEDS {
        let (model, instance, answer, time) = size_all_boats(seed);
        let least_kg: f64 = instance.segments.iter().map(|s| s.choices[0].mass_kg).sum();
        println!(
            "{seed:>4} {:>8} {:>5} {:>6} {least_kg:>10.3} {:>10.4} {:>10.4} {:>7.3} {:>10}",
            instance.segments.len(),
            instance.rows.len(),
            answer.rounds,
            answer.sizes.mass_kg,
            answer.at_least_kg,
            100.0 * answer.gap(),
            short(time)
        );
        if update {
            let committed = Committed::of(seed, &model, &instance);
            let text = serde_json::to_string(&committed).expect("numbers and lists only");
            std::fs::write(sizing_facts::file(seed), text + "\n").expect("writing an instance");
        }
    }
    if update {
        println!("Instances written; now run tests/facts/sizing/highs.py.");
        return;
    }
    let results = sizing_facts::results();
    let limit_s = results.time_limit_s;
    println!("\nBeside {}, {limit_s} s, committed:", results.program);
    compare(&results.results, limit_s);
    match live() {
        Some(found) => {
            println!("\nBeside HiGHS here, one thread, {LIVE_SECONDS} s for each instance:");
            compare(&found, LIVE_SECONDS);
        }
        None => println!("\nPython has no highspy: HiGHS is not run here."),
    }
}

/// A model sized over all its boats.
fn size_all_boats(seed: u64) -> (SizedBoats, Instance, LeastCopper, Duration) {
    let fresh = SizedBoats::generate(sizing_facts::plan(seed));
    let segments = fresh.instance();
    let runs = (0..REPETITIONS).map(|_| {
        let (mut model, mut instance) = (fresh.clone(), segments.clone());
        let start = Instant::now();
        let answer = solve_with(&mut instance, |sizes| model.broken(&sizes.areas_mm2));
        let time = start.elapsed();
        (
            model,
            instance,
            answer.expect("every limit can be met"),
            time,
        )
    });
    let mut runs: Vec<_> = runs.collect();
    runs.sort_by_key(|run| run.3);
    runs.swap_remove(REPETITIONS / 2)
}

fn compare(found: &[Found], limit_s: f64) {
    let (most, least) = AIMS;
    println!(
        "{:>4} {:>10} {:>10} {:>10} {:>10} {:>10} {:>9} {:>11} {:>12} {:>9}",
        "seed",
        "mass kg",
        "bound kg",
        "time",
        "HiGHS kg",
        "its bound",
        "mass / it",
        "its / time",
        "as light in",
        "/ time"
    );
    for found in found {
        let instance = sizing_facts::instance(found.seed).instance();
        let mut answer = None;
        let mut times: Vec<_> = (0..REPETITIONS)
            .map(|_| {
                let start = Instant::now();
                answer = Some(solve(&instance));
                start.elapsed()
            })
            .collect();
        times.sort();
        let time = times[REPETITIONS / 2];
        let answer = answer.expect("repeated").expect("every limit can be met");
        let kg = answer.sizes.mass_kg;
        // It may have come to its end before the limit.
        let its_s = found.seconds.min(limit_s);
        let (after, ratio) = match found.as_light_after(kg) {
            Some(s) => (
                format!("{s:.2} s"),
                format!("{:.0}", s / time.as_secs_f64()),
            ),
            None => ("never".to_owned(), String::new()),
        };
        println!(
            "{:>4} {kg:>10.4} {:>10.4} {:>10} {:>10.4} {:>10.4} {:>9.5} {:>11.0} {after:>12} {ratio:>9}",
            found.seed,
            answer.at_least_kg,
            short(time),
            found.best_kg,
            found.bound_kg,
            kg / found.best_kg,
            its_s / time.as_secs_f64(),
        );
    }
    println!("Aim: mass at most {most} of HiGHS's, time ratio at least {least} at 45 s.");
}

/// What HiGHS finds here and now; `None` where Python does not have it.
fn live() -> Option<Vec<Found>> {
    let script = sizing_facts::folder().join("highs.py");
    let run = |seed: &u64| -> Option<Found> {
        let output = Command::new("python3")
            .arg(&script)
            .args(["--seconds", &LIVE_SECONDS.to_string()])
            .arg(Path::new(&sizing_facts::file(*seed)))
            .output()
            .ok()?;
        let text = String::from_utf8(output.stdout).ok()?;
        // The library may print a banner first.
        let json = text.lines().find(|line| line.starts_with("[{"))?;
        serde_json::from_str::<Vec<Found>>(json).ok()?.pop()
    };
    SEEDS.iter().map(run).collect()
}

/// A time in three digits or so.
fn short(time: Duration) -> String {
    format!("{:.1} ms", 1e3 * time.as_secs_f64())
}
