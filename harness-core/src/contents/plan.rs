//! Contents and the orders they serve; a plan made better step by step.

use super::columns::PARTS;
use super::wiring::{Costs, ModuleSet, Wiring};

/// Distinct orders and the wiring they are served from.
#[derive(Clone, Debug)]
pub(super) struct Instance<'a> {
    /// The modules of each order.
    pub sets: Vec<ModuleSet>,
    /// The boats a year of each order.
    pub boats: Vec<i64>,
    costs: Costs<'a>,
}

/// Contents that together serve every order, and their wiring a year in cents.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Plan {
    pub contents: Vec<ModuleSet>,
    pub cost: i64,
}

impl<'a> Instance<'a> {
    pub(super) fn new(wiring: &'a Wiring, sets: Vec<ModuleSet>, boats: Vec<i64>) -> Self {
        Self {
            sets,
            boats,
            costs: Costs::of(wiring),
        }
    }

    /// Cents of one harness with this content.
    pub(super) fn cost(&self, content: ModuleSet) -> i64 {
        self.costs.cost(content)
    }

    /// The one content that serves every order.
    pub(super) fn full(&self) -> Plan {
        let content = self
            .sets
            .iter()
            .copied()
            .fold(ModuleSet::EMPTY, ModuleSet::union);
        Plan {
            contents: vec![content],
            cost: self.cost(content) * self.boats.iter().sum::<i64>(),
        }
    }

    /// For each order the cheapest content that holds it, the first of equals; nothing if an
    /// order is held by none.
    pub(super) fn served_by(&self, contents: &[ModuleSet]) -> Option<Vec<usize>> {
        let costs: Vec<i64> = contents.iter().map(|content| self.cost(*content)).collect();
        let cheapest = |order: &ModuleSet| {
            let holding = (0..contents.len()).filter(|at| contents[*at].holds(*order));
            holding.min_by_key(|at| costs[*at])
        };
        self.sets.iter().map(cheapest).collect()
    }

    /// At most `most` contents that serve every order, made from `start` by shrinking contents
    /// to what they serve and moving single orders as long as that saves something.
    pub(super) fn improved(&self, start: &[ModuleSet], most: usize) -> Plan {
        let mut groups = Groups::around(self, start, most);
        loop {
            groups.settle();
            if !groups.move_orders() {
                break;
            }
        }
        let used = groups.all.iter().filter(|group| group.orders > 0);
        Plan {
            contents: used.map(|group| group.content).collect(),
            cost: groups.cost(),
        }
    }
}

/// The best plan so far, of at most so many contents.
#[derive(Clone, Debug)]
pub(super) struct Best<'a> {
    pub instance: &'a Instance<'a>,
    pub most: usize,
    pub plan: Plan,
    /// Contents from which a plan was made last.
    tried: Vec<ModuleSet>,
}

impl<'a> Best<'a> {
    /// Begins with a plan known.
    pub(super) fn new(instance: &'a Instance<'a>, most: usize, plan: Plan) -> Self {
        Self {
            instance,
            most,
            plan,
            tried: Vec::new(),
        }
    }

    /// Its cost in the parts of a cent that bounds are counted in.
    pub(super) fn goal(&self) -> i64 {
        self.plan.cost * PARTS
    }

    /// A bound above this rules out every cheaper plan: a cheaper one is so by a cent.
    pub(super) fn limit(&self) -> i64 {
        (self.plan.cost - 1) * PARTS
    }

    /// Makes a plan from these contents, and keeps it if it is cheaper.
    pub(super) fn offer(&mut self, mut contents: Vec<ModuleSet>) {
        contents.sort_unstable();
        if contents == self.tried {
            return;
        }
        let plan = self.instance.improved(&contents, self.most);
        self.tried = contents;
        if plan.cost < self.plan.cost {
            self.plan = plan;
        }
    }
}

/// Orders served by one content.
#[derive(Clone, Copy, Debug, Default)]
struct Group {
    content: ModuleSet,
    orders: usize,
    boats: i64,
    /// Cents of one harness.
    each: i64,
}

/// Every order in a group, and every content the union of its orders.
struct Groups<'a> {
    instance: &'a Instance<'a>,
    /// Group of each order.
    of: Vec<usize>,
    all: Vec<Group>,
}

impl<'a> Groups<'a> {
    /// Each order with the cheapest of these contents; one that none holds enlarges the content
    /// that it makes dearer by the least.
    fn around(instance: &'a Instance<'a>, start: &[ModuleSet], most: usize) -> Self {
        let mut contents: Vec<ModuleSet> = start.iter().copied().take(most).collect();
        if contents.is_empty() {
            contents.push(ModuleSet::EMPTY);
        }
        for order in &instance.sets {
            if contents.iter().any(|content| content.holds(*order)) {
                continue;
            }
            let dearer = |content: &ModuleSet| {
                instance.cost(content.union(*order)) - instance.cost(*content)
            };
            if let Some(content) = contents.iter_mut().min_by_key(|content| dearer(content)) {
                *content = content.union(*order);
            }
        }
        let of = instance.served_by(&contents).unwrap_or_default();
        let mut groups = Self {
            instance,
            of,
            all: vec![Group::default(); most.max(1)],
        };
        groups.gather();
        groups
    }

    /// Shrinks every content to the union of its orders.
    fn gather(&mut self) {
        for group in 0..self.all.len() {
            self.all[group] = self.without(group, None);
        }
    }

    /// A group as it would be without one of its orders.
    fn without(&self, group: usize, order: Option<usize>) -> Group {
        let mut left = Group::default();
        for (at, of) in self.of.iter().enumerate() {
            if *of == group && Some(at) != order {
                left.content = left.content.union(self.instance.sets[at]);
                left.orders += 1;
                left.boats += self.instance.boats[at];
            }
        }
        left.each = self.instance.cost(left.content);
        left
    }

    /// A group as it would be with one more order.
    fn with(&self, group: usize, order: usize) -> Group {
        let group = &self.all[group];
        let content = group.content.union(self.instance.sets[order]);
        Group {
            content,
            orders: group.orders + 1,
            boats: group.boats + self.instance.boats[order],
            each: if content == group.content && group.orders > 0 {
                group.each
            } else {
                self.instance.cost(content)
            },
        }
    }

    fn cost(&self) -> i64 {
        self.all.iter().map(|group| group.boats * group.each).sum()
    }

    /// Gives every order the cheapest content that holds it and shrinks, until nothing changes.
    fn settle(&mut self) {
        loop {
            let mut changed = false;
            for (order, of) in self.of.iter_mut().enumerate() {
                let set = self.instance.sets[order];
                for (group, candidate) in self.all.iter().enumerate() {
                    let cheaper = candidate.each < self.all[*of].each;
                    if candidate.orders > 0 && cheaper && candidate.content.holds(set) {
                        *of = group;
                        changed = true;
                    }
                }
            }
            if !changed {
                return;
            }
            self.gather();
        }
    }

    /// Moves orders one at a time to the group where they cost least. Tells whether any moved.
    fn move_orders(&mut self) -> bool {
        let mut moved = false;
        for order in 0..self.of.len() {
            let from = self.of[order];
            let left = self.without(from, Some(order));
            let here = self.all[from];
            let saved = here.boats * here.each - left.boats * left.each;
            let best = (0..self.all.len())
                .filter(|to| *to != from)
                .map(|to| (to, self.with(to, order)))
                .map(|(to, grown)| {
                    let before = self.all[to].boats * self.all[to].each;
                    (grown.boats * grown.each - before, to, grown)
                })
                .min_by_key(|(added, to, _)| (*added, *to));
            if let Some((added, to, grown)) = best
                && added < saved
            {
                self.all[from] = left;
                self.all[to] = grown;
                self.of[order] = to;
                moved = true;
            }
        }
        moved
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contents::money::Cents;

    fn set(modules: &[usize]) -> ModuleSet {
        ModuleSet::of(modules.iter().copied())
    }

    fn wiring() -> Wiring {
        Wiring {
            modules: [10, 100, 1_000].map(Cents::new).to_vec(),
            ..Wiring::default()
        }
    }

    #[test]
    fn each_order_gets_the_cheapest_content_that_holds_it() {
        let wiring = wiring();
        let orders = vec![set(&[0]), set(&[1]), set(&[0, 2])];
        let instance = Instance::new(&wiring, orders, vec![5, 1, 2]);
        let contents = [set(&[0, 1, 2]), set(&[0, 1])];
        assert_eq!(instance.served_by(&contents), Some(vec![1, 1, 0]));
        assert_eq!(instance.served_by(&contents[1..]), None);
        assert_eq!(instance.full().cost, 8 * 1_110);
    }

    #[test]
    fn a_start_is_made_to_serve_all_and_shrunk() {
        let wiring = wiring();
        let orders = vec![set(&[0]), set(&[1]), set(&[0, 2])];
        let instance = Instance::new(&wiring, orders, vec![5, 1, 2]);
        // By hand: {0, 1} for six boats and {0, 2} for two.
        let found = instance.improved(&[set(&[0, 1, 2])], 2);
        assert_eq!(found.cost, 6 * 110 + 2 * 1_010);
        let mut contents = found.contents.clone();
        contents.sort();
        assert_eq!(contents, [set(&[0, 1]), set(&[0, 2])]);
        assert_eq!(instance.improved(&[], 9).cost, 5 * 10 + 100 + 2 * 1_010);
    }
}
