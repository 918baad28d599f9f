//! Solves one boat in one operating state.

use super::joined::{Active, Joined};
use super::operated::{
    LoadPoint, Operating, PathShare, SourceCondition, Supplied, SystemBalance, Unsupplied,
};
use super::shared::Shared;
use super::{Assembly, Branch, Part};
use crate::model::{BoatModel, Index, Load, OperatingState, Source};
use crate::network::{self, Network, Outcome, Prepared, Scratch, Solution};
use crate::units::{Amperes, Ohms, Volts};
use crate::working::NotEvaluated;
use std::collections::{BTreeMap, BTreeSet};

/// Currents below this are rounding of the solver, which ends at a millionth of a millionth of the
/// greatest.
const NOISE: Amperes = Amperes::new(1e-9);

impl Assembly {
    /// Solves each state of the model at these conditions of the sources.
    pub fn operate_all(&self, model: &BoatModel, conditions: &[SourceCondition]) -> Vec<Operating> {
        self.operate_for(model, conditions, &|_| true)
    }

    /// The same with what becomes of the wanted loads only. All that flows at nominal volts is
    /// told, since conductors lie beside others; at other volts only what flows to those loads, and
    /// between sources where no load runs.
    pub fn operate_for(
        &self,
        model: &BoatModel,
        conditions: &[SourceCondition],
        wanted: &Wanted<'_>,
    ) -> Vec<Operating> {
        let states: Vec<_> = match model.states.is_empty() {
            true => vec![None],
            false => model.states.indices().map(Some).collect(),
        };
        // Many states open the same devices and have the same sources.
        let mut joined: Vec<Joined> = Vec::new();
        let of_states: Vec<usize> = states
            .iter()
            .map(|state| {
                let (closed, active) = self.closed_and_active(model, *state);
                let known = joined
                    .iter()
                    .position(|one| one.closed == closed && one.active == active);
                known.unwrap_or_else(|| {
                    joined.push(Joined::of(self, closed, active, self.is_known(model)));
                    joined.len() - 1
                })
            })
            .collect();
        let each = conditions.iter().flat_map(|condition| {
            let states = states.iter().zip(&of_states);
            states.map(move |(state, joined)| (*condition, *state, *joined))
        });
        each.map(|(condition, state, number)| {
            Solving::of(self, model, &joined[number], (state, condition), wanted).solved()
        })
        .collect()
    }

    /// Solves one state at one condition.
    pub fn operate(
        &self,
        model: &BoatModel,
        state: Option<Index<OperatingState>>,
        condition: SourceCondition,
    ) -> Operating {
        let (closed, active) = self.closed_and_active(model, state);
        let joined = Joined::of(self, closed, active, self.is_known(model));
        Solving::of(self, model, &joined, (state, condition), &|_| true).solved()
    }

    /// Whether each branch has its resistance and each load its draw.
    fn is_known(&self, model: &BoatModel) -> bool {
        let draws = |load: Index<Load>| model.loads[load].behavior.is_some();
        self.branches.iter().all(|branch| branch.resistance.is_ok())
            && self.loads.iter().all(|(load, ..)| draws(*load))
    }

    /// Which branches are closed in a state, and which sources give.
    fn closed_and_active(
        &self,
        model: &BoatModel,
        state: Option<Index<OperatingState>>,
    ) -> (Vec<bool>, Vec<Active>) {
        let open = |part: Part| match (part, state) {
            (Part::Device(device), Some(state)) => model.devices[device].open_in.contains(&state),
            _ => false,
        };
        let closed = self.branches.iter().map(|branch| !open(branch.part));
        let gives = |source: Index<Source>| {
            let active = &model.sources[source].active_in;
            active.is_empty() || state.is_some_and(|state| active.contains(&state))
        };
        let active = self.sources.iter().filter(|(source, ..)| gives(*source));
        (closed.collect(), active.copied().collect())
    }
}

/// Whether it is told what becomes of a load.
type Wanted<'w> = dyn Fn(Index<Load>) -> bool + 'w;

struct Solving<'a> {
    model: &'a BoatModel,
    assembly: &'a Assembly,
    joined: &'a Joined,
    condition: SourceCondition,
    wanted: &'a Wanted<'a>,
    operating: Operating,
}

/// A load that runs and is joined to a source.
struct Fed {
    load: Index<Load>,
    plus: usize,
    minus: usize,
    /// Position of its source among the active ones.
    source: usize,
    /// Its way, where that is asked for.
    way: Option<Way>,
}

/// Branches out to a load and back.
struct Way {
    feed: Vec<usize>,
    back: Vec<usize>,
}

impl Way {
    fn branches(&self) -> impl Iterator<Item = usize> + '_ {
        self.feed.iter().chain(&self.back).copied()
    }
}

/// Blocks of branches and sources of whose currents nothing is known, with the reason.
#[derive(Default)]
struct Spoiled<'a> {
    shared: Option<&'a Shared>,
    blocks: BTreeMap<usize, NotEvaluated>,
}

impl Spoiled<'_> {
    fn branch(&self, number: usize) -> Option<&NotEvaluated> {
        self.blocks.get(&self.shared?.of_branch(number)?)
    }

    /// A source, by its place among those that give.
    fn source(&self, place: usize) -> Option<&NotEvaluated> {
        self.blocks.get(&self.shared?.of_source(place))
    }
}

impl<'a> Solving<'a> {
    fn of(
        assembly: &'a Assembly,
        model: &'a BoatModel,
        joined: &'a Joined,
        (state, condition): (Option<Index<OperatingState>>, SourceCondition),
        wanted: &'a Wanted<'a>,
    ) -> Self {
        Self {
            model,
            assembly,
            joined,
            condition,
            wanted,
            operating: Operating {
                state,
                condition,
                loads: BTreeMap::new(),
                back_of_unknown: BTreeMap::new(),
                branch_currents: vec![Ok(Amperes::ZERO); assembly.branches.len()],
                source_currents: BTreeMap::new(),
                balances: Vec::new(),
            },
        }
    }

    fn solved(mut self) -> Operating {
        let fed = self.fed();
        let spoiled = self.spoiled(&fed);
        let mut systems: BTreeMap<usize, Vec<Fed>> = BTreeMap::new();
        for fed in fed {
            let system = self.joined.system_of[fed.plus];
            systems.entry(system).or_default().push(fed);
        }
        // Sources of unequal volts give and take without any load.
        for system in self.joined.with_several_sources() {
            systems.entry(system).or_default();
        }
        let nominal = self.condition == SourceCondition::Nominal;
        for (system, fed) in systems {
            if nominal || fed.is_empty() || fed.iter().any(|fed| (self.wanted)(fed.load)) {
                self.solve_system(system, fed, &spoiled);
            }
        }
        for (number, current) in self.operating.branch_currents.iter_mut().enumerate() {
            if let Some(why) = spoiled.branch(number) {
                *current = Err(why.clone());
            }
        }
        for (place, (source, ..)) in self.joined.active.iter().enumerate() {
            if let Some(why) = spoiled.source(place) {
                let current = Err(why.clone());
                self.operating.source_currents.insert(*source, current);
            }
        }
        self.operating
    }

    /// The running loads with their ways; the others are settled here.
    fn fed(&mut self) -> Vec<Fed> {
        let reaches = &self.joined.reaches;
        let mut fed = Vec::new();
        for &(load, plus, minus) in &self.assembly.loads {
            let stated = &self.model.loads[load];
            if !self.operating.state.is_none_or(|state| stated.runs(state)) {
                self.tell(load, || LoadPoint::NotRunning);
                continue;
            }
            let feeding = |source: &usize| reaches[*source].0.reaches(plus);
            let Some(first) = (0..reaches.len()).find(feeding) else {
                self.tell(load, || LoadPoint::Unsupplied(Unsupplied::NoFeed));
                continue;
            };
            let both = |source: &usize| feeding(source) && reaches[*source].1.reaches(minus);
            let Some(source) = (first..reaches.len()).find(both) else {
                self.tell(load, || LoadPoint::Unsupplied(Unsupplied::NoReturn));
                continue;
            };
            // What draws an unknown current spoils all on its way, and any current what shares it.
            let asked = self.joined.shared.is_some() || (self.wanted)(load);
            let way = asked.then(|| {
                let mut back = reaches[source].1.path(minus);
                back.reverse();
                let feed = reaches[source].0.path(plus);
                Way { feed, back }
            });
            fed.push(Fed {
                load,
                plus,
                minus,
                source,
                way,
            });
        }
        fed
    }

    fn tell(&mut self, load: Index<Load>, point: impl FnOnce() -> LoadPoint) {
        if (self.wanted)(load) {
            self.operating.loads.insert(load, point());
        }
    }

    /// What shares the unknown draw of a running load, or a loop of unknown resistance in which a
    /// current flows.
    fn spoiled(&self, fed: &[Fed]) -> Spoiled<'a> {
        let Some(shared) = &self.joined.shared else {
            return Spoiled::default();
        };
        let passed = |fed: &Fed| {
            let way = fed.way.iter().flat_map(Way::branches);
            shared.passed(way, fed.source)
        };
        let mut blocks = BTreeMap::new();
        let mut carrying = BTreeSet::new();
        for fed in fed {
            let passed = passed(fed);
            if self.model.loads[fed.load].behavior.is_none() {
                for block in &passed {
                    blocks.entry(*block).or_insert_with(|| {
                        NotEvaluated::because(format!(
                            "load {} states neither current, power nor resistance",
                            self.model.loads.id(fed.load)
                        ))
                    });
                }
            }
            carrying.extend(passed);
        }
        for (block, why) in shared.unsure() {
            if carrying.contains(block) || shared.is_driven(*block) {
                blocks.entry(*block).or_insert_with(|| why.clone());
            }
        }
        Spoiled {
            shared: Some(shared),
            blocks,
        }
    }

    fn solve_system(&mut self, system: usize, fed: Vec<Fed>, spoiled: &Spoiled<'_>) {
        let built = match Built::of(self, system, &fed) {
            Ok(built) => built,
            Err(why) => return self.give_up(system, fed, &why),
        };
        let outcome = match Prepared::new(&built.network) {
            Ok(prepared) => prepared.solve(&mut Scratch::default()),
            Err(faults) => {
                let words: Vec<_> = faults.iter().map(ToString::to_string).collect();
                let why = NotEvaluated::because(words.join("; "));
                return self.give_up(system, fed, &why);
            }
        };
        match outcome {
            Outcome::Solved(solution) => {
                self.take(&built, &solution, fed, spoiled);
            }
            Outcome::NoOperatingPoint(collapse) => {
                let fails_at = built.loads[collapse.load];
                let share = collapse.share;
                for fed in &fed {
                    self.tell(fed.load, || LoadPoint::NoOperatingPoint { fails_at, share });
                }
                let why = NotEvaluated::because(format!(
                    "the loads have no operating point (fails at {})",
                    self.model.loads.id(fails_at)
                ));
                self.mark_all(system, &why);
            }
            Outcome::NotEvaluated(reason) => {
                let why = NotEvaluated::because(reason.to_string());
                self.give_up(system, fed, &why);
            }
        }
    }

    fn give_up(&mut self, system: usize, fed: Vec<Fed>, why: &NotEvaluated) {
        for fed in fed {
            self.tell(fed.load, || LoadPoint::NotEvaluated(why.clone()));
            self.tell_back(fed);
        }
        self.mark_all(system, why);
    }

    /// What is not evaluated comes back all the same.
    fn tell_back(&mut self, fed: Fed) {
        if let Some(way) = fed.way.filter(|_| (self.wanted)(fed.load)) {
            self.operating.back_of_unknown.insert(fed.load, way.back);
        }
    }

    fn mark_all(&mut self, system: usize, why: &NotEvaluated) {
        for number in &self.joined.branches[system] {
            self.operating.branch_currents[*number] = Err(why.clone());
        }
        for (source, _, plus) in &self.joined.active {
            if self.joined.system_of[*plus] == system {
                let current = Err(why.clone());
                self.operating.source_currents.insert(*source, current);
            }
        }
    }

    fn take(&mut self, built: &Built, solution: &Solution, fed: Vec<Fed>, spoiled: &Spoiled<'_>) {
        for (&branch, &current) in built.branches.iter().zip(&solution.conductor_amps) {
            self.operating.branch_currents[branch] = Ok(without_noise(current));
        }
        for (&source, &current) in built.sources.iter().zip(&solution.source_amps) {
            let current = Ok(without_noise(current));
            self.operating.source_currents.insert(source, current);
        }
        self.operating.balances.push(SystemBalance {
            current_residual: solution.current_residual,
            power_residual: solution.power_residual,
            iterations: solution.iterations,
        });
        let position: BTreeMap<_, _> = built
            .loads
            .iter()
            .enumerate()
            .map(|(number, load)| (*load, number))
            .collect();
        for fed in fed {
            if let Some(way) = fed.way.as_ref().filter(|_| (self.wanted)(fed.load)) {
                let point = self.point(solution, &position, (&fed, way), spoiled);
                let is_unknown = matches!(point, LoadPoint::NotEvaluated(_));
                self.operating.loads.insert(fed.load, point);
                if is_unknown {
                    self.tell_back(fed);
                }
            }
        }
    }

    fn point(
        &self,
        solution: &Solution,
        position: &BTreeMap<Index<Load>, usize>,
        (fed, way): (&Fed, &Way),
        spoiled: &Spoiled<'_>,
    ) -> LoadPoint {
        for branch in way.branches() {
            let missing = match &self.assembly.branches[branch].resistance {
                Err(why) => Some(why),
                Ok(_) => spoiled.branch(branch),
            };
            if let Some(why) = missing {
                return LoadPoint::NotEvaluated(why.clone());
            }
        }
        let Some(&number) = position.get(&fed.load) else {
            let why = "the load states neither current, power nor resistance";
            return LoadPoint::NotEvaluated(NotEvaluated::because(why));
        };
        let (source, minus, plus) = self.joined.active[fed.source];
        // What an unknown load takes inside the source is not known either.
        let sags = self.model.sources[source].internal > Some(Ohms::ZERO);
        if let Some(why) = spoiled.source(fed.source).filter(|_| sags) {
            return LoadPoint::NotEvaluated(why.clone());
        }
        let Some(nominal) = self.model.sources[source].nominal else {
            let id = self.model.sources.id(source);
            let why = NotEvaluated::because(format!("source {id} states no nominal voltage"));
            return LoadPoint::NotEvaluated(why);
        };
        let volts = |node: usize| solution.node_volts[self.joined.place[node]];
        LoadPoint::Supplied(Supplied {
            source,
            nominal,
            source_volts: volts(plus) - volts(minus),
            volts: solution.load_volts[number],
            current: solution.load_amps[number],
            feed: shares(
                &self.assembly.branches,
                plus,
                &way.feed,
                &volts,
                &self.operating,
            ),
            back: shares(
                &self.assembly.branches,
                fed.minus,
                &way.back,
                &volts,
                &self.operating,
            ),
        })
    }
}

/// What is left where currents cancel is rounding, and nobody's current.
fn without_noise(current: Amperes) -> Amperes {
    match current.abs() > NOISE {
        true => current,
        false => Amperes::ZERO,
    }
}

/// Current and lost volts of each branch of a path that starts at a node.
fn shares(
    branches: &[Branch],
    start: usize,
    path: &[usize],
    volts: &impl Fn(usize) -> Volts,
    operating: &Operating,
) -> Vec<PathShare> {
    let mut at = start;
    path.iter()
        .map(|&number| {
            let branch = &branches[number];
            let forward = branch.from == at;
            let next = if forward { branch.to } else { branch.from };
            let lost = volts(at) - volts(next);
            at = next;
            let current = operating.branch_currents[number]
                .clone()
                .unwrap_or(Amperes::ZERO);
            PathShare {
                branch: number,
                current: if forward { current } else { -current },
                lost,
            }
        })
        .collect()
}

/// The network of one system, and what its elements stand for.
struct Built {
    network: Network,
    branches: Vec<usize>,
    sources: Vec<Index<Source>>,
    loads: Vec<Index<Load>>,
}

impl Built {
    fn of(solving: &Solving<'_>, system: usize, fed: &[Fed]) -> Result<Self, NotEvaluated> {
        let joined = solving.joined;
        let place = |node: usize| joined.place[node];
        let conductor = |number: &usize| {
            let branch = &solving.assembly.branches[*number];
            network::Conductor {
                from: place(branch.from),
                to: place(branch.to),
                // Loads on the path of an unknown resistance are not evaluated.
                resistance: branch.resistance.clone().unwrap_or(Ohms::ZERO),
            }
        };
        let branches = &joined.branches[system];
        let mut built = Self {
            network: Network {
                node_count: joined.node_counts[system],
                conductors: branches.iter().map(conductor).collect(),
                ..Network::default()
            },
            branches: branches.clone(),
            sources: Vec::new(),
            loads: Vec::new(),
        };
        for &(source, minus, plus) in &joined.active {
            if joined.system_of[plus] != system {
                continue;
            }
            let stated = &solving.model.sources[source];
            let emf = solving.condition.volts(stated).ok_or_else(|| {
                NotEvaluated::because(format!(
                    "source {} states no voltage for the condition \"{}\"",
                    stated.id,
                    solving.condition.word()
                ))
            })?;
            if built.sources.is_empty() {
                built.network.reference = place(minus);
            }
            built.sources.push(source);
            built.network.sources.push(network::Source {
                from: place(minus),
                to: place(plus),
                emf,
                resistance: stated.internal.unwrap_or(Ohms::ZERO),
            });
        }
        for fed in fed {
            let Some(behavior) = solving.model.loads[fed.load].behavior else {
                continue;
            };
            built.loads.push(fed.load);
            built.network.loads.push(network::Load {
                from: place(fed.plus),
                to: place(fed.minus),
                behavior: behavior.into(),
            });
        }
        Ok(built)
    }
}

impl From<crate::model::Behavior> for network::Behavior {
    fn from(stated: crate::model::Behavior) -> Self {
        match stated {
            crate::model::Behavior::Current(value) => Self::Current(value),
            crate::model::Behavior::Power(value) => Self::Power(value),
            crate::model::Behavior::Resistance(value) => Self::Resistance(value),
        }
    }
}
