//! How long 5 000 rows take to come in from a workbook, and how much memory.
//!
//! `cargo bench -p tests --bench spreadsheet`. Beside a bare reading of the same file by the
//! library, paired in one run; median of the ratios. Each memory is the peak above what the
//! process held before.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

use calamine::{Data, Range, Reader, Xlsx};
use harness_core::file_format::{ModelRecord, write_record};
use harness_core::tabular::{Unlisted, tables_of};
use server::spreadsheet::{dry_run, read, workbook_of};
use std::hint::black_box;
use std::io::Cursor;
use std::time::Instant;
use tests::generated;

const ROWS: usize = 5_000;
const PAIRS: usize = 9;

fn main() {
    let record = generated::model(ROWS, 20, 1);
    let mut tables = tables_of(&record);
    tables.retain(|table| table.name == "wires");
    let rows = tables[0].rows.len();
    let cells: usize = tables[0].rows.iter().map(|row| row.cells.len()).sum();
    let bytes = workbook_of::<ModelRecord>(&tables, "bench").unwrap();
    // As before the first wire came in, so that each row adds a thing.
    let mut base = record.clone();
    base.wires.clear();
    for bus in &mut base.buses {
        bus.stack.clear();
    }

    let bare = || {
        let mut workbook: Xlsx<_> = Xlsx::new(Cursor::new(&bytes)).unwrap();
        let range: Range<Data> = workbook.worksheet_range("wires").unwrap();
        black_box(range);
    };
    let reading = || {
        black_box(read::<ModelRecord>("x.xlsx", "", &bytes).unwrap());
    };
    let whole = || {
        let dry = dry_run(
            &base,
            read::<ModelRecord>("x.xlsx", "", &bytes),
            Unlisted::Stay,
        )
        .unwrap();
        assert_eq!(dry.changes.len(), rows);
        black_box(write_record(&dry.record));
    };
    let works: [(&str, &dyn Fn()); 3] = [
        ("bare reading by the library", &bare),
        ("guard and reading", &reading),
        ("whole import to the dry run", &whole),
    ];
    // Memory that was held once hides what is held again, so each peak has a process of its own.
    if let Some(name) = std::env::var_os(CHILD) {
        let work = works.iter().find(|(known, _)| name == *known).unwrap().1;
        drop((record, tables));
        println!(
            "{}",
            growth(work).map_or("not told".to_owned(), |mb| format!("{mb:.1} MB"))
        );
        return;
    }
    println!(
        "{rows} rows, {cells} cells, workbook of {} kB",
        bytes.len() / 1000
    );
    for (name, work) in works {
        work();
        let mut times: Vec<f64> = Vec::new();
        let mut ratios: Vec<f64> = Vec::new();
        for _ in 0..PAIRS {
            let beside = seconds(&bare);
            let own = seconds(work);
            times.push(own);
            ratios.push(own / beside);
        }
        println!(
            "{name}: {:.1} ms, {:.2} times the bare reading, peak {} more",
            median(times) * 1000.0,
            median(ratios),
            in_own_process(name)
        );
    }
}

/// Names the work of a process that measures its memory alone.
const CHILD: &str = "SPREADSHEET_BENCH_WORK";

/// The peak of one work in a process that gives memory back as soon as it is free.
fn in_own_process(name: &str) -> String {
    let child = std::process::Command::new(std::env::current_exe().unwrap())
        .env(CHILD, name)
        .env("MALLOC_TRIM_THRESHOLD_", "0")
        .env("MALLOC_MMAP_THRESHOLD_", "65536")
        .output()
        .unwrap();
    String::from_utf8(child.stdout).unwrap().trim().to_owned()
}

fn seconds(work: &dyn Fn()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Peak memory of the work above what the process held before, MB; `None` where the system does
/// not tell.
fn growth(work: &dyn Fn()) -> Option<f64> {
    std::fs::write("/proc/self/clear_refs", "5").ok()?;
    let before = status("VmRSS:")?;
    work();
    Some(status("VmHWM:")? - before)
}

fn status(field: &str) -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with(field))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1000.0)
}
