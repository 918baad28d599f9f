//! How long the cheapest harness contents take with their proof, beside a general constraint
//! solver and beside trying every set of contents.
//!
//! `cargo bench -p tests --bench contents`. The questions are those of `tests/facts/contents`.
//! The solver's times there were taken in one run of `cp_sat.py`, one thread, twenty seconds a
//! row; where Python has OR-Tools, a few rows are solved again here, so that both times come
//! from one run on one machine. `WRITE_INSTANCES=1` writes the questions first.

#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

use std::fs;
use std::hint::black_box;
use std::process::Command;
use std::time::{Duration, Instant};

use harness_core::contents::{Demand, Effort, ModuleSet};
use tests::contents::{Results, Row, folder, instances, question, written};

/// Runs of each figure; the median is printed.
const RUNS: usize = 5;
/// Unions counted; more are only said to be more.
const MOST_UNIONS: usize = 3_000_000;
/// Rows that are solved again beside the committed ones: question and contents.
const AGAIN: [(&str, &[usize]); 2] = [("m16-k30", &[2, 3]), ("m24-k60", &[2])];

fn main() {
    if std::env::var_os("WRITE_INSTANCES").is_some() {
        let file = folder().join("instances.json");
        fs::write(file, written(&instances())).expect("the folder of facts takes the questions");
    }
    let text = fs::read_to_string(folder().join("cp_sat.json")).expect("committed results");
    let committed: Results = serde_json::from_str(&text).expect("committed results");
    proofs(&committed);
    again();
    beside_trying_all();
}

fn proofs(committed: &Results) {
    println!(
        "Beside CP-SAT of OR-Tools {} (Python {}), {} worker, {} s a row: its times are committed, \
         from one run of tests/facts/contents/cp_sat.py; * not proven in that time, so that the \
         ratio is the least it can be.",
        committed.made_with.ortools,
        committed.made_with.python,
        committed.made_with.workers,
        committed.made_with.limit_s
    );
    println!(
        "{:9} {:>9} {:>8} {:>10} {:>6} {:>7} {:>6} {:>10} {:>8} {:>9}",
        "question",
        "unions",
        "contents",
        "time up to",
        "proven",
        "left",
        "nodes",
        "CP-SAT",
        "ratio",
        "its cost"
    );
    for instance in instances() {
        let demand = instance
            .question
            .demand()
            .expect("generated questions are whole");
        let unions = demand
            .unions(MOST_UNIONS)
            .expect("generated questions are whole");
        let unions = unions.map_or_else(|| format!("> {MOST_UNIONS}"), |count| count.to_string());
        let mut before = Duration::ZERO;
        for contents in 1..=5 {
            let (time, found) = measure(&demand, contents);
            let level = &found.levels[contents - 1];
            print!(
                "{:9} {unions:>9} {contents:>8} {:>10} {:>6} {:>7} {:>6}",
                instance.name,
                short(time),
                if level.is_proven() { "yes" } else { "NO" },
                level
                    .left
                    .map_or("too many".to_owned(), |left| left.to_string()),
                level.nodes
            );
            let row = |row: &&Row| row.instance == instance.name && row.contents == contents;
            match committed.rows.iter().find(row) {
                Some(row) => {
                    // The levels below are solved on the way; what this one added is compared.
                    let own = time.saturating_sub(before).max(Duration::from_micros(1));
                    let star = if row.status == "OPTIMAL" { ' ' } else { '*' };
                    let excess = row.objective.map_or("none".to_owned(), |objective| {
                        let wiring = level.wiring.value();
                        format!(
                            "+{:.1} %",
                            100.0 * (objective - wiring) as f64 / wiring as f64
                        )
                    });
                    println!(
                        " {:>9.2}{star} {:>8.0} {excess:>9}",
                        row.seconds,
                        row.seconds / own.as_secs_f64()
                    );
                }
                None => println!(),
            }
            before = time;
        }
    }
}

/// Solves some rows with the general solver here and now.
fn again() {
    let script = folder().join("cp_sat.py");
    let importable = Command::new("python3")
        .args(["-c", "import ortools"])
        .output();
    if !importable.is_ok_and(|output| output.status.success()) {
        println!("Python has no OR-Tools here: no row was solved again, the ratios above are all.");
        return;
    }
    println!("CP-SAT in this run, on this machine:");
    for (name, contents) in AGAIN {
        let numbers = contents.iter().map(ToString::to_string);
        let output = Command::new("python3")
            .arg(&script)
            .args(["--instance", name, "--contents"])
            .args(numbers)
            .output()
            .expect("python3 starts");
        let results: Results =
            serde_json::from_slice(&output.stdout).expect("the script prints JSON");
        let instance = instances()
            .into_iter()
            .find(|instance| instance.name == name);
        let question = instance.expect("a question of that name").question;
        let demand = question.demand().expect("generated questions are whole");
        for row in results.rows {
            let (time, _) = measure(&demand, row.contents);
            println!(
                "{name:9} up to {} contents {:>10}, CP-SAT that one {:.2} s ({}): ratio {:.0}",
                row.contents,
                short(time),
                row.seconds,
                row.status,
                row.seconds / time.as_secs_f64()
            );
        }
    }
}

/// The bare way: every set of so many unions, where that is possible at all.
fn beside_trying_all() {
    println!("Beside trying every set of three unions of orders:");
    for (modules, orders) in [(8, 12), (10, 20), (12, 30)] {
        let demand = question(modules, orders, 1)
            .demand()
            .expect("generated questions are whole");
        let start = Instant::now();
        let (least, sets) = by_trying(&demand);
        let theirs = start.elapsed();
        let (time, found) = measure(&demand, 3);
        assert_eq!(
            found.levels[2].wiring.value(),
            least,
            "other results are being compared"
        );
        println!(
            "{orders} orders of {modules} modules: {sets} sets in {}, up to three with proof {}: \
             ratio {:.1}",
            short(theirs),
            short(time),
            theirs.as_secs_f64() / time.as_secs_f64()
        );
    }
}

/// Least wiring a year with three contents, and how many sets of contents were tried.
fn by_trying(demand: &Demand) -> (i64, usize) {
    let mut unions: Vec<ModuleSet> = Vec::new();
    for order in &demand.orders {
        let more: Vec<_> = unions.iter().map(|union| union.union(order.set)).collect();
        unions.extend(more);
        unions.push(order.set);
        unions.sort_unstable();
        unions.dedup();
    }
    // What each union costs for each order; far too much where it does not hold it.
    let never = i64::MAX / (demand.orders.len() as i64 + 1);
    let costs: Vec<Vec<i64>> = unions
        .iter()
        .map(|union| {
            let each = demand.wiring.cost(*union).value();
            let cost = |order: &harness_core::contents::Order| match union.holds(order.set) {
                true => each * i64::from(order.boats),
                false => never,
            };
            demand.orders.iter().map(cost).collect()
        })
        .collect();
    let (mut least, mut sets) = (i64::MAX, 0);
    for (at, first) in costs.iter().enumerate() {
        for (next, second) in costs.iter().enumerate().skip(at + 1) {
            let two: Vec<i64> = first.iter().zip(second).map(|(a, b)| *a.min(b)).collect();
            for third in costs.iter().skip(next + 1) {
                let sum = two.iter().zip(third).map(|(a, b)| *a.min(b)).sum();
                least = least.min(sum);
                sets += 1;
            }
        }
    }
    (least, sets)
}

/// Median time up to so many contents, and what is found.
fn measure(demand: &Demand, contents: usize) -> (Duration, harness_core::contents::Levels) {
    let run = || {
        demand
            .levels(contents, Effort::default())
            .expect("generated questions are whole")
    };
    let found = run();
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            black_box(run());
            start.elapsed()
        })
        .collect();
    times.sort_unstable();
    (times[RUNS / 2], found)
}

/// Three or four digits and a unit.
fn short(time: Duration) -> String {
    let seconds = time.as_secs_f64();
    if seconds < 1e-3 {
        format!("{:.1} µs", seconds * 1e6)
    } else if seconds < 1.0 {
        format!("{:.1} ms", seconds * 1e3)
    } else {
        format!("{seconds:.2} s")
    }
}
