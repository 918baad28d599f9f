//! Every page for every way to put a boat in view, and what filters, sheets, searches and hostile
//! names do to it.

use std::collections::BTreeSet;

use axum::http::StatusCode;
use harness_core::rules::RULES;
use harness_core::sheets::SHEETS;
use serde_json::Value;
use server::samples::{SAMPLES, load_when_new};

use crate::bench::{Bench, revision};

async fn bench() -> Bench {
    let bench = Bench::new().await;
    load_when_new(&bench.store).await.unwrap();
    bench
}

/// Ids of the things of one kind in a sample.
fn ids(sample: &str, kind: &str) -> Vec<String> {
    let model: Value = serde_json::from_str(sample).unwrap();
    let things = model[kind].as_array().unwrap();
    let id = |thing: &Value| thing["id"].as_str().unwrap().to_owned();
    things.iter().map(id).collect()
}

async fn shows(bench: &Bench, address: &str) -> String {
    let page = bench.get(address).await;
    assert_eq!(page.status, StatusCode::OK, "{address}: {}", page.text);
    assert!(
        page.text.contains("Wiring can burn a boat"),
        "no caution on {address}"
    );
    page.text
}

#[tokio::test]
async fn every_page_answers_for_every_boat_with_the_caution() {
    let bench = bench().await;
    for (id, sample) in SAMPLES {
        let hull = &ids(sample, "hulls")[0];
        let option = match *id {
            "launch-92" => "options=engine-160,pumps-standard".to_owned(),
            _ => format!("options={}", ids(sample, "options")[0]),
        };
        for boat in [String::new(), format!("hull={hull}"), option] {
            let mut pages: Vec<String> = [
                "",
                "/gaps",
                "/failing",
                "/circuits",
                "/zones",
                "/options",
                "/boats",
                "/sheets",
                "/rules",
            ]
            .iter()
            .map(|page| (*page).to_owned())
            .collect();
            let of = |kind: &str, address: &str| -> Vec<String> {
                ids(sample, kind)
                    .iter()
                    .map(|thing| format!("/{address}/{thing}"))
                    .collect()
            };
            pages.extend(of("circuits", "circuits"));
            pages.extend(of("zones", "zones"));
            pages.extend(of("runs", "runs"));
            pages.extend(of("options", "options"));
            pages.extend(SHEETS.iter().map(|kind| format!("/sheets/{}", kind.id)));
            pages.extend(RULES.iter().map(|rule| format!("/rules/{}", rule.code)));
            for page in pages {
                shows(&bench, &format!("/models/{id}{page}?{boat}")).await;
            }
        }
    }
    for page in [
        "/",
        "/one-circuit",
        "/harness-contents",
        "/rules",
        "/verification",
    ] {
        shows(&bench, page).await;
    }
}

/// Addresses in a page, within this service, without the part after `#`.
fn links(text: &str) -> BTreeSet<String> {
    text.split("href=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .filter(|address| address.starts_with('/'))
        .filter_map(|address| address.split('#').next())
        .map(|address| address.replace("&#38;", "&").replace("&amp;", "&"))
        .collect()
}

#[tokio::test]
async fn the_smallest_margins_are_near_their_limits() {
    let bench = bench().await;
    let text = shows(&bench, "/models/launch-92").await;
    let list = text.split("class=\"margins\"").nth(1).unwrap();
    let list = list.split("</ul>").next().unwrap();
    let mut told = 0;
    for row in list.split("<li>").skip(1) {
        let number = |after: &str| -> f64 {
            let rest = row.split(after).nth(1).unwrap();
            let number = rest.split(|c: char| c.is_whitespace() || c == ',' || c == '<');
            number.into_iter().next().unwrap().parse().unwrap()
        };
        let (is, limit) = (number(", is "), number(", limit "));
        assert!(is.min(limit) / is.max(limit) > 0.9, "{row}");
        told += 1;
    }
    assert_eq!(told, 3);
}

#[tokio::test]
async fn what_is_not_there_is_told_with_what_is() {
    let bench = bench().await;
    for missing in [
        "/models/launch-92/circuits/none",
        "/models/launch-92/zones/none",
        "/models/launch-92/runs/none",
        "/models/launch-92/options/none",
        "/models/launch-92/sheets/none",
        "/models/launch-92/sheets/cut-list.pdf",
        "/models/launch-92/rules/none",
        "/models/launch-92/circuits/1?load=none",
        "/models/launch-92/circuits/1?state=none",
        "/models/launch-92/sheets/cut-list?harness=none",
        "/models/none",
        "/rules/none",
        "/verification?kind=none",
    ] {
        let page = bench.get(missing).await;
        assert_eq!(page.status, StatusCode::NOT_FOUND, "{missing}");
        assert!(
            page.text.contains("none") || page.text.contains("not offered"),
            "{missing}"
        );
    }
    for (query, told) in [
        ("hull=99", "11"),
        ("options=nothing", "engine-220"),
        ("options=engine-220,engine-160", "engine-160"),
        ("hull=11&options=engine-220", "take one of them"),
    ] {
        let page = bench
            .get(&format!("/models/launch-92/failing?{query}"))
            .await;
        assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert!(page.text.contains(told), "{query}: {}", page.text);
    }
    let page = bench.get("/models/launch-92/failing?zone=nowhere").await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text.contains("nowhere") && page.text.contains("engine-space"));
}

#[tokio::test]
async fn a_filter_leaves_only_its_rows() {
    let bench = bench().await;
    let rows = |text: &str| text.matches("<tr").count();
    let all = rows(&shows(&bench, "/models/launch-92/failing").await);
    let mast = rows(&shows(&bench, "/models/launch-92/failing?moulding=roof").await);
    assert!(mast < all, "{mast} of {all}");
    for order in ["circuit", "rule", "zone"] {
        let text = shows(&bench, &format!("/models/launch-92/failing?sort={order}")).await;
        assert_eq!(rows(&text), all, "{order}");
    }
}

#[tokio::test]
async fn a_sheet_comes_as_page_spreadsheet_and_json() {
    let bench = bench().await;
    for kind in SHEETS {
        let address = format!("/models/launch-92/sheets/{}", kind.id);
        let csv = bench.get(&format!("{address}.csv?hull=11")).await;
        assert_eq!(csv.header("content-type"), "text/csv; charset=utf-8");
        let rows = csv.text.lines().count();
        assert!(rows > 1, "{}: {rows} lines", kind.id);
        let same = bench.get(&format!("/api{address}.csv?hull=11")).await;
        assert_eq!(same.text, csv.text);
        let json = bench
            .get(&format!("/api{address}.json?hull=11"))
            .await
            .json();
        assert_eq!(json["revision"], 1);
        assert!(json["caution"].as_str().unwrap().contains("burn"));
        assert_eq!(json["sheet"]["id"], kind.id);
    }
    let problem = bench
        .get("/api/models/launch-92/sheets/cut-list.xlsx")
        .await
        .problem(404);
    assert!(
        problem["detail"]
            .as_str()
            .unwrap()
            .contains("not offered yet; print the page")
    );
}

#[tokio::test]
async fn a_question_comes_back_with_its_answer_or_its_faults() {
    let bench = bench().await;
    let whole = "nominal_v=12&current_a=10&round_trip_m=8&drop_limit_percent=3\
        &drop_basis=trade-constant&insulation_degc=105";
    let text = shows(&bench, &format!("/one-circuit?{whole}")).await;
    // 10.75 × 10 A × 26.25 ft / 0.36 V = 7838 CM: 10 AWG (10 380 CM), trade formula.
    assert!(text.contains("10 AWG"), "{text}");
    let bad = bench
        .get("/one-circuit?nominal_v=twelve&current_a=%3Cb%3E&round_trip_m=8")
        .await;
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(bad.text.contains("<title>Error: "));
    for kept in [
        "value=\"twelve\"",
        "value=\"&#60;b&#62;\"",
        "href=\"#nominal_v\"",
        "href=\"#current_a\"",
    ] {
        assert!(bad.text.contains(kept), "{kept}: {}", bad.text);
    }
}

#[tokio::test]
async fn search_finds_any_thing_by_words_of_both_countries() {
    let bench = bench().await;
    let find =
        async |asked: &str| shows(&bench, &format!("/models/launch-92/search?q={asked}")).await;
    assert_eq!(links(&find("grey").await), links(&find("gray").await));
    for (asked, page) in [
        ("engine+space", "/models/launch-92/zones/engine-space"),
        ("bow-thruster", "/models/launch-92/options/bow-thruster"),
        ("hull+11", "/models/launch-92?hull=11"),
        ("H3", "/models/launch-92/runs/laz-port--engine-aft-port"),
        ("cut+list", "/models/launch-92/sheets/cut-list"),
    ] {
        let text = find(asked).await;
        assert!(links(&text).contains(page), "{asked}: {text}");
    }
}

#[tokio::test]
async fn hostile_names_are_only_text_on_every_page() {
    let bench = bench().await;
    let hostile = "<script>alert('x')</script>\\\"&";
    let body = format!(
        r#"{{"format_version": 1, "name": "{hostile}", "about": "{hostile}",
        "settings": {{"rule_sets": ["us-federal"]}},
        "mouldings": [{{"id": "hull", "name": "{hostile}"}}],
        "zones": [{{"id": "a", "name": "{hostile}", "moulding": "hull", "closes_at": "{hostile}",
            "reached_by": "{hostile}",
            "outline": [{{"x_mm": 0, "y_mm": 0}}, {{"x_mm": 900, "y_mm": 0}}, {{"x_mm": 0, "y_mm": 900}}]}}],
        "points": [{{"id": "p", "zone": "a", "x_mm": 0, "y_mm": 0}}, {{"id": "q", "zone": "a", "x_mm": 500, "y_mm": 0}}],
        "runs": [{{"id": "p--q", "from": "p", "to": "q", "hole": {{"number": "{hostile}"}}}}],
        "states": [{{"id": "s", "name": "{hostile}"}}],
        "options": [{{"id": "o", "name": "{hostile}"}}],
        "sources": [{{"id": "bank", "name": "{hostile}", "point": "p", "nominal_v": 12}}],
        "loads": [{{"id": "lamp", "name": "{hostile}", "point": "q", "circuit": "1", "current_a": 1, "drop_class": "critical"}}],
        "circuits": [{{"id": "1", "name": "{hostile}"}}],
        "wires": [
            {{"id": "1-1", "from": "bank.plus", "to": "lamp.plus", "circuit": "1", "size": "18 AWG", "color": "{hostile}"}},
            {{"id": "1-2", "from": "lamp.minus", "to": "bank.minus", "circuit": "1", "size": "18 AWG"}}],
        "hulls": [{{"id": "7", "options": ["o"]}}]}}"#
    );
    bench
        .store
        .create("hostile", revision("x", &body))
        .await
        .unwrap();
    let mut pages: Vec<String> = [
        "",
        "/gaps",
        "/failing",
        "/circuits",
        "/circuits/1",
        "/zones",
        "/zones/a",
        "/runs/p--q",
        "/options",
        "/options/o",
        "/boats",
        "/boats?with=o",
        "/sheets",
        "/rules",
        "/search?q=script",
    ]
    .iter()
    .map(|page| format!("/models/hostile{page}"))
    .collect();
    pages.extend(
        SHEETS
            .iter()
            .map(|kind| format!("/models/hostile/sheets/{}", kind.id)),
    );
    for page in pages {
        let text = shows(&bench, &page).await;
        assert!(
            !text.contains("<script>") && !text.contains("alert('x')"),
            "{page}: {text}"
        );
    }
}
