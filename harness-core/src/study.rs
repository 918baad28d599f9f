//! The one place that strings everything together: model in, routed, solved, judged out.

use crate::boats::{Boat, BoatSet, Condition, OptionIndex, OptionRule, Options, TooWide};
use crate::by_circuit::ByCircuit;
use crate::model::{BoatModel, Circuit, Hull, Index};
use crate::network::assembly::{Assembly, Operating, SourceCondition};
use crate::routing::{Bundle, Routing, bundles};
use crate::rules::{self, Facts, Finding, Judged, Loaded, Walks};
use crate::worst::{Changes, Counted, Earlier, EveryBoat};
use std::fmt;
use std::sync::Arc;

/// Which boat is looked at.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum BoatChoice {
    /// Every buildable boat: each limit is judged on the one on which it is worst.
    #[default]
    Every,
    /// The buildable boat with the most options.
    Fullest,
    /// The boat with these options.
    Options(Vec<OptionIndex>),
    /// The boat ordered under a hull number.
    Hull(Index<Hull>),
}

/// Why no boat could be looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoBoat {
    /// The rules between options contradict each other; these of them cannot hold together, by
    /// position in the model's list.
    NoneBuildable(Vec<usize>),
    /// The options asked for break these rules, by position in the model's list of demands.
    NotBuildable(Vec<OptionRule>),
    /// The rules are too tangled for the diagram.
    TooWide(String),
}

impl fmt::Display for NoBoat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoneBuildable(rules) => write!(
                f,
                "no boat can be ordered: {} rules between options contradict each other",
                rules.len()
            ),
            Self::NotBuildable(rules) => {
                write!(
                    f,
                    "this boat cannot be ordered: it breaks {} rules",
                    rules.len()
                )
            }
            Self::TooWide(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for NoBoat {}

/// A model with one boat of it routed, solved and judged.
#[derive(Debug)]
pub struct Study {
    /// The model.
    pub model: BoatModel,
    /// Every buildable boat.
    pub boats: BoatSet,
    /// How the boat was chosen.
    pub choice: BoatChoice,
    /// The boat judged.
    pub boat: Boat,
    /// Where each wire goes.
    pub routing: Routing,
    /// What is joined to what on this boat.
    pub assembly: Assembly,
    /// This boat in each state and condition of the sources.
    pub operating: Vec<Operating>,
    /// The bundle of each run on this boat.
    pub bundles: Vec<Bundle>,
    /// Every finding of every rule; over every boat the worst of each limit.
    pub findings: Vec<Finding>,
    /// For a study of every boat, where each limit is worst.
    pub every: Option<Arc<EveryBoat>>,
    /// Why every boat could not be judged though asked for: the boat at hand was judged alone.
    pub not_every: Option<TooWide>,
    /// What belongs to each circuit.
    pub by_circuit: ByCircuit,
}

/// The options of a model with everything that is demanded of them: stated rules, each package
/// needs what it contains, and no two options on one boat that are offered at no common hull
/// number. Ranges that overlap in pairs overlap all together, so every boat left can be ordered at
/// some hull number.
pub fn options_of(model: &BoatModel) -> Options {
    let stated = model.option_rules.iter().map(|stated| stated.rule.clone());
    let contained = model.options.iter().flat_map(|(index, option)| {
        let package = OptionIndex(index.number());
        option
            .contains
            .iter()
            .map(move |part| OptionRule::Requires(package, *part))
    });
    let apart = never_at_one_hull(model);
    let rules = stated.chain(contained).chain(apart).collect();
    Options::of_known(model.options.len(), rules)
}

/// Pairs of options whose ranges of hull numbers do not meet.
fn never_at_one_hull(model: &BoatModel) -> impl Iterator<Item = OptionRule> + '_ {
    let ranged = model
        .options
        .iter()
        .filter(|(_, option)| option.from_hull.is_some() || option.to_hull.is_some());
    let ranges: Vec<(OptionIndex, u32, u32)> = ranged
        .map(|(at, option)| {
            let from = option.from_hull.unwrap_or(0);
            (
                OptionIndex(at.number()),
                from,
                option.to_hull.unwrap_or(u32::MAX),
            )
        })
        .collect();
    let pairs = (0..ranges.len()).flat_map(move |one| {
        let ranges = ranges.clone();
        (one + 1..ranges.len()).map(move |other| (ranges[one], ranges[other]))
    });
    pairs
        .filter(|((_, from, to), (_, other_from, other_to))| {
            from.max(other_from) > to.min(other_to)
        })
        .map(|((one, ..), (other, ..))| OptionRule::Excludes(one, other))
}

impl Study {
    /// Routes, solves and judges one boat of a model.
    ///
    /// # Errors
    /// When there is no such boat.
    pub fn of(model: BoatModel, choice: BoatChoice) -> Result<Self, NoBoat> {
        Self::made(model, choice, None)
    }

    /// The study of every boat of a model. Of earlier studies the first whose model differs in
    /// sizes, draws or ratings only spares judging what the difference cannot touch; the outcome is
    /// the same as without it.
    ///
    /// # Errors
    /// When there is no boat.
    pub fn after<'e>(
        model: BoatModel,
        earlier: impl IntoIterator<Item = &'e Self>,
    ) -> Result<Self, NoBoat> {
        let mut known = earlier.into_iter().filter_map(|study| study.before(&model));
        let known = known.next();
        Self::made(model, BoatChoice::Every, known.as_ref())
    }

    fn made(
        model: BoatModel,
        choice: BoatChoice,
        earlier: Option<&Earlier<'_>>,
    ) -> Result<Self, NoBoat> {
        let options = options_of(&model);
        let boats = BoatSet::of(&options).map_err(|wide| NoBoat::TooWide(wide.to_string()))?;
        let boat = chosen(&model, &options, &boats, &choice)?;
        let routing = Routing::of(&model);
        let assembly = Assembly::of(&model, &routing, &boat);
        let operating = assembly.operate_all(&model, &SourceCondition::ALL);
        let bundles = bundles(&model, &routing, |wire| {
            model.wires[wire].fitted_when.holds(&boat)
        });
        let mut study = Self {
            model,
            boats,
            choice,
            boat,
            routing,
            assembly,
            operating,
            bundles,
            findings: Vec::new(),
            every: None,
            not_every: None,
            by_circuit: ByCircuit::default(),
        };
        study.judge(&options, earlier);
        let one = study.every.is_none().then_some(&study.boat);
        study.by_circuit = ByCircuit::of(&study.model, one, &study.findings);
        Ok(study)
    }

    fn judge(&mut self, options: &Options, earlier: Option<&Earlier<'_>>) {
        if self.choice != BoatChoice::Every {
            self.findings = rules::judge(&self.facts());
            return;
        }
        let (model, routing) = (&self.model, &self.routing);
        let every = EveryBoat::of(
            model,
            routing,
            options,
            &self.boats,
            &self.boat,
            Counted::Yes,
            earlier,
        );
        match every {
            Ok((every, findings)) => {
                self.findings = findings;
                self.every = Some(Arc::new(every));
            }
            Err(wide) => {
                self.not_every = Some(wide);
                self.findings = rules::judge(&self.facts());
            }
        }
    }

    /// What it has shown, for a study of nearly the same model.
    fn before(&self, model: &BoatModel) -> Option<Earlier<'_>> {
        Some(Earlier {
            every: self.every.as_deref()?,
            findings: &self.findings,
            changes: Changes::between(&self.model, model)?,
        })
    }

    /// The boat on which a finding, by its number, is as it is: over every boat the worst one.
    pub fn boat_of(&self, finding: usize) -> &Boat {
        match &self.every {
            Some(every) => every.boat(finding),
            None => &self.boat,
        }
    }

    /// The same findings with another boat at hand, to be looked at in detail.
    #[must_use]
    pub fn with_boat(&self, boat: &Boat) -> Self {
        let assembly = Assembly::of(&self.model, &self.routing, boat);
        Self {
            model: self.model.clone(),
            boats: self.boats.clone(),
            choice: self.choice.clone(),
            boat: boat.clone(),
            routing: self.routing.clone(),
            operating: assembly.operate_all(&self.model, &SourceCondition::ALL),
            assembly,
            bundles: bundles(&self.model, &self.routing, |wire| {
                self.model.wires[wire].fitted_when.holds(boat)
            }),
            findings: self.findings.clone(),
            every: self.every.clone(),
            not_every: self.not_every.clone(),
            by_circuit: self.by_circuit.clone(),
        }
    }

    /// Whether a thing fitted under a condition is in view: over every boat, if any has it.
    pub fn has(&self, condition: &Condition) -> bool {
        match &self.every {
            Some(_) => self.boats.is_ever(condition).unwrap_or(true),
            None => condition.holds(&self.boat),
        }
    }

    /// The worst finding of each limit over every boat of a changed model, without what
    /// pages need besides; `None` where there is no boat, or they are too
    /// tangled.
    pub fn findings_with(&self, model: &BoatModel) -> Option<Vec<Finding>> {
        self.judged_on_every_boat(model)
            .map(|(findings, _)| findings)
    }

    /// The same with the boat of each finding.
    pub fn judged_on_every_boat(&self, model: &BoatModel) -> Option<(Vec<Finding>, EveryBoat)> {
        let options = options_of(model);
        let boats = BoatSet::of(&options).ok()?;
        let first = boats.fullest()?;
        let routing = Routing::of(model);
        let every = EveryBoat::of(
            model,
            &routing,
            &options,
            &boats,
            &first,
            Counted::No,
            self.before(model).as_ref(),
        );
        every.ok().map(|(every, findings)| (findings, every))
    }

    /// The findings of one circuit.
    pub fn findings_of(&self, circuit: Index<Circuit>) -> impl Iterator<Item = &Finding> {
        self.by_circuit
            .findings(circuit)
            .iter()
            .map(|number| &self.findings[*number])
    }

    /// The facts the rules judged.
    pub fn facts(&self) -> Facts<'_> {
        Facts {
            model: &self.model,
            boats: Some(&self.boats),
            boat: &self.boat,
            routing: &self.routing,
            assembly: &self.assembly,
            operating: &self.operating,
            bundles: &self.bundles,
            known: None,
            judged: Judged::All,
            walks: Walks::default(),
            loaded: Loaded::default(),
        }
    }
}

fn chosen(
    model: &BoatModel,
    options: &Options,
    boats: &BoatSet,
    choice: &BoatChoice,
) -> Result<Boat, NoBoat> {
    let asked: Boat = match choice {
        BoatChoice::Every | BoatChoice::Fullest => {
            return boats.fullest().ok_or_else(|| {
                let against = crate::boats::contradicting_rules(options);
                let rules = against.ok().flatten().map(|found| found.rules);
                NoBoat::NoneBuildable(rules.unwrap_or_default())
            });
        }
        BoatChoice::Options(asked) => asked.iter().copied().collect(),
        BoatChoice::Hull(hull) => model.hulls[*hull].options.iter().copied().collect(),
    };
    let broken: Vec<_> = options
        .rules()
        .iter()
        .filter(|rule| !rule.holds(&asked))
        .cloned()
        .collect();
    if broken.is_empty() {
        Ok(asked)
    } else {
        Err(NoBoat::NotBuildable(broken))
    }
}
