//! The bounds the proof rests on: no boat is worse than they say, and they say little more.

use super::{drawn, every_boat};
use crate::boats::Boat;
use crate::file_format;
use crate::network::assembly::Assembly;
use crate::routing::Routing;
use crate::study::options_of;
use crate::worst::candidates::{self, Width};
use crate::worst::quantity::Questions;
use crate::worst::search::{Search, around, at};
use crate::worst::systems::Systems;

const MODELS: usize = 60;

/// How far the bounds lie above what is.
#[derive(Debug, Default)]
struct Slack {
    /// Pairs of boats compared.
    pairs: usize,
    /// Questions that could not be bounded.
    unbounded: usize,
    /// Sum over the pairs of how much the bound is over the value, in parts of the value.
    over: f64,
}

fn compare(seed: u64, slack: &mut Slack) {
    let model = file_format::read(&drawn::drawn(seed).to_string()).unwrap();
    let boats: Vec<Boat> = every_boat(&model);
    let options = options_of(&model);
    let set = crate::boats::BoatSet::of(&options).unwrap();
    let routing = Routing::of(&model);
    let assembly = Assembly::of_every_boat(&model, &routing);
    let systems = Systems::of(&model, &assembly, &set).unwrap();
    let conditions = candidates::conditions(&model, &routing, &assembly, &systems);
    let loaded = candidates::loaded(&assembly, &systems);
    let asking = candidates::asking(&options, &conditions, &loaded, Width::default()).unwrap();
    let numbers = candidates::numbers(asking.as_ref());
    let questions = Questions {
        model: &model,
        assembly: &assembly,
        numbers: &numbers,
    };
    for system in &systems.systems {
        let number = |condition: &_| numbers.get(condition).copied();
        let Ok(mut search) = Search::new(system, asking.as_ref(), &number) else {
            continue;
        };
        let mut asked = Vec::new();
        questions.each(&mut search, &|_| true, &mut |_, quantity, sum, held| {
            asked.push((quantity, sum.clone(), held.to_vec()));
        });
        for (quantity, sum, held) in asked {
            let of_shape = boats.iter().map(|boat| asking.way_of(boat)).filter(|way| {
                let mut pairs = held.iter().zip(&way.met);
                pairs.all(|(held, met)| held.is_none_or(|held| held == *met))
            });
            let ways: Vec<_> = of_shape.collect();
            for center in &ways {
                let (Some(value), Some(change)) = (
                    search.value(&sum, center),
                    search.changes_around(&sum, center),
                ) else {
                    slack.unbounded += 1;
                    continue;
                };
                let weights = around(&change, &center.met);
                for other in &ways {
                    let Some(own) = search.value(&sum, other) else {
                        continue;
                    };
                    let bound = value + at(&weights, &other.met) - at(&weights, &center.met);
                    let scale = own.abs().max(1.0);
                    assert!(
                        bound - own >= -1e-9 * scale,
                        "seed {seed}: {quantity:?} is {own} on {other:?}, bounded by {bound} \
                         from {center:?}"
                    );
                    slack.pairs += 1;
                    slack.over += (bound - own) / scale;
                }
            }
        }
    }
}

#[test]
fn from_each_boat_every_other_is_bounded_and_closely() {
    let mut slack = Slack::default();
    let few = (0..).filter(|seed| {
        let model = file_format::read(&drawn::drawn(*seed).to_string()).unwrap();
        (2..=24).contains(&every_boat(&model).len())
    });
    for seed in few.take(MODELS) {
        compare(seed, &mut slack);
    }
    assert_eq!(slack.unbounded, 0, "{slack:?}");
    assert!(slack.pairs > 280_000, "{slack:?}");
    // Looser bounds would prove as much with more solves.
    assert!(slack.over < 1_668.4, "{slack:?}");
}
