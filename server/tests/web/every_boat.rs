//! What a designer asks of every boat: sizes, what clears a limit, how full everything gets.

use axum::http::Method;
use serde_json::{Value, json};

use crate::bench::{Bench, LAUNCH};

#[tokio::test]
async fn all_conductors_are_sized_for_every_boat() {
    let bench = Bench::new().await;
    bench.store_file("launch", LAUNCH).await;
    let page = bench.get("/models/launch/sizes").await;
    assert_eq!(page.status, 200);
    let text = page.text;
    for words in [
        "Copper of these wires",
        "no sizes that keep the same limits have less than",
        "Wires that change",
        "Not sized",
        "what charges is not among the loads",
        "the engine maker states its size",
        "No size mends these",
        "design aid",
    ] {
        assert!(text.contains(words), "{words}");
    }
    // The failing limits lead here; one boat in view leads to every boat.
    let failing = bench.get("/models/launch/failing").await.text;
    assert!(failing.contains("/models/launch/sizes"));
    let one = bench.get("/models/launch/sizes?hull=11").await.text;
    assert!(one.contains("Size for every boat"), "{one}");
}

async fn ways_to_what_clears(bench: &Bench) -> Vec<String> {
    let failing = bench.get("/models/launch/failing").await.text;
    let ways = failing
        .split("<a href=\"")
        .filter(|rest| rest.contains("What clears it"))
        .filter_map(|rest| rest.split_once('"'));
    ways.map(|(href, _)| href.replace("&#38;", "&").replace("&amp;", "&"))
        .collect()
}

/// The way a designer takes from a failing limit to what clears it.
#[tokio::test]
async fn each_failing_limit_leads_to_what_clears_it() {
    let bench = Bench::new().await;
    bench.store_file("launch", LAUNCH).await;
    let ways = ways_to_what_clears(&bench).await;
    assert!(ways.len() >= 4, "{ways:?}");
    let mut cleared = 0;
    for way in ways {
        let page = bench.get(&way).await;
        assert_eq!(page.status, 200, "{way}: {}", page.text);
        assert!(page.text.contains("design aid"), "{way}");
        cleared += usize::from(page.text.contains("yes, on every boat"));
        if way.contains("bow-light") {
            for words in ["wire 6-R2 from", "feed from position", "return wire"] {
                assert!(page.text.contains(words), "{words}: {}", page.text);
            }
        }
    }
    assert!(
        cleared >= 2,
        "{cleared} limits are cleared by a single change"
    );
    let none = bench
        .get("/models/launch/clears?rule=nothing&at=nowhere")
        .await;
    assert_eq!(none.status, 404);
}

/// Meters times price, by the reader's own reckoning.
#[tokio::test]
async fn what_a_change_costs_is_told_with_its_working_or_why_it_is_not() {
    let bench = Bench::new().await;
    bench.store_file("launch", LAUNCH).await;
    let ways = ways_to_what_clears(&bench).await;
    let way = ways.iter().find(|way| way.contains("bow-light")).unwrap();
    let unpriced = bench.get(way).await.text;
    assert!(
        unpriced.contains("no conductor of the parts list states the price of one meter for"),
        "{unpriced}"
    );

    let sizes = [
        "18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG", "4 AWG", "2 AWG",
    ];
    let conductors = sizes.iter().enumerate().map(|(step, size)| {
        json!({"id": format!("C{step}"), "size": size, "price_per_m": 0.5 + step as f64})
    });
    let conductors: Vec<Value> = conductors.collect();
    let list = json!({"format_version": 1, "conductors": conductors});
    let body = json!({"parts": list, "expected_revision": 0, "who": "Bo", "reason": "prices"});
    let stored = bench.json(Method::PUT, "/api/parts", &body).await;
    assert_eq!(stored.status, 200, "{}", stored.text);

    let priced = bench.get(way).await.text;
    assert!(
        !priced.contains("no conductor of the parts list"),
        "{priced}"
    );
    let rows: Vec<&str> = priced
        .split("<li>")
        .filter_map(|row| row.split_once("</li>"))
        .map(|(row, _)| row)
        .filter(|row| row.contains("(part C"))
        .collect();
    assert!(rows.len() >= 4, "{rows:?}");
    for row in rows {
        let (meters, rest) = row.split_once(" m × ").unwrap();
        let meters: f64 = meters.rsplit(' ').next().unwrap().parse().unwrap();
        let (price, rest) = rest.split_once(" (part C").unwrap();
        let price: f64 = price.parse().unwrap();
        let amount: f64 = rest.rsplit(' ').next().unwrap().parse().unwrap();
        // Meters are shown to the centimeter.
        assert!(
            (meters * price - amount).abs() <= 0.005 * (price + 1.0) + 1e-9,
            "{row}"
        );
    }
}

/// How full everything gets, with the boat on which it does.
#[tokio::test]
async fn the_most_on_any_boat_names_its_boat() {
    let bench = Bench::new().await;
    bench.store_file("launch", LAUNCH).await;
    let zones = bench.get("/models/launch/zones").await.text;
    assert!(zones.contains("/models/launch/most"));
    let page = bench.get("/models/launch/most").await;
    assert_eq!(page.status, 200);
    for words in [
        "Positions of blocks and bars",
        "Cavities of connectors",
        "Conductors that carry current",
        "Heat of runs",
        "Current of sources",
        "the standard boat with",
        "design aid",
    ] {
        assert!(page.text.contains(words), "{words}");
    }
    let one = bench.get("/models/launch/most?hull=11").await.text;
    assert!(one.contains("Look on every boat"));
}

/// Where a load does not state what it draws, what is open is told once for that load, and what it
/// may make others draw is bounded by the least volts that these state.
#[tokio::test]
async fn the_most_on_any_boat_names_a_load_of_unknown_draw_once() {
    let bench = Bench::new().await;
    let mut boat: Value = serde_json::from_str(LAUNCH).unwrap();
    for load in boat["loads"].as_array_mut().unwrap() {
        if load["id"] == "bilge-pump-forward" {
            let load = load.as_object_mut().unwrap();
            load.retain(|field, _| !["current_a", "power_w", "resistance_ohm"].contains(&&**field));
        }
    }
    bench.store_file("undrawn", &boat.to_string()).await;
    let page = bench.get("/models/undrawn/most").await.text;
    let why =
        "<th scope=\"row\">load bilge-pump-forward states neither current, power nor resistance";
    assert_eq!(page.matches(why).count(), 1);
    assert_eq!(page.matches("the field").count(), 1);
    for words in [
        "Heat of runs (16): run starter--alternator,",
        "Current of sources (3): House bank",
        "Not all loads state what they draw: bilge-pump-forward.",
        "322 A</span> <span class=\"quiet\">or more, at most 328 A",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.contains("/models/undrawn/gaps#gap-"));
    let known = Bench::new().await;
    known.store_file("launch", LAUNCH).await;
    let page = known.get("/models/launch/most").await.text;
    assert!(!page.contains("or more, at most") && !page.contains("Not evaluated"));
}
