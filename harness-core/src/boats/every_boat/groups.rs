//! Conditions in groups against one diagram with all of them.

use super::*;

#[test]
fn groups_of_conditions_agree_on_the_boat_that_one_diagram_finds() {
    let (mut grouped, mut too_wide, mut answered, mut with_boats) = (0, 0, 0, 0);
    on_random_models(|options, boats, _, rng| {
        let mut conditions: Vec<Condition> = (0..rng.usize(4..20))
            .map(|_| random_condition(rng, options.count(), 2))
            .collect();
        conditions.extend((0..options.count()).map(|at| Condition::Option(OptionIndex(at))));
        let set = BoatSet::for_asking(options, &conditions).unwrap();
        let one = set.firings(conditions.clone()).unwrap();
        let size = (rng.usize(1..5), rng.usize(5..40));
        let Ok(apart) = Apart::new(options, conditions.clone(), size) else {
            too_wide += 1;
            return;
        };
        grouped += usize::from(apart.group_count() > 1);
        let open = || vec![None; conditions.len()];
        let mut held = open();
        held[rng.usize(..conditions.len())] = Some(rng.bool());
        let weights: Vec<f64> = conditions
            .iter()
            .map(|_| f64::from(rng.i32(-3..=3)))
            .collect();
        match Asking::heaviest(&apart, &weights, &held) {
            Err(wide) => panic!("{options:?} {conditions:?} {wide}"),
            Ok(found) => {
                answered += 1;
                let expected = one.heaviest(&weights, &held);
                let weight = |found: &Option<(f64, Way)>| found.as_ref().map(|(sum, _)| *sum);
                assert_eq!(
                    weight(&found),
                    weight(&expected),
                    "{options:?} {conditions:?}"
                );
                if let Some((sum, way)) = found {
                    assert!(boats.contains(&way.boat) && way == one.way_of(&way.boat));
                    let met = weights.iter().zip(&way.met).filter(|(_, met)| **met);
                    assert_eq!(met.fold(0.0, |sum, (weight, _)| sum + weight), sum + 0.0);
                }
                let (own, all) = (
                    Asking::heaviest_each(&apart, &weights, &held),
                    one.heaviest_each(&weights, &held),
                );
                assert_eq!(own.len(), all.len());
                assert!(
                    own.iter()
                        .zip(all)
                        .all(|(own, all)| own.0 >= all.0 && own.1 >= all.1)
                );
                let counts: Vec<u32> = conditions.iter().map(|_| rng.u32(..3)).collect();
                let least = (counts.as_slice(), rng.u32(..6));
                if let Ok(found) = Asking::heaviest_with(&apart, &weights, least, &held) {
                    assert_eq!(
                        weight(&found),
                        weight(&one.heaviest_with(&weights, least, &held))
                    );
                }
            }
        }
        let (count, exact) = (Asking::count(&apart, &held), one.count(&held));
        assert!(count.at_least <= exact && exact <= count.at_most);
        let presence = Asking::presence(&apart, &held);
        match (presence, one.presence(&held)) {
            (None, expected) => assert_eq!(expected, None),
            (Some(own), Some(exact)) => {
                with_boats += 1;
                assert_eq!(own.len(), exact.len());
                assert!(
                    own.iter()
                        .zip(exact)
                        .all(|(own, exact)| *own == exact || *own == Presence::Some)
                );
            }
            (Some(own), None) => assert!(own.iter().all(|own| *own == Presence::Some)),
        }
        let line = Line {
            constant: (-1.5, -1.5),
            weights: weights.iter().map(|weight| (*weight, *weight)).collect(),
        };
        let mut never = |_: &Way| unreachable!("nothing lies between equal bounds");
        let over = Asking::count_over(&apart, std::slice::from_ref(&line), 1_000_000, &mut never);
        let exact = one.count_over(&[line], 1_000_000, &mut never);
        assert!(
            exact.is_exact() && over.at_least <= exact.at_least && exact.at_most <= over.at_most
        );
    });
    println!(
        "{answered} answered, {too_wide} too wide, {grouped} grouped, {with_boats} with boats"
    );
    assert!(answered > 100 && grouped > 40 && with_boats > 100);
}

#[test]
fn one_diagram_is_asked_at_once_and_groups_one_after_the_other() {
    let options = Options::new(3, Vec::new()).unwrap();
    let conditions: Vec<Condition> = (0..3)
        .map(|at| Condition::Option(OptionIndex(at)))
        .collect();
    let boats = BoatSet::for_asking(&options, &conditions).unwrap();
    let one = boats.firings(conditions.clone()).unwrap();
    let apart = Apart::new(&options, conditions, (1, 10)).unwrap();
    assert!(Asking::is_quick(&one) && !Asking::is_quick(&apart));
    // What the trait asks is what the diagram answers.
    let (weights, open) = ([1.0, -2.0, 4.0], [None, Some(true), None]);
    let (weight, way) = one.heaviest(&weights, &open).unwrap();
    assert_eq!((weight, &way.met), (3.0, &vec![true; 3]));
    assert_eq!(Asking::heavy(&one, &weights, &open), Ok(Some(way)));
    let each = vec![(2.0, 3.0), (f64::NEG_INFINITY, 3.0), (-1.0, 3.0)];
    assert_eq!(Asking::heaviest_each(&one, &weights, &open), each);
}
