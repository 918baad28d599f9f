//! In which order the diagram decides the options: options that share rules close together.
//!
//! The method is FORCE (F. Aloul, I. Markov, K. Sakallah, "FORCE: a fast and easy-to-implement
//! variable-ordering heuristic", Great Lakes Symposium on VLSI 2003): each rule pulls its options
//! to their common center, again and again, until the order settles. It is run from a fixed set
//! of starts and the narrowest result is kept, so the same rules always give the same order.
//! Options that no chain of rules joins are ordered apart, one family after the other: mixing
//! families would multiply their widths.

use super::condition::Condition;
use super::rules::{OptionIndex, Options};

/// Starts tried for each family of options.
const STARTS: usize = 24;
/// Rounds after which a start that still moves is taken as it is; most settle within 10.
const MOST_ROUNDS: usize = 60;

/// The order in which the options are decided; options that are `asked` together are kept close
/// like those of a rule.
pub(super) fn decision_order(options: &Options, asked: &[Condition]) -> Vec<OptionIndex> {
    let rules = options.rules().iter().map(|rule| rule.options());
    let asked = asked.iter().map(|condition| {
        let listed = condition.options().into_iter();
        listed.filter(|option| option.0 < options.count()).collect()
    });
    let scopes: Vec<Vec<usize>> = rules
        .chain(asked)
        .map(|together: Vec<OptionIndex>| {
            let mut scope: Vec<usize> = together.iter().map(|option| option.0).collect();
            scope.sort_unstable();
            scope.dedup();
            scope
        })
        .filter(|scope| scope.len() > 1)
        .collect();
    let mut order = Vec::with_capacity(options.count());
    for (members, scopes) in families(options.count(), &scopes) {
        let local = narrowest(members.len(), &scopes);
        order.extend(local.into_iter().map(|at| OptionIndex(members[at])));
    }
    order
}

/// Options joined by rules, directly or through others: the members of each family in ascending
/// order, and its scopes renumbered to places in that list.
pub(super) fn families(count: usize, scopes: &[Vec<usize>]) -> Vec<(Vec<usize>, Vec<Vec<usize>>)> {
    let mut joined = petgraph::unionfind::UnionFind::<usize>::new(count);
    for scope in scopes {
        for pair in scope.windows(2) {
            joined.union(pair[0], pair[1]);
        }
    }
    let mut family_of_root = vec![None; count];
    let mut place = vec![0; count];
    let mut families: Vec<(Vec<usize>, Vec<Vec<usize>>)> = Vec::new();
    for (option, place) in place.iter_mut().enumerate() {
        let family = *family_of_root[joined.find(option)].get_or_insert_with(|| {
            families.push((Vec::new(), Vec::new()));
            families.len() - 1
        });
        *place = families[family].0.len();
        families[family].0.push(option);
    }
    for scope in scopes {
        if let Some(family) = family_of_root[joined.find(scope[0])] {
            let renumbered = scope.iter().map(|&option| place[option]).collect();
            families[family].1.push(renumbered);
        }
    }
    families
}

/// The narrowest order of `count` options found from the fixed starts; the earliest start wins a
/// tie.
fn narrowest(count: usize, scopes: &[Vec<usize>]) -> Vec<usize> {
    let mut best: Option<(f64, Vec<usize>)> = None;
    for start in starts(count) {
        let order = settle(start, scopes);
        let width = estimated_width(&order, scopes);
        if best.as_ref().is_none_or(|(least, _)| width < *least) {
            best = Some((width, order));
        }
    }
    best.map_or_else(Vec::new, |(_, order)| order)
}

/// As listed, then the list walked in strides that share no factor with its length: each option
/// once, neighbors far apart.
fn starts(count: usize) -> Vec<Vec<usize>> {
    if count <= 2 {
        return vec![(0..count).collect()];
    }
    let strides: Vec<usize> = (1..count)
        .filter(|&stride| shares_no_factor(stride, count))
        .collect();
    // Spread over the whole range, not only the short ones.
    strides
        .iter()
        .step_by(strides.len().div_ceil(STARTS))
        .map(|stride| (0..count).map(|step| step * stride % count).collect())
        .collect()
}

fn shares_no_factor(mut a: usize, mut b: usize) -> bool {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a == 1
}

/// Moves each option to the mean center of its rules until the order stays or the rounds are up.
fn settle(mut order: Vec<usize>, scopes: &[Vec<usize>]) -> Vec<usize> {
    let mut spread = total_spread(&order, scopes);
    for _ in 0..MOST_ROUNDS {
        let place = places(&order);
        let mut pull = vec![(0.0, 0u32); order.len()];
        for scope in scopes {
            let sum: usize = scope.iter().map(|&option| place[option]).sum();
            let center = sum as f64 / scope.len() as f64;
            for &option in scope {
                pull[option].0 += center;
                pull[option].1 += 1;
            }
        }
        let pulled = pull.iter().zip(&place);
        let target: Vec<f64> = pulled
            .map(|(pull, place)| match *pull {
                (_, 0) => *place as f64,
                (sum, rules) => sum / f64::from(rules),
            })
            .collect();
        let mut next = order.clone();
        next.sort_by(|&a, &b| target[a].total_cmp(&target[b]));
        let next_spread = total_spread(&next, scopes);
        if next_spread >= spread {
            break;
        }
        (order, spread) = (next, next_spread);
    }
    order
}

fn places(order: &[usize]) -> Vec<usize> {
    let mut place = vec![0; order.len()];
    for (at, &option) in order.iter().enumerate() {
        place[option] = at;
    }
    place
}

/// First and last place of a scope.
fn span(scope: &[usize], place: &[usize]) -> (usize, usize) {
    scope
        .iter()
        .fold((usize::MAX, 0), |(first, last), &option| {
            (first.min(place[option]), last.max(place[option]))
        })
}

fn total_spread(order: &[usize], scopes: &[Vec<usize>]) -> usize {
    let place = places(order);
    scopes
        .iter()
        .map(|scope| {
            let (first, last) = span(scope, &place);
            last - first
        })
        .sum()
}

/// Grows like the diagram: each rule that is open between two layers may double what must be
/// remembered there. The exponent 0.7 is tuned (our practice): rules often share what they
/// remember.
fn estimated_width(order: &[usize], scopes: &[Vec<usize>]) -> f64 {
    let place = places(order);
    let mut open_after = vec![0i32; order.len() + 1];
    for scope in scopes {
        let (first, last) = span(scope, &place);
        open_after[first] += 1;
        open_after[last] -= 1;
    }
    let mut open = 0;
    open_after
        .iter()
        .map(|change| {
            open += change;
            libm::exp2(0.7 * f64::from(open))
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::super::rules::OptionRule;
    use super::*;

    fn requires(a: usize, b: usize) -> OptionRule {
        OptionRule::Requires(OptionIndex(a), OptionIndex(b))
    }

    #[test]
    fn every_option_is_decided_once() {
        let mut rng = fastrand::Rng::with_seed(7);
        for count in 0..40 {
            let rules = (0..count / 2)
                .map(|_| requires(rng.usize(..count), rng.usize(..count)))
                .collect();
            let mut order = decision_order(&Options::new(count, rules).unwrap(), &[]);
            order.sort_unstable();
            assert_eq!(order, (0..count).map(OptionIndex).collect::<Vec<_>>());
        }
    }

    #[test]
    fn families_are_not_mixed() {
        // Two chains listed interleaved: 0-2-4-6 and 1-3-5-7.
        let rules = (0..6).map(|at| requires(at, at + 2)).collect();
        let order = decision_order(&Options::new(8, rules).unwrap(), &[]);
        let first: Vec<usize> = order[..4].iter().map(|option| option.0 % 2).collect();
        assert_eq!(first, [0; 4]);
    }

    #[test]
    fn a_shuffled_chain_is_straightened() {
        // A chain of 12 through the list in steps of 5; decided along the chain, one rule is
        // open at a time.
        let along: Vec<usize> = (0..12).map(|step| step * 5 % 12).collect();
        let scopes: Vec<Vec<usize>> = along.windows(2).map(<[usize]>::to_vec).collect();
        let order = narrowest(12, &scopes);
        assert_eq!(total_spread(&order, &scopes), 11);
    }

    #[test]
    fn the_width_of_an_order_is_that_of_the_rules_open_between_its_layers() {
        // 0-1, 1-2 and 0-3 in this order: open after each layer 2, 2, 1 and none.
        let scopes = [vec![0, 1], vec![1, 2], vec![3, 0]];
        let open = |rules: f64| libm::exp2(0.7 * rules);
        let expected = open(2.0) + open(2.0) + open(1.0) + 1.0 + 1.0;
        assert_eq!(estimated_width(&[0, 1, 2, 3], &scopes), expected);
        assert_eq!(total_spread(&[0, 1, 2, 3], &scopes), 5);
        assert_eq!(span(&[3, 0], &places(&[1, 0, 2, 3])), (1, 3));
    }

    #[test]
    fn options_asked_together_lie_together() {
        let together = |options: &[usize]| {
            let parts = options.iter().map(|at| Condition::Option(OptionIndex(*at)));
            Condition::All(parts.collect())
        };
        let options = Options::new(9, Vec::new()).unwrap();
        // Option 9 is outside the list.
        let asked = [together(&[0, 7, 9]), together(&[7, 3]), together(&[8, 1])];
        let order = decision_order(&options, &asked);
        let place = |at: usize| order.iter().position(|option| option.0 == at).unwrap();
        let mut three = [place(0), place(7), place(3)];
        assert_eq!(three[0].abs_diff(three[1]), 1);
        assert_eq!(three[1].abs_diff(three[2]), 1);
        three.sort_unstable();
        assert_eq!(place(8).abs_diff(place(1)), 1);
        // Of equals the list as it is.
        assert_eq!(narrowest(5, &[]), [0, 1, 2, 3, 4]);
    }

    #[test]
    fn orders_are_no_wider_than_they_were() {
        let mut rng = fastrand::Rng::with_seed(3);
        let (mut settled, mut narrow) = (0, 0.0);
        for _ in 0..60 {
            let count = rng.usize(4..16);
            let scopes: Vec<Vec<usize>> = (0..count)
                .map(|_| {
                    let mut all: Vec<usize> = (0..count).collect();
                    rng.shuffle(&mut all);
                    all.truncate(rng.usize(2..5));
                    all
                })
                .collect();
            let start: Vec<usize> = (0..count).collect();
            let order = settle(start.clone(), &scopes);
            assert!(total_spread(&order, &scopes) <= total_spread(&start, &scopes));
            settled += total_spread(&order, &scopes);
            narrow += estimated_width(&narrowest(count, &scopes), &scopes);
        }
        // Counted, not derived.
        assert_eq!((settled, narrow.round()), (2_409, 5_977.0));
    }
}
