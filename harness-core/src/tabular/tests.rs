//! Out and in again, and everything a sheet may get wrong.

use super::*;
use crate::file_format::ModelRecord;
use crate::file_format::{read_record, write_record};

const LAUNCH: &str = include_str!("../../../server/samples/launch-92.json");
const TENDER: &str = include_str!("../../../server/samples/tender-56.json");

fn launch() -> ModelRecord {
    read_record(LAUNCH).unwrap()
}

/// A sheet from rows of texts, the first of them the headings; empty texts are empty cells.
fn sheet(name: &str, rows: &[&[&str]]) -> Table {
    let row = |(number, cells): (u32, &&[&str])| Row {
        number,
        cells: (0..)
            .zip(cells.iter())
            .filter(|(_, text)| !text.is_empty())
            .map(|(at, text)| (at, Cell::Text((*text).to_owned())))
            .collect(),
    };
    let mut rows = (1..).zip(rows).map(row);
    Table {
        name: name.to_owned(),
        headings: rows.next().unwrap_or_default(),
        rows: rows.collect(),
    }
}

fn faults_of(tables: &[Table]) -> Vec<CellFault> {
    read_tables(&launch(), tables, Unlisted::Stay).unwrap_err()
}

#[test]
fn out_and_in_again_changes_nothing() {
    for text in [LAUNCH, TENDER] {
        let record = read_record(text).unwrap();
        for unlisted in [Unlisted::Stay, Unlisted::Removed] {
            let dry = read_tables(&record, &tables_of(&record), unlisted).unwrap();
            assert_eq!(dry.changes, []);
            assert_eq!(write_record(&dry.record), write_record(&record));
        }
    }
}

#[test]
fn tables_alone_make_the_whole_model() {
    let empty = read_record("{\"format_version\": 1, \"name\": \"Empty\"}").unwrap();
    for text in [LAUNCH, TENDER] {
        let record = read_record(text).unwrap();
        let dry = read_tables(&empty, &tables_of(&record), Unlisted::Stay).unwrap();
        let (made, meant) = (write_record(&dry.record), write_record(&record));
        for (made, meant) in made.lines().zip(meant.lines()) {
            assert_eq!(made, meant);
        }
        assert_eq!(made.len(), meant.len());
    }
}

#[test]
fn every_field_of_the_format_goes_out_and_comes_in() {
    let text = include_str!("../../../tests/facts/every-field.json");
    let record = read_record(text).unwrap();
    let empty = read_record("{\"format_version\": 1, \"name\": \"Empty\"}").unwrap();
    let tables = tables_of(&record);
    let dry = read_tables(&empty, &tables, Unlisted::Stay).unwrap();
    assert_eq!(write_record(&dry.record), write_record(&record));
    let filled: std::collections::BTreeSet<_> = tables
        .iter()
        .flat_map(|table| {
            let columns = table.headings.cells.iter();
            columns
                .filter(|(at, _)| table.rows.iter().any(|row| row.cell(*at).is_some()))
                .map(|(_, heading)| (table.name.clone(), heading.to_string()))
        })
        .collect();
    let missing: Vec<_> = explained::<ModelRecord>()
        .into_iter()
        // Both ends of a wire are of one form; the file fills in the first.
        .filter(|column| !column.heading.starts_with("to_end."))
        .filter(|column| !filled.contains(&(column.sheet.to_owned(), column.heading.clone())))
        .map(|column| format!("{} {}", column.sheet, column.heading))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn a_row_changes_a_thing_and_a_new_name_adds_one() {
    let base = launch();
    let load = &base.loads[0];
    let rows: &[&[&str]] = &[
        &[
            "ID",
            "Stated at (V)",
            "Current mA",
            "Fitted when",
            "Runs in",
        ],
        &[&load.id, "12", "2500", "", ""],
        &["new-light", "", "850", "", ""],
    ];
    let dry = read_tables(&base, &[sheet("Load", rows)], Unlisted::Stay).unwrap();
    let changed = dry
        .record
        .loads
        .iter()
        .find(|other| other.id == load.id)
        .unwrap();
    assert_eq!(
        (changed.current_a, changed.stated_at_v),
        (Some(2.5), Some(12.0))
    );
    assert_eq!(
        changed.name, load.name,
        "a column that is not there changes nothing"
    );
    let new = dry.record.loads.last().unwrap();
    assert_eq!((new.id.as_str(), new.current_a), ("new-light", Some(0.85)));
    assert_eq!(dry.record.loads.len(), base.loads.len() + 1);
    assert!(
        matches!(dry.changes[0].what, What::Changed(_))
            && matches!(dry.changes[1].what, What::Added(_))
    );
}

#[test]
fn things_are_removed_only_when_asked() {
    let base = launch();
    let mut tables = tables_of(&base);
    let states = tables
        .iter_mut()
        .find(|table| table.name == "mouldings")
        .unwrap();
    let mut lone = states.clone();
    lone.rows.push(Row {
        number: 900,
        cells: vec![(0, Cell::Text("spare".to_owned()))],
    });
    let with_spare = read_tables(&base, &[lone], Unlisted::Stay).unwrap().record;
    assert_eq!(with_spare.mouldings.len(), base.mouldings.len() + 1);
    let kept = read_tables(&with_spare, &tables, Unlisted::Stay).unwrap();
    assert!(kept.changes.is_empty());
    let removed = read_tables(&with_spare, &tables, Unlisted::Removed).unwrap();
    assert_eq!(removed.changes.len(), 1);
    assert_eq!(removed.changes[0].what, What::Removed);
    assert_eq!(removed.record, base);
}

#[test]
fn what_a_removal_leaves_dangling_is_told_by_name() {
    let tables = [sheet("circuits", &[&["id"]])];
    let faults = read_tables(&launch(), &tables, Unlisted::Removed).unwrap_err();
    assert!(
        faults
            .iter()
            .any(|fault| fault.sheet.is_empty() && fault.reason.contains("which no row states")),
        "{faults:#?}"
    );
}

#[test]
fn headings_and_units_are_read_as_people_write_them() {
    let base = launch();
    let run = &base.runs[0].id;
    let wire = &base.wires[0].id;
    for (heading, value, metres) in [
        ("Length (ft)", "12.5", 3.81),
        ("length_m", "3,81", 3.81),
        ("Length [mm]", "3810", 3.81),
        ("LENGTH M", "12 ft 6 in", 3.81),
        ("length", "381 cm", 3.81),
        ("Length in", "150", 3.81),
    ] {
        let tables = [sheet("Runs", &[&["id", heading], &[run, value]])];
        let dry = read_tables(&base, &tables, Unlisted::Stay).unwrap();
        assert_eq!(dry.record.runs[0].length_m, Some(metres), "{heading}");
    }
    for (heading, value, size) in [
        ("Size (AWG)", "10", "10 AWG"),
        ("Gauge", "2/0awg", "2/0 AWG"),
        ("size mm2", "2,5", "2.5 mm2"),
        ("Size", "2.5 mm²", "2.5 mm2"),
    ] {
        let tables = [sheet(
            "wires",
            &[&["id", heading, "Colour"], &[wire, value, "pink"]],
        )];
        let dry = read_tables(&base, &tables, Unlisted::Stay).unwrap();
        let wire = &dry.record.wires[0];
        assert_eq!(
            (wire.size.as_deref(), wire.color.as_deref()),
            (Some(size), Some("pink")),
            "{heading}"
        );
    }
}

#[test]
fn headings_that_are_not_clear_are_told() {
    let headings: &[&str] = &[
        "id",
        "Inrush",
        "Curent",
        "current_a",
        "Current (A)",
        "Power (V)",
        "Drop class",
    ];
    let faults = faults_of(&[sheet("loads", &[headings])]);
    let told: Vec<_> = faults
        .iter()
        .map(|fault| (fault.cell(), fault.reason.as_str()))
        .collect();
    assert_eq!(told.len(), 4, "{faults:#?}");
    assert!(told[0].0 == "B1" && told[0].1.contains("several"));
    assert!(told[1].0 == "C1" && faults[1].next_step.contains("current_a"));
    assert!(told[2].0 == "E1" && told[2].1.contains("first stands in D1"));
    assert!(told[3].0 == "F1" && faults[3].limit.contains('w'));
    let no_id = faults_of(&[sheet("loads", &[&["name"], &["x"]])]);
    assert!(no_id[0].next_step.contains("headed id"), "{no_id:?}");
    let unknown = faults_of(&[sheet("lods", &[&["id"], &["x"]])]);
    assert!(unknown[0].next_step.contains("loads"), "{unknown:?}");
    let twice = faults_of(&[sheet("loads", &[&["id"]]), sheet("Load", &[&["id"]])]);
    assert!(twice[0].reason.contains("same list"), "{twice:?}");
}

#[test]
fn two_hundred_broken_cells_are_told_in_one_pass() {
    let mut rows = vec![vec![
        "id",
        "current_a",
        "min_v",
        "drop_class",
        "point",
        "ignition_protected",
    ]];
    let ids: Vec<_> = (0..40).map(|number| format!("broken-{number}")).collect();
    for id in &ids {
        rows.push(vec![
            id,
            "12 V",
            "900",
            "sometimes",
            "no-such-point",
            "perhaps",
        ]);
    }
    let rows: Vec<&[&str]> = rows.iter().map(Vec::as_slice).collect();
    let faults = faults_of(&[sheet("loads", &rows)]);
    let cells: std::collections::BTreeSet<_> = faults.iter().map(CellFault::cell).collect();
    assert_eq!((faults.len(), cells.len()), (200, 200));
    for fault in &faults {
        assert!(fault.sheet == "loads" && !fault.reason.is_empty() && !fault.limit.is_empty());
        assert!(
            !fault.next_step.is_empty() && !fault.given.is_empty(),
            "{fault:?}"
        );
    }
}

#[test]
fn rows_that_cannot_be_told_apart_are_told() {
    let rows: &[&[&str]] = &[
        &["id", "name"],
        &["a1", "x"],
        &["a1", "y"],
        &["", "z"],
        &["b", "n", "lost"],
    ];
    let faults = faults_of(&[sheet("loads", rows)]);
    let cells: Vec<_> = faults.iter().map(CellFault::cell).collect();
    assert_eq!(cells, ["A3", "A4", "C5"], "{faults:#?}");
}

#[test]
fn conditions_lists_and_pairs_stand_in_one_cell() {
    let base = launch();
    let (one, two) = (&base.options[0].id, &base.options[1].id);
    let state = &base.states[0].id;
    let condition = format!("{one} and not {two}");
    let uses = format!("{state} = 0.5");
    let rows: &[&[&str]] = &[
        &["id", "fitted when", "Runs in"],
        &["n1", &condition, &uses],
        &["n2", "a or b and c", "x"],
    ];
    let faults = faults_of(&[sheet("loads", rows)]);
    let cells: Vec<_> = faults.iter().map(CellFault::cell).collect();
    assert_eq!(cells, ["B3", "C3"], "{faults:#?}");
    let dry = read_tables(&base, &[sheet("loads", &rows[..2])], Unlisted::Stay).unwrap();
    let load = dry.record.loads.last().unwrap();
    assert_eq!(load.runs_in[0].share, 0.5);
    assert!(load.fitted_when.is_some());
}

#[test]
fn a_value_too_long_for_a_cell_is_kept() {
    let mut base = launch();
    let corner = crate::file_format::records::OutlineCorner {
        x_mm: 1234.5678,
        y_mm: -1234.5678,
    };
    base.zones[0].outline = vec![corner; 5_000];
    let tables = tables_of(&base);
    assert!(
        tables
            .iter()
            .flat_map(|table| &table.rows)
            .flat_map(|row| &row.cells)
            .any(|(_, cell)| *cell == Cell::Text(cells::KEPT.to_owned()))
    );
    let dry = read_tables(&base, &tables, Unlisted::Stay).unwrap();
    assert!(dry.changes.is_empty() && dry.record == base);
}

#[test]
fn columns_of_one_list_have_different_headings() {
    for list in columns::lists(ModelRecord::FORM) {
        let keys: std::collections::BTreeSet<_> = list
            .columns
            .iter()
            .map(|column| &column.whole_key)
            .collect();
        assert_eq!(keys.len(), list.columns.len(), "{}", list.name);
        assert_eq!(list_named::<ModelRecord>(list.name), Some(list.name));
    }
    assert_eq!(
        list_named::<ModelRecord>("Connector type"),
        Some("connector_types")
    );
}
