//! How long a whole study takes, and how much memory it holds: the demo model and generated ones.
//!
//! `cargo bench -p tests --bench study`. Prints the study beside one bare solve of the same
//! boat's first state in the same run, so that the figures mean something on another machine.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

use harness_core::file_format::{self, ModelRecord};
use harness_core::model::BoatModel;
use harness_core::network::assembly::SourceCondition;
use harness_core::report::Report;
use harness_core::study::{BoatChoice, Study};
use std::hint::black_box;
use std::time::Instant;

/// Runs of each figure; the median is printed.
const RUNS: usize = 7;

fn median_ms(mut run: impl FnMut()) -> f64 {
    run();
    let mut times: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[RUNS / 2]
}

/// Memory the process holds, MB; `None` where the system does not tell.
fn resident_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

fn report(name: &str, record: &ModelRecord) {
    let text = file_format::write_record(record);
    let model: BoatModel = file_format::model(record).unwrap();
    let before = resident_mb();
    let study = Study::of(model.clone(), BoatChoice::Fullest).unwrap();
    let held = before
        .zip(resident_mb())
        .map(|(before, after)| after - before);
    let read = median_ms(|| {
        black_box(file_format::read(&text).unwrap());
    });
    let whole = median_ms(|| {
        black_box(Study::of(model.clone(), BoatChoice::Fullest).unwrap());
    });
    let told = median_ms(|| {
        black_box(Report::of(&study));
    });
    let state = model.states.indices().next();
    let solve = median_ms(|| {
        black_box(
            study
                .assembly
                .operate(&study.model, state, SourceCondition::Nominal),
        );
    });
    let solves = study.operating.len();
    println!(
        "{name:16} {:6} wires, {:2} options, {:6} findings | read {read:.2} ms | study \
         {whole:.2} ms, held {} | report {told:.1} ms | one state {solve:.3} ms, {solves} of them: study / all states \
         = {:.1}",
        model.wires.len(),
        model.options.len(),
        study.findings.len(),
        held.map_or("not told".to_owned(), |mb| format!("{mb:.1} MB")),
        whole / (solve * solves as f64),
    );
}

fn main() {
    let launch = include_str!("../../server/samples/launch-92.json");
    report("launch-92", &file_format::read_record(launch).unwrap());
    for (wires, options) in [(1_000, 40), (10_000, 60)] {
        report(
            &format!("generated {wires}"),
            &tests::generated::model(wires, options, 1),
        );
    }
    if let Some(mb) = resident_mb() {
        println!("resident at the end: {mb:.1} MB");
    }
}
