//! The pages of spreadsheets: taking out, the dry run, accepting, the marked sheets.

use axum::body::Body;
use axum::http::{Method, StatusCode};
use harness_core::file_format::ModelRecord;
use serde_json::Value;

use crate::bench::{Bench, LAUNCH, form_request, request};

const PAGE: &str = "/models/launch-92/spreadsheet";
const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

async fn launch() -> Bench {
    let bench = Bench::new().await;
    bench.store_file("launch-92", LAUNCH).await;
    bench
}

async fn download(bench: &Bench, file: &str) -> (String, Vec<u8>) {
    let asked = request(Method::GET, &format!("{PAGE}/{file}"));
    let (status, kind, bytes) = bench.bytes(asked.body(Body::empty()).unwrap()).await;
    assert_eq!(status, StatusCode::OK, "{file}");
    (kind, bytes)
}

/// What a hidden field of a page carries.
fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let (_, rest) = page.split_once(&start).expect(page);
    let (value, _) = rest.split_once("\">").unwrap();
    [
        ("&#34;", "\""),
        ("&quot;", "\""),
        ("&#39;", "'"),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&#60;", "<"),
        ("&#62;", ">"),
        ("&#38;", "&"),
        ("&amp;", "&"),
    ]
    .iter()
    .fold(value.to_owned(), |text, (escaped, plain)| {
        text.replace(escaped, plain)
    })
}

#[tokio::test]
async fn what_is_taken_out_and_sent_back_changes_nothing() {
    let bench = launch().await;
    let page = bench.get(PAGE).await.text;
    for word in [
        "model.xlsx",
        "template.xlsx",
        "option_rules.csv",
        "Remove what is not listed",
        "qualified person",
    ] {
        assert!(page.contains(word), "{word}");
    }
    assert!(
        bench
            .get("/models/launch-92/revisions")
            .await
            .text
            .contains(PAGE)
    );
    assert!(bench.get("/models").await.text.contains(PAGE));
    let (kind, workbook) = download(&bench, "model.xlsx").await;
    assert_eq!(kind, WORKBOOK);
    assert_eq!(
        download(&bench, "model.xlsx").await.1,
        workbook,
        "the same bytes each time"
    );
    let (_, template) = download(&bench, "template.xlsx").await;
    let (kind, loads) = download(&bench, "loads.csv").await;
    assert_eq!(kind, "text/csv; charset=utf-8");
    for (name, file) in [
        ("m.xlsx", &workbook),
        ("t.xlsx", &template),
        ("launch-92-revision-1-loads.csv", &loads),
    ] {
        let sent = bench
            .form_with(name, PAGE, file, &[("expected_revision", "1")])
            .await;
        assert_eq!(sent.status, StatusCode::OK, "{name}: {}", sent.text);
        assert!(
            sent.text.contains("states revision 1 as it is"),
            "{name}: {}",
            sent.text
        );
    }
    let missing = bench.get(&format!("{PAGE}/boats.csv")).await;
    assert_eq!(missing.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_change_is_shown_accepted_and_refused_when_late() {
    let bench = launch().await;
    let csv = "id;Name;Current (mA);Min V\nnew-lamp;+12V lamp;850;9,5\n";
    let texts = [
        ("expected_revision", "1"),
        ("list", "loads"),
        ("who", "A. Rigger"),
        ("reason", "lamp <new>"),
    ];
    let dry = bench.form_with("x.csv", PAGE, csv.as_bytes(), &texts).await;
    assert_eq!(dry.status, StatusCode::OK, "{}", dry.text);
    for word in [
        "1 added, 0 changed, 0 removed",
        "load new-lamp",
        "current_a",
        "0.85",
        "Accept as revision 2",
    ] {
        assert!(dry.text.contains(word), "{word}: {}", dry.text);
    }
    let before = bench.get("/models/launch-92/file.json").await.text;
    assert_eq!(before, LAUNCH, "a dry run stores nothing");

    let model = hidden(&dry.text, "model").replace('\n', "\r\n");
    let accept = format!("{PAGE}/accept");
    let texts = [
        ("model", model.as_str()),
        ("expected_revision", "1"),
        ("who", "A. Rigger"),
        ("reason", "lamp"),
    ];
    let done = bench.form_with("", &accept, b"", &texts).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    let after = bench.get("/models/launch-92/file.json").await.text;
    assert!(!after.contains('\r'));
    let after: Value = serde_json::from_str(&after).unwrap();
    let lamp = after["loads"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&lamp["name"], &lamp["current_a"], &lamp["min_v"]),
        (&"+12V lamp".into(), &0.85.into(), &9.5.into())
    );

    // Sent twice it is one change; on top of another change of the same thing it is none.
    let twice = bench.form_with("", &accept, b"", &texts).await;
    assert_eq!(twice.status, StatusCode::SEE_OTHER);
    let latest = || async { bench.store.latest_head("launch-92").await.unwrap().number };
    assert_eq!(latest().await, 2);
    let other = texts[0].1.replace("+12V lamp", "-12V lamp");
    assert_ne!(other, texts[0].1);
    let late = [("model", other.as_str()), texts[1]];
    let late = bench.form_with("", &accept, b"", &late).await;
    assert_eq!(late.status, StatusCode::CONFLICT, "{}", late.text);
    // What somebody else changed meanwhile stays.
    let apart = LAUNCH.replace("\"name\": \"Starter motor\"", "\"name\": \"Starter\"");
    assert_ne!(apart, LAUNCH);
    let apart = [("model", apart.as_str()), texts[1]];
    let apart = bench.form_with("", &accept, b"", &apart).await;
    assert_eq!(apart.status, StatusCode::SEE_OTHER, "{}", apart.text);
    assert_eq!(latest().await, 3);
    let after = bench.get("/models/launch-92/file.json").await.text;
    assert!(after.contains("+12V lamp") && after.contains("\"Starter\""));

    let foreign = bench.form_with("", &accept, b"", &texts[..1]).await;
    assert_eq!(foreign.status, StatusCode::NOT_FOUND, "of no revision");
    assert_eq!(latest().await, 3);
    for texts in [&[("expected_revision", "1")][..], &[]] {
        let late = bench
            .form_with("loads.csv", PAGE, csv.as_bytes(), texts)
            .await;
        assert_eq!(late.status, StatusCode::CONFLICT);
        assert!(
            late.text.contains("Changed by somebody else"),
            "{}",
            late.text
        );
    }
    let broken = [("model", "{}"), ("expected_revision", "2")];
    let refused = bench.form_with("", &accept, b"", &broken).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn every_fault_is_told_and_the_sheets_come_back_marked() {
    let bench = launch().await;
    let csv = "id,current_a,point,Colour\nnew-lamp,12 V,no-such-point,red\n";
    let long = "x".repeat(300);
    let texts = [
        ("expected_revision", "1"),
        ("who", long.as_str()),
        ("unlisted", "removed"),
    ];
    let told = bench
        .form_with("loads.csv", PAGE, csv.as_bytes(), &texts)
        .await;
    assert_eq!(told.status, StatusCode::UNPROCESSABLE_ENTITY);
    for word in [
        "<code>B2</code>",
        "<code>C2</code>",
        "<code>D1</code>",
        "no-such-point",
        "too long",
        "checked",
        "cells marked",
        "there is a problem",
    ] {
        assert!(
            told.text.to_lowercase().contains(&word.to_lowercase()),
            "{word}: {}",
            told.text
        );
    }
    let sheets = hidden(&told.text, "sheets");
    let faults = hidden(&told.text, "faults");
    let texts = [("sheets", sheets.as_str()), ("faults", faults.as_str())];
    let (status, kind, bytes) = bench
        .bytes(form_request("", &format!("{PAGE}/marked"), b"", &texts))
        .await;
    assert_eq!((status, kind.as_str()), (StatusCode::OK, WORKBOOK));
    let back = server::spreadsheet::read::<ModelRecord>("marked.xlsx", "", &bytes).unwrap();
    assert_eq!(back.tables.len(), 1, "the list of faults is not read");
    assert_eq!(back.tables[0].rows[0].cell(1).unwrap().to_string(), "12 V");
    let broken = bench
        .form_with("", &format!("{PAGE}/marked"), b"", &[("sheets", "x")])
        .await;
    assert_eq!(broken.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_body_of_a_hundred_megabytes_is_refused() {
    let bench = launch().await;
    let file = vec![b'x'; 100_000_000];
    let refused = bench
        .form_with("loads.csv", PAGE, &file, &[("expected_revision", "1")])
        .await;
    assert_eq!(refused.status, StatusCode::PAYLOAD_TOO_LARGE);
    let file = vec![b'x'; 11_000_000];
    let refused = bench
        .form_with("loads.csv", PAGE, &file, &[("expected_revision", "1")])
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.text.contains("10.5 MiB") && refused.text.contains("at most 10 MiB"),
        "{}",
        refused.text
    );
    assert!(
        bench
            .form_with("loads.csv", PAGE, b"", &[("expected_revision", "1")])
            .await
            .text
            .contains("Choose the file")
    );
}
