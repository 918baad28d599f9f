//! The boats no other boat has more loads than: a plain way to the worst boat, to compare with.
//!
//! Where every load draws, more loads lower every voltage, so the worst boat for any of them is
//! one whose loads no other boat has and more. A diagram of its own is walked with what is open of
//! rules and conditions; between nodes of one layer it is worked out which leads to at least the
//! loads the other leads to, and an arrow that is never better than its neighbor is dropped. What
//! is left is listed.

use fastrand::Rng;
use harness_core::boats::{Boat, Condition, OptionIndex, OptionRule, Options};
use std::collections::{BTreeMap, BTreeSet};

/// Conditions as a set of bits.
type Fired = [u64; 4];
/// Random starts of the order.
const STARTS: usize = 100;

/// What must be remembered of the options decided so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Open {
    /// An option must be fitted, or must not.
    Must(usize, bool),
    /// One of this group is fitted.
    Chosen(usize),
    /// All options of this condition so far are fitted.
    Whole(usize),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Arrow {
    to: usize,
    fires: Fired,
}

/// Arrows of a node: option left out, option fitted.
type Node = [Option<Arrow>; 2];

/// Buildable boats, those dropped that others beat.
#[derive(Debug)]
pub struct Maximal {
    order: Vec<usize>,
    layers: Vec<Vec<Node>>,
    /// Nodes before any arrow was dropped.
    pub node_count: usize,
}

fn within(one: &Fired, other: &Fired) -> bool {
    one.iter().zip(other).all(|(one, other)| one & !other == 0)
}

impl Maximal {
    /// Works them out.
    ///
    /// # Panics
    /// On conditions other than one option or all of several, on other rules than those of the
    /// instances, and on more than 256 conditions.
    pub fn of(options: &Options, conditions: &[Condition], seed: u64) -> Self {
        assert!(conditions.len() <= 256);
        let asked: Vec<Vec<usize>> = conditions.iter().map(whole_options).collect();
        let order = order(options, &asked, seed);
        let mut place = vec![0; order.len()];
        for (at, option) in order.iter().enumerate() {
            place[*option] = at;
        }
        let deciding = Deciding {
            rules: options.rules(),
            asked: &asked,
            place: &place,
        };
        let mut raw: Vec<Vec<Node>> = Vec::new();
        let mut states: Vec<BTreeSet<Open>> = vec![BTreeSet::new()];
        for &option in &order {
            let mut known: BTreeMap<BTreeSet<Open>, usize> = BTreeMap::new();
            let nodes = states.iter().map(|state| {
                [false, true].map(|fitted| {
                    let (next, fires) = deciding.decide(state, option, fitted)?;
                    let number = known.len();
                    let to = *known.entry(next).or_insert(number);
                    Some(Arrow { to, fires })
                })
            });
            raw.push(nodes.collect());
            let mut numbered: Vec<_> = known.into_iter().collect();
            numbered.sort_by_key(|(_, number)| *number);
            states = numbered.into_iter().map(|(state, _)| state).collect();
        }
        let mut layers = merged(raw);
        let node_count = layers.iter().map(Vec::len).sum();
        drop_beaten(&mut layers);
        Self {
            order,
            layers,
            node_count,
        }
    }

    /// How many ways are left.
    pub fn count(&self) -> u64 {
        let mut below = vec![1];
        for nodes in self.layers.iter().rev() {
            let after = |arrow: &Option<Arrow>| arrow.map_or(0, |arrow| below[arrow.to]);
            below = nodes
                .iter()
                .map(|node| node.iter().map(after).sum())
                .collect();
        }
        below.first().copied().unwrap_or(0)
    }

    /// A boat for each set of conditions that is met on one of them.
    pub fn boats(&self) -> Vec<Boat> {
        let mut found: BTreeMap<Fired, Boat> = BTreeMap::new();
        let mut open = vec![(0, 0, Fired::default(), Boat::bare())];
        while let Some((layer, node, fired, boat)) = open.pop() {
            let Some(nodes) = self.layers.get(layer) else {
                found.entry(fired).or_insert(boat);
                continue;
            };
            for (arrow, fitted) in nodes[node].iter().zip([false, true]) {
                if let Some(arrow) = arrow {
                    let mut boat = boat.clone();
                    if fitted {
                        boat.add(OptionIndex(self.order[layer]));
                    }
                    let fired = [0, 1, 2, 3].map(|word| fired[word] | arrow.fires[word]);
                    open.push((layer + 1, arrow.to, fired, boat));
                }
            }
        }
        // Dropping arrows leaves some that others beat all the same.
        let mut largest: Vec<(Fired, Boat)> = found.into_iter().collect();
        let size = |fired: &Fired| fired.iter().map(|word| word.count_ones()).sum::<u32>();
        largest.sort_by_key(|(fired, _)| std::cmp::Reverse(size(fired)));
        let mut kept: Vec<(Fired, Boat)> = Vec::new();
        for (fired, boat) in largest {
            if !kept.iter().any(|(other, _)| within(&fired, other)) {
                kept.push((fired, boat));
            }
        }
        kept.into_iter().map(|(_, boat)| boat).collect()
    }
}

fn whole_options(condition: &Condition) -> Vec<usize> {
    let of_part = |part: &Condition| match part {
        Condition::Option(option) => option.0,
        other => panic!("{other:?} is no option"),
    };
    match condition {
        Condition::All(parts) => parts.iter().map(of_part).collect(),
        one => vec![of_part(one)],
    }
}

struct Deciding<'a> {
    rules: &'a [OptionRule],
    asked: &'a [Vec<usize>],
    place: &'a [usize],
}

impl Deciding<'_> {
    /// What is open after a decision, and the conditions it meets; `None` where it breaks a rule.
    fn decide(
        &self,
        state: &BTreeSet<Open>,
        option: usize,
        fitted: bool,
    ) -> Option<(BTreeSet<Open>, Fired)> {
        if state.contains(&Open::Must(option, !fitted)) {
            return None;
        }
        let mut next = state.clone();
        next.remove(&Open::Must(option, fitted));
        let later = |other: &OptionIndex| self.place[other.0] > self.place[option];
        let mut must = Vec::new();
        for (number, rule) in self.rules.iter().enumerate() {
            match rule {
                OptionRule::Requires(a, b) if a.0 == option && fitted && later(b) => {
                    must.push((b.0, true));
                }
                OptionRule::Requires(a, b) if b.0 == option && !fitted && later(a) => {
                    must.push((a.0, false));
                }
                OptionRule::Excludes(a, b) if fitted && (a.0 == option || b.0 == option) => {
                    let other = if a.0 == option { b } else { a };
                    if later(other) {
                        must.push((other.0, false));
                    }
                }
                OptionRule::ExactlyOneOf(group) if group.iter().any(|one| one.0 == option) => {
                    let chosen = next.remove(&Open::Chosen(number));
                    let last = !group.iter().any(later);
                    if (chosen && fitted) || (last && !chosen && !fitted) {
                        return None;
                    }
                    if !last && (chosen || fitted) {
                        next.insert(Open::Chosen(number));
                    }
                }
                OptionRule::Requires(..) | OptionRule::Excludes(..) => {}
                OptionRule::ExactlyOneOf(_) => {}
                other => panic!("{other:?} is no rule of the instances"),
            }
        }
        for (other, fitted) in must {
            if next.contains(&Open::Must(other, !fitted)) {
                return None;
            }
            next.insert(Open::Must(other, fitted));
        }
        let mut fires = Fired::default();
        for (number, asked) in self.asked.iter().enumerate() {
            if !asked.contains(&option) {
                continue;
            }
            let first = asked
                .iter()
                .all(|other| self.place[*other] >= self.place[option]);
            let last = asked
                .iter()
                .all(|other| self.place[*other] <= self.place[option]);
            let whole = next.remove(&Open::Whole(number)) || first;
            if whole && fitted && last {
                fires[number / 64] |= 1 << (number % 64);
            } else if whole && fitted {
                next.insert(Open::Whole(number));
            }
        }
        Some((next, fires))
    }
}

/// Equal nodes joined, from the last layer up; nodes that lead nowhere go.
fn merged(mut raw: Vec<Vec<Node>>) -> Vec<Vec<Node>> {
    let mut renumbered = vec![Some(0)];
    for nodes in raw.iter_mut().rev() {
        let mut known: BTreeMap<Node, usize> = BTreeMap::new();
        let mut kept = Vec::new();
        renumbered = nodes
            .iter()
            .map(|node| {
                let node = node.map(|arrow| {
                    let arrow: Arrow = arrow?;
                    let to = renumbered[arrow.to]?;
                    Some(Arrow { to, ..arrow })
                });
                node.iter().any(Option::is_some).then(|| {
                    *known.entry(node).or_insert_with(|| {
                        kept.push(node);
                        kept.len() - 1
                    })
                })
            })
            .collect();
        *nodes = kept;
    }
    raw
}

/// Drops arrows that are never better than the other of their node.
fn drop_beaten(layers: &mut [Vec<Node>]) {
    // Whether the first node leads to nothing that the second does not lead to, and more.
    let mut beaten = vec![vec![true]];
    for nodes in layers.iter_mut().rev() {
        let arrow_beaten = |one: &Arrow, other: &Arrow| {
            within(&one.fires, &other.fires) && beaten[one.to][other.to]
        };
        let node_beaten = |one: &Node, other: &Node| {
            let mut arrows = one.iter().flatten();
            arrows.all(|one| other.iter().flatten().any(|other| arrow_beaten(one, other)))
        };
        let here = nodes
            .iter()
            .map(|one| nodes.iter().map(|other| node_beaten(one, other)).collect())
            .collect();
        for node in nodes.iter_mut() {
            if let [Some(out), Some(on)] = *node {
                if arrow_beaten(&out, &on) {
                    node[0] = None;
                } else if arrow_beaten(&on, &out) {
                    node[1] = None;
                }
            }
        }
        beaten = here;
    }
}

/// An order in which options of a rule or condition lie close: each pulls its options to their
/// center until nothing moves, from random starts; the one with least open is kept.
fn order(options: &Options, asked: &[Vec<usize>], seed: u64) -> Vec<usize> {
    let mut rng = Rng::with_seed(seed);
    let rules = options.rules().iter().map(OptionRule::options);
    let rules = rules.map(|rule| rule.iter().map(|option| option.0).collect());
    let scopes: Vec<Vec<usize>> = rules.chain(asked.iter().cloned()).collect();
    let mut best: Option<(f64, Vec<usize>)> = None;
    for _ in 0..STARTS {
        let mut place: Vec<usize> = (0..options.count()).collect();
        rng.shuffle(&mut place);
        for _ in 0..40 {
            let mut pull = vec![(0.0, 0.0); place.len()];
            for scope in &scopes {
                let sum: usize = scope.iter().map(|option| place[*option]).sum();
                for option in scope {
                    pull[*option].0 += sum as f64 / scope.len() as f64;
                    pull[*option].1 += 1.0;
                }
            }
            let target = |option: &usize| match pull[*option] {
                (_, 0.0) => place[*option] as f64,
                (sum, count) => sum / count,
            };
            let mut order: Vec<usize> = (0..place.len()).collect();
            order.sort_by(|a, b| target(a).total_cmp(&target(b)));
            for (at, option) in order.into_iter().enumerate() {
                place[option] = at;
            }
        }
        let width = width(&place, &scopes);
        if best.as_ref().is_none_or(|(least, _)| width < *least) {
            let mut order: Vec<usize> = (0..place.len()).collect();
            order.sort_by_key(|option| place[*option]);
            best = Some((width, order));
        }
    }
    best.map_or_else(Vec::new, |(_, order)| order)
}

fn width(place: &[usize], scopes: &[Vec<usize>]) -> f64 {
    let mut change = vec![0_i32; place.len() + 1];
    for scope in scopes.iter().filter(|scope| !scope.is_empty()) {
        let places = scope.iter().map(|option| place[*option]);
        let (first, last) = places.fold((usize::MAX, 0), |(a, b), at| (a.min(at), b.max(at)));
        change[first] += 1;
        change[last] -= 1;
    }
    let mut open = 0;
    let cuts = change.iter().map(|change| {
        open += change;
        libm::exp2(0.7 * f64::from(open))
    });
    cuts.sum()
}
