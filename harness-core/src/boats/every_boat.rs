//! Everything the diagram answers against the plain way: list all 2^n boats and look at each.

mod effort;
mod groups;
mod many_options;

use super::*;
use num_bigint::BigUint;

const MODELS: u64 = 400;

fn boat_of(mask: usize, count: usize) -> Boat {
    (0..count)
        .filter(|bit| mask >> bit & 1 == 1)
        .map(OptionIndex)
        .collect()
}

fn any_option(rng: &mut fastrand::Rng, count: usize) -> OptionIndex {
    OptionIndex(rng.usize(..count))
}

fn random_group(rng: &mut fastrand::Rng, count: usize) -> Vec<OptionIndex> {
    let size = rng.usize(1..=count.min(5));
    (0..size).map(|_| any_option(rng, count)).collect()
}

fn random_options(rng: &mut fastrand::Rng) -> Options {
    let count = rng.usize(1..=14);
    let rules = (0..rng.usize(..=2 * count))
        .map(|_| {
            let (a, b) = (any_option(rng, count), any_option(rng, count));
            match rng.usize(..24) {
                0..8 => OptionRule::Requires(a, b),
                8..13 => OptionRule::Excludes(a, b),
                13..16 => OptionRule::ExactlyOneOf(random_group(rng, count)),
                16..19 => OptionRule::AtMostOneOf(random_group(rng, count)),
                19..22 => OptionRule::OnlyWithAnyOf(a, random_group(rng, count)),
                22 => OptionRule::OnlyWithAnyOf(a, Vec::new()),
                _ => OptionRule::Always(a),
            }
        })
        .collect();
    Options::new(count, rules).unwrap()
}

/// Conditions of every kind, nested three deep; now and then an option outside the list.
pub(super) fn random_condition(rng: &mut fastrand::Rng, count: usize, depth: usize) -> Condition {
    let parts = |rng: &mut fastrand::Rng| {
        (0..rng.usize(..4))
            .map(|_| random_condition(rng, count, depth - 1))
            .collect()
    };
    match rng.usize(..if depth == 0 { 5 } else { 12 }) {
        0 => Condition::Always,
        1..5 => Condition::Option(any_option(rng, count + 1)),
        5..8 => Condition::All(parts(rng)),
        8..10 => Condition::Any(parts(rng)),
        _ => Condition::Not(Box::new(random_condition(rng, count, depth - 1))),
    }
}

fn weight_of(boat: &Boat, weights: &[f64]) -> f64 {
    boat.options()
        .map(|option| weights[option.0])
        .fold(0.0, |sum, weight| sum + weight)
}

/// The boat the documented choice falls on: greatest weight, then fewest options, then the first
/// option list. `sign` -1 asks for the lightest.
fn chosen<'a>(boats: &'a [Boat], weights: &[f64], sign: f64) -> Option<&'a Boat> {
    boats.iter().min_by(|a, b| {
        let weight = |boat: &Boat| sign * weight_of(boat, weights);
        weight(b)
            .total_cmp(&weight(a))
            .then(a.len().cmp(&b.len()))
            .then(a.cmp(b))
    })
}

fn every_boat(options: &Options) -> Vec<Boat> {
    (0..1usize << options.count())
        .map(|mask| boat_of(mask, options.count()))
        .filter(|boat| options.allow(boat))
        .collect()
}

/// Calls `check` with models drawn from fixed seeds: the options, all their boats listed, the
/// diagram, and the generator to draw more from.
pub(super) fn on_random_models(
    mut check: impl FnMut(&Options, &[Boat], &BoatSet, &mut fastrand::Rng),
) {
    for seed in 0..MODELS {
        let mut rng = fastrand::Rng::with_seed(seed);
        let options = random_options(&mut rng);
        let set = BoatSet::of(&options).unwrap();
        check(&options, &every_boat(&options), &set, &mut rng);
    }
}

#[test]
fn counts_members_and_fixed_options_equal_the_listing() {
    let (mut without_boats, mut most) = (0, 0);
    on_random_models(|options, boats, set, _| {
        let count = options.count();
        assert_eq!(set.count(), BigUint::from(boats.len()), "{options:?}");
        assert_eq!(set.is_empty(), boats.is_empty());
        let listed = |on_all: bool| -> Vec<OptionIndex> {
            (0..count)
                .map(OptionIndex)
                .filter(|&option| match on_all {
                    true => !boats.is_empty() && boats.iter().all(|boat| boat.has(option)),
                    false => !boats.iter().any(|boat| boat.has(option)),
                })
                .collect()
        };
        assert_eq!(set.never(), listed(false));
        assert_eq!(set.always(), listed(true));
        for mask in 0..1usize << count {
            let boat = boat_of(mask, count);
            assert_eq!(set.contains(&boat), options.allow(&boat));
        }
        let mut outside = boats.first().cloned().unwrap_or_default();
        outside.add(OptionIndex(count));
        assert!(!set.contains(&outside));
        without_boats += usize::from(boats.is_empty());
        most = most.max(boats.len());
    });
    // The draw covers contradictory and wide open models alike.
    assert!(without_boats > 20 && most > 4000, "{without_boats} {most}");
}

#[test]
fn boats_with_each_option_are_counted_and_every_boat_has_one_number() {
    on_random_models(|options, boats, set, rng| {
        let with: Vec<BigUint> = (0..options.count())
            .map(|at| {
                let having = boats.iter().filter(|boat| boat.has(OptionIndex(at)));
                BigUint::from(having.count())
            })
            .collect();
        assert_eq!(set.counts_with_each(), with, "{options:?}");

        let draw = Draw::from(set);
        let mut numbered: Vec<Boat> = (0..boats.len())
            .map(|number| draw.numbered(&BigUint::from(number)).unwrap())
            .collect();
        assert_eq!(draw.numbered(&BigUint::from(boats.len())), None);
        numbered.sort();
        let mut listed = boats.to_vec();
        listed.sort();
        assert_eq!(numbered, listed, "{options:?}");
        assert_eq!(draw.boat(rng).is_some(), !boats.is_empty());
    });
}

#[test]
fn families_multiply_to_the_number_of_boats() {
    on_random_models(|options, boats, _, _| {
        let families = Family::all(options).unwrap();
        let product: BigUint = families.iter().map(|family| &family.ways).product();
        assert_eq!(product, BigUint::from(boats.len()), "{options:?}");
        let members: usize = families.iter().map(|family| family.options.len()).sum();
        let rules: usize = families.iter().map(|family| family.rules.len()).sum();
        assert_eq!((members, rules), (options.count(), options.rules().len()));
    });
}

#[test]
fn heaviest_lightest_and_fullest_equal_the_listing() {
    on_random_models(|options, boats, set, rng| {
        // Small whole weights of both signs: sums are exact and ties are frequent.
        let whole: Vec<f64> = (0..options.count())
            .map(|_| f64::from(rng.i32(-3..=3)))
            .collect();
        let heaviest = set.heaviest(&whole);
        let lightest = set.lightest(&whole);
        let expected =
            |sign| chosen(boats, &whole, sign).map(|boat| (weight_of(boat, &whole), boat.clone()));
        assert_eq!(heaviest, expected(1.0), "{options:?} {whole:?}");
        assert_eq!(lightest, expected(-1.0), "{options:?} {whole:?}");

        let fullest = boats
            .iter()
            .max_by(|a, b| a.len().cmp(&b.len()).then(b.cmp(a)));
        assert_eq!(set.fullest().as_ref(), fullest);

        let real: Vec<f64> = (0..options.count()).map(|_| rng.f64() - 0.4).collect();
        match (set.heaviest(&real), set.lightest(&real)) {
            (Some((heavy, heavy_boat)), Some((light, light_boat))) => {
                assert!(options.allow(&heavy_boat) && options.allow(&light_boat));
                let weights: Vec<f64> = boats.iter().map(|boat| weight_of(boat, &real)).collect();
                let most = weights.iter().copied().fold(f64::MIN, f64::max);
                let least = weights.iter().copied().fold(f64::MAX, f64::min);
                assert!((heavy - most).abs() < 1e-12 && (light - least).abs() < 1e-12);
                assert_eq!(heavy, weight_of(&heavy_boat, &real));
            }
            (None, None) => assert!(boats.is_empty()),
            other => panic!("one of the two is missing: {other:?}"),
        }
    });
}

#[test]
fn conditions_narrow_to_the_boats_that_meet_them() {
    let mut met_by_some = 0;
    on_random_models(|options, boats, set, rng| {
        for _ in 0..5 {
            let condition = random_condition(rng, options.count(), 3);
            let meeting: Vec<Boat> = boats
                .iter()
                .filter(|boat| condition.holds(boat))
                .cloned()
                .collect();
            let context = || format!("{options:?} {condition:?}");
            let counted = set.count_where(&condition).unwrap();
            assert_eq!(counted, BigUint::from(meeting.len()), "{}", context());
            assert_eq!(set.is_ever(&condition).unwrap(), !meeting.is_empty());
            let opposite = Condition::Not(Box::new(condition.clone()));
            assert_eq!(set.count_where(&opposite).unwrap() + &counted, set.count());
            let simplified = condition.simplified();
            assert!(
                boats
                    .iter()
                    .all(|b| simplified.holds(b) == condition.holds(b))
            );

            let weights: Vec<f64> = (0..options.count())
                .map(|_| f64::from(rng.i32(-2..=5)))
                .collect();
            let heaviest = set.narrowed(&condition).unwrap().heaviest(&weights);
            assert_eq!(
                heaviest.as_ref().map(|(_, boat)| boat),
                chosen(&meeting, &weights, 1.0),
                "{}",
                context()
            );
            met_by_some += usize::from(!meeting.is_empty() && meeting.len() < boats.len());
        }
    });
    assert!(met_by_some > 500, "{met_by_some}");
}

#[test]
fn a_half_stated_boat_is_completed_as_the_listing_says() {
    let mut impossible = 0;
    on_random_models(|options, boats, set, rng| {
        let draw = |rng: &mut fastrand::Rng| -> Vec<OptionIndex> {
            (0..rng.usize(..3))
                .map(|_| any_option(rng, options.count()))
                .collect()
        };
        let (on, off) = (draw(rng), draw(rng));
        let left: Vec<&Boat> = boats
            .iter()
            .filter(|boat| on.iter().all(|&o| boat.has(o)) && !off.iter().any(|&o| boat.has(o)))
            .collect();
        let forced = |fitted: bool, stated: &[OptionIndex]| -> Vec<OptionIndex> {
            (0..options.count())
                .map(OptionIndex)
                .filter(|o| !stated.contains(o) && left.iter().all(|b| b.has(*o) == fitted))
                .collect()
        };
        let expected = if left.is_empty() {
            Completion::Impossible
        } else {
            Completion::Possible {
                forced_on: forced(true, &on),
                forced_off: forced(false, &off),
            }
        };
        assert_eq!(set.complete(&on, &off), expected, "{options:?}");

        let having = set.having(&on, &off);
        assert_eq!(having.count(), BigUint::from(left.len()));
        let stated = on.iter().map(|&o| Condition::Option(o));
        let stated = stated.chain(off.iter().map(|&o| Condition::without(o)));
        let narrowed = set.narrowed(&Condition::All(stated.collect())).unwrap();
        assert_eq!(having, narrowed, "two ways to the same diagram");

        let blamed = rules_against(options, &on, &off).unwrap();
        assert_eq!(blamed.is_none(), !left.is_empty(), "{options:?}");
        if let Some(blamed) = blamed {
            let shared = on.iter().any(|option| off.contains(option));
            assert_eq!(blamed.rules.is_empty(), shared, "{options:?}");
            impossible += usize::from(!shared && !boats.is_empty());
        }
    });
    assert!(impossible > 20, "{impossible}");
}

#[test]
fn contradicting_rules_are_contradictory_and_none_is_spare() {
    on_random_models(|options, boats, _, _| {
        let Some(blamed) = contradicting_rules(options).unwrap() else {
            assert!(!boats.is_empty());
            return;
        };
        assert!(boats.is_empty() && blamed.minimal, "{options:?}");
        let has_boat = |kept: &[usize]| {
            let kept = options.with_only(kept, &[]).unwrap();
            !every_boat(&kept).is_empty()
        };
        let blamed = blamed.rules;
        assert!(!has_boat(&blamed), "{options:?} {blamed:?}");
        for spare in &blamed {
            let fewer: Vec<usize> = blamed.iter().copied().filter(|r| r != spare).collect();
            assert!(has_boat(&fewer), "{options:?} {blamed:?} without {spare}");
        }
    });
}

#[test]
fn conditions_fired_on_the_way_equal_the_listing() {
    let mut held_some = 0;
    on_random_models(|options, boats, _, rng| {
        let conditions: Vec<Condition> = (0..rng.usize(1..8))
            .map(|_| random_condition(rng, options.count(), 2))
            .collect();
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        assert_eq!(set.count(), BigUint::from(boats.len()));
        let firings = set.firings(conditions.clone()).unwrap();
        let held: Vec<Option<bool>> = conditions
            .iter()
            .map(|_| match rng.u8(..4) {
                0 => Some(rng.bool()),
                _ => None,
            })
            .collect();
        let met = |boat: &Boat| conditions.iter().map(|c| c.holds(boat)).collect::<Vec<_>>();
        let kept: Vec<&Boat> = boats
            .iter()
            .filter(|boat| {
                let met = met(boat);
                held.iter()
                    .zip(met)
                    .all(|(held, met)| held.is_none_or(|held| held == met))
            })
            .collect();
        let context = || format!("{options:?} {conditions:?} {held:?}");
        assert_eq!(
            firings.count(&held),
            BigUint::from(kept.len()),
            "{}",
            context()
        );
        let presence = firings.presence(&held);
        assert_eq!(presence.is_none(), kept.is_empty(), "{}", context());
        for (number, presence) in presence.into_iter().flatten().enumerate() {
            let on = kept
                .iter()
                .filter(|boat| conditions[number].holds(boat))
                .count();
            let expected = match on {
                0 => Presence::Never,
                on if on == kept.len() => Presence::Always,
                _ => Presence::Some,
            };
            assert_eq!(presence, expected, "{} {number}", context());
        }
        let weights: Vec<f64> = conditions
            .iter()
            .map(|_| f64::from(rng.i32(-3..=3)))
            .collect();
        let weight = |boat: &Boat| -> f64 {
            met(boat)
                .iter()
                .zip(&weights)
                .filter(|(met, _)| **met)
                .map(|(_, w)| w)
                .sum()
        };
        let heaviest = firings.heaviest(&weights, &held);
        let most = kept.iter().map(|boat| weight(boat)).max_by(f64::total_cmp);
        assert_eq!(
            heaviest.as_ref().map(|(sum, _)| sum + 0.0),
            most.map(|most| most + 0.0)
        );
        if let Some((sum, way)) = heaviest {
            assert!(kept.contains(&&way.boat), "{}", context());
            assert_eq!(way, firings.way_of(&way.boat));
            assert_eq!(weight(&way.boat), sum);
            held_some += usize::from(kept.len() < boats.len());
        }
        let counts: Vec<u32> = conditions.iter().map(|_| rng.u32(..3)).collect();
        let least = rng.u32(..6);
        let count = |boat: &Boat| -> u32 {
            let met = met(boat).into_iter().zip(&counts);
            met.filter(|(met, _)| *met).map(|(_, count)| count).sum()
        };
        let enough = kept.iter().filter(|boat| count(boat) >= least);
        let most = enough.map(|boat| weight(boat)).max_by(f64::total_cmp);
        let found = firings.heaviest_with(&weights, (&counts, least), &held);
        assert_eq!(
            found.as_ref().map(|(sum, _)| sum + 0.0),
            most.map(|most| most + 0.0)
        );
        if let Some((_, way)) = found {
            assert!(kept.contains(&&way.boat) && count(&way.boat) >= least);
        }
    });
    assert!(held_some > 40, "{held_some}");
}

#[test]
fn boats_over_a_limit_equal_the_listing() {
    let (mut some, mut asked) = (0, 0);
    on_random_models(|options, boats, _, rng| {
        let conditions: Vec<Condition> = (0..rng.usize(1..8))
            .map(|_| random_condition(rng, options.count(), 2))
            .collect();
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        let firings = set.firings(conditions.clone()).unwrap();
        // The true weight lies somewhere between the bounds; only the boat itself tells.
        let wide = rng.bool();
        let lines: Vec<(Line, f64, Vec<f64>)> = (0..rng.usize(1..3))
            .map(|_| {
                let constant = rng.f64() * 4.0 - 3.0;
                let weights: Vec<f64> = conditions.iter().map(|_| rng.f64() * 2.0 - 0.6).collect();
                let mut between = |value: f64| match wide {
                    true => (value - 0.3 * rng.f64(), value + 0.3 * rng.f64()),
                    false => (value, value),
                };
                let line = Line {
                    constant: between(constant),
                    weights: weights.iter().map(|weight| between(*weight)).collect(),
                };
                (line, constant, weights)
            })
            .collect();
        let is_over = |boat: &Boat| {
            lines.iter().any(|(_, constant, weights)| {
                let met = weights
                    .iter()
                    .zip(&conditions)
                    .filter(|(_, c)| c.holds(boat));
                met.fold(*constant, |sum, (weight, _)| sum + weight) > 0.0
            })
        };
        let bounds: Vec<Line> = lines.iter().map(|(line, ..)| line.clone()).collect();
        let mut decide = |way: &Way| {
            asked += 1;
            is_over(&way.boat)
        };
        let counted = firings.count_over(&bounds, 1_000_000, &mut decide);
        let over = boats.iter().filter(|boat| is_over(boat)).count();
        assert_eq!(
            counted,
            Over::exactly(BigUint::from(over)),
            "{options:?} {conditions:?}"
        );
        let few = firings.count_over(&bounds, 3, &mut |way| is_over(&way.boat));
        assert!(few.at_least <= counted.at_least && counted.at_most <= few.at_most);
        some += usize::from(over > 0 && over < boats.len());
    });
    assert!(some > 40 && asked > 1000, "{some} {asked}");
}
