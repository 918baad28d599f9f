//! The cheapest plan of so many contents, with the proof: prices sieve all contents, then a
//! depth-first search goes through the few that are left.

use super::columns::{Columns, PARTS, gain_of};
use super::plan::{Best, Instance, Plan};
use super::prices::{Ascent, Bound, Choice, greatest};
use super::wiring::ModuleSet;

/// Contents priced at every step of the sieve; all others are priced between rounds.
const CORE: usize = 1_500;
/// Steps on the core in one round.
const ROUND_STEPS: usize = 120;
/// Rounds without a better bound after which the rest is searched, however many they are.
const ROUNDS_IN_VAIN: usize = 3;
/// Steps before the search where there was nothing to sieve.
const FIRST_STEPS: usize = 400;
/// Steps at each node of the search.
const NODE_STEPS: usize = 40;
/// Steps after which chosen contents are made into a plan.
const STEPS_A_PLAN: usize = 10;

/// A plan and what is proven about it.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub plan: Plan,
    /// No plan of at most so many contents costs less, in cents.
    pub bound: i64,
    /// Contents that the sieve left to the search.
    pub left: usize,
    /// Nodes of the search.
    pub nodes: usize,
    /// Prices at the end: a good start for one content more.
    pub prices: Vec<i64>,
}

/// Searches the cheapest plan of at most `most` contents out of `unions`, from a plan and prices
/// known; ends without proof when that many contents have been priced in the search.
pub(super) fn cheapest(
    instance: &Instance<'_>,
    unions: &[ModuleSet],
    (most, start): (usize, Plan),
    prices: Vec<i64>,
    most_priced: u64,
) -> Found {
    let mut best = Best::new(instance, most, start);
    let sieved = sieve(&mut best, unions, prices);
    let left = sieved.left.len();
    let columns = Columns::new(instance, sieved.left);
    let mut search = Search {
        best,
        columns: &columns,
        nodes: 0,
        left_to_price: most_priced,
    };
    let mut root = Choice::any(&columns, most, sieved.prices);
    let mut bound = sieved.bound;
    if bound <= search.best.limit() {
        let orders = root.prices.len();
        let (from, steps) = match sieved.bound {
            0 => (Ascent::far(orders), FIRST_STEPS), // few unions: nothing was sieved
            _ => (Ascent::near(orders), NODE_STEPS),
        };
        bound = bound.max(search.climb(from, &mut root, steps));
        if bound <= search.best.limit() && search.below(root.clone()) {
            bound = search.best.goal();
        }
    }
    // Costs are whole cents, so a bound between two of them is as good as the next.
    let cents = bound.div_euclid(PARTS) + i64::from(bound.rem_euclid(PARTS) > 0);
    Found {
        bound: cents.min(search.best.plan.cost),
        left,
        nodes: search.nodes,
        prices: root.prices,
        plan: search.best.plan,
    }
}

/// What the sieve leaves.
struct Sieved {
    /// Contents that a cheaper plan may have.
    left: Vec<ModuleSet>,
    /// The best bound met, in parts of a cent.
    bound: i64,
    /// The prices that give it.
    prices: Vec<i64>,
}

/// Prices all contents, steps on those worth most, prices all again: each time leaving out those
/// that no cheaper plan has, until few are left.
fn sieve(best: &mut Best<'_>, unions: &[ModuleSet], mut prices: Vec<i64>) -> Sieved {
    let instance = best.instance;
    let mut sieved = Sieved {
        left: unions.to_vec(),
        bound: 0,
        prices: prices.clone(),
    };
    let mut ascent = Ascent::far(prices.len());
    let mut in_vain = 0;
    while sieved.left.len() > CORE && in_vain < ROUNDS_IN_VAIN {
        let gain = |set: &ModuleSet| gain_of(instance, *set, &prices);
        let gains: Vec<i64> = sieved.left.iter().map(gain).collect();
        let (chosen, _) = greatest(&gains, best.most);
        let worth: i64 = chosen.iter().map(|(_, gain)| gain).sum();
        let bound = prices.iter().sum::<i64>() - worth;
        in_vain += 1;
        if bound > sieved.bound {
            in_vain = 0;
            sieved.bound = bound;
            sieved.prices.clone_from(&prices);
        }
        if bound > best.limit() {
            sieved.left.clear();
            break;
        }
        let mut places: Vec<usize> = (0..gains.len()).collect();
        places.select_nth_unstable_by_key(CORE, |at| (-gains[*at], *at));
        let core = places[..CORE].iter().map(|at| sieved.left[*at]).collect();
        // As in `Choice::narrow`: one that is not chosen takes the place of the last chosen.
        let worth_least = chosen.last().map_or(0, |(_, gain)| *gain);
        let mut gains = gains.into_iter();
        sieved.left.retain(|_| {
            let gain = gains.next().unwrap_or(worth_least);
            bound + worth_least - gain <= best.limit()
        });

        let columns = Columns::new(instance, core);
        let mut choice = Choice::any(&columns, best.most, prices);
        let mut turn = 0;
        ascent.climb(&mut choice, &columns, ROUND_STEPS, |choice, bound, _| {
            if turn % STEPS_A_PLAN == 0 {
                best.offer(choice.contents(bound, &columns));
            }
            turn += 1;
            Some(best.goal())
        });
        prices = choice.prices;
        ascent = Ascent::near(prices.len());
    }
    sieved
}

/// Depth-first search: each node takes a content or leaves it out for good.
struct Search<'a> {
    best: Best<'a>,
    columns: &'a Columns,
    nodes: usize,
    /// How many contents may still be priced.
    left_to_price: u64,
}

impl Search<'_> {
    /// Drives the bound of a choice up, makes plans on the way, and narrows the choice.
    fn climb(&mut self, from: Ascent, choice: &mut Choice, steps: usize) -> i64 {
        let (best, columns) = (&mut self.best, self.columns);
        let left_to_price = &mut self.left_to_price;
        let mut turn = 0;
        let look = |choice: &mut Choice, bound: &Bound, better: bool| {
            let priced = choice.free.len() + choice.forced.len();
            *left_to_price = left_to_price.saturating_sub(priced as u64);
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
            (undecided && *left_to_price > 0).then(|| best.goal())
        };
        from.climb(choice, columns, steps, look)
    }

    /// Searches a choice. Tells whether it was searched to the end.
    fn below(&mut self, mut choice: Choice) -> bool {
        loop {
            if self.left_to_price == 0 {
                return false;
            }
            self.nodes += 1;
            let from = Ascent::near(choice.prices.len());
            if self.climb(from, &mut choice, NODE_STEPS) > self.best.limit() {
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
