//! Boat models out to spreadsheets and in again: nothing changes, and thousands of rows come in.

#![allow(clippy::unwrap_used, reason = "a test may stop where it stands")]

use harness_core::file_format::{ModelRecord, read_record, write_record};
use harness_core::tabular::{Table, Unlisted, tables_of};
use server::spreadsheet::{csv_of, dry_run, read, workbook_of};
use tests::generated;

/// Generated models of one run; `SPREADSHEET_MODELS=1000` makes it the long one.
const MODELS: u64 = 200;

fn comes_back(name: &str, record: &ModelRecord) {
    let meant = write_record(record);
    let tables = tables_of(record);
    let workbook = workbook_of::<ModelRecord>(&tables, name).unwrap();
    let mut files = vec![("all.xlsx".to_owned(), workbook)];
    let csv = |table: &Table| (format!("{}.csv", table.name), csv_of(table).unwrap());
    files.extend(tables.iter().filter(|table| table.name == "wires").map(csv));
    for (file, bytes) in files {
        let dry = dry_run(
            record,
            read::<ModelRecord>(&file, "", &bytes),
            Unlisted::Removed,
        );
        let dry = dry.unwrap_or_else(|refusal| panic!("{name} {file}: {:#?}", refusal.faults));
        assert!(dry.changes.is_empty(), "{name} {file}: {:#?}", dry.changes);
        assert!(write_record(&dry.record) == meant, "{name} {file}");
    }
}

#[test]
fn the_demo_models_come_back_as_they_were() {
    for text in [
        include_str!("../../server/samples/launch-92.json"),
        include_str!("../../server/samples/tender-56.json"),
    ] {
        comes_back("demo", &read_record(text).unwrap());
    }
}

#[test]
fn generated_models_come_back_as_they_were() {
    let models = std::env::var("SPREADSHEET_MODELS")
        .ok()
        .and_then(|count| count.parse().ok());
    for seed in 0..models.unwrap_or(MODELS) {
        let options = 3 + usize::try_from(seed % 10).unwrap();
        let wires = 10 + usize::try_from(seed % 40).unwrap();
        comes_back(
            &format!("generated {seed}"),
            &generated::model(wires, options, seed),
        );
    }
}

#[test]
fn five_thousand_rows_come_in_at_once() {
    let record = generated::model(5_000, 10, 1);
    let mut tables = tables_of(&record);
    tables.retain(|table| table.name == "wires");
    let wires = &mut tables[0];
    assert!(wires.rows.len() >= 5_000);
    let headings = wires.headings.cells.iter();
    let color = headings
        .clone()
        .find(|(_, heading)| heading.to_string() == "color")
        .unwrap()
        .0;
    for row in &mut wires.rows {
        let at = row.cells.partition_point(|(at, _)| *at < color);
        if row.cells.get(at).is_some_and(|(at, _)| *at == color) {
            row.cells.remove(at);
        }
        row.cells.insert(
            at,
            (color, harness_core::tabular::Cell::Text("pink".to_owned())),
        );
    }
    let bytes = workbook_of::<ModelRecord>(&tables, "test").unwrap();
    let dry = dry_run(
        &record,
        read::<ModelRecord>("x.xlsx", "", &bytes),
        Unlisted::Stay,
    )
    .unwrap();
    assert_eq!(dry.changes.len(), record.wires.len());
    assert!(
        dry.record
            .wires
            .iter()
            .all(|wire| wire.color.as_deref() == Some("pink"))
    );
}
