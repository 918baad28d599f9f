//! Laws that hold for every study, whatever the model: currents sum to zero, power balances,
//! thicker wire never drops more, no path is shorter than the one taken, what was written reads
//! back the same.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::Boat;
use harness_core::file_format::{self, ModelRecord};
use harness_core::model::BoatModel;
use harness_core::network::assembly::{Assembly, LoadPoint, Operating, SourceCondition};
use harness_core::routing::Routing;
use harness_core::study::{BoatChoice, Study};
use harness_core::units::WireSize;
use std::collections::BTreeMap;

/// Largest sum of currents at a node that is rounding: a part in 1e9 of a boat's hundreds of
/// ampere, far below what anyone can measure.
const CURRENT_RESIDUAL_A: f64 = 1e-6;
/// Largest difference of power that is rounding.
const POWER_RESIDUAL_W: f64 = 1e-4;

fn samples() -> Vec<ModelRecord> {
    [
        include_str!("../../server/samples/launch-92.json"),
        include_str!("../../server/samples/tender-56.json"),
    ]
    .into_iter()
    .map(|text| file_format::read_record(text).unwrap())
    .collect()
}

fn records() -> Vec<ModelRecord> {
    let mut records = samples();
    records.extend((1..=6).map(|seed| tests::generated::model(300, 12, seed)));
    records
}

fn study(record: &ModelRecord) -> Study {
    Study::of(file_format::model(record).unwrap(), BoatChoice::Fullest).unwrap()
}

#[test]
fn currents_sum_to_zero_and_power_balances_after_every_solve() {
    let mut solves = 0;
    for record in records() {
        let study = study(&record);
        for operating in &study.operating {
            for balance in &operating.balances {
                let (amps, watts) = (
                    balance.current_residual.value(),
                    balance.power_residual.value(),
                );
                assert!(
                    amps.abs() < CURRENT_RESIDUAL_A,
                    "{}: {amps} A",
                    study.model.name
                );
                assert!(
                    watts.abs() < POWER_RESIDUAL_W,
                    "{}: {watts} W",
                    study.model.name
                );
                solves += 1;
            }
        }
    }
    assert!(solves > 50, "only {solves} solves");
}

#[test]
fn the_volts_lost_along_a_way_are_the_drop() {
    let mut ways = 0;
    for record in records() {
        let study = study(&record);
        for operating in &study.operating {
            for point in operating.loads.values() {
                let LoadPoint::Supplied(supplied) = point else {
                    continue;
                };
                let along: f64 = supplied
                    .feed
                    .iter()
                    .chain(&supplied.back)
                    .map(|s| s.lost.value())
                    .sum();
                let difference = along - supplied.drop().value();
                assert!(
                    difference.abs() < 1e-9,
                    "{}: {difference} V",
                    study.model.name
                );
                ways += 1;
            }
        }
    }
    assert!(ways > 1000, "only {ways} ways");
}

/// The next thicker gauge of the trade series.
fn thicker(size: WireSize) -> Option<WireSize> {
    let row = harness_core::tables::conductors::row(size)?;
    harness_core::tables::conductors::stocked(size.series())
        .find(|other| other.area.value > row.area.value)
        .map(|other| other.size)
}

fn drops(model: &BoatModel) -> BTreeMap<(usize, usize), f64> {
    let routing = Routing::of(model);
    let boat = Study::of(model.clone(), BoatChoice::Fullest).unwrap().boat;
    let assembly = Assembly::of(model, &routing, &boat);
    let mut drops = BTreeMap::new();
    for (number, state) in model.states.indices().enumerate() {
        let operating: Operating = assembly.operate(model, Some(state), SourceCondition::Nominal);
        for (load, point) in operating.loads {
            if let LoadPoint::Supplied(supplied) = point {
                drops.insert((number, load.number()), supplied.drop().value());
            }
        }
    }
    drops
}

#[test]
fn a_thicker_wire_never_makes_a_load_lose_more() {
    // Holds for all loads where each system has one source and no load is a resistance: two
    // sources share current anew when a wire between them changes, and a resistance that gets
    // more volts draws more through what it shares with its neighbors. So the models are those
    // with one source a system, and each resistance becomes the current it draws at 12 V.
    let mut models = vec![samples().remove(1)];
    models.extend((1..=3).map(|seed| tests::generated::model(200, 8, seed)));
    let mut changed = 0;
    for mut record in models {
        for load in &mut record.loads {
            if let Some(ohms) = load.resistance_ohm.take() {
                load.current_a = Some(12.0 / ohms);
            }
        }
        changed += thicken_wires(record);
    }
    assert!(changed > 30, "only {changed} wires were changed");
}

/// Thickens up to 15 wires of a model one at a time, holds the law, and counts them.
fn thicken_wires(mut record: ModelRecord) -> usize {
    let before = drops(&file_format::model(&record).unwrap());
    let mut generator = fastrand::Rng::with_seed(7);
    let mut changed = 0;
    for _ in 0..15 {
        let wire = generator.usize(..record.wires.len());
        let stated = record.wires[wire].size.clone();
        let size = stated
            .as_deref()
            .and_then(|text| text.parse::<WireSize>().ok());
        let Some(up) = size.and_then(thicker) else {
            continue;
        };
        record.wires[wire].size = Some(up.to_string());
        let after = drops(&file_format::model(&record).unwrap());
        for (key, drop) in &after {
            assert!(
                *drop <= before[key] + 1e-9,
                "{}: wire {} from {size:?} to {up}: load {key:?} loses {drop} V, before {} V",
                record.name,
                record.wires[wire].id,
                before[key]
            );
        }
        record.wires[wire].size = stated;
        changed += 1;
    }
    changed
}

#[test]
fn no_other_path_is_shorter() {
    // Reference: shortest distances between all points by Floyd and Warshall, written out.
    for record in records().iter().take(4) {
        let model = file_format::model(record).unwrap();
        let routing = Routing::of(&model);
        let count = model.points.len();
        let mut distance = vec![vec![f64::INFINITY; count]; count];
        for (at, row) in distance.iter_mut().enumerate() {
            row[at] = 0.0;
        }
        for (index, run) in model.runs.iter().filter(|(_, run)| !run.closed_to_wires) {
            let length = routing.run_lengths[index.number()]
                .as_ref()
                .unwrap()
                .value();
            let (a, b) = (run.from.number(), run.to.number());
            distance[a][b] = distance[a][b].min(length);
            distance[b][a] = distance[b][a].min(length);
        }
        for over in 0..count {
            let through = distance[over].clone();
            for row in &mut distance {
                let to_over = row[over];
                for (to, known) in row.iter_mut().enumerate() {
                    *known = known.min(to_over + through[to]);
                }
            }
        }
        let mut routed = 0;
        for (wire, stated) in model.wires.iter() {
            let Ok(path) = routing.path(wire) else {
                continue;
            };
            if !stated.avoid.is_empty() || !stated.through.is_empty() {
                continue;
            }
            let end = path.points(&model).last().copied().unwrap();
            let shortest = distance[path.from.number()][end.number()];
            assert!(
                (path.length.value() - shortest).abs() < 1e-9,
                "{}",
                stated.id
            );
            routed += 1;
        }
        assert!(routed > 10);
    }
}

#[test]
fn a_bare_boat_of_the_demo_is_judged_too() {
    let study = study(&samples()[1]);
    let bare = Assembly::of(&study.model, &study.routing, &Boat::bare());
    assert!(bare.branches.len() <= study.assembly.branches.len());
    assert!(!bare.loads.is_empty());
}

#[test]
fn what_was_written_reads_back_the_same() {
    for record in records() {
        let model = file_format::model(&record).unwrap();
        let text = file_format::write(&model);
        let again = file_format::read(&text).unwrap();
        assert_eq!(model, again);
        assert_eq!(text, file_format::write(&again));
    }
}
