//! How long a whole study takes, and how much memory it holds: the demo model and generated ones.
//!
//! `cargo bench -p tests --bench study`. Prints the study of one boat beside one bare solve of
//! the same boat's first state in the same run, and the study of every boat beside the study of
//! one, so that the figures mean something on another machine. `MOST_WIRES=1000` leaves out larger
//! models.

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
use harness_core::tables::conductors;
use harness_core::units::WireSize;
use serde_json::Value;
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

/// The most memory the process ever held, MB, and starts counting anew where that can be.
fn peak_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    let _ = std::fs::write("/proc/self/clear_refs", "5");
    Some(kilobytes / 1024.0)
}

fn seconds<T>(run: impl FnOnce() -> T) -> (f64, T) {
    let start = Instant::now();
    let done = run();
    (start.elapsed().as_secs_f64(), done)
}

/// The same with one field of a thing of the middle of a list changed, of the first that can be.
fn changed(
    record: &ModelRecord,
    (list, field): (&str, &str),
    next: impl Fn(&Value) -> Option<Value>,
) -> BoatModel {
    let mut value = serde_json::to_value(record).unwrap();
    let things = value[list].as_array_mut().unwrap();
    let middle = things.len() / 2;
    let changed = things[middle..].iter_mut().find_map(|thing| {
        thing[field] = next(&thing[field])?;
        Some(())
    });
    changed.unwrap();
    file_format::model(&serde_json::from_value(value).unwrap()).unwrap()
}

/// One size up.
fn thicker(size: &Value) -> Option<Value> {
    let size: WireSize = size.as_str()?.parse().unwrap();
    let rows = conductors::stocked(size.series()).map(|row| row.size);
    let next = rows.skip_while(|one| *one != size).nth(1)?;
    Some(next.to_string().into())
}

/// Twice the rating.
fn doubled(rating_a: &Value) -> Option<Value> {
    Some((2.0 * rating_a.as_f64()?).into())
}

/// The same where each sixteenth load also needs one of two options drawn from all: too much for one
/// diagram.
fn tangled(record: &ModelRecord) -> ModelRecord {
    let mut rng = fastrand::Rng::with_seed(1);
    let mut value = serde_json::to_value(record).unwrap();
    let options = value["options"].as_array().unwrap().iter();
    let options: Vec<_> = options.map(|option| option["id"].clone()).collect();
    let mut draw = || options[rng.usize(..options.len())].clone();
    for load in value["loads"]
        .as_array_mut()
        .unwrap()
        .iter_mut()
        .step_by(16)
    {
        let either = serde_json::json!({"any": [draw(), draw()]});
        load["fitted_when"] = match load.get("fitted_when") {
            Some(own) => serde_json::json!({"all": [own, either]}),
            None => either,
        };
    }
    serde_json::from_value(value).unwrap()
}

/// The study of every boat.
fn report_every(name: &str, record: &ModelRecord) {
    let model: BoatModel = file_format::model(record).unwrap();
    let one = median_ms(|| {
        black_box(Study::of(model.clone(), BoatChoice::Fullest).unwrap());
    });
    peak_mb();
    let before = resident_mb();
    let (whole, study) = seconds(|| Study::of(model.clone(), BoatChoice::Every).unwrap());
    let peak = before.zip(peak_mb()).map(|(before, peak)| peak - before);
    let after = |changed: BoatModel| {
        let (took, other) = seconds(|| Study::after(changed, [&study]).unwrap());
        black_box(&other);
        took
    };
    let size = after(changed(record, ("wires", "size"), thicker));
    let rating = after(changed(record, ("devices", "rating_a"), doubled));
    print!(
        "{name:16} {:6} wires, {:2} options, {} boats | every boat {whole:.2} s = {:.1} x one \
         boat, memory {} | after a wire of another size {size:.2} s, a device of another rating {rating:.2} s \
         | ",
        model.wires.len(),
        model.options.len(),
        study.boats.count(),
        1000.0 * whole / one,
        peak.map_or("not told".to_owned(), |mb| format!("{mb:.0} MB")),
    );
    match (&study.every, &study.not_every) {
        (Some(every), _) => println!(
            "{} boats judged, {} in all, {} quantities proven, {} not, {} solves, {} findings, {} fail",
            every.candidates.boats.len(),
            every.candidates.judged_in_all(),
            every.candidates.proven,
            every.unproven.len(),
            every.candidates.solves,
            study.findings.len(),
            study
                .findings
                .iter()
                .filter(|finding| finding.fails())
                .count(),
        ),
        (None, why) => println!("one boat judged: {}", why.as_ref().unwrap()),
    }
}

fn main() {
    let most_wires = std::env::var("MOST_WIRES").ok();
    let most_wires = most_wires.map_or(usize::MAX, |most| most.parse().unwrap());
    let launch = include_str!("../../server/samples/launch-92.json");
    let launch = file_format::read_record(launch).unwrap();
    report("launch-92", &launch);
    for (wires, options) in [(1_000, 40), (10_000, 60)] {
        report(
            &format!("generated {wires}"),
            &tests::generated::model(wires, options, 1),
        );
    }
    println!();
    report_every("launch-92", &launch);
    for wires in [1_000, 10_000] {
        for options in [40, 80] {
            if wires <= most_wires {
                let model = tests::generated::model(wires, options, 1);
                report_every("generated", &model);
                if wires <= 1_000 {
                    report_every("tangled", &tangled(&model));
                }
            }
        }
    }
}
