//! How many harness contents to make, which, and who gets which: the cheapest set of one, two,
//! three ... contents such that each order gets a harness that has all it asks for.
//!
//! Exact, with its proof. Contents worth looking at are the unions of orders; prices for serving
//! each order bound every plan from below and rule most unions out; a depth-first search goes
//! through the rest. Where that cannot be done to the end, the best plan found stands beside the
//! bound that is proven.

use super::money::Cents;
use super::plan::Instance;
use super::search::{Found, Market};
use super::walk::Ways;
use super::wiring::{MOST_MODULES, ModuleSet, Wiring};
use crate::working::NotEvaluated;
use std::collections::BTreeMap;

/// Most contents that are asked about: more part numbers than that are made to order.
pub const MOST_CONTENTS: usize = 5;
/// Most orders in one question (our practice: ten times the orders of a long price list).
pub const MOST_ORDERS: usize = 500;
/// Most boats a year.
pub const MOST_BOATS: u32 = 1_000_000;
/// Greatest cost a year of the full harness on every boat: far above any builder's, and low
/// enough that no sum on the way overflows.
pub const MOST_A_YEAR: Cents = Cents::new(1_000_000_000_000);

/// What boats are ordered with, and how often.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// The modules.
    pub set: ModuleSet,
    /// Boats a year; none if it can be ordered but is not expected.
    pub boats: u32,
}

/// The question.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Demand {
    /// What wiring costs.
    pub wiring: Wiring,
    /// The orders; equal ones are taken together.
    pub orders: Vec<Order>,
    /// Yearly cost of one more part number: drawing, board, test program, stock, mis-picks.
    pub part_number: Cents,
}

/// How far to go before answering without proof. Counts, no clock: the answer is the same on
/// every machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// Most orders looked at for each number of contents; a million take about five
    /// milliseconds.
    pub looks: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            looks: 2_000_000_000,
        }
    }
}

/// One harness to make.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Content {
    /// Its modules.
    pub set: ModuleSet,
    /// Cost of one.
    pub each: Cents,
    /// How many a year.
    pub boats: u32,
    /// The orders it serves, by their place among the distinct ones.
    pub serves: Vec<usize>,
}

/// The cheapest way with so many contents.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Level {
    /// How many contents there may be.
    pub most: usize,
    /// The contents, cheapest harness first. Fewer than there may be, where one more saves
    /// nothing.
    pub contents: Vec<Content>,
    /// Wiring of all boats a year.
    pub wiring: Cents,
    /// Part numbers a year.
    pub part_numbers: Cents,
    /// No plan with as many contents has a lower cost a year than this.
    pub lower_bound: Cents,
    /// Unions of orders that prices left to the search; nothing if they are too many to find.
    pub left: Option<usize>,
    /// Nodes of that search.
    pub nodes: usize,
}

impl Level {
    /// Wiring and part numbers a year.
    pub fn cost(&self) -> Cents {
        self.wiring + self.part_numbers
    }

    /// Whether it is proven that nothing is cheaper.
    pub fn is_proven(&self) -> bool {
        self.lower_bound == self.cost()
    }
}

/// The answer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Levels {
    /// The distinct orders, in the order of their first mention.
    pub orders: Vec<Order>,
    /// For each order as given, its place among the distinct ones.
    pub place: Vec<usize>,
    /// The cheapest way with one content, two, three ...; none without orders, and no more than
    /// there are distinct orders.
    pub levels: Vec<Level>,
    /// Cost a year with a harness of its own for each distinct order.
    pub per_order: Cents,
}

impl Levels {
    /// The cheapest level, with the fewest contents among equals; none without orders.
    pub fn cheapest(&self) -> Option<&Level> {
        self.levels.iter().min_by_key(|level| level.cost())
    }
}

impl Demand {
    /// Finds the cheapest way with one content, two, ... up to `most` (at most
    /// [`MOST_CONTENTS`]).
    ///
    /// # Errors
    /// Not evaluated when a cost is negative, there are more orders than [`MOST_ORDERS`], an
    /// order has a module without a cost, there are more boats than [`MOST_BOATS`], or the full
    /// harness on every boat costs more than [`MOST_A_YEAR`].
    pub fn levels(&self, most: usize, effort: Effort) -> Result<Levels, NotEvaluated> {
        self.check()?;
        let (sets, boats, place) = merged(&self.orders);
        let instance = Instance::new(&self.wiring, sets, boats);
        let mut found = Levels {
            orders: self.merged(&place, &instance),
            place,
            per_order: self.per_order(&instance),
            ..Levels::default()
        };
        let most = most.min(MOST_CONTENTS).min(instance.sets.len());
        let plans = plans(&instance, most, effort);
        let levels = (1..).zip(&plans);
        found.levels = levels
            .filter_map(|(most, plan)| self.level(&instance, most, plan))
            .collect();
        Ok(found)
    }

    /// How many unions of orders there are, each of them a content that could be made; nothing
    /// if they are more than `most`.
    ///
    /// # Errors
    /// As [`Self::levels`].
    pub fn unions(&self, most: usize) -> Result<Option<usize>, NotEvaluated> {
        self.check()?;
        let (sets, boats, _) = merged(&self.orders);
        let instance = Instance::new(&self.wiring, sets, boats);
        Ok(Ways::new(&instance).all(most).map(|unions| unions.len()))
    }

    fn check(&self) -> Result<(), NotEvaluated> {
        let wiring = &self.wiring;
        let parts = wiring.shared.iter().map(|part| part.cost);
        let amounts = parts
            .chain(wiring.modules.iter().copied())
            .chain([wiring.base]);
        let known = ModuleSet::of(0..wiring.modules.len());
        let refuse = |reason: String| Err(NotEvaluated::because(reason));
        if amounts
            .clone()
            .chain([self.part_number])
            .any(|amount| amount < Cents::default())
        {
            return refuse("a cost is negative".to_owned());
        }
        if wiring.modules.len() > MOST_MODULES || self.orders.len() > MOST_ORDERS {
            return refuse(format!(
                "there are more than {MOST_MODULES} modules or {MOST_ORDERS} orders"
            ));
        }
        if self.orders.iter().any(|order| !known.holds(order.set)) {
            return refuse("an order has a module whose cost is not stated".to_owned());
        }
        let boats: i128 = self
            .orders
            .iter()
            .map(|order| i128::from(order.boats))
            .sum();
        if boats > i128::from(MOST_BOATS) {
            return refuse(format!("there are more than {MOST_BOATS} boats a year"));
        }
        let sum: i128 = amounts.map(|amount| i128::from(amount.value())).sum();
        let most = i128::from(MOST_A_YEAR.value());
        if sum * boats.max(1) > most || i128::from(self.part_number.value()) > most {
            return refuse(format!(
                "the full harness on every boat, or one part number, would cost more than \
                 {MOST_A_YEAR} a year"
            ));
        }
        Ok(())
    }

    fn merged(&self, place: &[usize], instance: &Instance<'_>) -> Vec<Order> {
        let mut orders: Vec<Order> = instance
            .sets
            .iter()
            .map(|set| Order {
                set: *set,
                boats: 0,
            })
            .collect();
        for (order, place) in self.orders.iter().zip(place) {
            orders[*place].boats += order.boats;
        }
        orders
    }

    fn per_order(&self, instance: &Instance<'_>) -> Cents {
        let orders = instance.sets.iter().zip(&instance.boats);
        let wiring = orders.map(|(set, boats)| self.wiring.cost(*set).times(*boats));
        wiring.sum::<Cents>() + self.part_number.times(instance.sets.len() as i64)
    }

    /// A plan in full; nothing only if it does not serve every order, which no plan does.
    fn level(&self, instance: &Instance<'_>, most: usize, found: &Found) -> Option<Level> {
        let mut sets = found.plan.contents.clone();
        sets.sort_by_key(|set| (self.wiring.cost(*set), *set));
        sets.dedup();
        let served_by = instance.served_by(&sets)?;
        let contents: Vec<Content> = sets
            .iter()
            .enumerate()
            .map(|(at, set)| {
                let serves: Vec<usize> = (0..served_by.len())
                    .filter(|order| served_by[*order] == at)
                    .collect();
                Content {
                    set: *set,
                    each: self.wiring.cost(*set),
                    boats: serves
                        .iter()
                        .map(|order| instance.boats[*order] as u32)
                        .sum(),
                    serves,
                }
            })
            .filter(|content| !content.serves.is_empty())
            .collect();
        let part_numbers = self.part_number.times(contents.len() as i64);
        Some(Level {
            most,
            wiring: contents
                .iter()
                .map(|content| content.each.times(i64::from(content.boats)))
                .sum(),
            part_numbers,
            lower_bound: Cents::new(found.bound) + part_numbers,
            contents,
            left: found.left,
            nodes: found.nodes,
        })
    }
}

/// The cheapest plans of one content, of two, and so on.
fn plans(instance: &Instance<'_>, most: usize, effort: Effort) -> Vec<Found> {
    let full = instance.full();
    let mut found = vec![Found {
        bound: full.cost,
        plan: full,
        left: Some(0),
        nodes: 0,
    }];
    let mut market = Market::new(instance);
    for contents in 2..=most {
        let start = instance.improved(&found[contents - 2].plan.contents, contents);
        found.push(market.cheapest(contents, start, effort.looks));
    }
    found.truncate(most);
    found
}

/// Distinct sets in the order of their first mention, the boats of each together, and for each
/// mention the place of its set.
fn merged(orders: &[Order]) -> (Vec<ModuleSet>, Vec<i64>, Vec<usize>) {
    let (mut sets, mut boats, mut places) = (Vec::new(), Vec::new(), Vec::new());
    let mut known = BTreeMap::new();
    for order in orders {
        let place = *known.entry(order.set).or_insert_with(|| {
            sets.push(order.set);
            boats.push(0);
            sets.len() - 1
        });
        boats[place] += i64::from(order.boats);
        places.push(place);
    }
    (sets, boats, places)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(modules: &[usize]) -> ModuleSet {
        ModuleSet::of(modules.iter().copied())
    }

    fn demand(orders: &[(&[usize], u32)]) -> Demand {
        let order = |(modules, boats): &(&[usize], u32)| Order {
            set: set(modules),
            boats: *boats,
        };
        Demand {
            wiring: Wiring {
                base: Cents::new(10_000),
                modules: [1_000, 2_000, 40_000].map(Cents::new).to_vec(),
                shared: Vec::new(),
            },
            orders: orders.iter().map(order).collect(),
            part_number: Cents::new(100_000),
        }
    }

    fn levels(demand: &Demand) -> Levels {
        demand.levels(MOST_CONTENTS, Effort::default()).unwrap()
    }

    #[test]
    fn a_dear_option_gets_a_harness_of_its_own() {
        let found = levels(&demand(&[(&[0], 50), (&[1], 40), (&[0, 1, 2], 10)]));
        // By hand: all 530 for 100 boats; {0, 1} at 130 for 90 and all for 10; each its own.
        let cost: Vec<i64> = found
            .levels
            .iter()
            .map(|level| level.cost().value())
            .collect();
        assert_eq!(
            cost,
            [
                100 * 53_000 + 100_000,
                90 * 13_000 + 10 * 53_000 + 200_000,
                50 * 11_000 + 40 * 12_000 + 10 * 53_000 + 300_000
            ]
        );
        assert_eq!(found.per_order.value(), cost[2]);
        assert_eq!(
            demand(&[(&[0], 50), (&[1], 40), (&[0, 1, 2], 10)]).unions(9),
            Ok(Some(4))
        );
        let best = found.cheapest().unwrap();
        assert_eq!(best.most, 3);
        assert_eq!(best.contents[0].serves, [0]);
        assert_eq!(best.contents[2].set, set(&[0, 1, 2]));
        assert_eq!(
            (best.contents[1].boats, best.contents[1].each.value()),
            (40, 12_000)
        );
    }

    #[test]
    fn without_orders_there_is_nothing_to_make() {
        let found = levels(&demand(&[]));
        assert_eq!(found.levels, []);
        assert_eq!(found.cheapest(), None);
        assert_eq!(found.per_order, Cents::default());
    }

    #[test]
    fn there_are_no_more_contents_than_orders() {
        let found = levels(&demand(&[(&[0], 5), (&[], 3)]));
        assert_eq!(found.levels.len(), 2);
        assert_eq!(found.levels[1].wiring.value(), 5 * 11_000 + 3 * 10_000);
        assert_eq!(levels(&demand(&[(&[], 3)])).levels.len(), 1);
    }

    #[test]
    fn equal_orders_are_one() {
        let found = levels(&demand(&[(&[0], 5), (&[1], 2), (&[0], 7), (&[1], 0)]));
        assert_eq!(found.place, [0, 1, 0, 1]);
        let boats: Vec<u32> = found.orders.iter().map(|order| order.boats).collect();
        assert_eq!(boats, [12, 2]);
        assert_eq!(found.levels.len(), 2);
    }

    #[test]
    fn what_can_be_ordered_but_is_not_expected_is_served_all_the_same() {
        let found = levels(&demand(&[(&[2], 0), (&[0], 5)]));
        assert_eq!(found.levels[0].wiring.value(), 5 * 51_000);
        assert_eq!(found.levels[1].wiring.value(), 5 * 11_000);
        assert!(
            found.levels[1]
                .contents
                .iter()
                .any(|content| content.serves == [0])
        );

        let none = levels(&demand(&[(&[0], 0), (&[1], 0), (&[2], 0)]));
        for level in &none.levels {
            assert_eq!(
                (level.wiring.value(), level.contents.len()),
                (0, 1),
                "{none:?}"
            );
            assert!(level.is_proven());
        }
    }

    #[test]
    fn what_cannot_be_meant_is_not_evaluated() {
        let good = demand(&[(&[0], 5)]);
        let refused = |change: &dyn Fn(&mut Demand)| {
            let mut bad = good.clone();
            change(&mut bad);
            bad.levels(2, Effort::default()).unwrap_err().to_string()
        };
        assert!(refused(&|bad| bad.part_number = Cents::new(-1)).contains("negative"));
        assert!(refused(&|bad| bad.wiring.modules[0] = Cents::new(-1)).contains("negative"));
        assert!(refused(&|bad| bad.orders[0].set = set(&[3])).contains("not stated"));
        assert!(refused(&|bad| bad.orders[0].boats = MOST_BOATS + 1).contains("boats a year"));
        assert!(refused(&|bad| bad.wiring.base = MOST_A_YEAR).contains("would cost more"));
        let many = vec![good.orders[0]; MOST_ORDERS + 1];
        assert!(refused(&|bad| bad.orders.clone_from(&many)).contains("500 orders"));
    }
}
