//! Too many unions to look at: some modules are left out, which gives a bound all the same.
//!
//! Without a module every plan costs at most what it costs with it, less the module's wiring on
//! every boat that ordered it: those boats have it in any plan. So the cheapest plan of the
//! smaller question, with that wiring added, is a bound on the whole question; and what it puts
//! together is a start for a plan of the whole.

use super::plan::{Instance, Plan};
use super::unions::unions;
use super::wiring::{ModuleSet, Shared, Wiring};

/// A question with modules left out.
pub(super) struct Fewer {
    wiring: Wiring,
    /// Distinct orders without the modules left out.
    sets: Vec<ModuleSet>,
    /// Their boats a year.
    boats: Vec<i64>,
    /// All unions of those orders.
    pub unions: Vec<ModuleSet>,
    /// Wiring of those modules on the boats that ordered them, in cents a year.
    pub besides: i64,
    /// For each order of the whole question, its place among the distinct ones.
    place: Vec<usize>,
}

impl Fewer {
    /// Leaves out as few modules as keep the unions within `most`.
    pub(super) fn of(instance: &Instance<'_>, most: usize) -> Self {
        let modules = least_missed(instance);
        // The more are left out, the fewer unions: halving finds how many are enough. Without
        // any module there is one union.
        let (mut few, mut enough) = (1, modules.len());
        let mut found = Self::without(instance, &modules);
        found.unions.clone_from(&found.sets);
        while few < enough {
            let half = few.midpoint(enough);
            let mut fewer = Self::without(instance, &modules[..half]);
            if let Some(unions) = unions(&fewer.sets, most) {
                fewer.unions = unions;
                found = fewer;
                enough = half;
            } else {
                few = half + 1;
            }
        }
        found
    }

    /// The question without these modules, its unions not yet found.
    fn without(instance: &Instance<'_>, modules: &[usize]) -> Self {
        let without = ModuleSet::of(modules.iter().copied());
        let orders = || instance.sets.iter().zip(&instance.boats);
        let left = orders().map(|(set, boats)| (set.without(without), *boats));
        let (sets, boats, place) = merged(left);
        let own = |module: usize| instance.wiring.modules.get(module).map_or(0, |cost| cost.value());
        let besides = |set: &ModuleSet| -> i64 { set.within(without).modules().map(own).sum() };
        let shared = instance.wiring.shared.iter().map(|part| Shared {
            needed_by: part.needed_by.without(without),
            cost: part.cost,
        });
        Self {
            wiring: Wiring {
                shared: shared.collect(),
                ..instance.wiring.clone()
            },
            sets,
            boats,
            unions: Vec::new(),
            besides: orders().map(|(set, boats)| besides(set) * boats).sum(),
            place,
        }
    }

    /// The question with fewer modules.
    pub(super) fn instance(&self) -> Instance<'_> {
        Instance {
            wiring: &self.wiring,
            sets: self.sets.clone(),
            boats: self.boats.clone(),
        }
    }

    /// Contents for the whole question that put the same orders together as this plan does.
    pub(super) fn contents_of_whole(&self, plan: &Plan, whole: &Instance<'_>) -> Vec<ModuleSet> {
        let mut contents = vec![ModuleSet::EMPTY; plan.contents.len()];
        let served_by = self.instance().served_by(&plan.contents).unwrap_or_default();
        for (set, place) in whole.sets.iter().zip(&self.place) {
            if let Some(content) = served_by.get(*place).and_then(|at| contents.get_mut(*at)) {
                *content = content.union(*set);
            }
        }
        contents
    }
}

/// Distinct sets in the order of their first mention, the boats of each together, and for each
/// mention the place of its set.
pub(super) fn merged(
    orders: impl Iterator<Item = (ModuleSet, i64)>,
) -> (Vec<ModuleSet>, Vec<i64>, Vec<usize>) {
    let (mut sets, mut boats, mut places) = (Vec::new(), Vec::new(), Vec::new());
    let mut known = std::collections::BTreeMap::new();
    for (set, count) in orders {
        let place = *known.entry(set).or_insert_with(|| {
            sets.push(set);
            boats.push(0);
            sets.len() - 1
        });
        boats[place] += count;
        places.push(place);
    }
    (sets, boats, places)
}

/// Modules, those first whose wiring can be given away least: cheap, or on nearly every boat,
/// or on hardly any.
fn least_missed(instance: &Instance<'_>) -> Vec<usize> {
    let all: i64 = instance.boats.iter().sum();
    let everything = instance.full().contents[0];
    let at_stake = |module: usize| {
        let one = ModuleSet::of([module]);
        let orders = instance.sets.iter().zip(&instance.boats);
        let with: i64 = orders.filter(|(set, _)| set.holds(one)).map(|(_, boats)| boats).sum();
        let cost = instance.wiring.modules.get(module).map_or(0, |cost| cost.value());
        i128::from(cost) * i128::from(with) * i128::from(all - with)
    };
    let mut modules: Vec<usize> = everything.modules().collect();
    modules.sort_by_key(|module| (at_stake(*module), *module));
    modules
}
