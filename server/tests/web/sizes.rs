//! Sizes for all conductors at once, as a designer asks for them.

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
