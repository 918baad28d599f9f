//! Sizing all conductors at once against every boat that can be ordered, on models small enough
//! to list them.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::boats::{Boat, OptionIndex};
use harness_core::sizing::least_copper::solve_with;
use tests::sized_boats::{OHM_MM2_PER_M, Plan, SizedBoats};

const SMALL_MODELS: u64 = 24;

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

/// Every boat that can be ordered.
fn every_boat(model: &SizedBoats) -> impl Iterator<Item = Boat> {
    let count = model.options.count();
    let boats = (0..1usize << count).map(move |mask| -> Boat {
        let fitted = (0..count).filter(|option| mask >> option & 1 == 1);
        fitted.map(OptionIndex).collect()
    });
    boats.filter(|boat| model.options.allow(boat))
}
