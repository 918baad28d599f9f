//! Files of spreadsheets: what survives them, and what is refused before it is unpacked.

use std::io::{Cursor, Write};

use harness_core::file_format::{ModelRecord, read_record, write_record};
use harness_core::tabular::{CellFault, Unlisted, tables_of};
use rust_xlsxwriter::{Format, Formula, Workbook};
use server::spreadsheet::{Refusal, csv_of, dry_run, marked, read, workbook_of};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::bench::LAUNCH;

fn launch() -> ModelRecord {
    read_record(LAUNCH).unwrap()
}

/// What is wrong with a file, in words.
fn refusal(name: &str, bytes: &[u8]) -> Refusal {
    dry_run(
        &launch(),
        read::<ModelRecord>(name, "", bytes),
        Unlisted::Stay,
    )
    .unwrap_err()
}

fn words(faults: &[CellFault]) -> String {
    faults
        .iter()
        .map(|fault| {
            format!(
                "{} {} {} {} {}",
                fault.sheet,
                fault.cell(),
                fault.reason,
                fault.limit,
                fault.next_step
            )
        })
        .collect::<Vec<_>>()
        .join("\n")
}

/// An archive of parts, packed.
fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        writer
            .start_file(*name, SimpleFileOptions::default())
            .unwrap();
        writer.write_all(content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn texts_that_look_like_something_else_survive() {
    let mut base = launch();
    let texts = [
        "+12V",
        "=A1",
        "-5",
        "@x",
        "'=A1",
        "0147",
        "1e5",
        "TRUE",
        " led ",
        "two\nlines",
        "two\r\nlines",
        "\ttab",
        "_x0041_",
        "&<>\"'",
        "2026-01-02",
        "é😀",
        "a; b",
        "[x]",
        "''",
        "(stated, empty)x",
    ];
    for (load, text) in base.loads.iter_mut().zip(texts) {
        load.name = Some(text.to_owned());
    }
    base.hulls[0].stations_done = vec!["a; b".to_owned(), "[c".to_owned(), "d = e".to_owned()];
    let tables = tables_of(&base);
    let mut files = vec![(
        "m.xlsx".to_owned(),
        workbook_of::<ModelRecord>(&tables, "test").unwrap(),
    )];
    files.extend(
        tables
            .iter()
            .map(|table| (format!("{}.csv", table.name), csv_of(table).unwrap())),
    );
    for (name, bytes) in files {
        let dry = dry_run(
            &base,
            read::<ModelRecord>(&name, "", &bytes),
            Unlisted::Removed,
        )
        .unwrap_or_else(|refusal| panic!("{name}: {}", words(&refusal.faults)));
        assert!(dry.changes.is_empty(), "{name}: {:#?}", dry.changes);
        assert_eq!(write_record(&dry.record), write_record(&base), "{name}");
    }
}

#[test]
fn a_formula_an_error_and_a_date_are_told_with_their_cells() {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet();
    sheet.set_name("loads").unwrap();
    for (at, heading) in (0..).zip(["id", "current_a", "power_w", "min_v"]) {
        sheet.write_string(0, at, heading).unwrap();
    }
    sheet.write_string(1, 0, "lamp").unwrap();
    sheet
        .write_formula(1, 1, Formula::new("=1+1").set_result("2"))
        .unwrap();
    let date = Format::new().set_num_format("yyyy-mm-dd");
    sheet.write_number_with_format(1, 3, 40_000, &date).unwrap();
    sheet.write_string(2, 0, "lamp-2").unwrap();
    sheet.write_string(2, 2, "lots").unwrap();
    let told = refusal("x.xlsx", &workbook.save_to_buffer().unwrap());
    let cells: Vec<_> = told.faults.iter().map(CellFault::cell).collect();
    assert_eq!(cells, ["B2", "D2", "C3"], "{}", words(&told.faults));
    assert!(told.faults[0].reason.contains("formula") && told.faults[1].reason.contains("date"));

    let bytes = marked(&told.tables, &told.faults).unwrap();
    let mut parts = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
    let names: Vec<_> = parts
        .file_names()
        .map(|name| name.unwrap().into_owned())
        .collect();
    let notes = names
        .iter()
        .find(|name| name.contains("comments"))
        .expect("notes stand in the marked cells");
    let mut text = String::new();
    std::io::Read::read_to_string(&mut parts.by_name(notes).unwrap(), &mut text).unwrap();
    assert!(
        ["B2", "D2", "C3"].iter().all(|cell| text.contains(cell)) && text.contains("formula"),
        "{text}"
    );
}

#[test]
fn what_unpacks_into_too_much_is_refused_before_it_is_unpacked() {
    let zeros = vec![b' '; 105 * 1024 * 1024];
    let bomb = archive(&[
        ("xl/workbook.xml", b"x"),
        ("xl/worksheets/sheet1.xml", &zeros),
    ]);
    assert!(bomb.len() < 1024 * 1024);
    assert!(words(&refusal("x.xlsx", &bomb).faults).contains("at most 100 MiB unpacked"));
    let texts = archive(&[
        ("xl/workbook.xml", b"x"),
        ("xl/sharedStrings.xml", &zeros[..20 * 1024 * 1024]),
    ]);
    assert!(words(&refusal("x.xlsx", &texts).faults).contains("xl/sharedStrings.xml has 20.0 MiB"));

    let announced = archive(&[
        ("xl/workbook.xml", b"x"),
        (
            "xl/sharedStrings.xml",
            b"<sst count=\"1\" uniqueCount = '70000000000'/>",
        ),
    ]);
    let told = words(&refusal("x.xlsx", &announced).faults);
    assert!(told.contains("announces 70000000000 texts"), "{told}");

    // The directory says little, but much is there.
    let size = u32::try_from(zeros.len()).unwrap().to_le_bytes();
    let mut liar = bomb;
    let places: Vec<_> = liar
        .windows(4)
        .enumerate()
        .filter(|(_, four)| *four == size)
        .map(|(at, _)| at)
        .collect();
    assert!(!places.is_empty());
    for at in places {
        liar[at..at + 4].copy_from_slice(&1000_u32.to_le_bytes());
    }
    let told = words(&refusal("x.xlsx", &liar).faults);
    assert!(
        told.contains("than the workbook says") || told.contains("broken"),
        "{told}"
    );

    let names: Vec<_> = (0..201).map(|number| format!("part-{number}")).collect();
    let many: Vec<(&str, &[u8])> = names
        .iter()
        .map(|name| (name.as_str(), &b"x"[..]))
        .collect();
    assert!(words(&refusal("x.xlsx", &archive(&many)).faults).contains("at most 200 parts"));
}

#[test]
fn a_file_that_is_no_spreadsheet_is_refused_in_words() {
    let whole = workbook_of::<ModelRecord>(&tables_of(&launch()), "test").unwrap();
    for (name, bytes, word) in [
        ("x.xlsx", whole[..whole.len() / 2].to_vec(), "broken"),
        ("x.zip", archive(&[("a.txt", b"x")]), "no workbook"),
        (
            "x.xlsm",
            archive(&[("xl/workbook.xml", b"x"), ("xl/vbaProject.bin", b"x")]),
            "macros",
        ),
        (
            "x.xlsx",
            archive(&[("xl/workbook.xml", b"<x")]),
            "cannot be read",
        ),
        ("x.xls", vec![0xD0, 0xCF, 0x11, 0xE0, 0, 0], "password"),
        (
            "loads.csv",
            b"id\ncaf\xE9\n".to_vec(),
            "line 2 holds the byte E9",
        ),
        ("loads.csv", vec![0xFF, 0xFE, b'i', 0], "UTF-16"),
        ("loads.csv", b"id\n\0\n".to_vec(), "zero characters"),
        ("boat.csv", b"id\nx\n".to_vec(), "not clear which list"),
        ("loads.csv", Vec::new(), "Choose the file"),
    ] {
        let told = words(&refusal(name, &bytes).faults);
        assert!(told.contains(word), "{name}: {told}");
    }
    let mut cells = b"id\n".to_vec();
    cells.extend(b",,,,,,,,,\n".repeat(100_001));
    let told = words(&refusal("loads.csv", &cells).faults);
    assert!(
        told.contains("more than 1\u{202f}000\u{202f}000 cells"),
        "{told}"
    );
}

/// A file of values: an id and as many columns after it, all of them filled in.
fn filled(rows: usize, headings: &[&str], values: &[&str]) -> Vec<u8> {
    let mut text = format!("id,{}\n", headings.join(","));
    for row in 0..rows {
        text.push_str(&format!("load-{row},{}\n", values.join(",")));
    }
    text.into_bytes()
}

#[test]
fn more_than_one_file_may_state_is_refused_with_what_is_wrong_with_its_headings() {
    let fields = [
        "name",
        "current_a",
        "min_v",
        "max_v",
        "part",
        "inrush_a",
        "stated_at_v",
    ];
    let values = ["Lamp", "1", "10", "15", "P", "2", "12"];
    let told = refusal("loads.csv", &filled(20_000, &fields, &values)).faults;
    let most = "at most 20\u{202f}000 rows with 120\u{202f}000 values and 3 MiB of text";
    assert!(words(&told).contains(most));
    assert_eq!(told.len(), 1, "{}", words(&told));
    let told = refusal("loads.csv", &filled(20_001, &["colr"], &["x"])).faults;
    let [much, heading] = &told[..] else {
        panic!("{}", words(&told));
    };
    let so_much = "20\u{202f}001 rows, 20\u{202f}001 values";
    assert!(much.reason.contains(so_much), "{}", much.reason);
    assert!(much.next_step.contains("in parts") && heading.reason.contains("colr"));
    let long = "x".repeat(400);
    let told = refusal("loads.csv", &filled(8_000, &["name"], &[&long])).faults;
    assert!(
        words(&told).contains("kB of text so far"),
        "{}",
        words(&told)
    );
    // Just as many are taken.
    let most = filled(15_000, &fields, &values);
    let dry = dry_run(
        &launch(),
        read::<ModelRecord>("loads.csv", "", &most),
        Unlisted::Stay,
    );
    let dry = dry.unwrap_or_else(|refusal| panic!("{}", words(&refusal.faults[..1])));
    assert_eq!(dry.changes.len(), 15_000);
    assert!(dry.changes.iter().all(|change| change.fields == 8));
}

#[test]
fn of_a_large_file_all_that_is_asked_about_is_told_though_the_rest_is_not_kept() {
    let unknown: Vec<String> = (0..30).map(|at| format!("remark {at}")).collect();
    let mut headings: Vec<&str> = unknown.iter().map(String::as_str).collect();
    headings.extend(["current_a", ""]);
    let mut values = vec!["x"; 30];
    values.extend(["two", "under no heading"]);
    let told = refusal("loads.csv", &filled(4_000, &headings, &values));
    let count = |cell: &str| {
        let of_column =
            |fault: &&CellFault| fault.cell().trim_end_matches(char::is_numeric) == cell;
        told.faults.iter().filter(of_column).count()
    };
    assert_eq!((count("B"), count("AF"), count("AG")), (1, 4_000, 4_000));
    assert_eq!(told.faults.len(), 30 + 8_000);
    assert!(told.tables.is_empty(), "marked sheets would lack cells");
    let small = refusal("loads.csv", &filled(3_000, &headings, &values));
    assert_eq!(small.tables[0].rows[2_999].cells.len(), 33);
}
