//! Every set that is a union of ordered sets, each found once.
//!
//! A content that is not the union of what it serves can be shrunk to it and never costs more,
//! so the unions are all the contents worth looking at.
//!
//! Walking down from the union of everything: take away every order with module k, and with
//! these orders the modules that nothing else needs. A set is kept only on the way on which no
//! module before k went with them, so each has one way and no table of sets seen is needed.

use super::wiring::{MOST_MODULES, ModuleSet};

/// Every union of one order or more; nothing when there are more than `most`.
pub(super) fn unions(orders: &[ModuleSet], most: usize) -> Option<Vec<ModuleSet>> {
    if orders.is_empty() {
        return Some(Vec::new());
    }
    let words = orders.len().div_ceil(64);
    let mut with = vec![0; MOST_MODULES * words];
    for (number, order) in orders.iter().enumerate() {
        for module in order.modules() {
            with[module * words + number / 64] |= 1 << (number % 64);
        }
    }
    let everything = orders.iter().copied().fold(ModuleSet::EMPTY, ModuleSet::union);
    let mut modules: Vec<usize> = everything.modules().collect();
    let ordered = |module: usize| -> u32 {
        let of_module = &with[module * words..(module + 1) * words];
        of_module.iter().map(|word: &u64| word.count_ones()).sum()
    };
    // Rare modules first: fewer others go with them, so fewer ways are tried in vain.
    modules.sort_by_key(|module| (ordered(*module), *module));

    let mut left = vec![0; (modules.len() + 1) * words];
    for number in 0..orders.len() {
        left[number / 64] |= 1 << (number % 64);
    }
    let mut walk = Walk {
        words,
        with,
        modules,
        left,
        most,
        found: vec![everything],
    };
    (most > 0 && walk.below(everything, 0, 0)).then_some(walk.found)
}

struct Walk {
    /// 64-bit words of a set of orders.
    words: usize,
    /// For each module the orders with it.
    with: Vec<u64>,
    /// Modules in the order in which they are taken away.
    modules: Vec<usize>,
    /// Orders left at each depth of the walk.
    left: Vec<u64>,
    most: usize,
    found: Vec<ModuleSet>,
}

impl Walk {
    /// Finds what is below `content` by taking away modules from `first` on. Tells whether all
    /// of it was found.
    fn below(&mut self, content: ModuleSet, first: usize, depth: usize) -> bool {
        for place in first..self.modules.len() {
            let Some(smaller) = self.smaller(content, place, depth) else {
                continue;
            };
            if self.found.len() == self.most {
                return false;
            }
            self.found.push(smaller);
            if !self.below(smaller, place + 1, depth + 1) {
                return false;
            }
        }
        true
    }

    /// The union of the orders left without the module at `place`; nothing if there are none or
    /// if a module before it goes too. The orders left stand at the next depth then.
    fn smaller(&mut self, content: ModuleSet, place: usize, depth: usize) -> Option<ModuleSet> {
        let words = self.words;
        let module = self.modules[place];
        if !content.holds(ModuleSet::of([module])) {
            return None;
        }
        let (above, rest) = self.left.split_at_mut((depth + 1) * words);
        let (above, left) = (&above[depth * words..], &mut rest[..words]);
        let taken = &self.with[module * words..(module + 1) * words];
        let mut any = 0;
        for ((left, above), taken) in left.iter_mut().zip(above).zip(taken) {
            *left = above & !taken;
            any |= *left;
        }
        if any == 0 {
            return None;
        }
        let mut smaller = ModuleSet::EMPTY;
        for (at, &other) in self.modules.iter().enumerate() {
            let one = ModuleSet::of([other]);
            if !content.holds(one) {
                continue;
            }
            let with = &self.with[other * words..(other + 1) * words];
            if left.iter().zip(with).any(|(left, with)| left & with != 0) {
                smaller = smaller.union(one);
            } else if at < place {
                return None;
            }
        }
        Some(smaller)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// Every union, one order after the other.
    fn plainly(orders: &[ModuleSet]) -> BTreeSet<ModuleSet> {
        let mut found = BTreeSet::new();
        for order in orders {
            let more: Vec<_> = found.iter().map(|set: &ModuleSet| set.union(*order)).collect();
            found.extend(more);
            found.insert(*order);
        }
        found
    }

    #[test]
    fn every_union_is_found_once() {
        let mut rng = fastrand::Rng::with_seed(7);
        for case in 0..300 {
            let modules = rng.usize(1..=12);
            let share = rng.f64();
            let count = rng.usize(1..=if case % 50 == 0 { 130 } else { 12 });
            let orders: Vec<ModuleSet> = (0..count)
                .map(|_| ModuleSet::of((0..modules).filter(|_| rng.f64() < share)))
                .collect();
            let found = unions(&orders, usize::MAX).unwrap();
            let expected = plainly(&orders);
            assert_eq!(found.len(), expected.len(), "{orders:?}");
            assert_eq!(found.into_iter().collect::<BTreeSet<_>>(), expected);
            assert!(unions(&orders, expected.len()).is_some());
            assert!(unions(&orders, expected.len() - 1).is_none());
        }
        assert_eq!(unions(&[], 0), Some(Vec::new()));
    }
}
