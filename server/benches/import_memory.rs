//! How much memory the service takes to check a file of a million cells.
//!
//! `cargo bench -p server --bench import_memory`: each file is sent to a service in a process of its
//! own, as a browser sends it; the figure is the peak of that process (`VmHWM`) above what it held
//! before. `IMPORT_FILES=texts` takes only files with that word. Fails when one is over the limit;
//! as one of the tests it takes only those that weigh most.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

#[path = "../tests/durability/service.rs"]
#[allow(dead_code, reason = "nothing is killed here")]
mod service;

use std::fmt::Write as _;
use std::io::{Cursor, Write};
use std::time::Instant;

use service::{Service, shipped};
use ureq::Agent;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// Most growth, MiB.
const LIMIT: f64 = 64.0;
/// Rows of a million cells, below their headings.
const MILLION: usize = 49_999;
/// Rows of as many values as one file may state.
const TAKEN: usize = 6_000;
/// Fields of a load that a row can state, with what each may hold in the demo launch; the row says
/// which load it is.
#[rustfmt::skip]
const FIELDS: [(&str, &str); 20] = [
    ("id", ""), ("name", "Lamp"), ("point", "laz-port"), ("circuit", "1"),
    ("current_a", "1.5"), ("stated_at_v", "12"), ("inrush_a", "3"), ("inrush_ms", "20"),
    ("locked_rotor_a", "4"), ("standby_ma", "5"), ("min_v", "10"), ("max_v", "15"),
    ("drop_class", "other"), ("drop_limit_percent", "5"), ("figure_from", "guess"), ("figure_source", "label"),
    ("part", "L-1"), ("ignition_protected", "true"), ("runs_in", "moored = 0.5"), ("fitted_when", "engine-220"),
];

/// A file: what it holds, and the words of its cells by row and column.
struct File {
    name: &'static str,
    sheet: &'static str,
    /// Rows below the headings.
    rows: usize,
    headings: fn(usize) -> String,
    cell: fn(usize, usize) -> String,
}

const fn file(
    name: &'static str,
    sheet: &'static str,
    rows: usize,
    headings: fn(usize) -> String,
    cell: fn(usize, usize) -> String,
) -> File {
    File {
        name,
        sheet,
        rows,
        headings,
        cell,
    }
}

#[rustfmt::skip]
const FILES: [File; 19] = [
    file("known headings, values as they should be", "loads", MILLION, known, plain),
    file("headings nobody knows, plain values", "loads", MILLION, unknown, plain),
    file("headings nobody knows, distinct texts", "loads", MILLION, unknown, distinct),
    file("a sheet nobody knows, distinct texts", "notes", MILLION, unknown, distinct),
    file("known headings, distinct texts (16 of 20 faulty)", "loads", MILLION, known, distinct),
    file("headings nobody knows, 750 000 short texts", "loads", MILLION, unknown, listed),
    file("known headings, 750 000 short texts", "loads", MILLION, known, listed),
    file("known headings, each number out of bounds", "loads", MILLION, known, out_of_bounds),
    file("one heading, all else under none", "loads", MILLION, id_alone, plain),
    file("known headings, each row the same load", "loads", MILLION, known, |_, column| plain(7, column)),
    file("as many values as are taken", "loads", TAKEN, known, plain),
    file("as many values as are taken, each number out of bounds", "loads", TAKEN, known, out_of_bounds),
    file("as many values as are taken, distinct texts", "loads", TAKEN, known, distinct),
    file("as many values as are taken, the last columns under no heading", "loads", TAKEN, |column| { if column < 10 { known(column) } else { String::new() } }, distinct),
    file("as many rows as are taken, with a name alone", "loads", 20_000, id_alone, |row, column| { if column == 0 { plain(row, 0) } else { String::new() } }),
    file("as many values as are taken, as much text as is taken", "loads", TAKEN - 1, known, |row, column| format!("{}-----------------", distinct(row, column))),
    file("as many rows and values as are taken", "loads", 20_000, known, |row, column| { if column < 6 { plain(row, column) } else { String::new() } }),
    file("headings nobody knows, each letter a shared text of its own", "loads", MILLION - 1_000, unknown, |_, _| "x".to_owned()),
    file("as many values as are taken, each an error of the spreadsheet", "loads", TAKEN, known, |_, _| "#REF!".to_owned()),
];

fn out_of_bounds(row: usize, column: usize) -> String {
    match FIELDS[column].1.parse::<f64>() {
        Ok(_) => "-7".to_owned(),
        Err(_) => plain(row, column),
    }
}

fn known(column: usize) -> String {
    FIELDS[column].0.to_owned()
}

fn id_alone(column: usize) -> String {
    if column == 0 { known(0) } else { String::new() }
}

fn unknown(column: usize) -> String {
    if column == 0 {
        known(0)
    } else {
        format!("remark {column}")
    }
}

fn plain(row: usize, column: usize) -> String {
    match FIELDS[column] {
        ("id", _) => format!("load-{row}"),
        (_, value) => value.to_owned(),
    }
}

fn distinct(row: usize, column: usize) -> String {
    format!("t{row:05}x{column}")
}

/// As many distinct texts as the shared list of a workbook may hold, and short ones.
fn listed(row: usize, column: usize) -> String {
    const LETTERS: &[u8; 32] = b"abcdefghijklmnopqrstuvwxyzABCDEF";
    let mut left = (row * FIELDS.len() + column) % 750_000;
    let mut text = String::new();
    for _ in 0..4 {
        text.push(char::from(LETTERS[left % 32]));
        left /= 32;
    }
    text
}

fn main() {
    let full = std::env::args().any(|argument| argument == "--bench");
    let mut arguments = std::env::args().skip(1);
    let filter = arguments.find(|argument| !argument.starts_with("--"));
    if filter.is_some_and(|filter| !"import_memory".contains(&filter)) {
        return;
    }
    let wanted = std::env::var("IMPORT_FILES").unwrap_or_default();
    let mut over = Vec::new();
    for (at, file) in FILES.iter().enumerate() {
        let kinds: [(&str, Vec<u8>); 3] = [
            ("texts in place.xlsx", workbook(file, false)),
            ("texts shared.xlsx", workbook(file, true)),
            ("loads.csv", csv(file)),
        ];
        for (kind, bytes) in kinds {
            let name = format!("{}, {kind}", file.name);
            if !name.contains(&wanted) || !(full || at % 4 == 0 || kind.contains("place")) {
                continue;
            }
            let (growth, seconds, told) = sent(kind, &bytes);
            println!(
                "{name}, {:.1} MB: {growth:.0} MiB more, {seconds:.1} s; {told}",
                bytes.len() as f64 / 1e6
            );
            if growth > LIMIT {
                over.push(name);
            }
        }
    }
    assert!(over.is_empty(), "over {LIMIT} MiB: {over:#?}");
}

/// Growth of a service that is sent a file, MiB; how long it took, and what it said.
fn sent(name: &str, bytes: &[u8]) -> (f64, f64, String) {
    let data = std::env::temp_dir().join(format!("harness-import-{}", std::process::id()));
    let service = Service::start(&mut shipped(&data));
    let mut body = Vec::new();
    for (field, text) in [
        ("expected_revision", "1"),
        ("who", "Ada"),
        ("reason", "test"),
        ("list", "loads"),
    ] {
        write!(
            body,
            "--edge\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n{text}\r\n"
        )
        .unwrap();
    }
    write!(
        body,
        "--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\
         Content-Type: application/octet-stream\r\n\r\n"
    )
    .unwrap();
    body.extend_from_slice(bytes);
    body.extend_from_slice(b"\r\n--edge--\r\n");
    let config = Agent::config_builder().http_status_as_error(false).build();
    let agent: Agent = config.into();
    // What a first page needs is no part of the growth.
    let page = format!("{}/models/launch-92/spreadsheet", service.address);
    agent.get(&page).call().unwrap();
    let before = status(service.child.id(), "VmRSS:");
    let start = Instant::now();
    let request = agent.post(&page).header("sec-fetch-site", "same-origin");
    let request = request.header("content-type", "multipart/form-data; boundary=edge");
    let answer = request.send(&body[..]).unwrap();
    let code = answer.status();
    let mut body = answer.into_body();
    let text = body.with_config().limit(u64::MAX).read_to_string().unwrap();
    let seconds = start.elapsed().as_secs_f64();
    let growth = status(service.child.id(), "VmHWM:") - before;
    drop(service);
    let _ = std::fs::remove_dir_all(data);
    let told = text
        .lines()
        .find(|line| line.contains("wrong with the file") || line.contains("class=\"lead\""));
    let told: String = told.unwrap_or_default().chars().take(100).collect();
    let size = text.len() as f64 / 1e6;
    (
        growth,
        seconds,
        format!("{code}, page of {size:.1} MB: {told}"),
    )
}

/// A figure of a process as the system tells it, MiB.
fn status(process: u32, field: &str) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find(|line| line.starts_with(field)).unwrap();
    let kibibytes: f64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kibibytes / 1024.0
}

fn csv(file: &File) -> Vec<u8> {
    let mut text = String::new();
    for row in 0..=file.rows {
        let cells: Vec<_> = (0..FIELDS.len())
            .map(|column| match row {
                0 => (file.headings)(column),
                row => (file.cell)(row, column),
            })
            .collect();
        writeln!(text, "{}", cells.join(",")).unwrap();
    }
    text.into_bytes()
}

/// A workbook of one sheet, its texts in place or in the shared list.
fn workbook(file: &File, shares: bool) -> Vec<u8> {
    let mut sheet = String::from(
        "<worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"><sheetData>",
    );
    let mut shared = std::collections::BTreeMap::new();
    let mut texts =
        String::from("<sst xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\">");
    for row in 0..=file.rows {
        write!(sheet, "<row r=\"{}\">", row + 1).unwrap();
        for column in 0..FIELDS.len() {
            let text = match row {
                0 => (file.headings)(column),
                row => (file.cell)(row, column),
            };
            let place = format!("{}{}", char::from(b'A' + column as u8), row + 1);
            if text.is_empty() {
                continue;
            }
            if text.starts_with('#') {
                write!(sheet, "<c r=\"{place}\" t=\"e\"><v>{text}</v></c>").unwrap();
            } else if text.parse::<f64>().is_ok() {
                write!(sheet, "<c r=\"{place}\"><v>{text}</v></c>").unwrap();
            } else if shares {
                let next = shared.len();
                // A letter is not shared, so that there are as many texts as the list may hold.
                let key = if text.len() == 1 {
                    place.clone()
                } else {
                    text.clone()
                };
                let at = *shared.entry(key).or_insert_with(|| {
                    write!(texts, "<si><t>{text}</t></si>").unwrap();
                    next
                });
                write!(sheet, "<c r=\"{place}\" t=\"s\"><v>{at}</v></c>").unwrap();
            } else {
                write!(
                    sheet,
                    "<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>"
                )
                .unwrap();
            }
        }
        sheet.push_str("</row>");
    }
    sheet.push_str("</sheetData></worksheet>");
    texts.push_str("</sst>");
    let types = "http://schemas.openxmlformats.org/package/2006/content-types";
    let office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let package = "http://schemas.openxmlformats.org/package/2006/relationships";
    let parts = [
        ("[Content_Types].xml", format!("<Types xmlns=\"{types}\"/>")),
        (
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{package}\"><Relationship Id=\"a\" Type=\"{office}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{package}\"><Relationship Id=\"a\" Type=\"{office}/worksheet\" Target=\"worksheets/sheet1.xml\"/><Relationship Id=\"b\" Type=\"{office}/sharedStrings\" Target=\"sharedStrings.xml\"/></Relationships>"
            ),
        ),
        (
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" xmlns:r=\"{office}\"><sheets><sheet name=\"{}\" sheetId=\"1\" r:id=\"a\"/></sheets></workbook>",
                file.sheet
            ),
        ),
        ("xl/sharedStrings.xml", texts),
        ("xl/worksheets/sheet1.xml", sheet),
    ];
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        writer
            .start_file(name, SimpleFileOptions::default())
            .unwrap();
        writer.write_all(content.as_bytes()).unwrap();
    }
    writer.finish().unwrap().into_inner()
}
