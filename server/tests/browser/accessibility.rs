//! Every page, in every state, held against the accessibility rules.

use std::collections::BTreeSet;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use fantoccini::Locator;
use futures_util::future::join;
use serde_json::{Value, json};
use server::intake;
use server::router::routes;

use crate::addresses::{ADDRESSES, Behind, Seen, Sending};
use crate::axe::{self, Tally};
use crate::browser::{Browser, PATIENCE, Script, is_installed, with_browser};
use crate::service::Service;

/// A boat model with one of each and nothing in any.
fn bare() -> String {
    json!({
        "format_version": 1,
        "name": "Bare",
        "mouldings": [{ "id": "hull", "name": "Hull" }],
        "zones": [{ "id": "cabin", "name": "Cabin", "moulding": "hull" }],
        "points": [
            { "id": "aft", "zone": "cabin", "x_mm": 0, "y_mm": 0 },
            { "id": "fore", "zone": "cabin", "x_mm": 900, "y_mm": 0 },
        ],
        "runs": [{ "id": "aft--fore", "from": "aft", "to": "fore" }],
        "options": [{ "id": "extra", "name": "Extra" }],
        "circuits": [{ "id": "1", "name": "Lamp" }],
        "hulls": [{ "id": "7", "options": [] }],
    })
    .to_string()
}

/// A boat model whose rules no boat keeps.
fn stuck() -> String {
    json!({
        "format_version": 1,
        "name": "Stuck",
        "options": [{ "id": "a", "name": "One" }, { "id": "b", "name": "Other" }],
        "option_rules": [
            { "exactly_one_of": ["a", "b"], "because": "one is fitted" },
            { "requires": ["a", "b"], "because": "one needs the other" },
            { "requires": ["b", "a"], "because": "the other needs the one" },
        ],
    })
    .to_string()
}

/// A service with the demo models, the larger one changed twice in the same place by somebody,
/// and those that hold little.
async fn filled() -> Service {
    let service = Service::new().await;
    let new = json!({ "format_version": 1, "name": "New" }).to_string();
    for (id, text) in [("new", new), ("bare", bare()), ("stuck", stuck())] {
        let model = intake::read(&text).unwrap();
        let first = model.revision("A. Rigger", "a beginning");
        service.store.create(id, first).await.unwrap();
    }
    let first = service.store.latest("launch-92").await.unwrap();
    let mut model: Value = serde_json::from_str(&first.body).unwrap();
    for (seen, color) in [(1, "orange"), (2, "brown")] {
        let wires = model["wires"].as_array_mut().unwrap();
        let wire = wires.iter_mut().find(|wire| wire["id"] == "1-F1").unwrap();
        wire["color"] = json!(color);
        let changed = intake::read(&model.to_string()).unwrap();
        let next = changed.revision("A. Rigger", "another color");
        let store = &service.store;
        store.replace("launch-92", Some(seen), next).await.unwrap();
    }
    for (seen, amperes) in [(0, 5.8), (1, 6.2)] {
        let own = json!({"format_version": 1, "loads": [{"id": "pump-7", "name": "Bilge pump",
            "current_a": amperes, "figure_from": "measured", "figure_source": "on the bench"}]});
        let own = intake::read_parts(&own.to_string()).unwrap();
        let next = own.revision("A. Rigger", "measured");
        service.store.replace_parts(seen, next).await.unwrap();
    }
    service
}

#[test]
fn every_address_of_the_service_is_looked_at() {
    let served: Vec<_> = routes().into_iter().map(|(address, _)| address).collect();
    let known: BTreeSet<_> = ADDRESSES.iter().map(|(address, _)| *address).collect();
    for address in &served {
        assert!(
            known.contains(address),
            "{address} stands in routes() without a page at which it is looked at: add it to \
             ADDRESSES in server/tests/browser/addresses.rs"
        );
    }
    assert_eq!(
        known.len(),
        served.len(),
        "an address of ADDRESSES is served no more"
    );
}

/// The status code with which the page shown came.
async fn answered(browser: &Browser) -> Value {
    let status = "return performance.getEntriesByType('navigation')[0].responseStatus";
    browser.run(status).await
}

async fn is_unfinished(browser: &Browser) -> bool {
    let words = "return document.body.textContent.includes('still being worked out')";
    answered(browser).await == json!(503) && browser.run(words).await == json!(true)
}

/// Opens the page in its state; gives what shows that it is not the state meant.
async fn show(browser: &Browser, empty: &Service, filled: &Service, seen: &Seen) -> Vec<String> {
    let (status, address) = match seen {
        Seen::Nothing(path) => (200, empty.at(path)),
        Seen::Empty(path) | Seen::Full(path) => (200, filled.at(path)),
        Seen::Error(status, path) => (*status, filled.at(path)),
        Seen::Sent(sending) => (sending.status, filled.at(sending.from)),
    };
    browser.size(1280, 1024).await;
    browser.open(&address).await;
    // On a slow machine it is told that it is still being worked out, and found done later.
    let until = Instant::now() + PATIENCE;
    while status == 200 && is_unfinished(browser).await && Instant::now() < until {
        browser.complaints(&[503]).await;
        browser.open(&address).await;
    }
    let mut wrong = Vec::new();
    if let Seen::Sent(sending) = seen {
        if let Err(why) = send(browser, sending).await {
            return vec![why];
        }
        let text = browser.run("return document.body.textContent").await;
        if !text.as_str().unwrap().contains(sending.says) {
            wrong.push(format!("does not say “{}”", sending.says));
        }
    }
    let answered = answered(browser).await;
    if answered != json!(status) {
        wrong.push(format!("answered {answered}, not {status}"));
    }
    wrong.extend(browser.complaints(&[status]).await);
    wrong
}

/// Fills in the form and sends it.
async fn send(browser: &Browser, sending: &Sending) -> Result<(), String> {
    for (name, value) in sending.fields {
        let put = "const fields = document.querySelectorAll(`main [name='${arguments[0]}']`);
            for (const field of fields) field.value = arguments[1];
            return fields.length > 0";
        let put = browser.client.execute(put, vec![json!(name), json!(value)]);
        if put.await.unwrap() != json!(true) {
            return Err(format!("has no field {name}"));
        }
    }
    if let Some((name, content)) = sending.file {
        browser.choose_file("main [name=file]", name, content).await;
    }
    let button = format!("//main//button[normalize-space()='{}']", sending.button);
    let button = browser.client.find(Locator::XPath(&button)).await;
    let button = button.map_err(|_| format!("has no button “{}”", sending.button))?;
    browser.leave(async || button.click().await.unwrap()).await;
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_in_no_state_breaks_a_rule() {
    if !is_installed() {
        return;
    }
    let started = Instant::now();
    let (empty, filled) = (Service::empty().await, filled().await);
    let wanted = std::env::var("BROWSER_PAGES").unwrap_or_default();
    let pages: Vec<(&str, &Seen)> = ADDRESSES
        .iter()
        .filter(|(address, _)| address.contains(&wanted))
        .filter_map(|(address, behind)| match behind {
            Behind::Page(states) => Some(states.iter().map(|seen| (*address, seen))),
            Behind::File(_) | Behind::SentTo => None,
        })
        .flatten()
        .collect();
    let (next, tally, found) = (
        AtomicUsize::new(0),
        Tally::default(),
        Mutex::new(Vec::new()),
    );
    // Two browsers share the pages: a machine that tests has two processors.
    let work = async |browser: &Browser| {
        axe::equip(browser).await;
        while let Some((address, seen)) = pages.get(next.fetch_add(1, Ordering::Relaxed)) {
            let mut faults = show(browser, &empty, &filled, seen).await;
            faults.extend(axe::everything(browser, &tally).await);
            let told = faults
                .iter()
                .map(|fault| format!("{address}, {seen:?}\n    {fault}"));
            found.lock().unwrap().extend(told);
        }
    };
    join(
        with_browser(Script::On, &work),
        with_browser(Script::On, &work),
    )
    .await;
    let (seen, runs) = (tally.pages.into_inner(), tally.runs.into_inner());
    println!(
        "{seen} pages in a state, {runs} runs, {:?}",
        started.elapsed()
    );
    assert_eq!(seen, pages.len());
    let found = found.into_inner().unwrap();
    assert!(
        found.is_empty(),
        "{} faults:\n{}",
        found.len(),
        found.join("\n")
    );
}

#[tokio::test]
async fn what_else_is_read_is_no_page() {
    let filled = filled().await;
    for (address, behind) in ADDRESSES {
        let (path, is_sent_to) = match behind {
            Behind::Page(_) => continue,
            Behind::File(path) => (*path, false),
            Behind::SentTo => (*address, true),
        };
        let (status, kind) = filled.read(path).await;
        match is_sent_to {
            true => assert_eq!(status, 405, "{address}"),
            false => assert!(
                status == 200 && !kind.starts_with("text/html"),
                "{address}: {status} {kind}"
            ),
        }
    }
}
