//! The pages of one boat model, on both demo models: each answers, each carries the caution,
//! every link leads somewhere.

use std::collections::{BTreeSet, VecDeque};

use axum::http::StatusCode;

use crate::bench::{Bench, LAUNCH};

const TENDER: &str = include_str!("../../samples/tender-56.json");

/// Most pages followed in one crawl: all of a demo model without its circuits in every state.
const MOST_PAGES: usize = 700;

async fn demo() -> Bench {
    let bench = Bench::new().await;
    bench.store_file("launch-92", LAUNCH).await;
    bench.store_file("tender-56", TENDER).await;
    bench
}

fn links(page: &str) -> BTreeSet<String> {
    page.split("href=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .filter(|link| link.starts_with('/'))
        .map(|link| {
            let plain = link.replace("&#38;", "&").replace("&amp;", "&");
            plain.split('#').next().unwrap_or_default().to_owned()
        })
        .collect()
}

#[tokio::test]
async fn every_link_of_the_demo_leads_somewhere_and_every_page_has_the_caution() {
    let bench = demo().await;
    let mut seen = BTreeSet::from(["/".to_owned()]);
    let mut queue = VecDeque::from(["/".to_owned()]);
    let mut visited = 0;
    while let Some(address) = queue.pop_front() {
        visited += 1;
        if visited > MOST_PAGES {
            break;
        }
        let reply = bench.get(&address).await;
        assert_eq!(reply.status, StatusCode::OK, "{address}");
        if reply.header("content-type").starts_with("text/html") {
            assert!(
                reply.text.contains("This is a design aid."),
                "{address}: no caution"
            );
            assert!(
                !reply.text.contains("NaN") && !reply.text.contains(" inf "),
                "{address}"
            );
            for link in links(&reply.text) {
                // One state of a circuit is like another.
                if !link.contains("state=") && seen.insert(link.clone()) {
                    queue.push_back(link);
                }
            }
        }
    }
    assert!(visited > 200, "only {visited} pages");
}

#[tokio::test]
async fn a_rigging_lead_is_two_clicks_from_the_circuits_through_a_zone() {
    let bench = demo().await;
    let first = bench.get("/").await.text;
    assert!(links(&first).contains("/models/launch-92/zones"));
    let second = bench.get("/models/launch-92/zones").await.text;
    assert!(links(&second).contains("/models/launch-92/zones/engine-space"));
    let zone = bench.get("/models/launch-92/zones/engine-space").await.text;
    for heading in ["Passes through", "Ends here", "Do before it is closed"] {
        assert!(zone.contains(heading), "{heading}");
    }
}

#[tokio::test]
async fn the_failing_page_says_how_many_and_on_which_boat() {
    let bench = demo().await;
    let page = bench.get("/models/launch-92/failing").await.text;
    assert!(
        page.contains("5 limits fail; 12 could not be evaluated;"),
        "the lead"
    );
    assert!(page.contains("stands for all buildable boats for now"));
    let one = bench.get("/models/launch-92/failing?hull=12").await.text;
    assert!(one.contains("hull 12"));
    let filtered = bench
        .get("/models/launch-92/failing?rule=conduit_overfull")
        .await
        .text;
    assert!(filtered.contains("starboard-leg") && !filtered.contains("bilge-pump-engine"));
}

#[tokio::test]
async fn what_is_not_there_is_told_with_what_is() {
    let bench = demo().await;
    for (address, status, words) in [
        ("/models/launch-92/circuits/999", 404, "999"),
        ("/models/launch-92/zones/attic", 404, "attic"),
        ("/models/launch-92/sheets/tea-list", 404, "tea-list"),
        ("/models/launch-92/rules/no_such_rule", 404, "no_such_rule"),
        ("/models/nothing", 404, "nothing"),
        ("/models/launch-92/failing?hull=9999", 422, "9999"),
        (
            "/models/launch-92/failing?options=warp-drive",
            422,
            "warp-drive",
        ),
        ("/models/launch-92/failing?rule=tea", 422, "tea"),
    ] {
        let reply = bench.get(address).await;
        assert!(
            reply.status.is_client_error(),
            "{address}: {}",
            reply.status
        );
        assert!(
            reply.status.as_u16() == status || reply.status == StatusCode::NOT_FOUND,
            "{address}: {}",
            reply.status
        );
        assert!(reply.text.contains(words), "{address}: {}", reply.text);
    }
}

#[tokio::test]
async fn a_sheet_is_the_same_on_screen_in_csv_and_in_json() {
    let bench = demo().await;
    let csv = bench.get("/models/launch-92/sheets/cut-list.csv").await;
    assert!(
        csv.header("content-type").starts_with("text/csv"),
        "{}",
        csv.header("content-type")
    );
    let json = bench
        .get("/api/models/launch-92/sheets/cut-list.json")
        .await
        .json();
    let table = &json["sheet"]["tables"][0];
    let rows = table["rows"].as_array().map_or(0, Vec::len);
    assert!(rows > 100, "{rows}");
    assert!(
        csv.text.lines().count() > rows,
        "{}",
        csv.text.lines().count()
    );
    let none = bench
        .get("/api/models/launch-92/sheets/cut-list.xlsx")
        .await;
    none.problem(404);
}

#[tokio::test]
async fn an_unchanged_page_answers_304() {
    let bench = demo().await;
    let first = bench.get("/models/launch-92/failing").await;
    let tag = first.header("etag").to_owned();
    assert!(!tag.is_empty());
    let again = crate::bench::request(axum::http::Method::GET, "/models/launch-92/failing")
        .header("if-none-match", &tag)
        .body(axum::body::Body::empty())
        .unwrap();
    assert_eq!(bench.send(again).await.status, StatusCode::NOT_MODIFIED);
}

#[tokio::test]
async fn the_quick_calculation_keeps_what_was_typed() {
    let bench = demo().await;
    let page = bench
        .get("/one-circuit?nominal_v=12&current_a=ten&round_trip_m=5&drop_limit_percent=3")
        .await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text.contains("value=\"ten\"") && page.text.contains("There is a problem"));
    let page = bench
        .get(
            "/one-circuit?nominal_v=12&current_a=10&round_trip_ft=21&drop_limit_percent=3\
              &drop_basis=trade-constant&insulation_degc=105",
        )
        .await;
    assert!(page.text.contains("12 AWG: smallest size that serves"));
}

#[tokio::test]
async fn the_verification_page_has_nothing_open() {
    let bench = demo().await;
    let page = bench.get("/verification").await.text;
    assert!(page.contains("0 are open"));
    assert!(page.contains("What has no outside reference"));
}

#[tokio::test]
async fn a_kept_page_goes_when_its_model_changes() {
    let bench = Bench::new().await;
    bench.store_file("tender-56", TENDER).await;
    let before = bench.get("/models/tender-56").await.text;
    assert_eq!(bench.get("/models/tender-56").await.text, before);
    let renamed = TENDER.replace("\"Tender 56\"", "\"Tender 57\"");
    let next = crate::bench::revision("Tender 57", &renamed);
    bench.store.replace("tender-56", None, next).await.unwrap();
    let after = bench.get("/models/tender-56").await.text;
    assert!(before.contains("Tender 56") && after.contains("Tender 57"));
    assert!(after.contains("Revision 2"));
}
