//! What choices fall on among equals, and how much is passed to answer.

use super::*;

/// The boats on which conditions are met so.
fn kept<'b>(boats: &'b [Boat], conditions: &[Condition], held: &[Option<bool>]) -> Vec<&'b Boat> {
    let meets = |boat: &&Boat| {
        let mut pairs = conditions.iter().zip(held);
        pairs.all(|(condition, held)| held.is_none_or(|held| condition.holds(boat) == held))
    };
    boats.iter().filter(meets).collect()
}

#[test]
fn of_equals_the_boat_that_leaves_out_options_first_is_taken() {
    let mut ties = 0;
    on_random_models(|options, boats, _, rng| {
        let count = options.count();
        let conditions: Vec<Condition> = (0..rng.usize(1..6))
            .map(|_| random_condition(rng, count, 2))
            .collect();
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        let one = set.firings(conditions.clone()).unwrap();
        let weights: Vec<f64> = conditions
            .iter()
            .map(|_| f64::from(rng.i32(-1..=1)))
            .collect();
        let held = vec![None; conditions.len()];
        let weight = |boat: &Boat| {
            let met = conditions
                .iter()
                .zip(&weights)
                .filter(|(c, _)| c.holds(boat));
            met.fold(0.0, |sum, (_, weight)| sum + weight)
        };
        // Decided in the order of the diagram, what is left out comes before what is fitted.
        let turn = |boat: &Boat| -> Vec<bool> {
            let order = one.order.iter();
            order.map(|option| boat.has(*option)).collect()
        };
        let first = |among: &[&Boat]| -> Option<Boat> {
            let most = among
                .iter()
                .map(|boat| weight(boat))
                .max_by(f64::total_cmp)?;
            let best = among.iter().filter(|boat| weight(boat) == most);
            ties += usize::from(best.clone().count() > 1);
            best.min_by_key(|boat| turn(boat))
                .map(|boat| (*boat).clone())
        };
        let mut first = first;
        let all = kept(boats, &conditions, &held);
        let found = one.heaviest(&weights, &held).map(|(_, way)| way.boat);
        assert_eq!(found, first(&all), "{options:?} {conditions:?} {weights:?}");
        let counts: Vec<u32> = conditions.iter().map(|_| rng.u32(..2)).collect();
        let counted = |boat: &Boat| -> u32 {
            let met = conditions
                .iter()
                .zip(&counts)
                .filter(|(c, _)| c.holds(boat));
            met.map(|(_, count)| count).sum()
        };
        let enough: Vec<&Boat> = all.into_iter().filter(|boat| counted(boat) >= 1).collect();
        let found = one.heaviest_with(&weights, (&counts, 1), &held);
        assert_eq!(found.map(|(_, way)| way.boat), first(&enough));
    });
    assert!(ties > 100, "{ties}");
}

#[test]
fn the_most_with_and_without_each_condition_equals_the_listing() {
    on_random_models(|options, boats, _, rng| {
        let conditions: Vec<Condition> = (0..rng.usize(1..6))
            .map(|_| random_condition(rng, options.count(), 2))
            .collect();
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        let one = set.firings(conditions.clone()).unwrap();
        let weights: Vec<f64> = conditions
            .iter()
            .map(|_| f64::from(rng.i32(-5..=5)))
            .collect();
        let mut held = vec![None; conditions.len()];
        held[rng.usize(..conditions.len())] = Some(rng.bool());
        let all = kept(boats, &conditions, &held);
        let most = |condition: &Condition, met: bool| {
            let among = all.iter().filter(|boat| condition.holds(boat) == met);
            let weight = |boat: &&Boat| {
                let met = conditions
                    .iter()
                    .zip(&weights)
                    .filter(|(c, _)| c.holds(boat));
                met.fold(0.0, |sum, (_, weight)| sum + weight)
            };
            among.map(weight).fold(f64::NEG_INFINITY, f64::max)
        };
        let expected: Vec<(f64, f64)> = conditions
            .iter()
            .map(|condition| (most(condition, false), most(condition, true)))
            .collect();
        assert_eq!(one.heaviest_each(&weights, &held), expected);
    });
}

/// A diagram that passes more nodes than it did is slower everywhere.
#[test]
fn diagrams_have_no_more_nodes_than_they_had() {
    let (mut nodes, mut asked) = (0, 0);
    on_random_models(|options, _, set, rng| {
        nodes += set.node_count();
        let conditions: Vec<Condition> = (0..4)
            .map(|_| random_condition(rng, options.count(), 2))
            .collect();
        let boats = BoatSet::for_asking(options, &conditions).unwrap();
        let one = boats.firings(conditions).unwrap();
        let layers = one.layers().iter().map(Vec::len);
        assert_eq!(one.node_count(), layers.sum::<usize>());
        asked += one.node_count();
    });
    // Counted, not derived.
    assert_eq!((nodes, asked), (3_292, 3_473));
}

/// Counting asks the boat itself only where bounds of a single boat lie on both sides, and finds
/// each part of the diagram once for all sums that come to the same.
#[test]
fn counting_takes_no_more_steps_than_it_did() {
    let (mut asked, mut least) = (0, 0);
    on_random_models(|options, boats, _, rng| {
        if boats.is_empty() {
            return;
        }
        let conditions: Vec<Condition> = (0..options.count())
            .map(|at| Condition::Option(OptionIndex(at)))
            .collect();
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        let one = set.firings(conditions.clone()).unwrap();
        let line = Line {
            constant: (-1.6, -1.4),
            weights: conditions
                .iter()
                .map(|_| f64::from(rng.u8(..4)) * 0.5)
                .map(|weight| (weight, weight))
                .collect(),
        };
        let mut decide = |_: &Way| {
            asked += 1;
            true
        };
        let lines = std::slice::from_ref(&line);
        let exact = one.count_over(lines, 1_000_000, &mut decide);
        assert!(exact.is_exact());
        // The fewest steps after which the count is exact.
        let enough = |most: usize| one.count_over(lines, most, &mut |_| true).is_exact();
        let (mut few, mut many) = (0_usize, 1_000_000);
        while few < many {
            let middle = few.midpoint(many);
            if enough(middle) {
                many = middle;
            } else {
                few = middle + 1;
            }
        }
        least += few;
    });
    // Counted, not derived.
    assert_eq!((asked, least), (3_775, 18_033));
}

#[test]
fn what_is_too_wide_says_after_how_many_options() {
    // Three options without rules: one state at the start, and after each option but the last
    // two, *all three* open or out of reach.
    let options = Options::new(3, Vec::new()).unwrap();
    let all = Condition::All(
        (0..3)
            .map(|at| Condition::Option(OptionIndex(at)))
            .collect(),
    );
    let set = BoatSet::of(&options).unwrap();
    let decided = |most: usize| {
        let found = set.firings_within(vec![all.clone()], most);
        found.map_or_else(|wide| wide.decided, |_| 0)
    };
    assert_eq!([1, 2, 3, 4, 100].map(decided), [1, 1, 2, 2, 0]);
}
