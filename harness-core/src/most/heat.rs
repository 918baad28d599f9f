//! The boat on which the conductors in a run give off most heat.
//!
//! Heat goes with the square of the currents. Each conductor gives off `R I²`, at most `R I` times
//! the greatest current it carries on any boat looked at, and `I` is at most the sum of the
//! greatest currents of its loads: a weight on conditions, so the heaviest way bounds the heat of
//! all boats. The boat on that way is solved; as long as the bound is above the best boat, one
//! condition is held met and unmet in turn, which lowers the bounds. Loads elsewhere move the volts
//! and so the currents of loads of constant power and of resistances a little: what that may add
//! stays between the value and the bound.

use super::{Most, Thing, nominal};
use crate::boats::{Boat, BoatSet, Condition, Firings, OptionIndex, Options};
use crate::model::{Index, Load, OperatingState, Run, Wire};
use crate::network::Behavior;
use crate::network::assembly::branches::wire_resistance;
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::study::Study;
use crate::working::NotEvaluated;
use crate::worst::bounds::flows_one_way;
use crate::worst::systems::{Consumer, System, Systems};
use crate::worst::{EveryBoat, Open, Quantity};
use std::collections::{BTreeMap, BTreeSet};

/// Boats solved for one run before the search ends with a gap.
const MOST_SOLVES: usize = 60;
/// Boats known for their greatest current that are tried first.
const MOST_KNOWN: usize = 8;

/// What each conductor of each run may give off, by state.
#[derive(Default)]
pub(super) struct Heats {
    runs: BTreeMap<Index<Run>, InState>,
    /// Runs with a conductor whose greatest current is not known.
    not_told: BTreeMap<Index<Run>, NotEvaluated>,
}

/// Conductors by the state in which they carry current.
type InState = BTreeMap<Option<Index<OperatingState>>, Vec<Conductor>>;

/// One conductor of a run.
struct Conductor {
    /// Resistance of a metre.
    ohms: f64,
    /// Its greatest current on any boat.
    greatest: f64,
    /// When each of its loads runs, and its greatest current.
    loads: Vec<(Condition, f64)>,
    /// The boat on which it carries that.
    worst: Option<Boat>,
    /// A load of unknown draw, beside which it may carry more than is known.
    beside: Option<Index<Load>>,
}

/// What flows in one system.
struct Flowing<'a> {
    study: &'a Study,
    every: &'a EveryBoat,
    assembly: &'a Assembly,
    system: &'a System,
    open: BTreeMap<usize, Open>,
}

/// A current, with a load of unknown draw beside which it may be so much.
type Amps = (f64, Option<Index<Load>>);

impl Flowing<'_> {
    /// The greatest current of a branch on any boat.
    fn greatest(&self, branch: usize) -> Result<Amps, NotEvaluated> {
        let block = self.system.shared.of_branch(branch);
        let (more, beside) = match block.and_then(|block| self.open.get(&block)) {
            Some(Open::Unknown(why)) => return Err(why.clone()),
            Some(Open::More { amps, beside }) => (*amps, Some(*beside)),
            None => (0.0, None),
        };
        let part = self.assembly.branches[branch].part;
        let both = [Quantity::Current(part), Quantity::CurrentBack(part)];
        let candidates = &self.every.candidates;
        let missing = both.iter().find_map(|one| candidates.missing.get(one));
        if let Some(why) = missing {
            return Err(why.clone());
        }
        let known = both.iter().filter_map(|one| candidates.worst.get(one));
        let known = known.map(|(worst, _)| worst.bound).reduce(f64::max);
        match known.filter(|amps| amps.is_finite()) {
            Some(amps) => Ok((amps + more, beside)),
            None => {
                let label = part.label(&self.study.model);
                let why = format!("the greatest current of {label} is not known");
                Err(NotEvaluated::because(why))
            }
        }
    }

    fn worst_boat(&self, branch: usize) -> Option<Boat> {
        let quantity = Quantity::Current(self.assembly.branches[branch].part);
        let (worst, _) = self.every.candidates.worst.get(&quantity)?;
        Some(worst.way.boat.clone())
    }

    /// What flows through each branch: when each of its loads runs, and its greatest current.
    fn behind(&self) -> BTreeMap<usize, Vec<(Condition, f64)>> {
        let system = self.system;
        let amps_of = |branch: usize| self.greatest(branch).ok().map(|(amps, _)| amps);
        let mut behind: BTreeMap<usize, Vec<(Condition, f64)>> = BTreeMap::new();
        // Only then a branch carries no less than each load behind it.
        let adds_up = system.network.has_one_way() && flows_one_way(system) && all_draw(system);
        for consumer in system.loads.iter().filter(|_| adds_up) {
            let way = consumer.way.iter().map(|(branch, _)| *branch);
            // What passes all these is no more than the least of what each carries.
            let amps = way.clone().filter_map(amps_of).reduce(f64::min);
            let amps = amps.unwrap_or_default();
            for branch in way {
                let when = consumer.when.simplified();
                behind.entry(branch).or_default().push((when, amps));
            }
        }
        // Elsewhere currents part or meet; what each branch carries at most is known all the same.
        for branch in system.branches.iter().filter(|_| !adds_up) {
            let part = self.assembly.branches[*branch].part;
            let fitted = part.fitted_when(&self.study.model);
            let on_way = |one: &Consumer| one.way.iter().any(|(own, _)| own == branch);
            let amps = amps_of(*branch);
            if amps.is_some() || system.loads.iter().any(on_way) {
                let amps = amps.unwrap_or_default();
                behind.insert(*branch, vec![(fitted.simplified(), amps)]);
            }
        }
        // What is not known is not left out.
        for block in self.open.keys() {
            for branch in system.shared.branches_of(*block) {
                behind.entry(branch).or_default();
            }
        }
        behind
    }
}

/// The most heat so far, with its boat and state.
type Best = Option<(f64, Boat, Option<Index<OperatingState>>)>;

/// Boats that meet some conditions and not others, with what none of them exceeds.
struct Region {
    bound: f64,
    state: Option<Index<OperatingState>>,
    held: Vec<Option<bool>>,
    boat: Boat,
    weights: Vec<f64>,
}

impl Heats {
    pub fn of(study: &Study, every: &EveryBoat, assembly: &Assembly, systems: &Systems) -> Self {
        let mut heats = Self::default();
        for system in nominal(&systems.systems) {
            let flowing = Flowing {
                study,
                every,
                assembly,
                system,
                open: system.open(&study.model),
            };
            for (branch, loads) in flowing.behind() {
                if let Part::Wire(wire) = assembly.branches[branch].part {
                    heats.add(&flowing, branch, wire, loads);
                }
            }
        }
        heats
    }

    fn add(
        &mut self,
        flowing: &Flowing<'_>,
        branch: usize,
        wire: Index<Wire>,
        loads: Vec<(Condition, f64)>,
    ) {
        let runs = runs_of(flowing.study, wire);
        let known = flowing.greatest(branch).and_then(|amps| {
            let ohms = ohms_per_metre(flowing.study, wire)?;
            Ok((ohms, amps))
        });
        match known {
            Ok((Some(ohms), (greatest, beside))) => {
                for run in runs {
                    let here = self.runs.entry(run).or_default();
                    here.entry(flowing.system.state)
                        .or_default()
                        .push(Conductor {
                            ohms,
                            greatest,
                            loads: loads.clone(),
                            worst: flowing.worst_boat(branch),
                            beside,
                        });
                }
            }
            Ok((None, _)) => {}
            Err(why) => {
                for run in runs {
                    self.not_told.entry(run).or_insert_with(|| why.clone());
                }
            }
        }
    }

    /// The most heat of a run; nothing where no current flows in it.
    pub fn most(
        &self,
        study: &Study,
        options: &Options,
        run: Index<Run>,
    ) -> Result<Option<Most>, NotEvaluated> {
        if let Some(why) = self.not_told.get(&run) {
            return Err(why.clone());
        }
        let Some(states) = self.runs.get(&run) else {
            return Ok(None);
        };
        let all = states.values().flatten().flat_map(|one| &one.loads);
        let mut asked: BTreeSet<Condition> = all.map(|(when, _)| when.clone()).collect();
        asked.remove(&Condition::Always);
        asked.remove(&Condition::never());
        let asked: Vec<Condition> = asked.into_iter().collect();
        let none = vec![None; asked.len()];
        let boats = BoatSet::for_asking(options, &asked).and_then(|set| set.firings(asked));
        let boats = boats.map_err(|wide| NotEvaluated::because(wide.to_string()))?;
        let mut open: Vec<Region> = states
            .iter()
            .filter_map(|(state, conductors)| region(&boats, conductors, *state, none.clone()))
            .collect();
        let mut best: Best = None;
        let try_boat = |best: &mut Best, boat: &Boat, state| -> Result<(), NotEvaluated> {
            let value = heat_on(study, boat, state, run)?;
            if best.as_ref().is_none_or(|(known, ..)| value > *known) {
                *best = Some((value, boat.clone(), state));
            }
            Ok(())
        };
        for (state, conductors) in states {
            let worst = conductors.iter().filter_map(|one| one.worst.as_ref());
            let worst: BTreeSet<Vec<OptionIndex>> =
                worst.map(|boat| boat.options().collect()).collect();
            for options in worst.into_iter().take(MOST_KNOWN) {
                try_boat(&mut best, &options.into_iter().collect(), *state)?;
            }
        }
        let mut conductors = states.values().flatten();
        let beside = conductors.find_map(|one| one.beside);
        let mut left = 0.0_f64;
        for solves in 0.. {
            // The region that may hold most, last in the list.
            open.sort_by(|a, b| a.bound.total_cmp(&b.bound));
            let known = best.as_ref().map_or(0.0, |(value, ..)| *value);
            let Some(next) = open.pop().filter(|next| next.bound > known * (1.0 + 1e-9)) else {
                break;
            };
            if solves == MOST_SOLVES {
                left = left.max(next.bound);
                break;
            }
            try_boat(&mut best, &next.boat, next.state)?;
            match next.divided() {
                Some(parts) => {
                    let conductors = &states[&next.state];
                    let parts = parts.into_iter();
                    open.extend(
                        parts.filter_map(|held| region(&boats, conductors, next.state, held)),
                    );
                }
                None => left = left.max(next.bound),
            }
        }
        Ok(best
            .filter(|(value, ..)| *value > 0.0)
            .map(|(value, boat, state)| Most {
                thing: Thing::Heat(run),
                value,
                bound: left.max(value),
                room: None,
                state,
                boat,
                beside,
            }))
    }
}

impl Region {
    /// The region with its weightiest open condition met, and unmet; nothing where none is open.
    fn divided(&self) -> Option<[Vec<Option<bool>>; 2]> {
        let open = (0..self.held.len()).filter(|at| self.held[*at].is_none());
        let most = open
            .filter(|at| self.weights[*at] > 0.0)
            .max_by(|a, b| self.weights[*a].total_cmp(&self.weights[*b]))?;
        Some([true, false].map(|met| {
            let mut held = self.held.clone();
            held[most] = Some(met);
            held
        }))
    }
}

/// The bound of the boats so held, and the boat on which it would be reached; nothing where there
/// is no such boat.
fn region(
    boats: &Firings,
    conductors: &[Conductor],
    state: Option<Index<OperatingState>>,
    held: Vec<Option<bool>>,
) -> Option<Region> {
    let number = |when: &Condition| boats.conditions().binary_search(when).ok();
    let mut weights = vec![0.0; held.len()];
    let mut always = 0.0;
    for conductor in conductors {
        let possible = conductor.loads.iter().filter(|(when, _)| {
            *when != Condition::never()
                && number(when).is_none_or(|number| held[number] != Some(false))
        });
        let together: f64 = possible.clone().map(|(_, amps)| amps).sum();
        let most = conductor.greatest.min(together);
        for (when, amps) in possible {
            let watts = conductor.ohms * most * amps;
            match number(when) {
                Some(number) => weights[number] += watts,
                None => always += watts,
            }
        }
    }
    let (sum, way) = boats.heaviest(&weights, &held)?;
    Some(Region {
        bound: sum + always,
        state,
        held,
        boat: way.boat,
        weights,
    })
}

/// Whether no load feeds instead of drawing.
fn all_draw(system: &System) -> bool {
    let mut loads = system.network.network().loads.iter();
    loads.all(|load| match load.behavior {
        Behavior::Current(amps) => amps.value() >= 0.0,
        Behavior::Power(watts) => watts.value() >= 0.0,
        Behavior::Resistance(_) => true,
    })
}

/// The runs on the way of a wire; none where it has no way.
fn runs_of(study: &Study, wire: Index<Wire>) -> impl Iterator<Item = Index<Run>> {
    let path = study.routing.path(wire).ok();
    let legs = path.into_iter().flat_map(|path| &path.legs);
    legs.map(|leg| leg.run)
}

/// Resistance of a metre of a wire; nothing for one without length.
fn ohms_per_metre(study: &Study, wire: Index<Wire>) -> Result<Option<f64>, NotEvaluated> {
    let model = &study.model;
    let length = study.routing.electrical_length(model, wire)?.value();
    let ohms = wire_resistance(model, &study.routing, wire)?.value();
    Ok((length > 0.0).then(|| ohms / length))
}

/// Heat of a metre of the conductors in a run on one boat in one state, W/m; where some carry more
/// than is known, the least there is.
fn heat_on(
    study: &Study,
    boat: &Boat,
    state: Option<Index<OperatingState>>,
    run: Index<Run>,
) -> Result<f64, NotEvaluated> {
    let model = &study.model;
    let assembly = Assembly::of(model, &study.routing, boat);
    let operating = assembly.operate(model, state, SourceCondition::Nominal);
    let mut sum = 0.0;
    for (branch, current) in assembly.branches.iter().zip(&operating.branch_currents) {
        let Part::Wire(wire) = branch.part else {
            continue;
        };
        // What has no resistance here carries nothing on any boat, or the run is not told at all.
        let Ok(Some(ohms)) = ohms_per_metre(study, wire) else {
            continue;
        };
        for _ in runs_of(study, wire).filter(|at| *at == run) {
            let amps = current.as_ref().map_err(Clone::clone)?.value();
            sum += ohms * amps * amps;
        }
    }
    Ok(sum)
}
