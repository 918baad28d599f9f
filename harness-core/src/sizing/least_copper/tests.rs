//! Answers against listing every combination of sizes, and the corners of what may be asked.

use super::*;

const INSTANCES: u64 = 600;

fn segment(choices: &[(f64, f64)]) -> Segment {
    let choice = |&(area_mm2, mass_kg)| Choice { area_mm2, mass_kg };
    Segment {
        choices: choices.iter().map(choice).collect(),
    }
}

fn row(terms: &[(usize, f64)], limit_v: f64) -> Row {
    let term = |&(segment, volts_mm2)| Term { segment, volts_mm2 };
    Row {
        terms: terms.iter().map(term).collect(),
        limit_v,
        ..Row::default()
    }
}

/// Segments with the sizes 1, 2 and 4 mm2 of 1, 2 and 4 kg.
fn plain(segments: usize, rows: Vec<Row>) -> Instance {
    Instance {
        segments: vec![segment(&[(1.0, 1.0), (2.0, 2.0), (4.0, 4.0)]); segments],
        tied: Vec::new(),
        rows,
    }
}

/// Up to six segments with up to five sizes each, some tied, and up to six rows over some of
/// them; limits anywhere from out of reach to met by the smallest sizes.
fn random_instance(rng: &mut fastrand::Rng) -> Instance {
    let series = [0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0];
    let count = rng.usize(2..=6);
    let segments: Vec<_> = (0..count)
        .map(|_| {
            let length_m = 0.2 + 5.0 * rng.f64();
            let first = rng.usize(..4);
            let sizes = &series[first..first + rng.usize(2..=5)];
            let uneven = rng.bool();
            let choice = |&area_mm2: &f64| {
                let factor = if uneven { 0.8 + 0.4 * rng.f64() } else { 1.0 };
                let mass_kg = 0.00889 * length_m * area_mm2 * factor;
                Choice { area_mm2, mass_kg }
            };
            Segment {
                choices: sizes.iter().map(choice).collect(),
            }
        })
        .collect();
    let largest = |s: &usize| segments[*s].choices.last().unwrap().area_mm2;
    let rows = (0..rng.usize(1..=6))
        .map(|load| {
            let on: Vec<_> = (0..count).filter(|_| rng.usize(..3) > 0).collect();
            let terms: Vec<_> = on.iter().map(|&s| (s, 0.05 + 2.0 * rng.f64())).collect();
            let with = |area: &dyn Fn(usize) -> f64| -> f64 {
                terms.iter().map(|&(s, volts)| volts / area(s)).sum()
            };
            let least = with(&|s| largest(&s));
            let most = with(&|s| segments[s].choices[0].area_mm2);
            let constant_v = if rng.bool() { 0.0 } else { rng.f64() };
            let share = -0.02 + 0.9 * rng.f64();
            Row {
                load,
                constant_v,
                ..row(&terms, constant_v + least + (most - least) * share)
            }
        })
        .collect();
    let tied = if rng.usize(..3) == 0 {
        vec![vec![0, count - 1]]
    } else {
        Vec::new()
    };
    Instance {
        segments,
        tied,
        rows,
    }
}

/// Calls `see` with the areas and the mass of every combination that the ties allow.
fn every_combination(instance: &Instance, mut see: impl FnMut(&[f64], f64)) {
    let mut choices = vec![0; instance.segments.len()];
    loop {
        let chosen = || {
            choices
                .iter()
                .zip(&instance.segments)
                .map(|(&c, s)| s.choices[c])
        };
        let areas_mm2: Vec<_> = chosen().map(|c| c.area_mm2).collect();
        let same = |group: &Vec<usize>| group.iter().all(|&s| areas_mm2[s] == areas_mm2[group[0]]);
        if instance.tied.iter().all(same) {
            see(&areas_mm2, chosen().map(|c| c.mass_kg).sum());
        }
        let step =
            (0..choices.len()).find(|&s| choices[s] + 1 < instance.segments[s].choices.len());
        let Some(step) = step else { return };
        choices[..step].fill(0);
        choices[step] += 1;
    }
}

fn meets_all(instance: &Instance, areas_mm2: &[f64]) -> bool {
    instance.rows.iter().all(|row| row.is_met(areas_mm2))
}

fn least_mass(instance: &Instance) -> Option<f64> {
    let mut least: Option<f64> = None;
    every_combination(instance, |areas_mm2, mass_kg| {
        if meets_all(instance, areas_mm2) {
            least = Some(least.map_or(mass_kg, |so_far| so_far.min(mass_kg)));
        }
    });
    least
}

/// That the sizes are among those offered, in step with each other, and meet every row.
fn assert_consistent(instance: &Instance, answer: &LeastCopper) {
    let sizes = &answer.sizes;
    let mut mass_kg = 0.0;
    for (segment, stated) in instance.segments.iter().enumerate() {
        let choice = stated.choices[sizes.choices[segment]];
        assert_eq!(choice.area_mm2, sizes.areas_mm2[segment]);
        mass_kg += choice.mass_kg;
    }
    assert!((sizes.mass_kg - mass_kg).abs() < 1e-12);
    for group in &instance.tied {
        assert!(
            group
                .iter()
                .all(|&s| sizes.areas_mm2[s] == sizes.areas_mm2[group[0]])
        );
    }
    assert!(
        meets_all(instance, &sizes.areas_mm2),
        "{instance:?} {sizes:?}"
    );
}

/// That what is said to govern a segment does: all lighter smaller sizes break that row.
fn assert_governed(instance: &Instance, answer: &LeastCopper) {
    let sizes = &answer.sizes;
    for (segment, governed) in answer.governed_by.iter().enumerate() {
        let alone = vec![segment];
        let group = instance.tied.iter().find(|group| group.contains(&segment));
        let group = group.unwrap_or(&alone);
        let mass = |area: f64| -> Option<f64> {
            let choice = |&s: &usize| {
                let found = instance.segments[s]
                    .choices
                    .iter()
                    .find(|c| c.area_mm2 == area);
                found.map(|c| c.mass_kg)
            };
            group.iter().map(choice).sum()
        };
        let now = sizes.areas_mm2[segment];
        let smaller = instance.segments[segment]
            .choices
            .iter()
            .map(|c| c.area_mm2);
        let lighter = smaller
            .filter(|&area| area < now && mass(area).is_some_and(|kg| kg < mass(now).unwrap()));
        for area in lighter {
            let GovernedBy::Row(row) = *governed else {
                panic!("segment {segment} could take {area}: {instance:?} {answer:?}")
            };
            let mut areas_mm2 = sizes.areas_mm2.clone();
            for &member in group {
                areas_mm2[member] = area;
            }
            assert!(
                !instance.rows[row].is_met(&areas_mm2),
                "{instance:?} {answer:?}"
            );
        }
    }
}

#[test]
fn answers_hold_against_every_combination() {
    let (mut feasible, mut best, mut proven) = (0, 0, 0);
    let (mut excess, mut worst, mut gap) = (0.0, 0.0_f64, 0.0);
    for seed in 0..INSTANCES {
        let instance = random_instance(&mut fastrand::Rng::with_seed(seed));
        let least = match (solve(&instance), instance.faults(0).is_empty()) {
            (Err(NotSized::Malformed(faults)), false) => {
                assert!(
                    matches!(faults[..], [Fault::NothingShared { group: 0 }]),
                    "{faults:?}"
                );
                continue;
            }
            (Err(NotSized::OutOfReach(rows)), true) => {
                assert_eq!(least_mass(&instance), None, "{instance:?}");
                let largest_mm2 = instance.largest_mm2();
                let over = (0..instance.rows.len())
                    .filter(|&row| !instance.rows[row].is_met(&largest_mm2));
                assert!(over.eq(rows.iter().map(|row| row.row)));
                continue;
            }
            (Ok(answer), true) => {
                assert_consistent(&instance, &answer);
                assert_governed(&instance, &answer);
                let least = least_mass(&instance).unwrap();
                assert!(answer.at_least_kg <= least, "{seed}: {least} {answer:?}");
                assert!(answer.sizes.mass_kg >= least - 1e-12);
                proven += usize::from(answer.gap() < 1e-8);
                gap += answer.gap();
                answer.sizes.mass_kg / least - 1.0
            }
            other => panic!("{instance:?} {other:?}"),
        };
        feasible += 1;
        best += usize::from(least < 1e-9);
        excess += least;
        worst = worst.max(least);
    }
    let (mean, gap) = (excess / f64::from(feasible), gap / f64::from(feasible));
    println!(
        "{feasible} instances: {best} at the least mass, mean {:.4} % above it, worst {:.3} %; \
         {proven} proven, mean gap {:.2} %",
        100.0 * mean,
        100.0 * worst,
        100.0 * gap,
    );
    assert!(feasible >= 400);
    assert!(mean < 0.01 && worst < 0.1);
}

#[test]
fn rows_found_on_the_way_come_to_the_same_as_rows_stated_before() {
    let mut solved = 0;
    for seed in 0..INSTANCES {
        let stated = random_instance(&mut fastrand::Rng::with_seed(seed));
        let mut found = Instance {
            rows: Vec::new(),
            ..stated.clone()
        };
        let broken = |sizes: &Sizes| -> Vec<Row> {
            let over = |row: &&Row| !row.is_met(&sizes.areas_mm2);
            stated.rows.iter().find(over).into_iter().cloned().collect()
        };
        match (solve_with(&mut found, broken), solve(&stated)) {
            (Ok(on_the_way), Ok(_)) => {
                assert_consistent(&stated, &on_the_way);
                assert_governed(&found, &on_the_way);
                assert!(on_the_way.at_least_kg <= least_mass(&stated).unwrap());
                assert!(on_the_way.rounds > found.rows.len());
                solved += 1;
            }
            (Err(NotSized::OutOfReach(rows)), Err(NotSized::OutOfReach(_))) => {
                let row = &found.rows[rows[0].row];
                assert!(stated.rows.contains(row));
            }
            (Err(NotSized::Malformed(_)), Err(NotSized::Malformed(_))) => {}
            other => panic!("{stated:?} {other:?}"),
        }
    }
    assert!(solved >= 400);
}

#[test]
fn a_drop_just_at_its_limit_is_met() {
    // 1/2 + 1/2 = 1; a quarter more on one side would be 1/1 + 1/4 and more mass.
    let answer = solve(&plain(2, vec![row(&[(0, 1.0), (1, 1.0)], 1.0)])).unwrap();
    assert_eq!(answer.sizes.areas_mm2, [2.0, 2.0]);
    assert_eq!(answer.sizes.mass_kg, 4.0);
    assert_eq!(answer.governed_by, [GovernedBy::Row(0); 2]);
}

#[test]
fn a_drop_over_its_limit_by_rounding_alone_is_not_met() {
    // 0.1 + 0.2 is over 0.3 in the last digit.
    let answer = solve(&plain(2, vec![row(&[(0, 0.1), (1, 0.2)], 0.3)])).unwrap();
    assert_eq!(answer.sizes.mass_kg, 3.0);
}

#[test]
fn without_rows_everything_is_at_its_least() {
    let answer = solve(&plain(3, Vec::new())).unwrap();
    assert_eq!(answer.sizes.choices, [0; 3]);
    assert_eq!(answer.governed_by, [GovernedBy::LeastSize; 3]);
    assert!(answer.gap() < 1e-12);
    let nothing = solve(&Instance::default()).unwrap();
    assert_eq!((nothing.sizes.mass_kg, nothing.gap()), (0.0, 0.0));
}

#[test]
fn tied_segments_share_the_sizes_that_all_of_them_take() {
    let mut instance = plain(3, vec![row(&[(0, 1.0)], 0.6)]);
    instance.segments[1] = segment(&[(2.0, 20.0), (3.0, 30.0), (4.0, 40.0)]);
    instance.tied = vec![vec![0, 1], Vec::new()];
    let answer = solve(&instance).unwrap();
    assert_eq!(answer.sizes.areas_mm2, [2.0, 2.0, 1.0]);
    assert_eq!(answer.sizes.choices, [1, 0, 0]);
    // The row asks for no more than what they share.
    assert_eq!(answer.governed_by, [GovernedBy::LeastSize; 3]);
}

#[test]
fn rows_out_of_reach_are_named_with_what_the_largest_sizes_leave() {
    let mut instance = plain(
        2,
        vec![row(&[(0, 1.0)], 0.3), row(&[(0, 1.0), (1, 1.0)], 0.4)],
    );
    instance.rows.push(Row {
        constant_v: 2.0,
        ..row(&[], 1.0)
    });
    let out_of_reach = |row, least_drop_v, limit_v| OutOfReach {
        row,
        least_drop_v,
        limit_v,
    };
    let expected = vec![out_of_reach(1, 0.5, 0.4), out_of_reach(2, 2.0, 1.0)];
    let refused = solve(&instance).unwrap_err();
    assert_eq!(refused, NotSized::OutOfReach(expected));
    assert!(
        refused
            .to_string()
            .contains("row 2: 0.5000 V, limit 0.4000 V")
    );
}

#[test]
fn what_means_nothing_is_refused_with_every_fault() {
    let mut instance = plain(4, vec![row(&[(0, -1.0)], 1.0), row(&[(9, 1.0)], f64::NAN)]);
    instance.segments[1] = segment(&[]);
    instance.segments[2] = segment(&[(1.0, 1.0), (1.0, 2.0), (2.0, f64::INFINITY)]);
    instance.segments[3] = segment(&[(3.0, 1.0)]);
    instance.tied = vec![vec![0, 7], vec![0, 3]];
    let Err(NotSized::Malformed(faults)) = solve(&instance) else {
        panic!("accepted")
    };
    let expected = [
        Fault::NoChoice { segment: 1 },
        Fault::BadChoice {
            segment: 2,
            choice: 1,
        },
        Fault::BadChoice {
            segment: 2,
            choice: 2,
        },
        Fault::UnknownTied {
            group: 0,
            segment: 7,
        },
        Fault::NothingShared { group: 1 },
        Fault::TiedTwice { segment: 0 },
        Fault::BadRow { row: 0 },
        Fault::UnknownSegment { row: 1, segment: 9 },
        Fault::BadRow { row: 1 },
    ];
    assert_eq!(faults, expected);
    let later = solve_with(&mut plain(1, Vec::new()), |_| vec![row(&[(1, 1.0)], 1.0)]);
    let unknown = Fault::UnknownSegment { row: 0, segment: 1 };
    assert_eq!(later, Err(NotSized::Malformed(vec![unknown])));
}

#[test]
fn rows_that_are_met_already_end_the_rounds() {
    let mut instance = plain(1, Vec::new());
    let answer = solve_with(&mut instance, |_| vec![row(&[(0, 1.0)], 1.0)]).unwrap();
    assert_eq!((answer.rounds, instance.rows.len()), (1, 0));
}

#[test]
fn rows_without_end_are_given_up() {
    let sizes: Vec<_> = (1..=2 * MOST_ROUNDS)
        .map(|n| (n as f64, n as f64))
        .collect();
    let mut instance = Instance {
        segments: vec![segment(&sizes)],
        ..Instance::default()
    };
    let stricter = |sizes: &Sizes| vec![row(&[(0, 1.0)], 1.0 / (sizes.areas_mm2[0] + 1.0))];
    let given_up = solve_with(&mut instance, stricter);
    assert_eq!(
        given_up,
        Err(NotSized::NotSettled {
            rounds: MOST_ROUNDS
        })
    );
    assert_eq!(instance.rows.len(), MOST_ROUNDS);
}
