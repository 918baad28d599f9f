//! The pages of one boat model, on both demo models: each answers, each carries the caution,
//! every link leads somewhere.

use std::collections::{BTreeSet, VecDeque};

use axum::http::StatusCode;

use crate::bench::{Bench, LAUNCH};

const TENDER: &str = include_str!("../../samples/tender-56.json");

/// Parts of addresses without end, of which one is like another: states of a circuit, questions
/// about boats, boats by their options, the form of each thing.
const WITHOUT_END: &[&str] = &["state=", "with=", "without=", "options=", "?id="];

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
                let is_endless = WITHOUT_END.iter().any(|part| link.contains(part));
                if !is_endless && seen.insert(link.clone()) {
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
        page.contains("5 limits fail; 9 could not be evaluated;"),
        "the lead"
    );
    assert!(page.contains("all buildable boats, each limit on the one where it is worst"));
    let boats = "on 5\u{202f}856 of 1\u{202f}008\u{202f}000 boats (0.581 %)";
    assert!(page.contains(boats) && page.contains("no boat exceeds it"));
    let one = bench.get("/models/launch-92/failing?hull=12").await.text;
    assert!(one.contains("hull 12"));
    let filtered = bench
        .get("/models/launch-92/failing?rule=conduit_overfull")
        .await
        .text;
    assert!(filtered.contains("starboard-leg") && !filtered.contains("bilge-pump-engine"));
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
