//! The search held against trying every set of contents.

use super::levels::{Demand, Effort, Order};
use super::money::Cents;
use super::wiring::{ModuleSet, Shared, Wiring};
use fastrand::Rng;
use std::collections::BTreeSet;

/// Cheapest wiring a year with at most `most` contents, by trying every set of unions.
fn by_trying(demand: &Demand, most: usize) -> i64 {
    let mut unions = BTreeSet::new();
    for order in &demand.orders {
        let more: Vec<_> = unions
            .iter()
            .map(|set: &ModuleSet| set.union(order.set))
            .collect();
        unions.extend(more);
        unions.insert(order.set);
    }
    let unions: Vec<ModuleSet> = unions.into_iter().collect();
    let mut best = i64::MAX;
    let mut taken = Vec::new();
    fn deeper(
        demand: &Demand,
        unions: &[ModuleSet],
        taken: &mut Vec<ModuleSet>,
        most: usize,
        best: &mut i64,
    ) {
        let cheapest = |order: &Order| {
            let holding = taken.iter().filter(|content| content.holds(order.set));
            let each = holding
                .map(|content| demand.wiring.cost(*content).value())
                .min()?;
            Some(each * i64::from(order.boats))
        };
        if let Some(cost) = demand.orders.iter().map(cheapest).sum::<Option<i64>>() {
            *best = (*best).min(cost);
        }
        if taken.len() == most {
            return;
        }
        for (at, union) in unions.iter().enumerate() {
            taken.push(*union);
            deeper(demand, &unions[at + 1..], taken, most, best);
            taken.pop();
        }
    }
    deeper(demand, &unions, &mut taken, most, &mut best);
    best
}

/// A question of up to `orders` orders; amounts small enough that ties are common.
fn question(rng: &mut Rng, orders: usize) -> Demand {
    let modules = rng.usize(1..=6);
    let share = 0.15 + 0.6 * rng.f64();
    let dearest = [3, 50, 20_000][rng.usize(0..3)];
    let set = |rng: &mut Rng, share: f64| ModuleSet::of((0..modules).filter(|_| rng.f64() < share));
    Demand {
        wiring: Wiring {
            base: Cents::new(rng.i64(0..=dearest)),
            modules: (0..modules)
                .map(|_| Cents::new(rng.i64(0..=dearest)))
                .collect(),
            shared: (0..rng.usize(0..=2))
                .map(|_| Shared {
                    needed_by: set(rng, 0.4),
                    cost: Cents::new(rng.i64(0..=dearest)),
                })
                .collect(),
        },
        orders: (0..rng.usize(1..=orders))
            .map(|_| Order {
                set: set(rng, share),
                boats: rng.u32(0..=9),
            })
            .collect(),
        part_number: Cents::new(rng.i64(0..=dearest)),
    }
}

#[test]
fn no_set_of_contents_is_cheaper() {
    let mut rng = Rng::with_seed(11);
    let mut compared = 0;
    for _ in 0..400 {
        let demand = question(&mut rng, 8);
        let found = demand.levels(4, Effort::default()).unwrap();
        assert_eq!(found.levels.len(), found.orders.len().min(4));
        for level in &found.levels {
            assert!(level.is_proven(), "{demand:?}");
            assert_eq!(
                level.wiring.value(),
                by_trying(&demand, level.most),
                "{demand:?}"
            );
            compared += 1;
        }
    }
    assert!(compared > 1_000, "{compared} compared");
}

#[test]
fn every_order_gets_a_harness_that_has_all_it_asks_for() {
    let mut rng = Rng::with_seed(12);
    for _ in 0..200 {
        let demand = question(&mut rng, 30);
        let found = demand.levels(5, Effort::default()).unwrap();
        assert_eq!(found.place.len(), demand.orders.len());
        for (order, place) in demand.orders.iter().zip(&found.place) {
            assert_eq!(found.orders[*place].set, order.set);
        }
        let boats: u32 = demand.orders.iter().map(|order| order.boats).sum();
        for level in &found.levels {
            let mut served: Vec<usize> = Vec::new();
            for content in &level.contents {
                assert_eq!(content.each, demand.wiring.cost(content.set));
                assert!(
                    content
                        .serves
                        .iter()
                        .all(|at| content.set.holds(found.orders[*at].set))
                );
                served.extend(&content.serves);
            }
            served.sort_unstable();
            assert_eq!(served, (0..found.orders.len()).collect::<Vec<_>>());
            assert_eq!(
                level
                    .contents
                    .iter()
                    .map(|content| content.boats)
                    .sum::<u32>(),
                boats
            );
            assert!(level.contents.len() <= level.most);
        }
        let falling = found
            .levels
            .windows(2)
            .all(|two| two[1].wiring <= two[0].wiring);
        assert!(falling, "{found:?}");
    }
}

/// With hardly any effort allowed, the bound still holds and the plan still serves.
#[test]
fn an_answer_without_proof_has_a_bound_that_holds() {
    let mut rng = Rng::with_seed(13);
    let (mut open, mut shut) = (0, 0);
    for _ in 0..300 {
        let demand = question(&mut rng, 8);
        let effort = Effort {
            looks: rng.u64(0..=200),
        };
        let found = demand.levels(4, effort).unwrap();
        for level in &found.levels {
            let least = by_trying(&demand, level.most);
            let bound = level.lower_bound - level.part_numbers;
            assert!(bound.value() <= least, "{demand:?} {effort:?} {level:?}");
            assert!(
                level.wiring.value() >= least,
                "{demand:?} {effort:?} {level:?}"
            );
            if level.is_proven() {
                shut += 1;
            } else {
                open += 1;
            }
        }
    }
    assert!(open > 50 && shut > 50, "{open} open, {shut} proven");
}
