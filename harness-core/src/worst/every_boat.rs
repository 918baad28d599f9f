//! Every limit judged on the boat on which it is worst.

use super::areas::Areas;
use super::asked::Asked;
use super::candidates::{self, Candidates, Gathering, Width};
use super::earlier::{Earlier, Found, Kept};
use super::extent::{Extent, Reach};
use super::processors::{available, on_all_processors};
use super::systems::Systems;
use crate::boats::{Boat, BoatSet, Options, TooWide};
use crate::model::{BoatModel, Index, Load, OperatingState, RuleSet};
use crate::network::assembly::{Assembly, LoadPoint, Operating, Part, SourceCondition, Wanted};
use crate::routing::{Bundle, Routing, bundles};
use crate::rules::{
    Depends, Facts, Finding, Judged, Known, LimitUse, Loaded, Place, RULES, Rule, Walks,
};
use crate::units::Volts;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// All limits over all boats.
#[derive(Debug)]
pub struct EveryBoat {
    /// The boats judged, and what was proven.
    pub candidates: Arc<Candidates>,
    /// What is not proven to be worst on one of them, with the reason.
    pub unproven: Vec<String>,
    /// The buildable boat with the fewest options, to compare with.
    pub standard: Boat,
    /// Volts of each load on the boat and in the state in which it loses most.
    pub supplies: BTreeMap<Index<Load>, Supply>,
    /// That boat of each of these loads: a place in the list of boats judged.
    pub(super) supplied_on: BTreeMap<Index<Load>, usize>,
    /// For each finding the boat on which it is so: a place in the list of boats judged.
    pub worst: Vec<usize>,
    /// For each boat judged how many loaded conductors lie together, where that was counted.
    pub(super) loaded: Vec<Option<Loaded>>,
    /// Limits taken over from an earlier study, since no change touches them.
    pub taken_over: usize,
    /// How far each failure reaches; `None` for what does not fail, and where too many do.
    pub extents: Vec<Option<Extent>>,
}

/// Volts of one load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Supply {
    /// The state; `None` for a model that states none.
    pub state: Option<Index<OperatingState>>,
    /// Volts lost out and back.
    pub drop: Volts,
    /// The same in percent of nominal.
    pub drop_percent: f64,
    /// Volts across the load.
    pub volts: Volts,
}

/// Failures whose boats are counted in one study (our practice: a model with more has other
/// worries first).
pub(super) const MOST_COUNTED: usize = 60;

/// Whether the boats of each failure are counted too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// They are, for as many failures as one study counts.
    Yes,
    /// Only what fails is wanted.
    No,
}

/// What is judged: a rule, a place, a rule set, and which of several of one boat.
pub(super) type Limit = (usize, Place, Option<RuleSet>, usize);

impl EveryBoat {
    /// Finds the boats, judges each, and keeps the worst finding of each limit, in the order of
    /// the rules and of the model. What an earlier study of nearly the same model has shown is not
    /// judged again.
    ///
    /// # Errors
    /// [`TooWide`] where rules and conditions tie too many options together.
    pub fn of(
        model: &BoatModel,
        routing: &Routing,
        options: &Options,
        boats: &BoatSet,
        first: &Boat,
        counted: Counted,
        earlier: Option<&Earlier<'_>>,
    ) -> Result<(Self, Vec<Finding>), TooWide> {
        let how = (counted, Width::default());
        Self::within(model, routing, options, boats, first, how, earlier)
    }

    /// The same with diagrams of so many states at most.
    pub(super) fn within(
        model: &BoatModel,
        routing: &Routing,
        options: &Options,
        boats: &BoatSet,
        first: &Boat,
        (counted, width): (Counted, Width),
        earlier: Option<&Earlier<'_>>,
    ) -> Result<(Self, Vec<Finding>), TooWide> {
        let assembly = Assembly::of_every_boat(model, routing);
        let systems = Systems::of(model, &assembly, boats)?;
        let conditions = candidates::conditions(model, routing, &assembly, &systems);
        let loaded = candidates::loaded(&assembly, &systems);
        let asking = candidates::asking(options, &conditions, &loaded, width)?;
        let asking = asking.as_ref();
        let same = earlier.and_then(Earlier::candidates);
        let candidates = same.unwrap_or_else(|| {
            let mut gathering = Gathering::new(model, routing, &assembly, &systems, asking);
            gathering.earlier =
                earlier.and_then(|earlier| Found::of(earlier, model, routing, asking.conditions()));
            Arc::new(gathering.gather(first, boats))
        });
        asking.settle();
        let kept = earlier.and_then(|earlier| {
            let areas = Areas::of(model, &assembly, &systems);
            Kept::of(earlier, model, routing, (&areas, &systems), &candidates)
        });
        let kept = kept.as_ref();
        let asked = Asked::of(model, &candidates, kept);
        let held = kept.map(Held::of).unwrap_or_default();
        let Worsts {
            supplies,
            limits,
            loaded,
            ..
        } = Worsts::of(&candidates.boats, held, |number, boat, known| {
            let asked = &asked[number];
            if asked.is_nothing() {
                return (Vec::new(), BTreeMap::new(), asked.loaded());
            }
            let judging = Judging::of(
                model,
                routing,
                &assembly,
                (boats, boat),
                (Some(known), asked),
            );
            // What hangs on nothing else is the same on each boat that has it.
            let earlier = &candidates.boats[..number];
            let earlier = asked.with_everything.then_some(earlier);
            let mut findings = judging.by_rules(earlier);
            if let Some(kept) = kept {
                findings.retain(|(rule, found)| kept.judges(*rule, found.place, number));
            }
            (findings, judging.supplies(), Some(judging.loaded()))
        });
        let (about, found): (Vec<Limit>, Vec<(Finding, usize)>) = limits.into_iter().unzip();
        let (findings, worst): (Vec<Finding>, Vec<usize>) = found.into_iter().unzip();
        let mut unproven = candidates.unproven.clone();
        unproven.extend(candidates.unsure_returns(model, &findings));
        let standard = fewest(boats);
        let reach = Reach {
            model,
            assembly: &assembly,
            systems: &systems,
            asking,
            numbers: candidates::numbers(asking),
            worst: &candidates.worst,
            routing,
            boats,
            standard: &standard,
            judge: &|rule, boat, place| {
                let all = Asked::all();
                let judging = Judging::of(model, routing, &assembly, (boats, boat), (None, &all));
                judging.by(rule, Judged::These(&BTreeSet::from([place])))
            },
        };
        let most = match counted {
            Counted::Yes => MOST_COUNTED,
            Counted::No => 0,
        };
        let failing = (0..findings.len()).filter(|number| findings[*number].fails());
        let wanted: Vec<usize> = failing.take(most).collect();
        let found = on_all_processors(&wanted, |_, number| {
            let known = kept.and_then(|kept| kept.extent(&about[*number], worst[*number]));
            let anew = || reach.of(&findings[*number], &candidates.boats[worst[*number]]);
            known.cloned().unwrap_or_else(anew)
        });
        let mut extents: Vec<Option<Extent>> = vec![None; findings.len()];
        for (number, extent) in wanted.into_iter().zip(found) {
            extents[number] = Some(extent);
        }
        let limits = about.iter().zip(&worst);
        let taken_over = limits.filter(|(limit, boat)| {
            let held = kept.map(|kept| kept.holds(limit, **boat));
            held.unwrap_or_default()
        });
        let supplied_on = supplies.iter().map(|(load, (_, boat))| (*load, *boat));
        let supplied = supplies.iter().map(|(load, (supply, _))| (*load, *supply));
        let every = Self {
            taken_over: taken_over.count(),
            candidates,
            unproven,
            standard,
            supplied_on: supplied_on.collect(),
            supplies: supplied.collect(),
            worst,
            loaded,
            extents,
        };
        Ok((every, findings))
    }

    /// The boat on which a finding is worst.
    pub fn boat(&self, finding: usize) -> &Boat {
        &self.candidates.boats[self.worst[finding]]
    }
}

/// The standard boat: the buildable one with the fewest options.
fn fewest(boats: &BoatSet) -> Boat {
    let ones = vec![1.0; boats.option_count()];
    boats
        .lightest(&ones)
        .map(|(_, boat)| boat)
        .unwrap_or_default()
}

/// What judging one boat gives: findings with the place of their rule, volts of loads, and how many
/// loaded conductors lie together.
type Told = (
    Vec<(usize, Finding)>,
    BTreeMap<Index<Load>, Supply>,
    Option<Loaded>,
);

/// What an earlier study has shown of boats, by their number.
#[derive(Default)]
struct Held {
    findings: BTreeMap<usize, Vec<(Limit, Finding)>>,
    supplies: BTreeMap<usize, BTreeMap<Index<Load>, Supply>>,
}

impl Held {
    fn of(kept: &Kept<'_>) -> Self {
        Self {
            findings: kept.findings(),
            supplies: kept.supplies(),
        }
    }
}

/// The worst of the boats judged so far.
#[derive(Default)]
struct Worsts {
    /// Each with the number of its boat.
    supplies: BTreeMap<Index<Load>, (Supply, usize)>,
    /// Each limit with the number of its boat.
    limits: BTreeMap<Limit, (Finding, usize)>,
    known: Known,
    loaded: Vec<Option<Loaded>>,
}

impl Worsts {
    /// Judges a boat on each processor at once, and keeps only the worst of them before going on.
    /// The boats are taken in their order, however many processors there are, each with what was
    /// shown of it earlier.
    fn of(
        boats: &[Boat],
        mut held: Held,
        judge: impl Fn(usize, &Boat, &Known) -> Told + Sync,
    ) -> Self {
        let mut worsts = Self::default();
        let mut first = 0;
        for together in boats.chunks(available()) {
            let judged =
                on_all_processors(together, |at, boat| judge(first + at, boat, &worsts.known));
            for (at, (findings, supplied, loaded)) in judged.into_iter().enumerate() {
                let boat = first + at;
                worsts.loaded.push(loaded);
                worsts.add_supplies(boat, held.supplies.remove(&boat).unwrap_or_default());
                worsts.add_supplies(boat, supplied);
                for (limit, finding) in held.findings.remove(&boat).unwrap_or_default() {
                    worsts.add_finding(boat, limit, finding);
                }
                worsts.add_findings(boat, findings);
            }
            first += together.len();
        }
        worsts
    }

    fn add_supplies(&mut self, boat: usize, supplied: BTreeMap<Index<Load>, Supply>) {
        for (load, supply) in supplied {
            match self.supplies.get(&load) {
                Some((known, _)) if supply.drop_percent <= known.drop_percent => {}
                _ => {
                    self.supplies.insert(load, (supply, boat));
                }
            }
        }
    }

    fn add_findings(&mut self, boat: usize, findings: Vec<(usize, Finding)>) {
        let mut met: BTreeMap<(usize, Place, Option<RuleSet>), usize> = BTreeMap::new();
        for (rule, finding) in findings {
            let key = (rule, finding.place, finding.rule_set);
            let occurrence = met.entry(key).or_default();
            let limit = (key.0, key.1, key.2, *occurrence);
            *occurrence += 1;
            self.add_finding(boat, limit, finding);
        }
    }

    fn add_finding(&mut self, boat: usize, limit: Limit, finding: Finding) {
        match self.limits.get(&limit) {
            Some((known, _)) if !LimitUse::of(&finding).is_worse_than(LimitUse::of(known)) => {}
            _ => {
                self.known.learn(&finding);
                self.limits.insert(limit, (finding, boat));
            }
        }
    }
}

/// One boat made ready for the rules.
struct Judging<'a> {
    model: &'a BoatModel,
    routing: &'a Routing,
    boats: &'a BoatSet,
    boat: &'a Boat,
    assembly: Assembly,
    operating: Vec<Operating>,
    bundles: Vec<Bundle>,
    known: Option<&'a Known>,
    asked: &'a Asked<'a>,
    walks: Walks,
    loaded: Loaded,
}

/// What is asked of what flows on a boat where these things are judged.
fn wanted_of(assembly: &Assembly, places: &BTreeSet<Place>) -> Wanted {
    let numbered = assembly.branches.iter().enumerate();
    let branches = numbered.filter(|(_, branch)| places.contains(&branch.part.into()));
    let sources = assembly.sources.iter().map(|(source, ..)| *source);
    let loads = assembly.loads.iter().map(|(load, ..)| *load);
    Wanted {
        loads: loads
            .filter(|load| places.contains(&Place::Load(*load)))
            .collect(),
        branches: branches.map(|(number, _)| number).collect(),
        sources: sources
            .filter(|source| places.contains(&Place::Source(*source)))
            .collect(),
    }
}

impl<'a> Judging<'a> {
    fn of(
        model: &'a BoatModel,
        routing: &'a Routing,
        every: &Assembly,
        (boats, boat): (&'a BoatSet, &'a Boat),
        (known, asked): (Option<&'a Known>, &'a Asked<'a>),
    ) -> Self {
        let assembly = match &asked.known {
            Some((_, places)) => {
                let part = |part: Part| places.contains(&part.into());
                let load = |load| places.contains(&Place::Load(load));
                every.on(model, boat, (&part, &load))
            }
            None => every.on(model, boat, (&|_| true, &|_| true)),
        };
        // No rule looks at the other conditions of the sources.
        let conditions = [SourceCondition::Nominal, SourceCondition::Low];
        let wanted = asked.flowing();
        let wanted = wanted.map(|places| wanted_of(&assembly, places));
        Self {
            model,
            routing,
            boats,
            boat,
            operating: assembly.operate_for(model, &conditions, wanted.as_ref()),
            assembly,
            bundles: match asked.needs_bundles() {
                true => bundles(model, routing, |wire| {
                    model.wires[wire].fitted_when.holds(boat)
                }),
                false => Vec::new(),
            },
            known,
            walks: Walks::default(),
            loaded: asked.loaded().unwrap_or_default(),
            asked,
        }
    }

    /// Each load where it loses most, at nominal volts.
    fn supplies(&self) -> BTreeMap<Index<Load>, Supply> {
        let mut worst: BTreeMap<Index<Load>, Supply> = BTreeMap::new();
        let nominal = self.operating.iter();
        for operating in nominal.filter(|one| one.condition == SourceCondition::Nominal) {
            for (load, point) in &operating.loads {
                let LoadPoint::Supplied(supplied) = point else {
                    continue;
                };
                let supply = Supply {
                    state: operating.state,
                    drop: supplied.drop(),
                    drop_percent: supplied.drop_percent(),
                    volts: supplied.volts,
                };
                let known = worst.entry(*load).or_insert(supply);
                if supply.drop_percent > known.drop_percent {
                    *known = supply;
                }
            }
        }
        worst
    }

    fn by(&self, rule: &Rule, judged: Judged<'_>) -> Vec<Finding> {
        (rule.judge)(&self.facts(judged))
    }

    /// How many loaded conductors lie together.
    fn loaded(&self) -> Loaded {
        self.loaded.runs(&self.facts(Judged::All));
        self.loaded.clone()
    }

    fn facts<'f>(&'f self, judged: Judged<'f>) -> Facts<'f> {
        Facts {
            model: self.model,
            boats: Some(self.boats),
            boat: self.boat,
            routing: self.routing,
            assembly: &self.assembly,
            operating: &self.operating,
            bundles: &self.bundles,
            known: self.known,
            judged,
            walks: self.walks.clone(),
            loaded: self.loaded.clone(),
        }
    }

    /// The findings with the place of each rule. What does not hang on what else is fitted is
    /// judged on the first boat that has it, so it needs the boats judged before; not at all
    /// without them.
    fn by_rules(&self, earlier: Option<&[Boat]>) -> Vec<(usize, Finding)> {
        let judged = self.asked.judged();
        let asked = |rule: &Rule| match (rule.depends, earlier) {
            (Depends::Flow, _) => Some(judged),
            (Depends::Company, _) => self.asked.in_all.then_some(judged),
            (Depends::Itself, Some(earlier)) => Some(self.asked.alone(earlier)),
            (Depends::Boats, Some([])) => Some(Judged::All),
            (Depends::Itself | Depends::Boats, _) => None,
        };
        let asked = RULES
            .iter()
            .enumerate()
            .filter_map(|(number, rule)| Some((number, rule, asked(rule)?)));
        asked
            .flat_map(|(number, rule, judged)| {
                let found = self.by(rule, judged).into_iter();
                found.map(move |found| (number, found))
            })
            .collect()
    }
}
