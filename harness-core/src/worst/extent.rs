//! How far a failure reaches: on how many boats, and which options make it.

use super::filled::filled_when;
use super::greatest::{NOTHING, NoWorst, Worst};
use super::quantity::{Quantity, Questions};
use super::search::{Search, around, at};
use super::systems::Systems;
use crate::boats::{Asking, Boat, BoatSet, Condition, Line, OptionIndex, Over, Way};
use crate::model::{BoatModel, Index, Run, Wire};
use crate::network::assembly::{Assembly, Part};
use crate::routing::{Routing, diameters};
use crate::rules::{self, Depends, Finding, Place, Rule};
use num_bigint::BigUint;
use std::collections::{BTreeMap, BTreeSet};

/// Steps of one count before it ends with bounds.
const MOST_STEPS: usize = 100_000;
/// Options looked at for causes, those with most effect first.
const MOST_OPTIONS: usize = 16;
/// Causes of one failure that are listed.
const MOST_CAUSES: usize = 3;
/// Ways in which deciding conditions may be met together before they are too many to try.
const MOST_CLASSES: usize = 64;
/// Most options in one cause.
const MOST_TOGETHER: usize = 4;
/// Takes a sum below every limit on boats it does not speak of.
const OUTSIDE: f64 = 1e6;

/// How far one failure reaches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Extent {
    /// Boats on which the limit fails.
    pub boats: Over,
    /// Smallest sets of options with which it fails, whatever else is ordered; the empty set
    /// where it fails on every boat that can be ordered.
    pub causes: Vec<Vec<OptionIndex>>,
    /// Options that each failing boat has, though others do not.
    pub all_have: Vec<OptionIndex>,
    /// Options that no failing boat has, though others do.
    pub none_has: Vec<OptionIndex>,
    /// A boat on which it fails that differs little from the standard boat: none of the changes,
    /// and no two that rules tie together, can be taken back.
    pub nearest: Option<Boat>,
}

/// The limit of a quantity in volts or amperes; `None` where it has none in this system.
type LimitOf<'a> = dyn Fn(&Search<'_>, Quantity) -> Option<f64> + 'a;

/// Finds how far failures reach.
pub(super) struct Reach<'a> {
    pub model: &'a BoatModel,
    pub assembly: &'a Assembly,
    pub systems: &'a Systems,
    pub asking: &'a dyn Asking,
    pub numbers: BTreeMap<Condition, usize>,
    pub worst: &'a BTreeMap<Quantity, (Worst, Option<Index<crate::model::OperatingState>>)>,
    pub routing: &'a Routing,
    /// Every buildable boat, and the one of them with the fewest options.
    pub boats: &'a BoatSet,
    pub standard: &'a Boat,
    /// The findings of one rule on one thing of a boat.
    pub judge: &'a (dyn Fn(&Rule, &Boat, Place) -> Vec<Finding> + Sync),
}

impl<'a> Reach<'a> {
    /// How far a failure reaches. Where it is no limit of one sum, the boats that have the thing
    /// are the most, and the one boat found is the least.
    pub fn of(&self, finding: &Finding, worst: &Boat) -> Extent {
        let Some(rule) = rules::rule(finding.rule) else {
            return self.on_some(finding);
        };
        if rule.depends == Depends::Itself || self.is_of_size_alone(finding) {
            return self.on_all_with(finding.place, worst);
        }
        let quantities = asked(finding);
        if let Some(limit) = self.limit(finding).filter(|_| !quantities.is_empty()) {
            return self.over(&quantities, &limit, worst);
        }
        let filled = self.filled(finding).map(|line| {
            let options: Vec<_> = self.by_effect(std::slice::from_ref(&line));
            let lines = std::slice::from_ref(&line);
            let mut fails = |way: &Way| line.at(way).0 > 0.0;
            Extent {
                boats: self.asking.count_over(lines, MOST_STEPS, &mut fails),
                nearest: Some(self.nearest(worst, &mut fails)),
                ..self.causes(lines, &options)
            }
        });
        filled
            .or_else(|| self.by_classes(rule, finding, worst))
            .unwrap_or_else(|| self.on_some(finding))
    }

    /// Whether a wire is too thin whatever its current.
    fn is_of_size_alone(&self, finding: &Finding) -> bool {
        let Place::Wire(at) = finding.place else {
            return false;
        };
        let hangs_on_current = || rules::hangs_on_current(self.model, &self.model.wires[at]);
        finding.rule == rules::SMALLEST_CODE && !hangs_on_current()
    }

    /// At least the boat found, at most those that have the thing.
    fn on_some(&self, finding: &Finding) -> Extent {
        Extent {
            boats: Over {
                at_least: BigUint::from(1u8),
                at_most: self.asking.count(&self.having(finding.place)).at_most,
            },
            causes: Vec::new(),
            all_have: Vec::new(),
            none_has: Vec::new(),
            nearest: None,
        }
    }

    /// The worst boat with as many options as can be as on the standard boat, while it still
    /// fails: one change, or two that rules tie together, are taken back as long as any can be.
    fn nearest(&self, worst: &Boat, fails: &mut dyn FnMut(&Way) -> bool) -> Boat {
        let mut boat = worst.clone();
        let turned = |boat: &Boat, options: &[OptionIndex]| {
            let mut next = boat.clone();
            for &option in options {
                if next.has(option) {
                    next.remove(option);
                } else {
                    next.add(option);
                }
            }
            next
        };
        loop {
            let every = (0..self.boats.option_count()).map(OptionIndex);
            let changed: Vec<OptionIndex> = every
                .filter(|option| boat.has(*option) != self.standard.has(*option))
                .collect();
            let can_be = |options: &[OptionIndex]| self.boats.contains(&turned(&boat, options));
            let ones = sets(&changed, 1).into_iter();
            // Two at a time where rules allow neither alone: one engine for the other.
            let bound: Vec<OptionIndex> = changed
                .iter()
                .copied()
                .filter(|option| !can_be(&[*option]))
                .collect();
            let back = ones.chain(sets(&bound, 2)).find_map(|options| {
                let next = turned(&boat, &options);
                let still = can_be(&options) && fails(&self.asking.way_of(&next));
                still.then_some(next)
            });
            match back {
                Some(next) => boat = next,
                None => return boat,
            }
        }
    }

    /// How full a conduit is over its limit, in mm²; only where three wires or jackets lie in it on
    /// every boat, since the limit of fewer is another.
    fn filled(&self, finding: &Finding) -> Option<Line> {
        let Place::Run(run) = finding.place else {
            return None;
        };
        if finding.rule != rules::CONDUIT_CODE {
            return None;
        }
        let fitted = |wire| self.model.wires[wire].fitted_when.simplified();
        let everywhere = self
            .in_run(run)
            .filter(|wire| fitted(*wire) == Condition::Always);
        let everywhere: Vec<Index<Wire>> = everywhere.collect();
        if diameters(self.model, &everywhere).ok()?.len() < 3 {
            return None;
        }
        let bore = self.model.runs[run].bore?.circle_area().value();
        let allowed = bore * finding.limit?.value / 100.0;
        let mut line = Line {
            constant: (-allowed, -allowed),
            weights: vec![(0.0, 0.0); self.asking.conditions().len()],
        };
        for (when, area) in filled_when(self.model, self.in_run(run)).ok()? {
            let area = area.value();
            let place = match self.numbers.get(&when) {
                Some(number) => &mut line.weights[*number],
                None if when == Condition::Always => &mut line.constant,
                // A jacket of wires that hang on different options: other ways of counting.
                None => return None,
            };
            *place = (place.0 + area, place.1 + area);
        }
        Some(line)
    }

    fn in_run(&self, run: Index<Run>) -> impl Iterator<Item = Index<Wire>> + '_ {
        self.model.wires.indices().filter(move |wire| {
            let path = self.routing.path(*wire);
            path.is_ok_and(|path| path.legs.iter().any(|leg| leg.run == run))
        })
    }

    /// The conditions a finding hangs on, where they are few enough to try each way.
    fn deciding(&self, finding: &Finding) -> Option<BTreeSet<usize>> {
        let of_wire = |wire: Index<Wire>| self.model.wires[wire].fitted_when.simplified();
        let conditions: Vec<Condition> = match (finding.rule, finding.place) {
            (rules::RETURN_CODE, Place::Wire(wire)) => {
                let branch = self.assembly.branch(Part::Wire(wire))?;
                let systems = self.systems.systems.iter();
                let with = systems.filter(|system| system.branches.contains(&branch));
                let number = |condition: &Condition| self.numbers.get(condition).copied();
                let mut searches =
                    (with.clone()).map(|system| Search::new(system, self.asking, &number));
                // Where loads may collapse, what comes back hangs on all of them.
                if !searches.all(|search| match search {
                    Ok(search) => search.is_bounded(),
                    Err(why) => why == NoWorst::NoBoat,
                }) {
                    return None;
                }
                let through = with.flat_map(|system| {
                    let loads = system.loads.iter();
                    let here = loads.filter(|load| load.way.iter().any(|(own, _)| *own == branch));
                    let all = here.chain(&system.unknown).map(|load| load.when.clone());
                    all.chain(system.shape.iter().map(|(condition, _)| condition.clone()))
                });
                through.chain([of_wire(wire)]).collect()
            }
            (rules::HOLE_CODE | rules::CONDUIT_CODE, Place::Run(run)) => {
                self.in_run(run).map(of_wire).collect()
            }
            _ => return None,
        };
        let numbers = conditions
            .iter()
            .filter_map(|when| self.numbers.get(when).copied());
        Some(numbers.collect())
    }

    /// Tries each way in which the deciding conditions are met together.
    fn by_classes(&self, rule: &Rule, finding: &Finding, worst: &Boat) -> Option<Extent> {
        let deciding = self.deciding(finding)?;
        let mut classes = vec![self.none_held()];
        for &number in &deciding {
            let both = |held: &Vec<Option<bool>>| {
                [false, true].map(|met| {
                    let mut held = held.clone();
                    held[number] = Some(met);
                    held
                })
            };
            classes = classes.iter().flat_map(both).collect();
            classes.retain(|held| self.asking.presence(held).is_some());
            if classes.len() > MOST_CLASSES {
                return None;
            }
        }
        let judged = |way: &Way| {
            (self.judge)(rule, &way.boat, finding.place)
                .iter()
                .any(|found| {
                    let same = found.place == finding.place && found.rule_set == finding.rule_set;
                    found.fails() && same
                })
        };
        let class_of =
            |way: &Way| -> Vec<bool> { deciding.iter().map(|number| way.met[*number]).collect() };
        // What lies in a run is the same on boats on which these conditions are met alike. What
        // comes back hangs on the volts, too: only if the fullest and the barest of a class fail
        // alike, all are taken to.
        let weights = match finding.rule {
            rules::RETURN_CODE => &[1.0, -1.0][..],
            _ => &[1.0],
        };
        let mut failing = Over::exactly(BigUint::ZERO);
        let mut alike: BTreeMap<Vec<bool>, bool> = BTreeMap::new();
        for held in &classes {
            let mut told = BTreeSet::new();
            let mut class = Vec::new();
            for weight in weights {
                let weights = vec![*weight; held.len()];
                let way = self.asking.heavy(&weights, held).ok()??;
                class = class_of(&way);
                told.insert(judged(&way));
            }
            let here = self.asking.count(held);
            if told.contains(&true) {
                failing.at_most += here.at_most;
            }
            if !told.contains(&false) {
                failing.at_least += here.at_least;
            }
            if told.len() == 1 {
                alike.insert(class, told.contains(&true));
            }
        }
        if alike.get(&class_of(&self.asking.way_of(worst))) == Some(&false) {
            // It fails between boats that do not: no class tells how many do.
            return None;
        }
        failing.at_least = failing.at_least.max(BigUint::from(1u8));
        let mut fails = |way: &Way| match alike.get(&class_of(way)) {
            Some(fails) => *fails,
            None => judged(way),
        };
        Some(Extent {
            boats: failing,
            nearest: Some(self.nearest(worst, &mut fails)),
            ..self.on_some(finding)
        })
    }

    fn none_held(&self) -> Vec<Option<bool>> {
        vec![None; self.asking.conditions().len()]
    }

    fn having(&self, place: Place) -> Vec<Option<bool>> {
        let mut held = self.none_held();
        if let Some(number) = self.numbers.get(&place.fitted_when(self.model)) {
            held[*number] = Some(true);
        }
        held
    }

    /// A failure of every boat that has the thing.
    fn on_all_with(&self, place: Place, worst: &Boat) -> Extent {
        let held = self.having(place);
        let when = place.fitted_when(self.model);
        let line = self.line_of(&when);
        let fitted = |way: &Way| when.holds(&way.boat);
        Extent {
            boats: self.asking.count(&held),
            nearest: Some(self.nearest(worst, &mut { fitted })),
            ..self.causes(&[line], &when.options().into_iter().collect::<Vec<_>>())
        }
    }

    /// More than 0 on the boats that meet a condition.
    fn line_of(&self, when: &Condition) -> Line {
        let mut line = Line {
            constant: (1.0, 1.0),
            weights: vec![(0.0, 0.0); self.asking.conditions().len()],
        };
        if let Some(number) = self.numbers.get(when) {
            line.constant = (-1.0, -1.0);
            line.weights[*number] = (2.0, 2.0);
        }
        line
    }

    /// The limit of each quantity asked, in volts or amperes.
    fn limit(&self, finding: &Finding) -> Option<Box<LimitOf<'_>>> {
        let limit = finding.limit?.value;
        match finding.place {
            Place::Load(_) if finding.rule == rules::DROP_CODE => {
                Some(Box::new(move |search, quantity| {
                    let Quantity::Drop(load) = quantity else {
                        return None;
                    };
                    let consumer = search.system.loads.iter().find(|c| c.load == load)?;
                    let source = search.system.sources[consumer.source].0;
                    Some(limit / 100.0 * self.model.sources[source].nominal?.value())
                }))
            }
            Place::Load(_) => Some(Box::new(move |_, _| Some(-limit))),
            _ => Some(Box::new(move |_, _| Some(limit))),
        }
    }

    /// Boats on which one of some quantities is over its limit.
    fn over(&self, quantities: &[Quantity], limit: &LimitOf<'_>, worst: &Boat) -> Extent {
        let number = |condition: &Condition| self.numbers.get(condition).copied();
        let questions = Questions {
            model: self.model,
            assembly: self.assembly,
            numbers: &self.numbers,
        };
        let mut lines: Vec<Line> = Vec::new();
        let mut tests: Vec<(Search<'a>, super::sum::Sum, Vec<Option<bool>>, f64)> = Vec::new();
        let mut unbounded = false;
        let starts: Vec<Way> = quantities
            .iter()
            .filter_map(|quantity| Some(self.worst.get(quantity)?.0.way.clone()))
            .collect();
        for system in &self.systems.systems {
            let mut search = match Search::new(system, self.asking, &number) {
                Ok(search) => search,
                Err(NoWorst::NoBoat) => continue,
                Err(_) => {
                    unbounded = true;
                    continue;
                }
            };
            search.start_from(&starts);
            let mut found = Vec::new();
            questions.each(
                &mut search,
                &|quantity| quantities.contains(&quantity),
                &mut |search, quantity, sum, held| {
                    let Some(limit) = limit(search, quantity) else {
                        return;
                    };
                    // As the rules do: rounding over a limit is still at it.
                    let limit = limit + limit.abs() * NOTHING;
                    match search.greatest(sum, held) {
                        Ok(worst) if worst.bound <= limit => return,
                        Ok(worst) => match search.changes_around(sum, &worst.way) {
                            Some(change) => lines.push(self.line(&change, &worst, held, limit)),
                            None => unbounded = true,
                        },
                        Err(NoWorst::NoBoat) => return,
                        Err(_) => unbounded = true,
                    }
                    found.push((sum.clone(), held.to_vec(), limit));
                },
            );
            for (sum, held, limit) in found {
                if let Ok(search) = Search::new(system, self.asking, &number) {
                    tests.push((search, sum, held, limit));
                }
            }
        }
        let mut decide = |way: &Way| {
            tests.iter_mut().any(|(search, sum, held, limit)| {
                let mut pairs = held.iter().zip(&way.met);
                pairs.all(|(held, met)| held.is_none_or(|held| held == *met))
                    && search.value(sum, way).is_some_and(|value| value > *limit)
            })
        };
        let mut boats = self.asking.count_over(&lines, MOST_STEPS, &mut decide);
        // The boat found is one of them, however little else could be counted.
        boats.at_least = boats.at_least.max(BigUint::from(1u8));
        if unbounded {
            boats.at_most = self.asking.count(&self.none_held()).at_most;
        }
        let options = self.by_effect(&lines);
        let mut extent = Extent {
            boats,
            nearest: Some(self.nearest(worst, &mut decide)),
            ..self.causes(&lines, &options)
        };
        if unbounded {
            // Boats may fail of which the lines say nothing.
            extent.all_have.clear();
            extent.none_has.clear();
        }
        extent
    }

    /// A sum over its limit, between bounds around its worst boat, on the boats it speaks of.
    fn line(
        &self,
        change: &[(f64, f64)],
        worst: &Worst,
        held: &[Option<bool>],
        limit: f64,
    ) -> Line {
        let met = &worst.way.met;
        let turned: Vec<(f64, f64)> = change.iter().map(|(low, high)| (-high, -low)).collect();
        let high = around(change, met);
        let low: Vec<f64> = around(&turned, met).iter().map(|weight| -weight).collect();
        let mut line = Line {
            constant: (
                worst.value - at(&low, met) - limit,
                worst.value - at(&high, met) - limit,
            ),
            weights: low.into_iter().zip(high).collect(),
        };
        for (number, held) in held.iter().enumerate() {
            let Some(wanted) = held else { continue };
            let weight = &mut line.weights[number];
            let shift = if *wanted { OUTSIDE } else { -OUTSIDE };
            *weight = (weight.0 + shift, weight.1 + shift);
            if *wanted {
                line.constant = (line.constant.0 - OUTSIDE, line.constant.1 - OUTSIDE);
            }
        }
        line
    }

    /// The options that may add to some sum, those that may add most first.
    fn by_effect(&self, lines: &[Line]) -> Vec<OptionIndex> {
        let mut effects: BTreeMap<OptionIndex, f64> = BTreeMap::new();
        for line in lines {
            for (condition, (_, high)) in self.asking.conditions().iter().zip(&line.weights) {
                if *high > 0.0 {
                    for option in condition.options() {
                        *effects.entry(option).or_default() += high;
                    }
                }
            }
        }
        let mut sorted: Vec<_> = effects.into_iter().collect();
        sorted.sort_by(|a, b| b.1.total_cmp(&a.1));
        sorted.into_iter().map(|(option, _)| option).collect()
    }

    /// What the failing boats have in common, and which options make them fail.
    fn causes(&self, lines: &[Line], options: &[OptionIndex]) -> Extent {
        let nothing = Extent {
            boats: Over::exactly(BigUint::ZERO),
            causes: Vec::new(),
            all_have: Vec::new(),
            none_has: Vec::new(),
            nearest: None,
        };
        if !self.asking.is_quick() {
            return nothing;
        }
        let number = |option: &OptionIndex| self.numbers.get(&Condition::Option(*option)).copied();
        let with = |on: &[OptionIndex], fitted: bool| {
            let mut held = self.none_held();
            for option in on {
                held[number(option)?] = Some(fitted);
            }
            Some(held)
        };
        let fails_on_all = |held: &[Option<bool>]| {
            lines.iter().any(|line| {
                let turned: Vec<f64> = line.weights.iter().map(|(low, _)| -low).collect();
                let least = self.asking.heaviest(&turned, held);
                least.is_ok_and(|least| least.is_some_and(|(most, _)| line.constant.0 - most > 0.0))
            })
        };
        let fails_on_none = |held: &[Option<bool>]| {
            lines.iter().all(|line| {
                let most = self.asking.heaviest(&line.high(), held);
                most.is_ok_and(|most| most.is_none_or(|(most, _)| line.constant.1 + most <= 0.0))
            })
        };
        let mut causes: Vec<Vec<OptionIndex>> = Vec::new();
        let listed = &options[..options.len().min(MOST_OPTIONS)];
        for size in 0..=MOST_TOGETHER.min(listed.len()) {
            for set in sets(listed, size) {
                if causes.len() < MOST_CAUSES
                    && let Some(held) = with(&set, true)
                    && fails_on_all(&held)
                {
                    causes.push(set);
                }
            }
            if !causes.is_empty() {
                break;
            }
        }
        for cause in &mut causes {
            cause.sort_unstable();
        }
        let presence = self.asking.presence(&self.none_held()).unwrap_or_default();
        let open = |option: &OptionIndex| {
            number(option).is_some_and(|at| presence.get(at) == Some(&crate::boats::Presence::Some))
        };
        let every: Vec<OptionIndex> = (0..self.model.options.len()).map(OptionIndex).collect();
        let fails_only = |fitted: bool| {
            let kept = every.iter().filter(|option| open(option)).filter(|option| {
                with(&[**option], !fitted).is_some_and(|held| fails_on_none(&held))
            });
            kept.copied().collect::<Vec<_>>()
        };
        Extent {
            causes,
            all_have: fails_only(true),
            none_has: fails_only(false),
            ..nothing
        }
    }
}

/// The quantities whose limit a finding judged.
fn asked(finding: &Finding) -> Vec<Quantity> {
    let both = |part: Part| vec![Quantity::Current(part), Quantity::CurrentBack(part)];
    match (finding.rule, finding.place) {
        (rules::DROP_CODE, Place::Load(load)) => vec![Quantity::Drop(load)],
        (rules::SUPPLY_CODE, Place::Load(load)) => vec![Quantity::VoltsLeft(load)],
        (rules::DEVICE_LOAD_CODE, Place::Device(device)) => both(Part::Device(device)),
        (rules::SOURCE_CODE, Place::Source(source)) => vec![Quantity::Given(source)],
        _ => Vec::new(),
    }
}

/// Sets of `size` of the options, those with most effect first.
fn sets(options: &[OptionIndex], size: usize) -> Vec<Vec<OptionIndex>> {
    if size == 0 {
        return vec![Vec::new()];
    }
    let mut found = Vec::new();
    for (at, option) in options.iter().enumerate() {
        for mut set in sets(&options[at + 1..], size - 1) {
            set.insert(0, *option);
            found.push(set);
        }
    }
    found
}
