//! Boats on which a wire lies beside so many loaded conductors that it is allowed less.
//!
//! The allowance of a wire falls in steps with the number of loaded conductors in the fullest run
//! on its way. The boat with its greatest current need not be the one with most wires beside it;
//! so for each step the greatest current is searched among the boats that reach the step, where
//! not even the greatest of all would be within what is known.

use super::candidates::Gathering;
use super::greatest::{NOTHING, NoWorst, Worst};
use super::groups::{Asked, OneSystem, Searching};
use super::quantity::{Quantity, carried};
use super::region::fits;
use super::search::Search;
use super::sum::Sum;
use super::systems::{System, Systems, met_so};
use crate::boats::{Condition, Way};
use crate::model::{DcBundling, Index, OperatingState, Wire};
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::routing::Routing;
use crate::rules::Place;
use crate::tables::bundling::bundle_factor;
use std::collections::{BTreeMap, BTreeSet};

/// Loaded conductors of one run in one state.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Loaded {
    /// How many there are on every boat.
    always: u32,
    /// How many each condition adds, by its number.
    by_condition: BTreeMap<usize, u32>,
    /// Conditions left out of the diagram: counted on every boat there.
    left_out: Vec<Condition>,
}

impl Loaded {
    fn on(&self, way: &Way) -> usize {
        let counts = self.by_condition.iter();
        let met = counts.filter(|(number, _)| way.met[**number]);
        let counted = self.always + met.map(|(_, count)| count).sum::<u32>();
        let unmet = self.left_out.iter().filter(|when| !when.holds(&way.boat));
        counted as usize - unmet.count()
    }

    /// What each of so many conditions adds.
    fn counts(&self, conditions: usize) -> Vec<u32> {
        let count = |number| self.by_condition.get(&number).copied();
        (0..conditions)
            .map(|number| count(number).unwrap_or_default())
            .collect()
    }

    /// Numbers of conductors, more than there are on every boat, at which a wire is allowed less.
    fn steps(&self) -> impl Iterator<Item = u32> {
        let most = self.always + self.by_condition.values().sum::<u32>();
        let surely = self.always as usize - self.left_out.len();
        (2..=most)
            .filter(move |count| *count as usize > surely && factor(*count) < factor(count - 1))
    }

    /// What the conditions met have to count for on a boat that may have so many.
    fn wanted(&self, step: u32) -> u32 {
        step.saturating_sub(self.always)
    }
}

/// What a wire beside so many loaded conductors is allowed, in parts of what it is allowed alone.
fn factor(count: u32) -> f64 {
    bundle_factor(DcBundling::ByCount, count).value
}

/// Loaded conductors of all runs, once for each state in which they differ.
pub(super) struct Bundles<'a> {
    routing: &'a Routing,
    runs: BTreeMap<usize, BTreeSet<Loaded>>,
}

impl<'a> Bundles<'a> {
    /// Of all boats; `None` where what lies beside a wire does not count.
    pub fn of(gathering: &Gathering<'a>) -> Option<Self> {
        if gathering.model.settings.dc_bundling != DcBundling::ByCount {
            return None;
        }
        let mut bundles = Self {
            routing: gathering.routing,
            runs: BTreeMap::new(),
        };
        for wires in loaded(gathering.assembly, gathering.systems).into_values() {
            let mut here: BTreeMap<usize, Loaded> = BTreeMap::new();
            for (wire, condition) in wires {
                let number = gathering.numbers.get(&condition).copied();
                for run in bundles.runs_of(wire) {
                    let run = here.entry(run).or_default();
                    match number {
                        Some(number) => *run.by_condition.entry(number).or_default() += 1,
                        None => run.always += 1,
                    }
                    if number.is_none() && condition != Condition::Always {
                        run.left_out.push(condition.clone());
                    }
                }
            }
            for (run, loaded) in here {
                bundles.runs.entry(run).or_default().insert(loaded);
            }
        }
        Some(bundles)
    }

    fn runs_of(&self, wire: Index<Wire>) -> impl Iterator<Item = usize> + use<'a> {
        let path = self.routing.path(wire);
        let legs = path.map_or(&[][..], |path| &path.legs).iter();
        legs.map(|leg| leg.run.number())
    }

    /// What can lie together on the way of a wire.
    fn beside(&self, wire: Index<Wire>) -> BTreeSet<&Loaded> {
        let runs = self.runs_of(wire);
        runs.filter_map(|run| self.runs.get(&run))
            .flatten()
            .collect()
    }
}

/// The greatest current of a sum at a step, by what it hangs on, with what was enough for it.
type AtSteps = BTreeMap<(Asked, Loaded, u32), (f64, Result<Worst, NoWorst>)>;

/// The current of a wire, one way.
struct Flow<'f> {
    wire: Index<Wire>,
    sum: &'f Sum,
    held: &'f [Option<bool>],
    /// Where it is greatest, whatever lies beside it.
    greatest: &'f Worst,
}

impl<'g> Searching<'g, '_> {
    /// Looks for those boats of one system that may be worse for a wire than the one with its
    /// greatest current.
    pub(super) fn beside_others(&mut self, searched: &mut OneSystem<'g>, bundles: &Bundles<'_>) {
        if searched.search.system.condition != SourceCondition::Nominal {
            return;
        }
        let OneSystem { search, known } = searched;
        let mut at_steps = AtSteps::new();
        let of_wire = |quantity: Quantity| match quantity {
            Quantity::Current(Part::Wire(wire)) | Quantity::CurrentBack(Part::Wire(wire)) => {
                Some(wire)
            }
            _ => None,
        };
        let wanted = |quantity| of_wire(quantity).is_some();
        self.questions()
            .each(search, &wanted, &mut |search, quantity, sum, held| {
                let greatest = known.get(&(sum.bits(), held.to_vec()));
                match (of_wire(quantity), greatest) {
                    (Some(wire), Some(Ok(greatest))) => {
                        let flow = Flow {
                            wire,
                            sum,
                            held,
                            greatest,
                        };
                        self.wire_beside(search, &flow, bundles, &mut at_steps);
                    }
                    (None, _) | (_, None | Some(Err(NoWorst::NoBoat))) => {}
                    // Judged on every boat instead.
                    (Some(wire), Some(Err(_))) => {
                        self.found.open.insert(Place::Wire(wire));
                    }
                }
            });
    }

    fn wire_beside(
        &mut self,
        search: &mut Search<'g>,
        flow: &Flow<'_>,
        bundles: &Bundles<'_>,
        at_steps: &mut AtSteps,
    ) {
        let (part, place) = (Part::Wire(flow.wire), Place::Wire(flow.wire));
        let here = bundles.beside(flow.wire);
        // The current it would have to carry alone to be as near to what it is allowed.
        let used = |way: &Way, amps: f64| {
            let fullest = here.iter().map(|run| run.on(way)).max();
            let fullest = u32::try_from(fullest.unwrap_or(1)).unwrap_or(u32::MAX);
            amps / factor(fullest)
        };
        let greatest = [Quantity::Current(part), Quantity::CurrentBack(part)];
        let greatest = greatest.map(|quantity| self.found.greatest.get(&quantity));
        let judged = greatest.into_iter().flatten();
        let judged = judged.map(|(worst, _)| used(&worst.way, worst.value));
        let known = self.used.get(&flow.wire).copied().unwrap_or_default();
        let mut most = judged.fold(known, f64::max);
        let is_more = |amps: f64, most: f64| amps > most * (1.0 + NOTHING);
        // Not where even the greatest current would be no more than what is known.
        let asked = here
            .iter()
            .flat_map(|run| run.steps().map(|step| (*run, step)));
        let mut asked: Vec<(&Loaded, u32)> = asked
            .filter(|(_, step)| is_more(flow.greatest.value / factor(*step), most))
            .collect();
        if !asked.is_empty() {
            for way in self.gathering.ways() {
                let amps = match fits(flow.held, way) {
                    true => search.value(flow.sum, way).unwrap_or_default(),
                    false => 0.0,
                };
                most = most.max(used(way, amps));
            }
            asked.retain(|(_, step)| is_more(flow.greatest.value / factor(*step), most));
        }
        for (run, step) in asked {
            if !is_more(flow.greatest.value / factor(step), most) {
                continue;
            }
            let enough = most * factor(step);
            let key = ((flow.sum.bits(), flow.held.to_vec()), run.clone(), step);
            let known = at_steps.get(&key);
            let worst = match known.filter(|(asked, _)| *asked <= enough) {
                Some((_, worst)) => worst.clone(),
                None => {
                    let counts = run.counts(flow.held.len());
                    let asked = ((counts.as_slice(), run.wanted(step)), enough);
                    search.start_from(&self.starts);
                    let worst = search.greatest_with(flow.sum, asked, flow.held);
                    at_steps.insert(key, (enough, worst.clone()));
                    worst
                }
            };
            match worst {
                Ok(worst) => {
                    if is_more(used(&worst.way, worst.value), most) {
                        most = used(&worst.way, worst.value);
                        self.found.beside.push((place, worst.way));
                    }
                    if is_more(worst.bound / factor(step), most) {
                        self.found.unsure.insert(place);
                    }
                }
                Err(NoWorst::NoBoat) => {}
                Err(_) => {
                    self.found.unsure.insert(place);
                }
            }
        }
        self.used.insert(flow.wire, most);
    }
}

fn nominal(systems: &Systems) -> impl Iterator<Item = &System> {
    let all = systems.systems.iter();
    all.filter(|system| system.condition == SourceCondition::Nominal)
}

/// In each state the boats on which each wire carries current: those with a load behind it, and
/// where currents have several ways or sources give to each other, all that some of it passes.
pub(crate) fn loaded(
    assembly: &Assembly,
    systems: &Systems,
) -> BTreeMap<Option<Index<OperatingState>>, BTreeMap<Index<Wire>, Condition>> {
    let mut behind: BTreeMap<_, BTreeMap<Index<Wire>, BTreeSet<Condition>>> = BTreeMap::new();
    for system in nominal(systems) {
        let in_shape = met_so(Condition::Always, &system.shape);
        let wires = behind.entry(system.state).or_default();
        let mut carries = |branch: usize, when: Condition| {
            if let Part::Wire(wire) = assembly.branches[branch].part {
                wires.entry(wire).or_default().insert(when);
            }
        };
        let shared = &system.shared;
        for consumer in system.loads.iter().chain(&system.unknown) {
            let when = in_shape.and(&consumer.when);
            for (branch, _) in &consumer.way {
                carries(*branch, when.clone());
            }
        }
        // Where it is not known what a wire carries, the rules count it as loaded.
        let unsure = |block: &usize| shared.unsure().contains_key(block);
        let known = system.loads.iter().map(|consumer| (consumer, true));
        let unknown = system.unknown.iter().map(|consumer| (consumer, false));
        for (consumer, is_known) in known.chain(unknown) {
            let when = in_shape.and(&consumer.when);
            let passed = system.passed(consumer).into_iter();
            for block in passed.filter(|block| !is_known || unsure(block)) {
                for branch in shared.branches_of(block) {
                    carries(branch, when.clone());
                }
            }
        }
        for block in shared
            .unsure()
            .keys()
            .filter(|block| shared.is_driven(**block))
        {
            for branch in shared.branches_of(*block) {
                carries(branch, in_shape.clone());
            }
        }
        if system.network.has_one_way() {
            continue;
        }
        let (branches, _) = carried(system);
        for (branch, carried) in system.branches.iter().zip(branches) {
            for (load, _) in carried.loads {
                carries(*branch, in_shape.and(&system.loads[load].when));
            }
            if carried.constant.abs() > NOTHING {
                carries(*branch, in_shape.clone());
            }
        }
    }
    let any = |conditions: BTreeSet<Condition>| {
        Condition::Any(conditions.into_iter().collect()).simplified()
    };
    behind
        .into_iter()
        .map(|(state, wires)| {
            let wires = wires.into_iter();
            (state, wires.map(|(wire, when)| (wire, any(when))).collect())
        })
        .collect()
}
