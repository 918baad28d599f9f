//! The cheapest plan of so many contents, with the proof: prices first, then a depth-first
//! search through the unions that the prices could not rule out.

use super::columns::{Columns, PARTS, gain_of};
use super::plan::{Best, Instance, Plan};
use super::prices::{Ascent, Bound, Choice, greatest};
use super::walk::{Errand, Ways};
use super::wiring::ModuleSet;

/// Unions taken along from one number of contents to the next.
const POOL: usize = 1_500;
/// New unions from one walk.
const NEW: usize = 500;
/// New unions that show prices to be far off still.
const MANY_NEW: usize = 50;
/// Steps of the prices between two walks.
const ROUND_STEPS: usize = 150;
/// Steps of the prices at each node of the search.
const NODE_STEPS: usize = 40;
/// Steps after which chosen contents are made into a plan.
const STEPS_A_PLAN: usize = 10;
/// Rounds that close little of the gap, after which the rest is left to the search.
const ROUNDS_IN_VAIN: usize = 2;
/// What share of the gap is little.
const LITTLE: i64 = 5;
/// Most unions left to the search: more are not searched in any reasonable time.
const MOST_LEFT: usize = 400_000;
/// A walk for new unions wants less when it takes more than this part of all looks.
const WALKS: u64 = 16;

/// A plan and what is proven about it.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub plan: Plan,
    /// No plan of at most so many contents costs less, in cents.
    pub bound: i64,
    /// Unions that prices left to the search; nothing if they could not all be found.
    pub left: Option<usize>,
    /// Nodes of the search.
    pub nodes: usize,
}

/// Prices and unions that were good so far, from which the next search begins.
#[derive(Clone, Debug)]
pub(super) struct Market<'a> {
    instance: &'a Instance<'a>,
    ways: Ways<'a>,
    /// Price of each order, in parts of a cent.
    prices: Vec<i64>,
    /// Unions among which prices are found, in order.
    pool: Vec<ModuleSet>,
}

impl<'a> Market<'a> {
    pub(super) fn new(instance: &'a Instance<'a>) -> Self {
        let orders = instance.sets.iter().zip(&instance.boats);
        let mut pool = instance.sets.clone();
        pool.extend(instance.full().contents);
        pool.sort_unstable();
        pool.dedup();
        Self {
            instance,
            ways: Ways::new(instance),
            prices: orders
                .map(|(set, boats)| instance.cost(*set) * boats * PARTS)
                .collect(),
            pool,
        }
    }

    /// Searches the cheapest plan of at most `most` contents, beginning with one known; ends
    /// without proof when `looks` orders have been looked at.
    pub(super) fn cheapest(&mut self, most: usize, start: Plan, looks: u64) -> Found {
        let mut best = Best::new(self.instance, most, start);
        let mut left_to_look = looks;
        let priced = self.find_prices(&mut best, looks / WALKS, &mut left_to_look);
        let mut bound = priced.bound;
        let (mut left, mut nodes) = (Some(0), 0);
        if bound <= best.limit() {
            let possible = self.still_possible(&priced, best.limit(), &mut left_to_look);
            left = possible.as_ref().map(Vec::len);
            if let Some(possible) = possible {
                let columns = Columns::new(self.instance, possible);
                let choice = Choice::any(&columns, most, self.prices.clone());
                let mut search = Search {
                    best: &mut best,
                    columns: &columns,
                    nodes: 0,
                    left_to_look,
                };
                let complete = search.below(choice);
                nodes = search.nodes;
                if complete {
                    bound = best.goal();
                }
            }
        }
        self.thin_out();
        // Costs are whole cents, so a bound between two of them is as good as the next.
        let cents = bound.div_euclid(PARTS) + i64::from(bound.rem_euclid(PARTS) > 0);
        Found {
            bound: cents.min(best.plan.cost),
            left,
            nodes,
            plan: best.plan,
        }
    }

    /// Finds prices on the pool, walks for unions that are worth more at these prices, and finds
    /// prices again, until the bound hardly rises. Leaves the prices of the best bound.
    fn find_prices(&mut self, best: &mut Best<'_>, looks: u64, left_to_look: &mut u64) -> Priced {
        // With a harness of its own for each order nothing is given away.
        let orders = self.instance.sets.iter().zip(&self.instance.boats);
        let mut priced = Priced {
            bound: orders
                .map(|(set, boats)| self.instance.cost(*set) * boats * PARTS)
                .sum(),
            but_one: None,
        };
        let mut kept = self.prices.clone();
        let mut ascent = Ascent::far(kept.len());
        let mut in_vain = 0;
        while in_vain < ROUNDS_IN_VAIN && *left_to_look > 0 {
            self.join_pool(best.plan.contents.clone());
            let mut gains = self.settle_prices(best, ascent, left_to_look);
            ascent = Ascent::near(self.prices.len());
            let all_prices: i64 = self.prices.iter().sum();
            let gap = best.goal() - (all_prices - gains.iter().sum::<i64>());
            let brought = self.ways.walk(
                &self.prices,
                Errand {
                    // A little below what is chosen, so that prices do not run to and fro.
                    above: (gains[best.most - 1] - gap / 4).max(0),
                    most: NEW,
                    looks,
                    raise: gap.max(PARTS),
                },
            );
            *left_to_look = left_to_look.saturating_sub(brought.looks);
            let is_new = |set: &ModuleSet| self.pool.binary_search(set).is_err();
            let new = brought.unions.into_iter().filter(|(_, set)| is_new(set));
            let (new_gains, new): (Vec<i64>, Vec<ModuleSet>) = new.unzip();
            gains.extend(new_gains);
            let (chosen, _) = greatest(&gains, best.most);
            // What the walk left out may be worth as much as it says.
            let worth: Vec<i64> = chosen
                .iter()
                .map(|(_, gain)| *gain.max(&brought.above))
                .collect();
            let bound = all_prices - worth.iter().sum::<i64>();
            in_vain += usize::from(new.len() < MANY_NEW);
            if bound > priced.bound {
                if bound - priced.bound > (best.goal() - priced.bound) / LITTLE {
                    in_vain = 0;
                }
                priced = Priced {
                    bound,
                    but_one: Some(bound + worth[best.most - 1]),
                };
                kept.clone_from(&self.prices);
            }
            if bound > best.limit() {
                break;
            }
            self.join_pool(new);
        }
        self.prices = kept;
        priced
    }

    /// Finds the prices that give the best bound on the pool, and plans on the way. Gives what
    /// the `most` best of the pool are worth at them, most first.
    fn settle_prices(
        &mut self,
        best: &mut Best<'_>,
        ascent: Ascent,
        left_to_look: &mut u64,
    ) -> Vec<i64> {
        let columns = Columns::new(self.instance, self.pool.clone());
        let mut choice = Choice::any(&columns, best.most, std::mem::take(&mut self.prices));
        let mut turn = 0;
        ascent.climb(&mut choice, &columns, ROUND_STEPS, |choice, bound, _| {
            if turn % STEPS_A_PLAN == 0 {
                best.offer(choice.contents(bound, &columns));
            }
            turn += 1;
            *left_to_look = left_to_look.saturating_sub(choice.looks(&columns));
            Some(best.goal())
        });
        let chosen = choice.bound(&columns).chosen;
        self.prices = choice.prices;
        let mut gains: Vec<i64> = chosen.into_iter().map(|(_, gain)| gain).collect();
        gains.resize(best.most, 0);
        gains
    }

    /// The unions that a plan below `limit` may have; nothing if they cannot all be found.
    fn still_possible(
        &self,
        priced: &Priced,
        limit: i64,
        left_to_look: &mut u64,
    ) -> Option<Vec<ModuleSet>> {
        // A plan with a union and the best others costs no less than the prices leave, less what
        // the union is worth.
        let above = priced.but_one.map_or(-1, |but_one| but_one - limit - 1);
        let errand = Errand {
            above,
            most: MOST_LEFT,
            looks: *left_to_look / 2,
            raise: i64::MAX, // or not at all
        };
        let brought = self.ways.walk(&self.prices, errand);
        *left_to_look = left_to_look.saturating_sub(brought.looks);
        let sets = brought.unions.into_iter().map(|(_, set)| set);
        (brought.above == above).then(|| sets.collect())
    }

    /// Adds unions to the pool.
    fn join_pool(&mut self, unions: Vec<ModuleSet>) {
        self.pool.extend(unions);
        self.pool.sort_unstable();
        self.pool.dedup();
    }

    /// Keeps the part of the pool that is worth most.
    fn thin_out(&mut self) {
        let gain = |set: &ModuleSet| gain_of(self.instance, *set, &self.prices);
        let gains: Vec<i64> = self.pool.iter().map(gain).collect();
        let mut places: Vec<usize> = (0..gains.len()).collect();
        places.sort_unstable_by_key(|at| (-gains[*at], *at));
        places.truncate(POOL);
        places.sort_unstable();
        self.pool = places.into_iter().map(|at| self.pool[at]).collect();
    }
}

/// What prices give.
#[derive(Clone, Copy, Debug)]
struct Priced {
    /// No plan costs less, in parts of a cent.
    bound: i64,
    /// No plan but for one of its contents costs less; nothing if no prices were found.
    but_one: Option<i64>,
}

/// Depth-first search: each node takes a content or leaves it out for good.
struct Search<'s, 'i> {
    best: &'s mut Best<'i>,
    columns: &'s Columns,
    nodes: usize,
    left_to_look: u64,
}

impl Search<'_, '_> {
    /// Drives the bound of a choice up, makes plans on the way, and narrows the choice.
    fn climb(&mut self, choice: &mut Choice) -> i64 {
        let (best, columns) = (&mut *self.best, self.columns);
        let left_to_look = &mut self.left_to_look;
        let mut turn = 0;
        let look = |choice: &mut Choice, bound: &Bound, better: bool| {
            *left_to_look = left_to_look.saturating_sub(choice.looks(columns));
            if turn % STEPS_A_PLAN == 0 {
                best.offer(choice.contents(bound, columns));
            }
            turn += 1;
            if better {
                if bound.value > best.limit() {
                    return None;
                }
                choice.narrow(bound, best.limit());
            }
            let undecided = choice.open() > 0 && !choice.free.is_empty();
            (undecided && *left_to_look > 0).then(|| best.goal())
        };
        Ascent::near(choice.prices.len()).climb(choice, columns, NODE_STEPS, look)
    }

    /// Searches a choice. Tells whether it was searched to the end.
    fn below(&mut self, mut choice: Choice) -> bool {
        loop {
            if self.left_to_look == 0 {
                return false;
            }
            self.nodes += 1;
            if self.climb(&mut choice) > self.best.limit() {
                return true;
            }
            if choice.open() <= 1 || choice.free.is_empty() {
                self.last(&choice);
                return true;
            }
            let bound = choice.bound(self.columns);
            let Some(&(branch, _)) = bound.chosen.first() else {
                return true;
            };
            choice.free.retain(|column| *column != branch);
            let mut with = choice.clone();
            with.forced.push(branch);
            if !self.below(with) {
                return false;
            }
        }
    }

    /// At most one more content may be taken: tries each.
    fn last(&mut self, choice: &Choice) {
        let mut forced = vec![None; choice.prices.len()];
        for column in &choice.forced {
            self.serve(&mut forced, *column);
        }
        let free = choice.free.iter().take_while(|_| choice.open() > 0);
        for last in free.map(Some).chain([None]) {
            let mut costs = forced.clone();
            if let Some(column) = last {
                self.serve(&mut costs, *column);
            }
            let Some(cost) = costs.into_iter().sum::<Option<i64>>() else {
                continue; // an order is served by none
            };
            if cost < self.best.goal() {
                let taken = choice.forced.iter().chain(last);
                self.best.plan = Plan {
                    contents: taken.map(|column| self.columns.sets[*column]).collect(),
                    cost: cost / PARTS,
                };
            }
        }
    }

    /// Serves each order that the column holds from it, where that is cheaper.
    fn serve(&self, costs: &mut [Option<i64>], column: usize) {
        for (order, cost) in self.columns.serves(column) {
            costs[order] = Some(costs[order].map_or(cost, |known| known.min(cost)));
        }
    }
}
