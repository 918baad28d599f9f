//! Sizing all conductors at once: beside HiGHS on committed instances, and against every boat
//! that can be ordered on models small enough to list them.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::{Boat, OptionIndex};
use harness_core::sizing::least_copper::{solve, solve_with};
use tests::sized_boats::{OHM_MM2_PER_M, Plan, SizedBoats};
use tests::sizing_facts::{self, Committed, SEEDS};

/// Most mass beside the best that HiGHS finds.
const MOST_BESIDE_HIGHS: f64 = 1.01;
/// How exactly HiGHS meets rows and sums masses.
const HIGHS_TOLERANCE: f64 = 1e-5;
const SMALL_MODELS: u64 = 24;

#[test]
fn mass_and_bound_stand_beside_those_of_highs() {
    let results = sizing_facts::results();
    let seeds: Vec<_> = results.results.iter().map(|found| found.seed).collect();
    assert_eq!(seeds, SEEDS);
    assert!(results.program.starts_with("HiGHS ") && results.time_limit_s == 45.0);
    for found in results.results {
        let instance = sizing_facts::instance(found.seed).instance();
        let answer = solve(&instance).unwrap();
        let (kg, bound_kg) = (answer.sizes.mass_kg, answer.at_least_kg);
        assert!(
            instance
                .rows
                .iter()
                .all(|row| row.is_met(&answer.sizes.areas_mm2))
        );
        println!(
            "{}: {kg:.4} kg, at least {bound_kg:.4}, gap {:.2} %; {}: {:.4}, at least {:.4}",
            found.seed,
            100.0 * answer.gap(),
            results.program,
            found.best_kg,
            found.bound_kg
        );
        assert!(kg <= MOST_BESIDE_HIGHS * found.best_kg, "{}", found.seed);
        assert!(
            bound_kg <= found.best_kg * (1.0 + HIGHS_TOLERANCE),
            "{}",
            found.seed
        );
        assert!(
            found.bound_kg <= kg * (1.0 + HIGHS_TOLERANCE),
            "{}",
            found.seed
        );
    }
}

#[test]
fn committed_instances_are_those_of_the_generator() {
    for seed in SEEDS {
        let committed = sizing_facts::instance(seed);
        let model = SizedBoats::generate(sizing_facts::plan(seed));
        let fresh = Committed::of(seed, &model, &model.instance());
        assert_eq!(committed.segments, fresh.segments, "{seed}");
        assert!((40..=70).contains(&committed.rows.len()), "{seed}");
    }
}

/// Every boat that can be ordered.
fn every_boat(model: &SizedBoats) -> impl Iterator<Item = Boat> {
    let count = model.options.count();
    let boats = (0..1usize << count).map(move |mask| -> Boat {
        let fitted = (0..count).filter(|option| mask >> option & 1 == 1);
        fitted.map(OptionIndex).collect()
    });
    boats.filter(|boat| model.options.allow(boat))
}

#[test]
fn no_boat_that_can_be_ordered_breaks_a_limit() {
    let (mut listed, mut sized_up, mut tightest_v) = (0, 0, f64::INFINITY);
    for seed in 0..SMALL_MODELS {
        let plan = Plan {
            seed,
            options: 16,
            loads: 24,
            junctions: 20,
        };
        let mut model = SizedBoats::generate(plan);
        let mut instance = model.instance();
        let answer = solve_with(&mut instance, |sizes| model.broken(&sizes.areas_mm2)).unwrap();
        let areas_mm2 = &answer.sizes.areas_mm2;
        for boat in every_boat(&model) {
            // Straight from the current in every segment, not by rows.
            let mut volts = vec![0.0; areas_mm2.len()];
            for load in model.loads.iter().filter(|load| load.is_on(&boat)) {
                for &segment in &load.path {
                    let ohms = OHM_MM2_PER_M * model.lengths_m[segment] / areas_mm2[segment];
                    volts[segment] += ohms * load.current_a;
                }
            }
            for (index, load) in model.loads.iter().enumerate() {
                let drop_v: f64 = load.path.iter().map(|segment| volts[*segment]).sum();
                if load.is_on(&boat) {
                    let left_v = load.limit_v - drop_v;
                    assert!(
                        left_v >= -1e-12,
                        "{seed}: load {index} on {boat:?}: {drop_v} V"
                    );
                    tightest_v = left_v.min(tightest_v);
                }
            }
            listed += 1;
        }
        sized_up += answer
            .sizes
            .choices
            .iter()
            .filter(|choice| **choice > 0)
            .count();
        println!(
            "{seed}: {} rows in {} rounds, {:.3} kg, gap {:.2} %",
            instance.rows.len(),
            answer.rounds,
            answer.sizes.mass_kg,
            100.0 * answer.gap()
        );
    }
    println!("{listed} boats, the tightest {tightest_v:.1e} V within its limit");
    // The limits bind: sizes go up for them, and some drop comes close.
    assert!(listed > 1000 && sized_up > 200 && tightest_v < 1e-3);
}
