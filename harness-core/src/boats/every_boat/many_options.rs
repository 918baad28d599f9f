//! More options than fit into one word of a set, by closed forms.

use super::*;

/// 32 times three options of which one asks for one of the others, and 32 times exactly one of
/// three.
fn triples() -> Options {
    let option = OptionIndex;
    let asking = (0..32).map(|at| {
        let first = 3 * at;
        OptionRule::OnlyWithAnyOf(option(first), vec![option(first + 1), option(first + 2)])
    });
    let choosing = (32..64).map(|at| {
        let first = 3 * at;
        OptionRule::ExactlyOneOf((first..first + 3).map(option).collect())
    });
    Options::new(192, asking.chain(choosing).collect()).unwrap()
}

#[test]
fn companies_and_groups_do_not_touch_each_other() {
    // 2³ - 1 and 3 ways each.
    let set = BoatSet::of(&triples()).unwrap();
    let expected = BigUint::from(7_u32).pow(32) * BigUint::from(3_u32).pow(32);
    assert_eq!(set.count(), expected);
    let with = set.counts_with_each();
    assert_eq!(with[0], &expected / 7_u32 * 3_u32);
    assert_eq!(with[95], &expected / 7_u32 * 4_u32);
    assert_eq!(with[191], expected / 3_u32);
}

#[test]
fn of_equals_the_boat_with_fewest_options_then_the_first_list_is_chosen() {
    let set = BoatSet::of(&triples()).unwrap();
    let firsts: Vec<OptionIndex> = (32..64).map(|at| OptionIndex(3 * at)).collect();
    let (weight, boat) = set.heaviest(&[0.0; 192]).unwrap();
    assert_eq!((weight, boat.options().collect()), (0.0, firsts.clone()));
    // Weights that pull two of the groups to their last option, far apart in the list.
    let mut weights = [0.0; 192];
    weights[98] = 1.0;
    weights[191] = 0.5;
    let (weight, boat) = set.heaviest(&weights).unwrap();
    let mut expected = firsts;
    expected[0] = OptionIndex(98);
    expected[31] = OptionIndex(191);
    assert_eq!((weight, boat.options().collect()), (1.5, expected));
}

#[test]
fn an_option_outside_the_list_is_on_no_boat() {
    let options = triples();
    let mut boat: Boat = (32..64).map(|at| OptionIndex(3 * at)).collect();
    assert!(options.allow(&boat));
    boat.add(OptionIndex(192));
    assert!(!options.allow(&boat));
    assert_eq!(rules_against(&options, &[], &[OptionIndex(192)]), Ok(None));
}
