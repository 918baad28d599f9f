//! Sizes for all conductors of a model at once, against judging every boat one by one.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::OptionIndex;
use harness_core::file_format::{self, ModelRecord};
use harness_core::model::BoatModel;
use harness_core::rules::{self, Finding, Subject};
use harness_core::sizing::{EverySizing, SizingProposal, size_every_conductor};
use harness_core::study::{BoatChoice, Study};
use std::collections::BTreeSet;
use std::time::Instant;

/// Models drawn.
const MODELS: u64 = 12;
/// How many times as large their boats are made.
const TIMES_AS_LONG: f64 = 6.0;

fn told(name: &str, sizing: &EverySizing, took: f64) {
    println!(
        "{name}: {} wires sized, {} kept, copper {:.3} kg (now {:?}), at least {:.3} kg, gap {:.2} %, \
         {} rows, {} studies, {} cleared, {} left, {took:.2} s",
        sizing.wires.len(),
        sizing.kept.len(),
        sizing.copper.value(),
        sizing.copper_now.map(|copper| copper.value()),
        sizing.at_least.value(),
        100.0 * sizing.gap(),
        sizing.rows,
        sizing.studies,
        sizing.cleared,
        sizing.left.len(),
    );
}

#[test]
fn the_demo_model_is_sized_for_every_boat() {
    let text = include_str!("../../server/samples/launch-92.json");
    let study = Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap();
    let start = Instant::now();
    let sizing = size_every_conductor(&study).unwrap();
    told("launch-92", &sizing, start.elapsed().as_secs_f64());
    assert!(sizing.at_least <= sizing.copper && sizing.at_least_so <= sizing.copper);
    assert!(sizing.gap() < 0.02, "{}", sizing.gap());
    assert!(sizing.copper < sizing.copper_now.unwrap());
    assert!(sizing.cleared >= 3, "{}", sizing.cleared);
}

/// Whether sizes can have to do with it.
fn is_of_sizes(finding: &Finding) -> bool {
    use Subject::{Ampacity, Conductors, Drop, Protection};
    let subject = rules::rule(finding.rule).map(|rule| rule.subject);
    [Drop, Ampacity, Protection, Conductors]
        .map(Some)
        .contains(&subject)
}

/// The same in a boat so many times as large, where drops decide.
fn longer(record: &ModelRecord) -> BoatModel {
    let mut value = serde_json::to_value(record).unwrap();
    for point in value["points"].as_array_mut().unwrap() {
        for axis in ["x_mm", "y_mm", "z_mm"] {
            let along = point[axis].as_f64().unwrap();
            point[axis] = (TIMES_AS_LONG * along).into();
        }
    }
    file_format::model(&serde_json::from_value(value).unwrap()).unwrap()
}

/// Invented models small enough to judge each boat that can be ordered.
#[test]
fn no_boat_that_can_be_ordered_breaks_what_sizes_could_keep() {
    let (mut boats, mut failed_before, mut sized, mut thinner) = (0, 0, 0, 0);
    for seed in 0..MODELS {
        let model = longer(&tests::generated::model(110, 5 + (seed % 3) as usize, seed));
        let study = Study::of(model.clone(), BoatChoice::Every).unwrap();
        let start = Instant::now();
        let sizing = size_every_conductor(&study).unwrap();
        told(
            &format!("seed {seed}"),
            &sizing,
            start.elapsed().as_secs_f64(),
        );
        assert!(
            sizing.at_least_so <= sizing.copper * (1.0 + 1e-9),
            "seed {seed}"
        );
        let left: BTreeSet<_> = sizing.left.iter().map(Finding::limit_key).collect();
        let fails = |finding: &&Finding| finding.fails() && is_of_sizes(finding);
        failed_before += study.findings.iter().filter(fails).count();
        sized += sizing.wires.len();
        let smaller = |one: &&SizingProposal| one.mass_change.is_some_and(|m| m.value() < 0.0);
        thinner += sizing.wires.iter().filter(smaller).count();
        let changed = sizing.applied(&model);
        for mask in 0..1_u32 << model.options.len() {
            let on = (0..model.options.len()).filter(|bit| mask >> bit & 1 == 1);
            let choice = BoatChoice::Options(on.map(OptionIndex).collect());
            let Ok(boat) = Study::of(changed.clone(), choice) else {
                continue;
            };
            boats += 1;
            for finding in boat.findings.iter().filter(fails) {
                assert!(
                    left.contains(&finding.limit_key()),
                    "seed {seed}, {:?}: {}",
                    boat.boat,
                    finding.message
                );
            }
        }
    }
    println!(
        "{boats} boats, {failed_before} limits failed before, {sized} wires, {thinner} thinner"
    );
    assert!(boats > 100 && failed_before > 20 && thinner > 500);
}

/// What is not known is kept, whatever else is missing: a load without current on wires without
/// size gives no thin wire.
#[test]
fn a_wire_of_unknown_current_is_not_sized() {
    let text = include_str!("../../server/samples/launch-92.json");
    let mut value: serde_json::Value = serde_json::from_str(text).unwrap();
    let of = |thing: &serde_json::Value, circuit: &str| thing["circuit"] == circuit;
    for wire in value["wires"].as_array_mut().unwrap() {
        if of(wire, "40") || of(wire, "41") {
            wire.as_object_mut().unwrap().remove("size");
        }
    }
    for load in value["loads"].as_array_mut().unwrap() {
        if of(load, "40") {
            let load = load.as_object_mut().unwrap();
            load.retain(|field, _| !["current_a", "power_w", "resistance_ohm"].contains(&&**field));
        }
    }
    let model = file_format::read(&value.to_string()).unwrap();
    let study = Study::of(model, BoatChoice::Every).unwrap();
    let sizing = size_every_conductor(&study).unwrap();
    let circuit_of = |wire| {
        let stated = study.model.wires[wire].circuit.unwrap();
        study.model.circuits.id(stated).to_owned()
    };
    let sized = |circuit: &str| {
        let wires = sizing.wires.iter();
        wires.filter(|one| circuit_of(one.wire) == circuit).count()
    };
    let kept: Vec<&str> = sizing
        .kept
        .iter()
        .filter(|(wire, _)| circuit_of(*wire) == "40")
        .map(|(_, why)| why.as_str())
        .collect();
    assert_eq!(sized("40"), 0);
    assert!(!kept.is_empty(), "{:?}", sizing.kept);
    assert!(
        kept.iter()
            .all(|why| why.contains("states neither current, power nor resistance")),
        "{kept:?}"
    );
    // Without sizes, with known current: sized all the same.
    assert!(sized("41") > 0);
}
