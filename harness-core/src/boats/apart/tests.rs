//! How groups come about, what a question costs, and what it leaves for the next.

use super::*;
use crate::boats::every_boat::{on_random_models, random_condition};

/// Twelve conditions and every option, in groups of few.
fn apart(options: &Options, size: (usize, usize), rng: &mut fastrand::Rng) -> Option<Apart> {
    let conditions = (0..12).map(|_| random_condition(rng, options.count(), 2));
    Apart::new(options, conditions.collect(), size).ok()
}

fn spent(apart: &Apart) -> usize {
    MOST_WORK_IN_ALL - apart.work_left()
}

fn met(weights: &[f64], way: &Way) -> f64 {
    let met = weights.iter().zip(&way.met).filter(|(_, met)| **met);
    met.fold(0.0, |sum, (weight, _)| sum + weight)
}

#[test]
fn groups_agree_with_no_more_work_than_it_took() {
    // Counted, not derived: the work of first questions, and of second ones much like them.
    let (mut questions, mut work) = (0, [0, 0]);
    on_random_models(|options, _, _, rng| {
        let size = (rng.usize(1..4), 60);
        let Some(apart) = apart(options, size, rng) else {
            return;
        };
        let count = apart.conditions.len();
        let mut held = vec![None; count];
        held[rng.usize(..count)] = Some(rng.bool());
        let mut weights: Vec<f64> = (0..count).map(|_| 2.0 * rng.f64() - 1.0).collect();
        let groups = apart.asked(|number| weights[number] != 0.0 || held[number].is_some());
        if groups.len() < 2 {
            return;
        }
        questions += 1;
        let one = apart.decided(&(0..count).collect::<Vec<_>>()).unwrap();
        for work in &mut work {
            let before = spent(&apart);
            let found = apart.heaviest_of_groups(&groups, &weights, &held).unwrap();
            *work += spent(&apart) - before;
            let expected = one.heaviest(&weights, &held);
            assert_eq!(found.is_some(), expected.is_some());
            if let (Some((weight, way)), Some((most, _))) = (found, expected) {
                assert!((weight - most).abs() < 1e-9 && (met(&weights, &way) - most).abs() < 1e-9);
            }
            for weight in &mut weights {
                *weight += 0.1 * rng.f64();
            }
        }
    });
    assert_eq!((questions, work), (400, [309_999, 179_225]));
}

#[test]
fn conditions_come_in_no_more_groups_than_they_did() {
    let (mut too_wide, mut groups) = (0, 0);
    on_random_models(|options, _, _, rng| {
        let size = (rng.usize(1..6), rng.usize(..30));
        match apart(options, size, rng) {
            Some(apart) => {
                groups += apart.group_count();
                let of_groups = apart.groups.iter().flat_map(|group| &group.numbers);
                let others = of_groups.filter(|number| !apart.is_option(**number));
                // Each condition that is no option alone is in one group.
                let mut others: Vec<usize> = others.copied().collect();
                others.sort_unstable();
                let all = (0..apart.conditions.len()).filter(|n| !apart.is_option(*n));
                assert_eq!(others, all.collect::<Vec<_>>());
            }
            None => too_wide += 1,
        }
    });
    // Counted, not derived.
    assert_eq!((too_wide, groups), (18, 1_766));
}

/// Twenty options without rules, and a condition that ties each to the next.
fn chain() -> Apart {
    let options = Options::new(20, Vec::new()).unwrap();
    let option = |at: usize| Condition::Option(OptionIndex(at));
    let conditions = (0..19).map(|at| Condition::All(vec![option(at), option(at + 1)]));
    Apart::new(&options, conditions.collect(), (5, 1_000)).unwrap()
}

#[test]
fn few_conditions_get_a_diagram_of_their_own_and_many_are_asked_by_groups() {
    let apart = chain();
    assert_eq!(apart.group_count(), 4);
    let open = vec![None; apart.conditions.len()];
    let ask = |conditions: usize| {
        let weights: Vec<f64> = (0..apart.conditions.len())
            .map(|number| f64::from(u8::from(number < conditions)))
            .collect();
        let (most, way) = Asking::heaviest(&apart, &weights, &open).unwrap().unwrap();
        assert_eq!(
            (most, met(&weights, &way)),
            (conditions as f64, conditions as f64)
        );
        let kept = apart.kept.lock().unwrap().found.len();
        (kept, apart.memory().learned.len())
    };
    // In one group: neither.
    assert_eq!(ask(5), (0, 0));
    assert_eq!(ask(12), (1, 0));
    assert_eq!(ask(12), (1, 0));
    assert_eq!(ask(11), (2, 0));
    // Too many for a diagram of their own; those of three groups, and of four.
    assert_eq!(ask(13), (2, 1));
    assert_eq!(ask(14), (2, 1));
    assert_eq!(ask(19), (2, 2));
    let keys: Vec<Vec<usize>> = apart.memory().learned.keys().cloned().collect();
    assert_eq!(keys, [vec![0, 5, 10], vec![0, 5, 10, 15]]);
    assert!(spent(&apart) > 0);
}

#[test]
fn a_settled_one_learns_no_more_and_counts_no_work() {
    let apart = chain();
    let open = vec![None; apart.conditions.len()];
    let mut weights = vec![1.0; apart.conditions.len()];
    Asking::heaviest(&apart, &weights, &open).unwrap();
    let known = apart.memory().learned.clone();
    let left = apart.memory().left;
    assert!(known.len() == 1 && left < MOST_WORK_IN_ALL);
    let (_, boats) = &known[&vec![0, 5, 10, 15]];
    assert_eq!(boats.len(), 1);
    apart.settle();
    assert_eq!(apart.work_left(), usize::MAX);
    weights[3] = -9.0;
    let (most, _) = Asking::heaviest(&apart, &weights, &open).unwrap().unwrap();
    // By hand: one of the two options is left out, and with it the condition on its other side.
    assert_eq!(most, 36.0);
    assert_eq!(apart.memory().learned, known);
    assert_eq!(apart.memory().left, left);
}

#[test]
fn diagrams_are_kept_up_to_so_many_nodes() {
    let apart = chain();
    let firings = |numbers: &[usize]| Arc::new(apart.decided(numbers).unwrap());
    let (one, two) = (firings(&[0]), firings(&[0, 1]));
    let most = one.node_count() + two.node_count();
    let mut kept = Kept::default();
    kept.keep(vec![0], Ok(one.clone()), most);
    kept.keep(vec![0, 1], Ok(two.clone()), most);
    assert_eq!((kept.found.len(), kept.nodes), (2, most));
    // One node more than fits.
    kept.keep(vec![1], Ok(firings(&[1])), most);
    assert_eq!(kept.found.keys().collect::<Vec<_>>(), [&vec![1]]);
    let mut kept = Kept::default();
    kept.keep(vec![0], Ok(one), most - 1);
    kept.keep(vec![0, 1], Ok(two.clone()), most - 1);
    assert_eq!((kept.found.len(), kept.nodes), (1, two.node_count()));
}

/// What a group knows for sure is known, whatever the others leave open: each has all options.
#[test]
fn what_options_decide_is_told_by_every_group() {
    let mut always = 0;
    on_random_models(|options, _, _, rng| {
        let Some(apart) = apart(options, (2, 40), rng) else {
            return;
        };
        let count = apart.conditions.len();
        let one = apart.decided(&(0..count).collect::<Vec<_>>()).unwrap();
        let mut held = vec![None; count];
        for number in (0..count).filter(|number| apart.is_option(*number)) {
            if rng.u8(..3) == 0 {
                held[number] = Some(rng.bool());
            }
        }
        let (own, exact) = (Asking::presence(&apart, &held), one.presence(&held));
        assert_eq!(own, exact, "{options:?} {:?} {held:?}", apart.conditions);
        let known = |presence: &&Presence| **presence != Presence::Some;
        always += exact.iter().flatten().filter(known).count();
    });
    assert!(always > 1_000, "{always}");
}
