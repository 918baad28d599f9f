//! Counts of buildable boats against a general decision-diagram library.
//!
//! Source of the expected numbers: `biodivine-lib-bdd`, an independent binary decision diagram
//! (no code, no ordering and no layering in common with ours). Tolerance: none, counts are exact.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use biodivine_lib_bdd::{Bdd, BddVariable, BddVariableSet};
use harness_core::boats::{BoatSet, Condition, OptionIndex, OptionRule, Options};

/// A price list of the usual shape: groups of which one is chosen, requires, excludes, options
/// that need one of several, here and there a group of which at most one is chosen and standard
/// equipment.
fn price_list(rng: &mut fastrand::Rng, count: usize) -> Options {
    let any = |rng: &mut fastrand::Rng| OptionIndex(rng.usize(..count));
    // Rules mostly join options of one area of the boat, now and then of two.
    let near = |rng: &mut fastrand::Rng, to: OptionIndex| match rng.usize(..5) {
        0 => any(rng),
        _ => OptionIndex((to.0 + rng.usize(1..8)) % count),
    };
    let mut rules = Vec::new();
    for _ in 0..count / 4 {
        let a = any(rng);
        rules.push(OptionRule::Requires(a, near(rng, a)));
    }
    for _ in 0..count / 8 {
        let a = any(rng);
        rules.push(OptionRule::Excludes(a, near(rng, a)));
    }
    for _ in 0..count / 10 {
        let first = any(rng);
        let group = (0..rng.usize(2..6)).map(|_| near(rng, first)).collect();
        rules.push(match rng.bool() {
            true => OptionRule::ExactlyOneOf(group),
            false => OptionRule::AtMostOneOf(group),
        });
    }
    for _ in 0..count / 8 {
        let a = any(rng);
        let others = (0..rng.usize(1..5)).map(|_| near(rng, a)).collect();
        rules.push(OptionRule::OnlyWithAnyOf(a, others));
    }
    if rng.bool() {
        rules.push(OptionRule::Always(any(rng)));
    }
    Options::new(count, rules).expect("options are drawn below the count")
}

fn condition(rng: &mut fastrand::Rng, count: usize) -> Condition {
    let mut part = || {
        let option = OptionIndex(rng.usize(..count));
        match rng.usize(..3) {
            0 => Condition::without(option),
            _ => Condition::Option(option),
        }
    };
    let pair = |a, b| Condition::All(vec![a, b]);
    Condition::Any(vec![
        pair(part(), part()),
        Condition::Not(Box::new(pair(part(), part()))),
        part(),
    ])
}

struct Library {
    set: BddVariableSet,
    variables: Vec<BddVariable>,
}

impl Library {
    fn new(count: usize) -> Self {
        let set = BddVariableSet::new_anonymous(u16::try_from(count).expect("few options"));
        let variables = set.variables();
        Self { set, variables }
    }

    fn fitted(&self, option: OptionIndex) -> Bdd {
        self.set.mk_var(self.variables[option.0])
    }

    fn at_most_one(&self, group: &[OptionIndex]) -> Bdd {
        let mut holds = self.set.mk_true();
        for a in group {
            for b in group.iter().filter(|b| *b != a) {
                holds = holds.and(&self.fitted(*a).and(&self.fitted(*b)).not());
            }
        }
        holds
    }

    fn rule(&self, rule: &OptionRule) -> Bdd {
        match rule {
            OptionRule::Requires(a, b) => self.fitted(*a).imp(&self.fitted(*b)),
            OptionRule::Excludes(a, b) => self.fitted(*a).and(&self.fitted(*b)).not(),
            OptionRule::OnlyWithAnyOf(a, others) => {
                let company = others.iter().fold(self.set.mk_false(), |any, &other| {
                    any.or(&self.fitted(other))
                });
                self.fitted(*a).imp(&company)
            }
            OptionRule::AtMostOneOf(group) => self.at_most_one(group),
            OptionRule::ExactlyOneOf(group) => group
                .iter()
                .fold(self.set.mk_false(), |any, &option| {
                    any.or(&self.fitted(option))
                })
                .and(&self.at_most_one(group)),
            OptionRule::Always(a) => self.fitted(*a),
        }
    }

    fn condition(&self, condition: &Condition) -> Bdd {
        match condition {
            Condition::Always => self.set.mk_true(),
            Condition::Option(option) => self.fitted(*option),
            Condition::All(parts) => parts.iter().fold(self.set.mk_true(), |all, part| {
                all.and(&self.condition(part))
            }),
            Condition::Any(parts) => parts.iter().fold(self.set.mk_false(), |any, part| {
                any.or(&self.condition(part))
            }),
            Condition::Not(part) => self.condition(part).not(),
        }
    }

    fn boats(&self, options: &Options) -> Bdd {
        options
            .rules()
            .iter()
            .fold(self.set.mk_true(), |all, rule| all.and(&self.rule(rule)))
    }
}

#[test]
fn counts_equal_a_general_library_on_20_to_40_options() {
    let mut with_boats = 0;
    for seed in 0..120 {
        let mut rng = fastrand::Rng::with_seed(seed);
        let count = rng.usize(20..=40);
        let options = price_list(&mut rng, count);
        let ours = BoatSet::of(&options).unwrap();
        let library = Library::new(count);
        let theirs = library.boats(&options);
        assert_eq!(
            ours.count().to_string(),
            theirs.exact_cardinality().to_string(),
            "seed {seed}: {options:?}"
        );
        for _ in 0..3 {
            let asked = condition(&mut rng, count);
            assert_eq!(
                ours.count_where(&asked).unwrap().to_string(),
                theirs
                    .and(&library.condition(&asked))
                    .exact_cardinality()
                    .to_string(),
                "seed {seed}: {asked:?} of {options:?}"
            );
        }
        let with_each = ours.counts_with_each();
        for option in (0..count).map(OptionIndex) {
            let having = theirs.and(&library.fitted(option));
            assert_eq!(
                ours.never().contains(&option),
                having.is_false(),
                "seed {seed}"
            );
            assert_eq!(
                with_each[option.0].to_string(),
                having.exact_cardinality().to_string(),
                "seed {seed}"
            );
        }
        with_boats += usize::from(!ours.is_empty());
    }
    assert!(
        with_boats > 90,
        "{with_boats} of 120 price lists have boats"
    );
}
