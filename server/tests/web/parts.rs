//! The parts list: kept with revisions, taken into a boat model, held beside it.

use axum::body::Body;
use axum::http::{Method, header};
use harness_core::file_format;
use harness_core::parts::shipped;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::{Value, json};

use crate::bench::{Bench, Reply, request};

const TENDER: &str = include_str!("../../samples/tender-56.json");

async fn post(bench: &Bench, address: &str, fields: &[(&str, &str)]) -> Reply {
    let escape = |text: &str| utf8_percent_encode(text, NON_ALPHANUMERIC).to_string();
    let pairs = fields.iter();
    let pairs: Vec<String> = pairs
        .map(|(name, value)| format!("{}={}", escape(name), escape(value)))
        .collect();
    let sent = request(Method::POST, address)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(pairs.join("&")));
    bench.send(sent.unwrap()).await
}

async fn add(bench: &Bench, seen: &str, fields: &[(&str, &str)]) -> Reply {
    let mut all = vec![("expected_revision", seen), ("who", "Ada")];
    all.extend(fields);
    post(bench, "/parts/loads/thing", &all).await
}

async fn kept(bench: &Bench) -> Value {
    bench.get("/api/parts").await.json()
}

#[tokio::test]
async fn shipped_and_own_parts_stand_side_by_side_with_their_sources() {
    let bench = Bench::new().await;
    let page = bench.get("/parts").await;
    assert_eq!(page.status, 200);
    assert!(page.text.contains("Nothing of your own is saved yet"));
    // 33 A is nobody's figure; 3.4 A of an 1100 GPH pump is an owner's report.
    let pump = bench.get("/parts/loads?find=1100+gph+automatic").await;
    assert!(pump.text.contains("current 3.4 A") && pump.text.contains("low trust"));
    let filled = [
        ("id", "pump-7"),
        ("name", "Bilge pump, ours"),
        ("current_a", "5800 mA"),
        ("figure_from", "measured"),
        ("figure_source", "bench, 3 May"),
    ];
    let saved = add(&bench, "0", &filled).await;
    assert_eq!(saved.status, 303, "{}", saved.text);
    let list = kept(&bench).await;
    assert_eq!(list["revision"], 1);
    assert_eq!(list["who"], "Ada");
    assert_eq!(list["parts"]["loads"][0]["current_a"], 5.8);
    let page = bench.get("/parts?find=pump-7").await.text;
    assert!(page.contains("measured") && page.contains("bench, 3 May"));
    assert!(
        bench
            .get("/parts?find=nosuchthing")
            .await
            .text
            .contains("No such part")
    );
    bench.get("/api/parts-schema.json").await.json();
    let all = bench.get("/api/parts/shipped").await.json();
    assert_eq!(
        all["loads"].as_array().unwrap().len(),
        shipped().loads.len()
    );
}

#[tokio::test]
async fn what_is_wrong_stands_at_its_field_and_nothing_is_stored() {
    let bench = Bench::new().await;
    let bad = [
        ("id", "pump 7"),
        ("current_a", "lots"),
        ("min_v", "14"),
        ("max_v", "10"),
    ];
    let page = add(&bench, "0", &bad).await;
    assert_eq!(page.status, 422);
    assert!(page.text.contains("href=\"#current_a\"") && page.text.contains("value=\"lots\""));
    let bad = [
        ("id", "pump"),
        ("min_v", "14"),
        ("max_v", "10"),
        ("current_a", "9999"),
    ];
    let page = add(&bench, "0", &bad).await;
    assert_eq!(page.status, 422);
    assert!(page.text.contains("href=\"#current_a\""), "{}", page.text);
    let bad = [
        ("id", "pump"),
        ("min_v", "14"),
        ("max_v", "10"),
        ("power_w", "9"),
    ];
    let page = add(&bench, "0", &bad).await;
    assert!(page.text.contains("href=\"#min_v\""), "{}", page.text);
    assert_eq!(kept(&bench).await["revision"], 0);
    for address in [
        "/parts/wires",
        "/parts/loads/thing?id=none",
        "/parts/revisions/0",
    ] {
        assert_eq!(bench.get(address).await.status, 404, "{address}");
    }
    // A form that names no revision was not made by the page.
    let lost = add(&bench, "7", &[("id", "pump")]).await;
    assert_eq!(lost.status, 404);
}

#[tokio::test]
async fn two_editors_change_different_parts_at_once_and_the_same_one_is_shown_to_both() {
    let bench = Bench::new().await;
    add(&bench, "0", &[("id", "a"), ("current_a", "1")]).await;
    assert_eq!(
        add(&bench, "1", &[("id", "b"), ("current_a", "2")])
            .await
            .status,
        303
    );
    // Seen at revision 1 too: the other part stays.
    let late = add(
        &bench,
        "1",
        &[("key", "a"), ("id", "a"), ("current_a", "1.5")],
    )
    .await;
    assert_eq!(late.status, 303, "{}", late.text);
    let loads = kept(&bench).await["parts"]["loads"].clone();
    assert_eq!(loads.as_array().unwrap().len(), 2);
    assert_eq!(loads[0]["current_a"], 1.5);
    let clash = add(
        &bench,
        "1",
        &[("key", "a"), ("id", "a"), ("current_a", "1.7")],
    )
    .await;
    assert_eq!(clash.status, 409);
    assert!(clash.text.contains("Somebody else changed this meanwhile"));
    assert!(clash.text.contains("<td>1.7</td>") && clash.text.contains("<td>1.5</td>"));
    assert_eq!(kept(&bench).await["revision"], 3);
}

#[tokio::test]
async fn a_change_is_told_undone_and_a_part_removed() {
    let bench = Bench::new().await;
    add(&bench, "0", &[("id", "a"), ("current_a", "1")]).await;
    add(
        &bench,
        "1",
        &[("key", "a"), ("id", "a"), ("current_a", "2")],
    )
    .await;
    let told = bench.get("/parts/revisions/2").await.text;
    assert!(
        told.contains("load a") && told.contains("current: 1 A, now 2 A"),
        "{told}"
    );
    let back = [("expected_revision", "2"), ("who", "Ada")];
    let undone = post(&bench, "/parts/revisions/1/bring-back", &back).await;
    assert_eq!(undone.status, 303, "{}", undone.text);
    assert_eq!(kept(&bench).await["parts"]["loads"][0]["current_a"], 1.0);
    assert!(bench.get("/parts/revisions").await.text.contains("Redo"));
    let late = post(&bench, "/parts/revisions/2/bring-back", &back).await;
    assert_eq!(late.status, 409);
    assert!(
        late.text.contains("The parts list is at revision 3"),
        "{}",
        late.text
    );
    assert_eq!(bench.get("/parts/loads/remove?id=a").await.status, 200);
    let gone = [("key", "a"), ("expected_revision", "3")];
    let removed = post(&bench, "/parts/loads/remove", &gone).await;
    assert_eq!(removed.status, 303, "{}", removed.text);
    assert_eq!(kept(&bench).await["parts"]["loads"], Value::Null);
}

#[tokio::test]
async fn the_interface_takes_a_whole_list_and_tells_what_is_wrong_with_it() {
    let bench = Bench::new().await;
    let list = json!({"format_version": 1, "devices": [{"id": "B-10", "kind": "fuse"}]});
    let body = json!({"parts": list, "expected_revision": 0, "who": "Bo", "reason": "first"});
    let stored = bench.json(Method::PUT, "/api/parts", &body).await;
    assert_eq!(stored.status, 200, "{}", stored.text);
    assert_eq!(stored.json()["parts"], list);
    let bad = json!({"format_version": 1, "devices": [{"id": "B-10", "kind": "fuze"}]});
    let body = json!({"parts": bad, "expected_revision": 1});
    let problem = bench
        .json(Method::PUT, "/api/parts", &body)
        .await
        .problem(422);
    assert_eq!(problem["errors"][0]["pointer"], "/parts/devices/0/kind");
    // The same part changed by two: the later one is told.
    let changed = |rating: f64| {
        let list = json!({"format_version": 1,
            "devices": [{"id": "B-10", "kind": "fuse", "rating_a": rating}]});
        json!({"parts": list, "expected_revision": 1})
    };
    let first = bench.json(Method::PUT, "/api/parts", &changed(10.0)).await;
    assert_eq!(first.status, 200);
    bench
        .json(Method::PUT, "/api/parts", &changed(15.0))
        .await
        .problem(409);
    let described = bench.get("/api/openapi.json").await.json();
    assert!(described["paths"]["/api/parts"]["put"].is_object());
}

#[tokio::test]
async fn a_spreadsheet_goes_out_and_comes_in_after_a_dry_run() {
    let bench = Bench::new().await;
    add(&bench, "0", &[("id", "a"), ("current_a", "1")]).await;
    let out = bench.get("/parts/spreadsheet/loads.csv").await;
    assert_eq!(out.status, 200);
    assert_eq!(bench.get("/parts/spreadsheet").await.status, 200);
    for file in ["parts.xlsx", "shipped.xlsx", "template.xlsx"] {
        let request = request(Method::GET, &format!("/parts/spreadsheet/{file}"));
        let (status, _, bytes) = bench.bytes(request.body(Body::empty()).unwrap()).await;
        assert!(status == 200 && bytes.starts_with(b"PK"), "{file}");
    }
    let rows = "id,current (mA),figure_from\na,1200,label\nb,300,guess\n";
    let texts = [("expected_revision", "1")];
    let dry = bench.form_with("loads.csv", "/parts/spreadsheet", rows.as_bytes(), &texts);
    let dry = dry.await;
    assert_eq!(dry.status, 200, "{}", dry.text);
    assert!(
        dry.text.contains("1 added, 1 changed, 0 removed."),
        "{}",
        dry.text
    );
    assert_eq!(kept(&bench).await["revision"], 1);
    let made = json!({"format_version": 1, "loads": [{"id": "a", "current_a": 1.2}]}).to_string();
    let texts = [
        ("model", made.as_str()),
        ("expected_revision", "1"),
        ("who", "Ada"),
    ];
    let accepted = bench.form("/parts/spreadsheet/accept", "", &texts).await;
    assert_eq!(accepted.status, 303, "{}", accepted.text);
    assert_eq!(kept(&bench).await["parts"]["loads"][0]["current_a"], 1.2);
    let bad = "id,current_a,figure_from\na,many,hearsay\n";
    let texts = [("expected_revision", "2")];
    let told = bench.form_with("loads.csv", "/parts/spreadsheet", bad.as_bytes(), &texts);
    let told = told.await;
    assert_eq!(told.status, 422);
    assert!(
        told.text.contains("B2") && told.text.contains("C2"),
        "{}",
        told.text
    );
}

#[tokio::test]
async fn a_part_is_copied_into_a_boat_model_and_a_later_change_is_told_there() {
    let bench = Bench::new().await;
    bench.store_file("boat", TENDER).await;
    let model = file_format::read_record(TENDER).unwrap();
    let load = model.loads[0].id.clone();
    let own = [
        ("id", "P-7"),
        ("current_a", "5.8"),
        ("figure_from", "measured"),
        ("figure_source", "bench, 3 May"),
    ];
    add(&bench, "0", &own).await;
    let form = bench
        .get(&format!("/models/boat/edit/loads/thing?id={load}&part=P-7"))
        .await;
    assert_eq!(form.status, 200, "{}", form.text);
    assert!(form.text.contains("value=\"5.8\"") && form.text.contains("value=\"bench, 3 May\""));
    assert!(form.text.contains("of the own list"));
    let unknown = "/models/boat/edit/loads/thing?part=none";
    assert_eq!(bench.get(unknown).await.status, 404);
    let fields = [
        ("expected_revision", "1"),
        ("key", &load),
        ("id", &load),
        ("part", "P-7"),
        ("current_a", "5.8"),
        ("power_w", ""),
        ("resistance_ohm", ""),
        ("stated_at_v", ""),
        ("figure_from", "measured"),
        ("figure_source", "bench, 3 May"),
    ];
    let saved = post(&bench, "/models/boat/edit/loads/thing", &fields).await;
    assert_eq!(saved.status, 303, "{}", saved.text);
    let beside = bench.get("/models/boat/parts").await.text;
    assert!(
        beside.contains("1 say the same as their parts; 0 say"),
        "{beside}"
    );
    // The list changes, the boat model does not.
    let body = bench.store.latest("boat").await.unwrap().body;
    add(
        &bench,
        "1",
        &[("key", "P-7"), ("id", "P-7"), ("current_a", "6.2")],
    )
    .await;
    assert_eq!(bench.store.latest("boat").await.unwrap().body, body);
    let beside = bench.get("/models/boat/parts").await.text;
    assert!(
        beside.contains("the model says 5.8, the parts list says 6.2"),
        "{beside}"
    );
    assert!(beside.contains("part=P%2D7") || beside.contains("part=P-7"));
}

#[tokio::test]
async fn an_option_is_added_with_the_figures_of_a_part() {
    let bench = Bench::new().await;
    bench.store_file("boat", TENDER).await;
    let form = bench.get("/models/boat/options/add").await.text;
    assert!(form.contains("Shipped parts: typical figures"));
    let point = file_format::read_record(TENDER).unwrap().points[0]
        .id
        .clone();
    let part = "courtesy-light-led-each";
    let ask = format!("/models/boat/options/add?name=Step+light&part={part}&point={point}");
    let proposed = bench.get(&ask).await;
    assert_eq!(proposed.status, 200, "{}", proposed.text);
    let fields = [
        ("name", "Step light"),
        ("part", part),
        ("point", &point),
        ("expected_revision", "1"),
    ];
    let accepted = post(&bench, "/models/boat/options/add", &fields).await;
    assert_eq!(accepted.status, 303, "{}", accepted.text);
    let now = bench.store.latest("boat").await.unwrap().body;
    let now = file_format::read_record(&now).unwrap();
    let load = now.loads.iter().find(|load| load.id.contains("step-light"));
    let load = load.unwrap();
    // The published collection: courtesy light, LED, each: 0.08 A, from memory.
    assert_eq!(load.current_a, Some(0.08));
    assert_eq!(load.figure_from.as_deref(), Some("guess"));
    assert_eq!(load.part.as_deref(), Some(part));
    let bad = bench
        .get("/models/boat/options/add?name=x&part=none&draws=3+A,+hearsay")
        .await;
    assert_eq!(bad.status, 422);
    assert!(bad.text.contains("href=\"#like\"") && bad.text.contains("href=\"#draws\""));
}
