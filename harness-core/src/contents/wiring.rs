//! Sets of modules, and what the wiring of a set costs.

use super::money::Cents;

/// Most modules: one bit each.
pub const MOST_MODULES: usize = 64;

/// A set of modules; a module is an option, or options that are wired together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct ModuleSet(u64);

impl ModuleSet {
    /// No module.
    pub const EMPTY: Self = Self(0);

    /// These modules; numbers of [`MOST_MODULES`] and more are no modules.
    pub fn of(modules: impl IntoIterator<Item = usize>) -> Self {
        let bits = modules.into_iter().filter(|module| *module < MOST_MODULES);
        Self(bits.fold(0, |bits, module| bits | 1 << module))
    }

    /// Modules of either.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Modules that the other has not.
    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Modules that the other has too.
    #[must_use]
    pub const fn within(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Whether every module of the other is in this one.
    pub const fn holds(self, other: Self) -> bool {
        other.0 & !self.0 == 0
    }

    /// Whether any module is in both.
    pub const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether there is none.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many there are.
    pub const fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Numbers of the modules, rising.
    pub fn modules(self) -> impl Iterator<Item = usize> {
        let mut left = self.0;
        std::iter::from_fn(move || {
            let lowest = left.trailing_zeros();
            left &= left.wrapping_sub(1);
            (lowest < u64::BITS).then_some(lowest as usize)
        })
    }
}

/// Something that is built in once if any of some modules is: a feeder, a conduit, a connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shared {
    /// The modules, any one of which needs it.
    pub needed_by: ModuleSet,
    /// Its cost.
    pub cost: Cents,
}

/// What the wiring of one harness costs. No amount is negative, so more modules never cost less.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wiring {
    /// What is in every harness.
    pub base: Cents,
    /// Wiring of each module by itself.
    pub modules: Vec<Cents>,
    /// What modules share.
    pub shared: Vec<Shared>,
}

impl Wiring {
    /// Cost of a harness with this content.
    pub fn cost(&self, content: ModuleSet) -> Cents {
        let modules = content
            .modules()
            .filter_map(|module| self.modules.get(module));
        let shared = self
            .shared
            .iter()
            .filter(|part| content.meets(part.needed_by));
        self.base + modules.copied().sum() + shared.map(|part| part.cost).sum()
    }

    /// What a module adds to a harness with this content, and would save if it were left out.
    pub fn marginal(&self, content: ModuleSet, module: usize) -> Cents {
        let module = ModuleSet::of([module]);
        self.cost(content.union(module)) - self.cost(content.without(module))
    }
}

/// [`Wiring::cost`] for many look-ups: modules added up beforehand, eight at a time.
#[derive(Clone, Debug)]
pub(super) struct Costs<'a> {
    wiring: &'a Wiring,
    /// Cents of each choice of modules 0 to 7, then of each choice of 8 to 15, and so on.
    eights: Vec<i64>,
}

impl<'a> Costs<'a> {
    pub(super) fn of(wiring: &'a Wiring) -> Self {
        let eights = wiring.modules.chunks(8).flat_map(|eight| {
            (0..256_usize).map(|choice| {
                let taken = eight
                    .iter()
                    .enumerate()
                    .filter(|(at, _)| choice >> at & 1 == 1);
                taken.map(|(_, cost)| cost.value()).sum()
            })
        });
        Self {
            wiring,
            eights: eights.collect(),
        }
    }

    /// Cents of a harness with this content.
    pub(super) fn cost(&self, content: ModuleSet) -> i64 {
        let mut cost = self.wiring.base.value();
        let mut left = content.0;
        for costs in self.eights.chunks_exact(256) {
            cost += costs[(left & 255) as usize];
            left >>= 8;
        }
        for part in &self.wiring.shared {
            if content.meets(part.needed_by) {
                cost += part.cost.value();
            }
        }
        cost
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_gives_its_modules_back() {
        let set = ModuleSet::of([0, 5, 63, 64, 5]);
        assert_eq!(set.modules().collect::<Vec<_>>(), [0, 5, 63]);
        assert_eq!(set.len(), 3);
        assert_eq!(ModuleSet::EMPTY.modules().count(), 0);
        assert!(set.holds(ModuleSet::of([5])) && !set.holds(ModuleSet::of([5, 6])));
        assert!(set.holds(ModuleSet::EMPTY) && !set.meets(ModuleSet::EMPTY));
    }

    #[test]
    fn what_is_shared_is_paid_once() {
        let wiring = Wiring {
            base: Cents::new(1_000),
            modules: vec![Cents::new(10), Cents::new(20), Cents::new(40)],
            shared: vec![Shared {
                needed_by: ModuleSet::of([0, 1]),
                cost: Cents::new(500),
            }],
        };
        let cost = |modules: &[usize]| wiring.cost(ModuleSet::of(modules.iter().copied())).value();
        assert_eq!(cost(&[]), 1_000);
        assert_eq!(cost(&[0]), 1_510);
        assert_eq!(cost(&[0, 1]), 1_530);
        assert_eq!(cost(&[2]), 1_040);
        let with = |modules: &[usize], one| {
            wiring
                .marginal(ModuleSet::of(modules.iter().copied()), one)
                .value()
        };
        assert_eq!(with(&[], 0), 510);
        assert_eq!(with(&[1, 2], 0), 10);
        assert_eq!(with(&[0, 1, 2], 0), 10);
    }

    #[test]
    fn costs_looked_up_are_those_of_the_wiring() {
        let mut rng = fastrand::Rng::with_seed(3);
        for count in [0, 1, 7, 8, 9, 24, 63, 64] {
            let set = |rng: &mut fastrand::Rng| ModuleSet::of((0..count).filter(|_| rng.bool()));
            let wiring = Wiring {
                base: Cents::new(rng.i64(0..1_000)),
                modules: (0..count).map(|_| Cents::new(rng.i64(0..1_000))).collect(),
                shared: (0..3)
                    .map(|_| Shared {
                        needed_by: set(&mut rng),
                        cost: Cents::new(rng.i64(0..1_000)),
                    })
                    .collect(),
            };
            let costs = Costs::of(&wiring);
            for _ in 0..100 {
                let content = set(&mut rng);
                assert_eq!(costs.cost(content), wiring.cost(content).value());
            }
        }
    }
}
