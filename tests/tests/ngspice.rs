//! Node volts of the core against ngspice: committed results, and live on fresh networks.
//!
//! `UPDATE_FACTS=1` solves the committed networks anew; `REQUIRE_NGSPICE=1` makes a missing
//! ngspice a failure instead of a message.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use std::path::PathBuf;

use harness_core::network::{Outcome, Prepared, Scratch};
use tests::network_checks::{NGSPICE_TOLERANCE, against_ngspice, largest_relative_difference};
use tests::network_facts::{self, GUARD, Reference, Run};
use tests::networks::{Case, Plan, Shape, generate};
use tests::ngspice;

/// Numbers of loads of the committed networks, for each shape.
const LOADS: [usize; 12] = [3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 20, 30];
/// Factor that makes one load ask for more than any wire gives it.
const OVERLOAD: f64 = 60.0;
/// How far from the largest possible share both programs must agree that the loads do or do
/// not get their power.
const NEAR: f64 = 0.02;

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.cir"))
}

/// The version installed; without one, a message or, where it is required, a failure.
fn installed() -> Option<String> {
    let version = ngspice::version();
    if version.is_none() {
        let required = std::env::var("REQUIRE_NGSPICE").is_ok_and(|value| value == "1");
        assert!(!required, "REQUIRE_NGSPICE=1, but ngspice is not on PATH");
        println!("skipped: ngspice not installed");
    }
    version
}

fn run_ngspice(case: &Case, power_share: f64, name: &str) -> Run {
    let netlist = ngspice::netlist(&case.network, GUARD * case.nominal_v, power_share);
    let node_volts = ngspice::node_volts(&case.network, &netlist, &file(name))
        .unwrap_or_else(|| panic!("{name}: ngspice finds no operating point"));
    Run {
        power_share,
        node_volts,
    }
}

fn reference(id: usize, plan: Plan, program: &str) -> Reference {
    let case = generate(plan);
    let mut shares = vec![1.0];
    if plan.overload > 1.0 {
        let prepared = Prepared::new(&case.network).expect("no fault");
        let outcome = prepared.solve(&mut Scratch::default());
        let Outcome::NoOperatingPoint(collapse) = outcome else {
            panic!("{id}: {outcome:?}")
        };
        let near = |factor: f64| (collapse.share * factor * 1e4).round() / 1e4;
        shares = vec![near(1.0 - NEAR), near(1.0 + NEAR), 1.0];
    }
    let runs = shares
        .into_iter()
        .map(|share| run_ngspice(&case, share, &format!("facts-{id}")))
        .collect();
    Reference {
        id,
        shape: plan.shape.name().to_owned(),
        program: program.to_owned(),
        nominal_v: case.nominal_v,
        network: case.network,
        runs,
    }
}

fn committed_plans() -> Vec<Plan> {
    let shapes = || Shape::ALL.into_iter();
    let sizes = |shape| {
        LOADS.iter().enumerate().map(move |(seed, &loads)| Plan {
            shape,
            seed: seed as u64,
            loads,
            constant_power: true,
            overload: 1.0,
        })
    };
    let overloaded = |shape| {
        (100..102).map(move |seed| Plan {
            shape,
            seed,
            loads: 12,
            constant_power: true,
            overload: OVERLOAD,
        })
    };
    shapes()
        .flat_map(sizes)
        .chain(shapes().flat_map(overloaded))
        .collect()
}

#[test]
fn the_core_agrees_with_the_committed_results() {
    if std::env::var("UPDATE_FACTS").is_ok_and(|value| value == "1") {
        let program = ngspice::version().expect("UPDATE_FACTS=1 needs ngspice on PATH");
        let plans = committed_plans();
        let solved: Vec<Reference> = plans
            .into_iter()
            .enumerate()
            .map(|(index, plan)| reference(index + 1, plan, &program))
            .collect();
        network_facts::write(&solved);
    }
    let references = network_facts::read();
    let mut solved = 0;
    let mut collapsed = 0;
    for reference in &references {
        for run in &reference.runs {
            let row = against_ngspice(reference, run);
            assert!(row.is_within(), "{row:#?}");
            if reference.collapsed_load(run).is_some() {
                collapsed += 1;
            } else {
                solved += 1;
            }
        }
    }
    println!(
        "{} networks: {solved} solved, {collapsed} without operating point",
        references.len()
    );
    assert!(references.len() >= 60 && solved >= 60 && collapsed >= 20);
}

#[test]
fn the_core_agrees_with_ngspice_on_fresh_networks() {
    let Some(program) = installed() else { return };
    let mut worst: f64 = 0.0;
    let mut runs = 0;
    for shape in Shape::ALL {
        for seed in 1000..1010 {
            let loads = 3 + (seed as usize * 7) % 40;
            let plan = Plan {
                shape,
                seed,
                loads,
                constant_power: true,
                overload: 1.0,
            };
            let case = generate(plan);
            let theirs = run_ngspice(&case, 1.0, &format!("live-{}-{seed}", shape.name()));
            let outcome = Prepared::new(&case.network)
                .expect("no fault")
                .solve(&mut Scratch::default());
            let Outcome::Solved(ours) = outcome else {
                panic!("{plan:?}: {outcome:?}")
            };
            let ours: Vec<f64> = ours.node_volts.iter().map(|volts| volts.value()).collect();
            let difference = largest_relative_difference(&case.network, &ours, &theirs.node_volts);
            assert!(difference <= NGSPICE_TOLERANCE, "{plan:?}: {difference:e}");
            worst = worst.max(difference);
            runs += 1;
        }
        for seed in 2000..2003 {
            let plan = Plan {
                shape,
                seed,
                loads: 15,
                constant_power: true,
                overload: OVERLOAD,
            };
            let reference = reference(0, plan, &program);
            for run in &reference.runs {
                let row = against_ngspice(&reference, run);
                assert!(row.is_within(), "{plan:?}: {row:#?}");
                runs += 1;
            }
        }
    }
    println!("{program}: {runs} runs, largest relative difference {worst:.1e}");
}
