//! Ways from sources by hand, and boats on which protection hangs on three things at once: with
//! each of them others are left out, so that the fullest boat has not all three.

use super::sketch::{Sketch, batteries, judged, seldom_together};
use crate::boats::{Condition, OptionIndex};
use crate::model::BoatModel;
use crate::network::assembly::{Assembly, Part};
use crate::routing::Routing;
use crate::rules::Outcome;
use crate::worst::leading::{Leading, Together, Way, both, condition, with};
use serde_json::{Value, json};

fn option(at: usize) -> Condition {
    Condition::Option(OptionIndex(at))
}

fn without(at: usize) -> Condition {
    option(at).negated()
}

/// The ways from the first source to what a wire ends at: conditions, devices, and branches.
fn ways_to(model: &BoatModel, wire: &str) -> Option<Vec<Way>> {
    let routing = Routing::of(model);
    let assembly = Assembly::of_every_boat(model, &routing);
    let source = assembly.sources[0];
    let leading = Leading::of(model, &assembly, &routing, source);
    let ways = leading.ways(&model.sources[source.0].fitted_when)?;
    let part = Part::Wire(model.wires.find(wire).unwrap());
    let node = assembly.branches[assembly.branch(part).unwrap()].to;
    let mut found = ways.get(&node).cloned().unwrap_or_default();
    found.sort_by_key(|way| way.branches.len());
    Some(found)
}

fn together(parts: &[Condition]) -> Together {
    parts.iter().cloned().collect()
}

#[test]
fn conditions_met_at_once() {
    let one = together(&[option(0)]);
    let two = Condition::All(vec![option(1), option(2)]);
    assert_eq!(
        with(&one, &two),
        Some(together(&[option(0), option(1), option(2)]))
    );
    assert_eq!(with(&one, &Condition::Always), Some(one.clone()));
    assert_eq!(with(&one, &Condition::never()), None);
    assert_eq!(with(&one, &without(0)), None);
    let other = together(&[option(3), without(4)]);
    let all = both(&one, &other).unwrap();
    assert_eq!(all, together(&[option(0), option(3), without(4)]));
    assert_eq!(both(&one, &together(&[without(0)])), None);
    assert_eq!(condition(&one), option(0));
    assert_eq!(condition(&Together::new()), Condition::Always);
}

/// Three metres at once, or four by way of a bar.
fn two_ways(short: Value, long: Value) -> BoatModel {
    let sketch = Sketch::new(3).battery("bank", "here", Value::Null);
    let sketch = sketch.bar("middle", "there").bar("last", "end");
    sketch
        .wire("long", "bank.plus", "middle.1", long)
        .wire("on", "middle.2", "last.1", Value::Null)
        .wire("short", "bank.plus", "last.2", short)
        .model()
}

#[test]
fn a_longer_way_is_kept_while_some_boat_has_no_shorter_one() {
    let ways = ways_to(&two_ways(json!("o0"), json!("o1")), "short").unwrap();
    let whole: Vec<_> = ways.iter().map(|way| way.whole.clone()).collect();
    assert_eq!(whole, [together(&[option(0)]), together(&[option(1)])]);
    assert!(ways[0].is_before(&ways[1]) && !ways[1].is_before(&ways[0]));
    assert_eq!(ways[1].branches.len(), 2);
    assert_eq!(ways[1].nodes.len(), 3);
    // On each boat that has the longer one there is the shorter one, too.
    let ways = ways_to(
        &two_ways(json!("o1"), json!({"all": ["o0", "o1"]})),
        "short",
    )
    .unwrap();
    assert_eq!(ways.len(), 1);
    assert_eq!(ways[0].whole, together(&[option(1)]));
    // But not the other way round.
    let ways = ways_to(
        &two_ways(json!({"all": ["o0", "o1"]}), json!("o1")),
        "short",
    )
    .unwrap();
    assert_eq!(ways.len(), 2);
}

#[test]
fn a_way_past_fewer_devices_is_walked_though_it_is_longer() {
    let sketch = Sketch::new(2).battery("bank", "here", Value::Null);
    let sketch = sketch.bar("middle", "there").bar("last", "end");
    let model = sketch
        .device("fuse", "fuse", Value::Null)
        .device("switch", "switch", Value::Null)
        .wire("a", "bank.plus", "fuse.in", Value::Null)
        .wire("b", "fuse.out", "last.1", Value::Null)
        .wire("c", "bank.plus", "middle.1", json!("o0"))
        .wire("d", "middle.2", "switch.in", Value::Null)
        .wire("e", "switch.out", "last.2", Value::Null)
        .model();
    let ways = ways_to(&model, "e").unwrap();
    let told: Vec<_> = ways
        .iter()
        .map(|way| (way.devices, way.whole.clone()))
        .collect();
    assert_eq!(told, [(1, Together::new()), (0, together(&[option(0)]))]);
    assert!(ways[1].is_before(&ways[0]));
}

#[test]
fn the_walk_ends_at_poles_of_sources_that_are_there() {
    let sketch = Sketch::new(2).battery("bank", "here", Value::Null);
    let sketch = sketch.battery("start", "there", json!("o0"));
    let model = sketch
        .bar("last", "end")
        .device("off", "switch", Value::Null)
        .wire("a", "bank.plus", "start.plus", Value::Null)
        .wire("b", "start.plus", "last.1", Value::Null)
        .wire("c", "bank.minus", "last.2", Value::Null)
        .wire("d", "bank.plus", "bank.minus", json!("o1"));
    let ways = ways_to(&model.model(), "b").unwrap();
    assert_eq!(ways.len(), 1);
    assert_eq!(ways[0].whole, together(&[without(0)]));
    // Through its own minus it never goes on.
    assert!(!ways_to(&model.model(), "d").unwrap().is_empty());
    assert_eq!(
        ways_to(&model.model(), "a").unwrap()[0].whole,
        Together::new()
    );
    // A switch that is open in every state is no way.
    let mut text = model.0.clone();
    text["wires"][1] = json!({"id": "b", "from": "off.out", "to": "last.1", "size": "10 AWG"});
    text["wires"]
        .as_array_mut()
        .unwrap()
        .push(json!({"id": "e", "from": "bank.plus", "to": "off.in", "size": "10 AWG"}));
    assert_eq!(
        ways_to(&Sketch(text.clone()).model(), "b").unwrap().len(),
        1
    );
    text["devices"][0]["open_in"] = json!(["day"]);
    assert_eq!(ways_to(&Sketch(text).model(), "b").unwrap().len(), 0);
}

#[test]
fn the_walk_is_given_up_after_too_many_ways() {
    let chain = |pairs: usize| {
        let mut sketch = Sketch::new(2 * pairs).battery("bank", "here", Value::Null);
        sketch = sketch
            .bar("b0", "here")
            .wire("first", "bank.plus", "b0.1", Value::Null);
        for at in 0..pairs {
            let (from, to) = (format!("b{at}.2"), format!("b{}.1", at + 1));
            sketch = sketch.bar(&format!("b{}", at + 1), "here");
            for side in 0..2 {
                let when = json!(format!("o{}", 2 * at + side));
                sketch = sketch.wire(&format!("w{at}-{side}"), &from, &to, when);
            }
        }
        let last = format!("w{}-0", pairs - 1);
        ways_to(&sketch.model(), &last).map(|ways| ways.len())
    };
    assert_eq!(chain(6), Some(64));
    assert_eq!(chain(7), None);
}

#[test]
fn a_wire_is_judged_where_three_things_lead_to_it_without_a_device() {
    // Three wires in a row, each of an option, lead past the fuse.
    let sketch = seldom_together(Sketch::new(9)).battery("bank", "here", Value::Null);
    let sketch = sketch
        .bar("one", "here")
        .bar("two", "there")
        .bar("last", "end");
    let sketch = sketch
        .device("fuse", "fuse", Value::Null)
        .wire("in", "bank.plus", "fuse.in", Value::Null)
        .wire("out", "fuse.out", "last.1", Value::Null)
        .wire("a", "bank.plus", "one.1", json!("o0"))
        .wire("b", "one.2", "two.1", json!("o1"))
        .wire("c", "two.2", "last.2", json!("o2"))
        .wire(
            "behind",
            "last.3",
            "two.3",
            json!({"all": ["o3", {"not": "o0"}]}),
        )
        .wire("tail", "last.4", "one.3", json!("o8"));
    let (findings, unproven) = judged(&sketch);
    assert_eq!(unproven, Vec::<String>::new());
    let missing = |wire: &str| &findings[&(wire.to_owned(), "device_missing")];
    assert_eq!(missing("in").outcome, Outcome::Met);
    assert_eq!(
        missing("out").outcome,
        Outcome::Fails,
        "{}",
        missing("out").message
    );
}

#[test]
fn a_wire_is_judged_where_all_three_of_its_devices_are_absent() {
    let sketch = seldom_together(Sketch::new(9)).battery("bank", "here", Value::Null);
    let mut sketch = sketch
        .bar("last", "end")
        .wire("feed", "bank.plus", "last.1", Value::Null);
    for at in 0..3 {
        let (fuse, absent) = (format!("f{at}"), json!({"not": format!("o{at}")}));
        sketch = sketch.device(&fuse, "fuse", absent.clone()).wire(
            &format!("w{at}"),
            "last.2",
            &format!("{fuse}.in"),
            absent,
        );
    }
    let (findings, unproven) = judged(&sketch);
    assert_eq!(unproven, Vec::<String>::new());
    let feed = &findings[&("feed".to_owned(), "device_missing")];
    assert_eq!(feed.outcome, Outcome::Fails, "{}", feed.message);
}

/// ABYC E-11 (reprint): at 12 V and up to 650 A of cranking current 1 500 A are asked of the first
/// device, up to 1 100 A 3 000 A, above 5 000 A.
#[test]
fn a_device_is_judged_with_all_batteries_that_can_be_joined_to_it() {
    let sketch = batteries(seldom_together(Sketch::new(9)).bar("last", "end"), 3);
    let sketch =
        sketch
            .device("fuse", "fuse", Value::Null)
            .wire("in", "last.9", "fuse.in", Value::Null);
    let (findings, unproven) = judged(&sketch);
    assert_eq!(unproven, Vec::<String>::new());
    let fuse = &findings[&("fuse".to_owned(), "interrupting_rating_too_small")];
    let asked = fuse.limit.map(|limit| limit.value);
    assert_eq!(asked, Some(5_000.0), "{}", fuse.message);
}

#[test]
fn a_device_is_judged_as_the_first_with_all_batteries() {
    // Behind another fuse 1 500 A are asked at 1 000 A of cranking current, as the first 3 000 A.
    let sketch = batteries(seldom_together(Sketch::new(9)).bar("last", "end"), 2);
    let sketch = sketch
        .bar("panel", "there")
        .device("main", "fuse", Value::Null)
        .device("fuse", "fuse", Value::Null)
        .wire("a", "last.8", "main.in", Value::Null)
        .wire("b", "main.out", "panel.1", Value::Null)
        .wire("past", "last.9", "panel.2", json!("o2"))
        .wire("c", "panel.3", "fuse.in", Value::Null);
    let (findings, unproven) = judged(&sketch);
    assert_eq!(unproven, Vec::<String>::new());
    let fuse = &findings[&("fuse".to_owned(), "interrupting_rating_too_small")];
    let asked = fuse.limit.map(|limit| limit.value);
    assert_eq!(asked, Some(3_000.0), "{}", fuse.message);
}

#[test]
fn what_is_shorter_is_told_by_length_not_by_the_number_of_wires() {
    // Five metres in one wire by way of the end, two in two.
    let sketch = Sketch::new(1).battery("bank", "here", Value::Null);
    let mut sketch = sketch.bar("near", "here").bar("middle", "there");
    sketch = sketch
        .wire("a", "bank.plus", "near.1", json!("o0"))
        .wire("b", "near.2", "middle.1", Value::Null)
        .wire("round", "bank.plus", "middle.2", Value::Null);
    sketch.0["wires"][2]["through"] = json!(["end"]);
    let ways = ways_to(&sketch.model(), "round").unwrap();
    assert_eq!(ways.len(), 2);
    assert!(ways[1].branches.len() == 2 && ways[1].is_before(&ways[0]));
}

#[test]
fn what_leads_too_many_ways_is_told() {
    let mut sketch = Sketch::new(14).battery("bank", "here", Value::Null);
    sketch = sketch
        .bar("b0", "here")
        .wire("first", "bank.plus", "b0.1", Value::Null);
    for at in 0..7 {
        let (from, to) = (format!("b{at}.2"), format!("b{}.1", at + 1));
        sketch = sketch.bar(&format!("b{}", at + 1), "here");
        for side in 0..2 {
            let when = json!(format!("o{}", 2 * at + side));
            sketch = sketch.wire(&format!("w{at}-{side}"), &from, &to, when);
        }
    }
    let (_, unproven) = judged(&sketch);
    let told = "protection behind source bank: too many ways lead from it".to_owned();
    assert!(unproven.contains(&told), "{unproven:?}");
}
