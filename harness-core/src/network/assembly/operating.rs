//! Solves one boat in one operating state.

use super::apart::{Apart, Fed, apart};
use super::built::Built;
use super::joined::{Active, Joined};
use super::operated::{
    AtLeast, LoadPoint, Operating, PathShare, SourceCondition, Supplied, SystemBalance,
};
use super::spoiled::Spoiled;
use super::{Assembly, Branch, Part};
use crate::model::{BoatModel, Index, Load, OperatingState, Source};
use crate::network::{Outcome, Prepared, Scratch, Solution};
use crate::units::{Amperes, Volts};
use crate::working::NotEvaluated;
use std::collections::{BTreeMap, BTreeSet};

/// Currents below this are rounding of the solver, which ends at a millionth of a millionth of the
/// greatest.
const NOISE: Amperes = Amperes::new(1e-9);
/// Why nothing is told of a current.
const NOBODY_ASKED: &str = "nobody asked what flows there";

impl Assembly {
    /// Solves each state of the model at these conditions of the sources.
    pub fn operate_all(&self, model: &BoatModel, conditions: &[SourceCondition]) -> Vec<Operating> {
        self.operate_for(model, conditions, None)
    }

    /// The same where only some things are asked about. At nominal volts it is told of everything
    /// whether current flows there, since conductors lie beside others; what flows surely, but
    /// nobody asks how much, is not solved. At other volts only what flows to the wanted loads is.
    pub fn operate_for(
        &self,
        model: &BoatModel,
        conditions: &[SourceCondition],
        wanted: Option<&Wanted>,
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
        Solving::of(self, model, &joined, (state, condition), None).solved()
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

/// What is asked about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Loads of which it is told what becomes of them.
    pub loads: BTreeSet<Index<Load>>,
    /// Positions of the branches whose current is told.
    pub branches: BTreeSet<usize>,
    /// Sources of which it is told what they give.
    pub sources: BTreeSet<Index<Source>>,
}

pub(super) struct Solving<'a> {
    pub(super) model: &'a BoatModel,
    assembly: &'a Assembly,
    pub(super) joined: &'a Joined,
    pub(super) condition: SourceCondition,
    wanted: Option<&'a Wanted>,
    operating: Operating,
}

impl<'a> Solving<'a> {
    fn of(
        assembly: &'a Assembly,
        model: &'a BoatModel,
        joined: &'a Joined,
        (state, condition): (Option<Index<OperatingState>>, SourceCondition),
        wanted: Option<&'a Wanted>,
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
                at_least: AtLeast::default(),
                balances: Vec::new(),
            },
        }
    }

    fn solved(mut self) -> Operating {
        let fed = self.fed();
        let spoiled = self.spoiled(&fed);
        let nominal = self.condition == SourceCondition::Nominal;
        if nominal {
            self.sources_without_loads();
        }
        for part in apart(self.assembly, self.joined, fed) {
            let is_asked = self.wanted.is_none_or(|wanted| match nominal {
                true => part.is_wanted(self.joined, wanted),
                false => part.fed.is_empty() || part.has_wanted_load(wanted),
            });
            if !is_asked && !nominal {
                continue;
            }
            if !is_asked && part.surely_flows(self.model, self.joined, self.condition) {
                self.mark_all(&part, &NotEvaluated::because(NOBODY_ASKED));
                continue;
            }
            self.solve_part(&part, &spoiled);
        }
        for (number, current) in self.operating.branch_currents.iter_mut().enumerate() {
            if let Some(why) = spoiled.branch(number) {
                *current = Err(why.clone());
            } else if let Some(why) = spoiled.more_in_branch(number) {
                let branches = &mut self.operating.at_least.branches;
                branches.insert(number, why.clone());
            }
        }
        for (place, (source, ..)) in self.joined.active.iter().enumerate() {
            if let Some(why) = spoiled.source(place) {
                let current = Err(why.clone());
                self.operating.source_currents.insert(*source, current);
            } else if let Some(why) = spoiled.more_of_source(place) {
                let sources = &mut self.operating.at_least.sources;
                sources.insert(*source, why.clone());
            }
        }
        self.operating
    }

    /// Where sources form no loop, those that feed nothing give nothing.
    fn sources_without_loads(&mut self) {
        for (source, _, plus) in &self.joined.active {
            let system = self.joined.system_of[*plus];
            if self.joined.has_several_sources(system) && !self.joined.has_loops(system) {
                let none = Ok(Amperes::ZERO);
                self.operating.source_currents.insert(*source, none);
            }
        }
    }

    /// The running loads that are joined to a source; the others are settled here.
    fn fed(&mut self) -> Vec<Fed<'a>> {
        let mut fed = Vec::new();
        let joining = self.joined.joining.iter();
        for (&(load, plus, minus), joining) in self.assembly.loads.iter().zip(joining) {
            let stated = &self.model.loads[load];
            if !self.operating.state.is_none_or(|state| stated.runs(state)) {
                self.tell(load, || LoadPoint::NotRunning);
                continue;
            }
            match joining {
                Ok((source, way)) => fed.push(Fed {
                    load,
                    plus,
                    minus,
                    source: *source,
                    way,
                }),
                Err(why) => self.tell(load, || LoadPoint::Unsupplied(*why)),
            }
        }
        fed
    }

    /// Whether it is told what becomes of a load.
    fn is_wanted(&self, load: Index<Load>) -> bool {
        self.wanted
            .is_none_or(|wanted| wanted.loads.contains(&load))
    }

    fn tell(&mut self, load: Index<Load>, point: impl FnOnce() -> LoadPoint) {
        if self.is_wanted(load) {
            self.operating.loads.insert(load, point());
        }
    }

    fn solve_part(&mut self, part: &Apart<'_>, spoiled: &Spoiled<'_>) {
        let built = match Built::of(self.assembly, self.model, self.joined, part, self.condition) {
            Ok(built) => built,
            Err(why) => return self.give_up(part, &why),
        };
        let outcome = match Prepared::new(&built.network) {
            Ok(prepared) => prepared.solve(&mut Scratch::default()),
            Err(faults) => {
                let words: Vec<_> = faults.iter().map(ToString::to_string).collect();
                let why = NotEvaluated::because(words.join("; "));
                return self.give_up(part, &why);
            }
        };
        match outcome {
            Outcome::Solved(solution) => {
                self.take(&built, &solution, part, spoiled);
            }
            Outcome::NoOperatingPoint(collapse) => {
                let fails_at = built.loads[collapse.load];
                let share = collapse.share;
                for fed in &part.fed {
                    self.tell(fed.load, || LoadPoint::NoOperatingPoint { fails_at, share });
                }
                let why = NotEvaluated::because(format!(
                    "the loads have no operating point (fails at {})",
                    self.model.loads.id(fails_at)
                ));
                self.mark_all(part, &why);
            }
            Outcome::NotEvaluated(reason) => {
                let why = NotEvaluated::because(reason.to_string());
                self.give_up(part, &why);
            }
        }
    }

    fn give_up(&mut self, part: &Apart<'_>, why: &NotEvaluated) {
        for fed in &part.fed {
            self.tell(fed.load, || LoadPoint::NotEvaluated(why.clone()));
            self.tell_back(fed);
        }
        self.mark_all(part, why);
    }

    /// What is not evaluated comes back all the same.
    fn tell_back(&mut self, fed: &Fed<'_>) {
        if self.is_wanted(fed.load) {
            let back = fed.way.back.clone();
            self.operating.back_of_unknown.insert(fed.load, back);
        }
    }

    fn mark_all(&mut self, part: &Apart<'_>, why: &NotEvaluated) {
        for number in &part.branches {
            self.operating.branch_currents[*number] = Err(why.clone());
        }
        for place in &part.sources {
            let current = Err(why.clone());
            let source = self.joined.active[*place].0;
            self.operating.source_currents.insert(source, current);
        }
    }

    fn take(
        &mut self,
        built: &Built,
        solution: &Solution,
        part: &Apart<'_>,
        spoiled: &Spoiled<'_>,
    ) {
        for (&branch, &current) in part.branches.iter().zip(&solution.conductor_amps) {
            self.operating.branch_currents[branch] = Ok(without_noise(current));
        }
        for (place, &current) in part.sources.iter().zip(&solution.source_amps) {
            let current = Ok(without_noise(current));
            let source = self.joined.active[*place].0;
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
        for fed in &part.fed {
            if self.is_wanted(fed.load) {
                let point = self.point(built, solution, &position, fed, spoiled);
                let less = spoiled.less_at(fed, self.sags(fed.source));
                if let (LoadPoint::Supplied(_), Some(why)) = (&point, less) {
                    let loads = &mut self.operating.at_least.loads;
                    loads.insert(fed.load, why.clone());
                }
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
        built: &Built,
        solution: &Solution,
        position: &BTreeMap<Index<Load>, usize>,
        fed: &Fed<'_>,
        spoiled: &Spoiled<'_>,
    ) -> LoadPoint {
        for branch in fed.way.branches() {
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
        let sags = self.sags(fed.source);
        if let Some(why) = spoiled.source(fed.source).filter(|_| sags) {
            return LoadPoint::NotEvaluated(why.clone());
        }
        let Some(nominal) = self.model.sources[source].nominal else {
            let id = self.model.sources.id(source);
            let why = NotEvaluated::because(format!("source {id} states no nominal voltage"));
            return LoadPoint::NotEvaluated(why);
        };
        let volts = |node: usize| solution.node_volts[built.place[node]];
        LoadPoint::Supplied(Supplied {
            source,
            nominal,
            source_volts: volts(plus) - volts(minus),
            volts: solution.load_volts[number],
            current: solution.load_amps[number],
            feed: shares(
                &self.assembly.branches,
                plus,
                &fed.way.feed,
                &volts,
                &self.operating,
            ),
            back: shares(
                &self.assembly.branches,
                fed.minus,
                &fed.way.back,
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
