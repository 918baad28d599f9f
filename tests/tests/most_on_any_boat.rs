//! The most of everything on any boat, against counting it on each boat that can be ordered.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::OptionIndex;
use harness_core::file_format;
use harness_core::model::{BoatModel, BusPin, Pin};
use harness_core::most::{Thing, most_on_any_boat};
use harness_core::network::assembly::branches::wire_resistance;
use harness_core::network::assembly::{LoadPoint, Part, SourceCondition};
use harness_core::study::{BoatChoice, Study};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Models drawn.
const MODELS: u64 = 16;
/// Fields of a load by which it states its draw.
const DRAWS: [&str; 3] = ["current_a", "power_w", "resistance_ohm"];

/// How much of everything one boat has.
fn counted(study: &Study) -> BTreeMap<Thing, f64> {
    let model = &study.model;
    let mut found: BTreeMap<Thing, f64> = BTreeMap::new();
    for operating in &study.operating {
        if operating.condition != SourceCondition::Nominal {
            continue;
        }
        let mut amps = BTreeMap::new();
        for (branch, current) in study
            .assembly
            .branches
            .iter()
            .zip(&operating.branch_currents)
        {
            if let Part::Wire(wire) = branch.part {
                amps.insert(wire, current.as_ref().unwrap().value().abs());
            }
        }
        for bundle in &study.bundles {
            let loaded = bundle.wires.iter().filter(|wire| amps[wire] > 1e-3).count();
            let heat = bundle.wires.iter().map(|wire| {
                let ohms = wire_resistance(model, &study.routing, *wire).unwrap();
                let length = study.routing.electrical_length(model, *wire).unwrap();
                amps[wire] * amps[wire] * ohms.value() / length.value()
            });
            most(
                &mut found,
                Thing::LoadedConductors(bundle.run),
                loaded as f64,
            );
            most(&mut found, Thing::Heat(bundle.run), heat.sum());
        }
        for (source, current) in &operating.source_currents {
            most(
                &mut found,
                Thing::Given(*source),
                current.as_ref().unwrap().value(),
            );
        }
    }
    for bundle in &study.bundles {
        let area = bundle.filled_area().unwrap().value();
        most(&mut found, Thing::CrossSection(bundle.run), area);
    }
    places(study, model, &mut found);
    found
}

fn places(study: &Study, model: &BoatModel, found: &mut BTreeMap<Thing, f64>) {
    let (mut taken, mut on_stud) = (BTreeSet::new(), BTreeMap::new());
    for (_, wire) in model.wires.iter() {
        if !wire.fitted_when.holds(&study.boat) {
            continue;
        }
        for pin in [wire.from, wire.to] {
            match pin {
                Pin::Bus(bus, BusPin::Position(position)) => {
                    *on_stud.entry(bus).or_insert(0) += 1;
                    taken.insert((Thing::Positions(bus), position));
                }
                Pin::Cavity(connector, cavity) => {
                    taken.insert((Thing::Cavities(connector), cavity));
                }
                _ => {}
            }
        }
    }
    for (_, device) in model.devices.iter() {
        if let Some((block, position)) = device.fitted_in
            && device.fitted_when.holds(&study.boat)
        {
            taken.insert((Thing::Positions(block), position));
        }
    }
    let things: BTreeSet<Thing> = taken.iter().map(|(thing, _)| *thing).collect();
    for thing in things {
        let count = taken.iter().filter(|(of, _)| *of == thing).count();
        let count = match thing {
            Thing::Positions(bus) if model.buses[bus].positions == 1 => on_stud[&bus],
            _ => count,
        };
        most(found, thing, count as f64);
    }
}

fn most(found: &mut BTreeMap<Thing, f64>, thing: Thing, value: f64) {
    let known = found.entry(thing).or_insert(0.0);
    *known = known.max(value);
}

#[test]
fn no_boat_has_more_and_the_named_one_has_it() {
    let (mut boats, mut things, mut heats, mut exact_heats, mut partly) = (0, 0, 0, 0, 0);
    for seed in 0..MODELS {
        let record = tests::generated::model(130, 4 + (seed % 4) as usize, seed);
        let model = file_format::model(&record).unwrap();
        let study = Study::of(model.clone(), BoatChoice::Every).unwrap();
        let (told, unknown) = most_on_any_boat(&study);
        assert_eq!(unknown, Vec::new(), "seed {seed}");
        let mut expected: BTreeMap<Thing, f64> = BTreeMap::new();
        let mut least: BTreeMap<Thing, f64> = BTreeMap::new();
        for mask in 0..1_u32 << model.options.len() {
            let on = (0..model.options.len()).filter(|bit| mask >> bit & 1 == 1);
            let choice = BoatChoice::Options(on.map(OptionIndex).collect());
            let Ok(boat) = Study::of(model.clone(), choice) else {
                continue;
            };
            boats += 1;
            let counted = counted(&boat);
            for (thing, value) in &counted {
                most(&mut expected, *thing, *value);
            }
            for thing in told.iter().map(|most| most.thing) {
                let here = counted.get(&thing).copied().unwrap_or(0.0);
                let known = least.entry(thing).or_insert(here);
                *known = known.min(here);
            }
        }
        expected.retain(|_, value| *value > 1e-12);
        assert_eq!(
            told.iter().map(|most| most.thing).collect::<BTreeSet<_>>(),
            expected.keys().copied().collect(),
            "seed {seed}"
        );
        for told in &told {
            let greatest = expected[&told.thing];
            let near = 1e-9 * greatest.max(1.0);
            things += 1;
            partly += usize::from(least[&told.thing] < greatest - near);
            if let Thing::Heat(_) = told.thing {
                heats += 1;
                exact_heats += usize::from((told.value - greatest).abs() <= near);
                assert!(
                    told.value <= greatest + near && greatest <= told.bound + near,
                    "seed {seed}, {told:?}: {greatest}"
                );
            } else {
                assert!(
                    (told.value - greatest).abs() <= near,
                    "{told:?}: {greatest}"
                );
                assert!(told.is_proven(), "{told:?}");
            }
            let options = told.boat.options().collect();
            let boat = Study::of(model.clone(), BoatChoice::Options(options)).unwrap();
            let on_it = counted(&boat)[&told.thing];
            assert!(
                (on_it - told.value).abs() <= near,
                "{told:?}: its boat has {on_it}"
            );
        }
    }
    println!(
        "{boats} boats, {things} things, {partly} of them not alike on all boats; heat of {heats} runs, \
         {exact_heats} the greatest"
    );
    assert!(boats > 200 && things > 600 && partly > 200 && exact_heats * 10 > heats * 9);
}

/// Whether every load that runs has the volts it needs, so that all currents are known and what is
/// told of boats with a load of unknown draw holds.
fn all_work(study: &Study) -> bool {
    let nominal = study.operating.iter();
    let mut nominal = nominal.filter(|one| one.condition == SourceCondition::Nominal);
    nominal.all(|operating| {
        operating.loads.iter().all(|(load, point)| match point {
            LoadPoint::NotRunning => true,
            LoadPoint::Supplied(here) => {
                let least = study.model.loads[*load].min_volts;
                least.is_none_or(|least| here.volts >= least)
            }
            _ => false,
        })
    })
}

/// Some loads state no draw, and some of constant power no least volts; banks sag much, so that what
/// one load draws moves the volts of all.
fn undrawn(seed: u64) -> (Value, Vec<usize>) {
    let record = tests::generated::model(130, 4, seed);
    let mut value = serde_json::to_value(&record).unwrap();
    let mut rng = fastrand::Rng::with_seed(seed);
    let mut unknown = Vec::new();
    for (number, load) in value["loads"]
        .as_array_mut()
        .unwrap()
        .iter_mut()
        .enumerate()
    {
        let load = load.as_object_mut().unwrap();
        if rng.u8(..16) == 0 {
            load.retain(|field, _| !DRAWS.contains(&&**field));
            unknown.push(number);
        } else if rng.u8(..16) == 0 {
            load.remove("min_v");
        }
    }
    for source in value["sources"].as_array_mut().unwrap() {
        source["internal_ohm"] = json!(0.03);
    }
    (value, unknown)
}

/// Where loads do not state what they draw: whatever they draw, no boat on which all loads have the
/// volts they need has more than told, what they draw next to nothing is the most there is without
/// them, and what is not told names one of them.
#[test]
fn no_boat_has_more_whatever_a_load_of_unknown_draw_takes() {
    let (mut boats, mut told_beside, mut above, mut not_told_of) = (0, 0, 0, 0);
    for seed in 0..MODELS {
        let (mut value, unknown) = undrawn(seed);
        let read = |value: &Value| file_format::read(&value.to_string()).unwrap();
        let study = Study::of(read(&value), BoatChoice::Every).unwrap();
        let (told, not_told) = most_on_any_boat(&study);
        let whys = unknown.iter().map(|number| {
            let id = value["loads"][number]["id"].as_str().unwrap();
            format!("load {id} states neither current, power nor resistance")
        });
        let whys: Vec<String> = whys.collect();
        for one in &not_told {
            let named = whys.iter().any(|why| one.why.because.contains(why));
            assert!(named, "seed {seed}: {one:?}");
        }
        not_told_of += not_told.len();
        let mut known: BTreeMap<Thing, f64> = BTreeMap::new();
        let mut expected: BTreeMap<Thing, f64> = BTreeMap::new();
        for amps in [1e-6, 2.0, 5.0] {
            for number in &unknown {
                value["loads"][*number]["current_a"] = json!(amps);
            }
            let model = read(&value);
            for mask in 0..1_u32 << model.options.len() {
                let on = (0..model.options.len()).filter(|bit| mask >> bit & 1 == 1);
                let choice = BoatChoice::Options(on.map(OptionIndex).collect());
                let Ok(boat) = Study::of(model.clone(), choice) else {
                    continue;
                };
                if !all_work(&boat) {
                    continue;
                }
                boats += 1;
                for (thing, value) in counted(&boat) {
                    most(&mut expected, thing, value);
                    if amps < 1e-3 {
                        most(&mut known, thing, value);
                    }
                }
            }
        }
        for told in &told {
            let (Thing::Heat(_) | Thing::Given(_)) = told.thing else {
                continue;
            };
            let greatest = expected[&told.thing];
            let near = 1e-9 * greatest.max(1.0);
            assert!(
                greatest <= told.bound + near,
                "seed {seed}, {told:?}: {greatest}"
            );
            if told.beside.is_some() {
                told_beside += 1;
                let without = known[&told.thing];
                assert!(
                    told.value <= without * (1.0 + 1e-4),
                    "seed {seed}, {told:?}: {without}"
                );
                above += usize::from(greatest > told.value * 1.001);
            }
        }
        let both = told.iter().map(|one| one.thing);
        let both: BTreeSet<Thing> = both.chain(not_told.iter().map(|one| one.thing)).collect();
        let all = expected.iter().filter(|(_, value)| **value > 1e-6);
        for (thing, _) in all {
            assert!(both.contains(thing), "seed {seed}: {thing:?}");
        }
    }
    println!(
        "{boats} boats; {told_beside} things beside a load of unknown draw, {above} of them more with it; \
         {not_told_of} not told"
    );
    assert!(boats > 250 && told_beside > 40 && above > 15 && not_told_of > 70);
}

/// A wire of no stated size carries current in its runs all the same.
#[test]
fn a_run_with_a_wire_of_no_size_is_not_told_as_cool() {
    let text = include_str!("../../server/samples/launch-92.json");
    let heats = |text: &str| {
        let study = Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap();
        let (told, not_told) = most_on_any_boat(&study);
        let heat = |thing: Thing| match thing {
            Thing::Heat(run) => Some(study.model.runs.id(run).to_owned()),
            _ => None,
        };
        let told: BTreeSet<String> = told.iter().filter_map(|one| heat(one.thing)).collect();
        let not_told = not_told.iter();
        let not_told: BTreeMap<String, String> = not_told
            .filter_map(|one| Some((heat(one.thing)?, one.why.because.to_string())))
            .collect();
        (told, not_told)
    };
    let (all, none) = heats(text);
    assert_eq!(none, BTreeMap::new());
    let mut value: Value = serde_json::from_str(text).unwrap();
    let mut wires = value["wires"].as_array_mut().unwrap().iter_mut();
    let wire = wires.find(|wire| wire["circuit"] == "41").unwrap();
    let id = wire["id"].as_str().unwrap().to_owned();
    wire.as_object_mut().unwrap().remove("size");
    let (told, not_told) = heats(&value.to_string());
    assert!(!not_told.is_empty());
    for (run, why) in &not_told {
        assert!(why.contains(&id), "{run}: {why}");
        assert!(all.contains(run) && !told.contains(run), "{run}");
    }
    assert_eq!(told.len() + not_told.len(), all.len());
}

/// Jackets count once: on the demo model, which has them, no boat that is worst for something
/// fills a run more than told, and the named boat fills it so.
#[test]
fn jackets_count_as_the_rules_count_them() {
    let text = include_str!("../../server/samples/launch-92.json");
    let study = Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap();
    let jacketed = |(_, wire): (_, &harness_core::model::Wire)| {
        let cable = wire.cable.map(|cable| &study.model.cables[cable]);
        cable.is_some_and(|cable| cable.outside_diameter.is_some())
    };
    assert!(study.model.wires.iter().any(jacketed));
    let area = |study: &Study, run| {
        let bundle = study.bundles.iter().find(|bundle| bundle.run == run);
        bundle.unwrap().filled_area().unwrap().value()
    };
    let every = study.every.as_ref().unwrap();
    let boats: Vec<Study> = every
        .candidates
        .boats
        .iter()
        .map(|boat| study.with_boat(boat))
        .collect();
    let (told, _) = most_on_any_boat(&study);
    let mut runs = 0;
    for told in &told {
        let Thing::CrossSection(run) = told.thing else {
            continue;
        };
        runs += 1;
        let near = 1e-9 * told.value;
        let on_it = area(&study.with_boat(&told.boat), run);
        assert!((on_it - told.value).abs() <= near, "{told:?}: {on_it}");
        for boat in &boats {
            assert!(area(boat, run) <= told.value + near, "{told:?}");
        }
    }
    assert!(runs > 40, "{runs}");
}
