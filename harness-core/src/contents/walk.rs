//! Contents worth looking at, each found once: the unions of orders. A content that is not the
//! union of what it serves can be shrunk to that and never costs more.
//!
//! The walk goes down from the union of everything: take away every order with some module, and
//! with these orders the modules that nothing else needs. A union is taken only on the way on
//! which no module decided before goes too, so each has one way and no table of unions seen is
//! needed. All below a place on the way has the modules that were decided to stay, which bounds
//! what it can be worth at given prices: most of the walk is never gone.

use super::columns::{PARTS, gain_of};
use super::plan::Instance;
use super::wiring::{MOST_MODULES, ModuleSet};

/// What a walk looks for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Errand {
    /// Unions worth no more than this are not wanted.
    pub above: i64,
    /// How many are wanted: those worth most.
    pub most: usize,
    /// Orders that may be looked at before less is wanted.
    pub looks: u64,
    /// By how much more a union has to be worth then; doubled each time.
    pub raise: i64,
}

/// What a walk brings.
#[derive(Clone, Debug, Default)]
pub(super) struct Brought {
    /// Unions with their worth, most first.
    pub unions: Vec<(i64, ModuleSet)>,
    /// No union left out is worth more than this.
    pub above: i64,
    /// Orders looked at.
    pub looks: u64,
}

/// The ways, the same for all prices.
#[derive(Clone, Debug)]
pub(super) struct Ways<'a> {
    instance: &'a Instance<'a>,
    /// 64-bit words of a set of orders.
    words: usize,
    /// For each module the orders with it.
    with: Vec<u64>,
    /// Modules in the order in which they are decided on.
    modules: Vec<usize>,
    /// For each place among those, the modules before it.
    before: Vec<ModuleSet>,
    /// Cost of each order's own content, in parts of a cent.
    own: Vec<i64>,
}

impl<'a> Ways<'a> {
    pub(super) fn new(instance: &'a Instance<'a>) -> Self {
        let words = instance.sets.len().div_ceil(64);
        let mut with = vec![0; MOST_MODULES * words];
        for (number, order) in instance.sets.iter().enumerate() {
            for module in order.modules() {
                with[module * words + number / 64] |= 1 << (number % 64);
            }
        }
        let own = instance.sets.iter().map(|set| instance.cost(*set) * PARTS);
        let modules = most_at_stake_first(instance);
        let before =
            (0..modules.len()).map(|place| ModuleSet::of(modules[..place].iter().copied()));
        Self {
            instance,
            words,
            with,
            before: before.collect(),
            modules,
            own: own.collect(),
        }
    }

    /// Walks at these prices.
    pub(super) fn walk(&self, prices: &[i64], errand: Errand) -> Brought {
        let mut left = vec![0; (self.modules.len() + 1) * self.words];
        for number in 0..self.instance.sets.len() {
            left[number / 64] |= 1 << (number % 64);
        }
        let mut walk = Walk {
            ways: self,
            prices,
            all_prices: prices.iter().sum(),
            errand,
            left,
            looks: 0,
            next_raise: errand.looks,
            found: Vec::new(),
        };
        if !self.instance.sets.is_empty() {
            let everything = self.instance.full().contents[0];
            walk.take(everything);
            walk.below(everything, ModuleSet::EMPTY, 0, 0);
        }
        walk.keep_best();
        Brought {
            unions: walk.found,
            above: walk.errand.above,
            looks: walk.looks,
        }
    }

    /// Every union; nothing if they are more than `most`.
    pub(super) fn all(&self, most: usize) -> Option<Vec<ModuleSet>> {
        let free = vec![0; self.instance.sets.len()];
        let errand = Errand {
            above: -1, // nothing is worth less than nought
            most: most.saturating_add(1),
            looks: u64::MAX,
            raise: 0,
        };
        let brought = self.walk(&free, errand);
        let unions = brought.unions.into_iter().map(|(_, union)| union);
        Some(unions.collect()).filter(|unions: &Vec<_>| unions.len() <= most)
    }
}

/// Modules whose wiring can be given away most come first: dear, and on some boats only. To have
/// decided on those tells most about what is below.
fn most_at_stake_first(instance: &Instance<'_>) -> Vec<usize> {
    let all: i64 = instance.boats.iter().sum();
    let empty = instance.cost(ModuleSet::EMPTY);
    let at_stake = |module: usize| {
        let one = ModuleSet::of([module]);
        let orders = instance.sets.iter().zip(&instance.boats);
        let with: i64 = orders
            .filter(|(set, _)| set.holds(one))
            .map(|(_, boats)| boats)
            .sum();
        i128::from(instance.cost(one) - empty) * i128::from(with) * i128::from(all - with)
    };
    let everything = instance
        .sets
        .iter()
        .copied()
        .fold(ModuleSet::EMPTY, ModuleSet::union);
    let mut modules: Vec<usize> = everything.modules().collect();
    modules.sort_by_key(|module| (-at_stake(*module), *module));
    modules
}

struct Walk<'a> {
    ways: &'a Ways<'a>,
    prices: &'a [i64],
    all_prices: i64,
    errand: Errand,
    /// Orders left at each depth.
    left: Vec<u64>,
    looks: u64,
    next_raise: u64,
    found: Vec<(i64, ModuleSet)>,
}

impl Walk<'_> {
    /// Walks what is below `content` by taking away modules from the place `first` on; `stays`
    /// are the modules decided to stay.
    fn below(&mut self, content: ModuleSet, mut stays: ModuleSet, first: usize, depth: usize) {
        for place in first..self.ways.modules.len() {
            let one = ModuleSet::of([self.ways.modules[place]]);
            if !content.holds(one) {
                continue;
            }
            if let Some(smaller) = self.smaller(content, place, depth)
                && self.can_be_worth(stays, depth + 1)
            {
                self.take(smaller);
                self.below(smaller, stays, place + 1, depth + 1);
            }
            stays = stays.union(one);
        }
    }

    /// The union of the orders left without the module at `place`; nothing if there are none or
    /// if a module before it goes too. The orders left stand at the next depth then.
    fn smaller(&mut self, content: ModuleSet, place: usize, depth: usize) -> Option<ModuleSet> {
        let Ways {
            instance,
            words,
            with,
            modules,
            before,
            ..
        } = self.ways;
        let (above, rest) = self.left.split_at_mut((depth + 1) * words);
        let (above, left) = (&above[depth * words..], &mut rest[..*words]);
        let taken = &with[modules[place] * words..][..*words];
        let mut any = 0;
        for ((left, above), taken) in left.iter_mut().zip(above).zip(taken) {
            *left = above & !taken;
            any |= *left;
        }
        if any == 0 {
            return None;
        }
        let mut smaller = ModuleSet::EMPTY;
        for order in numbers(left) {
            smaller = smaller.union(instance.sets[order]);
            self.looks += 1;
        }
        smaller
            .holds(content.within(before[place]))
            .then_some(smaller)
    }

    /// Whether any union of orders left at `depth` that has the modules that stay can be worth
    /// enough: an order costs no less in it than in what stays together with its own modules.
    fn can_be_worth(&mut self, stays: ModuleSet, depth: usize) -> bool {
        let instance = self.ways.instance;
        let stays_cost = instance.cost(stays) * PARTS;
        let (mut looks, mut worth, mut rough) = (0, 0, 0);
        for order in numbers(&self.left[depth * self.ways.words..][..self.ways.words]) {
            looks += 1;
            let least = instance.boats[order] * stays_cost.max(self.ways.own[order]);
            rough += (self.prices[order] - least).max(0);
        }
        if rough > self.errand.above {
            for order in numbers(&self.left[depth * self.ways.words..][..self.ways.words]) {
                let least = instance.boats[order] * stays_cost.max(self.ways.own[order]);
                if self.prices[order] > least {
                    looks += 1;
                    let each = instance.cost(stays.union(instance.sets[order])) * PARTS;
                    worth += (self.prices[order] - instance.boats[order] * each).max(0);
                }
            }
        }
        self.looks += looks;
        if self.looks >= self.next_raise {
            self.next_raise = self.looks.saturating_add(self.errand.looks);
            let raised = self.errand.above.saturating_add(self.errand.raise);
            // Nothing is worth more than all prices: higher than that need not be asked.
            self.errand.above = raised.min(self.all_prices.max(self.errand.above));
            self.errand.raise = self.errand.raise.saturating_mul(2);
        }
        worth > self.errand.above
    }

    fn take(&mut self, union: ModuleSet) {
        let worth = gain_of(self.ways.instance, union, self.prices);
        if worth > self.errand.above {
            self.found.push((worth, union));
            if self.found.len() == self.errand.most.saturating_mul(2) {
                self.keep_best();
            }
        }
    }

    /// Keeps as many as are wanted. What is worth less than all of those is wanted no more.
    fn keep_best(&mut self) {
        self.found.sort_unstable_by(|a, b| b.cmp(a));
        self.found.truncate(self.errand.most);
        if let Some((least, _)) = self.found.get(self.errand.most - 1) {
            self.errand.above = self.errand.above.max(*least);
        }
    }
}

/// Numbers in a set of orders.
fn numbers(words: &[u64]) -> impl Iterator<Item = usize> {
    (0..).step_by(64).zip(words).flat_map(|(first, word)| {
        let mut left = *word;
        std::iter::from_fn(move || {
            let lowest = left.trailing_zeros();
            left &= left.wrapping_sub(1);
            (lowest < u64::BITS).then_some(first + lowest as usize)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contents::money::Cents;
    use crate::contents::wiring::Wiring;
    use std::collections::BTreeSet;

    /// Every union, one order after the other.
    fn plainly(orders: &[ModuleSet]) -> BTreeSet<ModuleSet> {
        let mut found = BTreeSet::new();
        for order in orders {
            let more: Vec<_> = found
                .iter()
                .map(|set: &ModuleSet| set.union(*order))
                .collect();
            found.extend(more);
            found.insert(*order);
        }
        found
    }

    fn cases(test: impl Fn(&Instance<'_>, &BTreeSet<ModuleSet>, &mut fastrand::Rng)) {
        let mut rng = fastrand::Rng::with_seed(7);
        for case in 0..300 {
            let modules = rng.usize(1..=12);
            let share = rng.f64();
            let count = rng.usize(1..=if case % 50 == 0 { 130 } else { 12 });
            let wiring = Wiring {
                modules: (0..modules).map(|_| Cents::new(rng.i64(0..100))).collect(),
                ..Wiring::default()
            };
            let orders: Vec<ModuleSet> = (0..count)
                .map(|_| ModuleSet::of((0..modules).filter(|_| rng.f64() < share)))
                .collect();
            let boats = (0..count).map(|_| rng.i64(0..9)).collect();
            let expected = plainly(&orders);
            test(&Instance::new(&wiring, orders, boats), &expected, &mut rng);
        }
    }

    #[test]
    fn every_union_is_found_once() {
        cases(|instance, expected, _| {
            let ways = Ways::new(instance);
            let found = ways.all(usize::MAX).unwrap();
            assert_eq!(found.len(), expected.len(), "{:?}", instance.sets);
            assert_eq!(&found.into_iter().collect::<BTreeSet<_>>(), expected);
            assert!(ways.all(expected.len()).is_some());
            assert!(ways.all(expected.len() - 1).is_none());
        });
        let wiring = Wiring::default();
        let none = Instance::new(&wiring, Vec::new(), Vec::new());
        assert_eq!(Ways::new(&none).all(0), Some(Vec::new()));
    }

    #[test]
    fn all_that_is_worth_enough_is_found_and_nothing_else() {
        cases(|instance, unions, rng| {
            let ways = Ways::new(instance);
            let count = instance.sets.len();
            let prices: Vec<i64> = (0..count).map(|_| rng.i64(0..1_500 * PARTS)).collect();
            let worth = |set: &ModuleSet| gain_of(instance, *set, &prices);
            let mut all: Vec<(i64, ModuleSet)> =
                unions.iter().map(|set| (worth(set), *set)).collect();
            all.sort_unstable_by(|a, b| b.cmp(a));
            let above = all[rng.usize(0..all.len())].0;
            let errand = Errand {
                above,
                most: usize::MAX,
                looks: u64::MAX,
                raise: 0,
            };
            let expected: Vec<_> = all
                .iter()
                .copied()
                .filter(|(worth, _)| *worth > above)
                .collect();
            let brought = ways.walk(&prices, errand);
            assert_eq!(brought.unions, expected);
            assert_eq!(brought.above, above);

            // Few wanted, or few looks allowed: what is left out is worth no more than is said.
            let looks = rng.u64(0..50);
            for errand in [
                Errand {
                    most: rng.usize(1..5),
                    ..errand
                },
                Errand {
                    looks,
                    raise: rng.i64(1..99),
                    ..errand
                },
            ] {
                let brought = ways.walk(&prices, errand);
                assert!(brought.unions.len() <= errand.most);
                assert!(brought.unions.iter().all(|found| expected.contains(found)));
                for left_out in expected.iter().filter(|one| !brought.unions.contains(one)) {
                    assert!(left_out.0 <= brought.above, "{left_out:?} of {brought:?}");
                }
            }
        });
    }
}
