#![allow(missing_docs)]
use harness_core::contents::*;
use std::time::Instant;
fn main() {
    let a: Vec<String> = std::env::args().skip(1).collect();
    let list = |i: usize| -> Vec<usize> { a[i].split(',').map(|x| x.parse().unwrap()).collect() };
    let alpha: f64 = a[3].parse().unwrap();
    let top: f64 = a[4].parse().unwrap();
    for seed in list(0) {
        for m in list(1) {
            for k in list(2) {
                let mut rng = fastrand::Rng::with_seed(seed as u64);
                let modules: Vec<Cents> = (0..m).map(|_| Cents::new(rng.i64(500..12000))).collect();
                let take: Vec<f64> = (0..m).map(|_| 0.05 + top * rng.f64()).collect();
                let shared = (0..m / 4)
                    .map(|_| Shared {
                        needed_by: ModuleSet::of((0..3).map(|_| rng.usize(0..m))),
                        cost: Cents::new(rng.i64(500..6000)),
                    })
                    .collect();
                let wiring = Wiring {
                    base: Cents::new(10000),
                    modules,
                    shared,
                };
                let mut sets: Vec<ModuleSet> = vec![];
                while sets.len() < k {
                    let s = ModuleSet::of((0..m).filter(|i| rng.f64() < take[*i]));
                    if !sets.contains(&s) {
                        sets.push(s);
                    }
                }
                let orders = sets
                    .into_iter()
                    .map(|set| {
                        let x: f64 = rng.f64();
                        Order {
                            set,
                            boats: (1.0 / (1.0 - x).powf(1.0 / alpha)).min(200.0) as u32,
                        }
                    })
                    .collect();
                let t = Instant::now();
                let f = Demand {
                    wiring,
                    orders,
                    part_number: Cents::new(100000),
                }
                .levels(
                    5,
                    Effort {
                        looks: a[5].parse().unwrap(),
                    },
                )
                .unwrap();
                print!("seed {seed} m {m} k {k} {:.2}s ", t.elapsed().as_secs_f64());
                for l in f.levels.iter().skip(1) {
                    print!(
                        " | {} {} {:.2}% left {:?} n {}",
                        l.most,
                        l.is_proven(),
                        100.0 * (l.cost().value() - l.lower_bound.value()) as f64
                            / l.cost().value() as f64,
                        l.left,
                        l.nodes
                    );
                }
                println!();
            }
        }
    }
}
