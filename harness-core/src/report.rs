//! A study as plain records, for JSON and the command line.

use crate::boats::{Boat, OptionIndex};
use crate::gaps::{Gap, gaps};
use crate::model::{BoatModel, Circuit, Index, Load, OperatingState, RuleSet, Wire};
use crate::network::assembly::{LoadPoint, SourceCondition, Supplied};
use crate::rules::{Finding, Outcome, Place};
use crate::sizing::{CircuitSizing, NoSize, size_circuit};
use crate::study::{BoatChoice, Study};
use crate::tables::conductors;
use crate::working::{Step, significant};
use crate::worst::{Extent, Supply};
use serde::Serialize;
use std::collections::BTreeMap;

/// The whole study of a model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// What the reader must know before using it.
    pub caution: &'static str,
    /// Name of the boat model.
    pub name: String,
    /// Which boats there are, and which was judged.
    pub boats: BoatsReport,
    /// Counts of outcomes.
    pub counts: Counts,
    /// One row for each load of the boat judged.
    pub circuits: Vec<CircuitRow>,
    /// Every finding of every rule.
    pub findings: Vec<FindingReport>,
    /// What the model does not state.
    pub gaps: Vec<Gap>,
}

/// Buildable boats, and the boat judged.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BoatsReport {
    /// Number of buildable boats, exact.
    pub buildable: String,
    /// Which boat was judged, in words.
    pub judged: String,
    /// Options of the boat judged.
    pub judged_options: Vec<String>,
}

/// How many limits are met, fail, or could not be evaluated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Limits that hold.
    pub met: usize,
    /// Limits that fail.
    pub fails: usize,
    /// Limits that could not be evaluated.
    pub not_evaluated: usize,
}

/// One load of the boat judged, with its drop at nominal source volts in its worst state.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CircuitRow {
    /// Circuit number; empty where the load states none.
    pub number: String,
    /// The load.
    pub load: String,
    /// Worst operating state.
    pub state: Option<String>,
    /// `met`, `fails` or `not evaluated`.
    pub outcome: &'static str,
    /// Why it could not be evaluated.
    pub because: Option<String>,
    /// Volts lost out and back.
    pub drop_v: Option<f64>,
    /// The same in percent of nominal.
    pub drop_percent: Option<f64>,
    /// Limit it is held to.
    pub limit_percent: Option<f64>,
    /// Volts across the load.
    pub volts_v: Option<f64>,
    /// Options of the boat with this drop.
    pub worst_boat: Vec<String>,
    /// On how many buildable boats the limit fails: a number, or bounds as `at least A, at most
    /// B`; `None` where one boat was judged, or too many limits fail to count each.
    pub failing_boats: Option<String>,
    /// Size of the thinnest wire of its circuit.
    pub size: Option<String>,
    /// Size proposed for that wire where a limit of the circuit fails, or why there is none.
    pub proposed_size: Option<String>,
    /// What the proposal follows from.
    pub proposal: Option<String>,
    /// The wires of its circuit.
    pub wires: Vec<WireReport>,
}

/// One wire of a circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WireReport {
    /// Wire number.
    pub id: String,
    /// Size; `None` is not stated.
    pub size: Option<String>,
    /// Length of conductor.
    pub length_m: Option<f64>,
}

/// One finding as a record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingReport {
    /// Code of the rule.
    pub rule: &'static str,
    /// Thing it is about.
    pub place: String,
    /// Circuit it belongs to.
    pub circuit: Option<String>,
    /// Zone it lies in.
    pub zone: Option<String>,
    /// Rule set whose limit was applied.
    pub rule_set: Option<&'static str>,
    /// Operating state in which it is worst.
    pub state: Option<String>,
    /// `met`, `fails` or `not evaluated`.
    pub outcome: &'static str,
    /// Value judged.
    pub value: Option<f64>,
    /// Limit.
    pub limit: Option<f64>,
    /// Unit of both.
    pub unit: &'static str,
    /// What is the case.
    pub message: String,
    /// What to do.
    pub next_step: String,
    /// How the value was reached.
    pub working: Vec<Step>,
    /// Options of the boat on which it is so; over every boat, of the worst one.
    pub worst_boat: Vec<String>,
    /// On how many buildable boats it fails, as in the circuits.
    pub failing_boats: Option<String>,
}

impl Counts {
    /// Counts the outcomes of some findings.
    pub fn of<'f>(findings: impl Iterator<Item = &'f Finding>) -> Self {
        let mut counts = Self::default();
        for finding in findings {
            match finding.outcome {
                Outcome::Met => counts.met += 1,
                Outcome::Fails => counts.fails += 1,
                Outcome::NotEvaluated(_) => counts.not_evaluated += 1,
            }
        }
        counts
    }
}

impl Report {
    /// The records of a study.
    pub fn of(study: &Study) -> Self {
        Self {
            caution: crate::CAUTION,
            name: study.model.name.clone(),
            boats: BoatsReport {
                buildable: study.boats.count().to_string(),
                judged: study.judged_words(),
                judged_options: study.boat_options(),
            },
            counts: Counts::of(study.findings.iter()),
            circuits: circuits(study),
            findings: (0..study.findings.len())
                .map(|number| finding(study, number))
                .collect(),
            gaps: gaps(&study.model),
        }
    }
}

impl Report {
    /// The study in five lines.
    pub fn summary(&self) -> [String; 5] {
        let Counts {
            met,
            fails,
            not_evaluated,
        } = self.counts;
        let worst = self
            .circuits
            .iter()
            .filter_map(|row| Some((row.drop_percent? / row.limit_percent?, row)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or_else(
                || "Worst drop: not evaluated, because no load has one.".to_owned(),
                |(_, row)| {
                    format!(
                        "Worst drop against its limit: circuit {} at {}, {} % where {} % is allowed.",
                        row.number,
                        row.load,
                        significant(row.drop_percent.unwrap_or_default(), 3),
                        significant(row.limit_percent.unwrap_or_default(), 3),
                    )
                },
            );
        [
            format!("{}: {} buildable boats.", self.name, self.boats.buildable),
            format!("Judged: {}.", self.boats.judged),
            format!("{fails} limits fail, {not_evaluated} could not be evaluated, {met} hold."),
            worst,
            self.caution.to_owned(),
        ]
    }
}

impl Study {
    /// Short names of the options of the boat at hand.
    pub fn boat_options(&self) -> Vec<String> {
        option_ids(&self.model, &self.boat)
    }

    /// How far a failure reaches, over every boat.
    pub fn extent(&self, finding: usize) -> Option<&Extent> {
        self.every.as_ref()?.extents[finding].as_ref()
    }

    /// Which boat is judged, in words.
    pub fn judged_words(&self) -> String {
        match &self.choice {
            BoatChoice::Every => match &self.not_every {
                None => "each limit on the buildable boat on which it is worst".to_owned(),
                Some(why) => format!(
                    "the buildable boat with the most options alone, because every boat could not \
                     be judged: {why}"
                ),
            },
            BoatChoice::Fullest => format!(
                "the buildable boat with the most options ({} of {})",
                self.boat.len(),
                self.model.options.len()
            ),
            BoatChoice::Options(_) => "the boat with the options given".to_owned(),
            BoatChoice::Hull(hull) => format!("hull {}", self.model.hulls.id(*hull)),
        }
    }

    /// The volts of a load where it loses most, at nominal source volts: in its worst state, over
    /// every boat on its worst boat.
    pub fn worst_volts(&self, load: Index<Load>) -> Option<Supply> {
        match &self.every {
            Some(every) => every.supplies.get(&load).copied(),
            None => self.worst_supply(load).map(|(state, supplied)| Supply {
                state,
                drop: supplied.drop(),
                drop_percent: supplied.drop_percent(),
                volts: supplied.volts,
            }),
        }
    }

    /// The drop of a load in its worst state at nominal volts, on the one boat at hand.
    pub fn worst_supply(
        &self,
        load: Index<Load>,
    ) -> Option<(Option<Index<OperatingState>>, &Supplied)> {
        let mut worst: Option<(Option<Index<OperatingState>>, &Supplied)> = None;
        for operating in &self.operating {
            if operating.condition != SourceCondition::Nominal {
                continue;
            }
            let Some(LoadPoint::Supplied(supplied)) = operating.loads.get(&load) else {
                continue;
            };
            if worst
                .as_ref()
                .is_none_or(|(_, known)| supplied.drop() > known.drop())
            {
                worst = Some((operating.state, supplied));
            }
        }
        worst
    }
}

/// Short names of the options of a boat.
pub fn option_ids(model: &BoatModel, boat: &Boat) -> Vec<String> {
    let id = |option: OptionIndex| model.options.id(Index::new(option.0)).to_owned();
    boat.options().map(id).collect()
}

/// On how many boats a limit fails, as a number or bounds.
pub(crate) fn failing_boats(study: &Study, finding: usize) -> Option<String> {
    match study.findings[finding].outcome {
        Outcome::Met => study.every.is_some().then(|| "0".to_owned()),
        Outcome::NotEvaluated(_) => None,
        Outcome::Fails => {
            let boats = &study.extent(finding)?.boats;
            Some(if boats.is_exact() {
                boats.at_least.to_string()
            } else {
                format!("at least {}, at most {}", boats.at_least, boats.at_most)
            })
        }
    }
}

fn circuits(study: &Study) -> Vec<CircuitRow> {
    let model = &study.model;
    let mut proposals = Proposals::default();
    let drops: BTreeMap<Index<Load>, usize> = study
        .findings
        .iter()
        .enumerate()
        .filter(|(_, found)| found.rule == crate::rules::DROP_CODE)
        .filter_map(|(number, found)| match found.place {
            Place::Load(load) => Some((load, number)),
            _ => None,
        })
        .collect();
    model
        .loads
        .iter()
        .filter(|(_, load)| study.has(&load.fitted_when))
        .map(|(index, load)| {
            let number = drops.get(&index).copied();
            let found = number.map(|number| &study.findings[number]);
            let worst = study.worst_volts(index);
            let wires = load
                .circuit
                .map_or(&[][..], |at| study.by_circuit.wires(at));
            let thinnest = wires
                .iter()
                .filter_map(|at| Some((*at, conductors::row(model.wires[*at].size?)?)))
                .min_by(|(_, a), (_, b)| a.area.value.value().total_cmp(&b.area.value.value()));
            let proposed = found
                .filter(|found| found.fails())
                .and_then(|_| proposals.of(study, load.circuit?, thinnest?.0));
            let outcome = found.map(|found| &found.outcome);
            CircuitRow {
                number: load
                    .circuit
                    .map_or(String::new(), |at| model.circuits.id(at).to_owned()),
                load: load.id.clone(),
                state: worst
                    .and_then(|supply| supply.state)
                    .map(|at| model.states[at].title().to_owned()),
                outcome: outcome.map_or("not evaluated", Outcome::word),
                because: match outcome {
                    Some(Outcome::NotEvaluated(why)) => Some(why.because.to_string()),
                    Some(Outcome::Fails) if worst.is_none() => {
                        found.map(|found| found.message.clone())
                    }
                    _ => None,
                },
                drop_v: worst.map(|supply| supply.drop.value()),
                drop_percent: worst.map(|supply| supply.drop_percent),
                limit_percent: load.drop_limit_percent(),
                volts_v: worst.map(|supply| supply.volts.value()),
                worst_boat: option_ids(model, number.map_or(&study.boat, |at| study.boat_of(at))),
                failing_boats: number.and_then(|at| failing_boats(study, at)),
                size: thinnest.map(|(_, row)| row.size.to_string()),
                proposed_size: proposed.as_ref().and_then(|proposed| proposed.size.clone()),
                proposal: proposed.map(|proposed| proposed.words),
                wires: wires.iter().map(|at| wire(study, *at)).collect(),
            }
        })
        .collect()
}

/// Wires tried in all the searches of one report: each size tried solves and judges the whole
/// boat again, so a large model gets fewer proposals here. The page of a circuit gives any.
const WIRES_TRIED: usize = 10_000;
/// Most circuits for which sizes are proposed in one report.
const MOST_PROPOSALS: usize = 25;

/// Sizes proposed for failing circuits, each searched once.
#[derive(Default)]
struct Proposals(BTreeMap<Index<Circuit>, Result<CircuitSizing, NoSize>>);

struct Proposed {
    size: Option<String>,
    words: String,
}

impl Proposals {
    fn of(
        &mut self,
        study: &Study,
        circuit: Index<Circuit>,
        wire: Index<Wire>,
    ) -> Option<Proposed> {
        if !self.0.contains_key(&circuit) {
            let most = WIRES_TRIED / study.model.wires.len().max(1);
            if self.0.len() >= most.min(MOST_PROPOSALS) {
                let words = "not searched here: ask for the sizes of this circuit by itself";
                return Some(Proposed {
                    size: None,
                    words: words.to_owned(),
                });
            }
            self.0
                .insert(circuit, size_circuit(&study.facts(), circuit));
        }
        Some(match self.0.get(&circuit)? {
            Ok(sizing) => {
                let own = sizing.wires.iter().find(|proposal| proposal.wire == wire)?;
                Proposed {
                    size: Some(own.proposed.to_string()),
                    words: format!("governed by: {}", own.governed_by.words()),
                }
            }
            Err(none) => Proposed {
                size: None,
                words: none.to_string(),
            },
        })
    }
}

fn wire(study: &Study, index: Index<Wire>) -> WireReport {
    let wire = &study.model.wires[index];
    let length = study.routing.electrical_length(&study.model, index);
    WireReport {
        id: wire.id.clone(),
        size: wire.size.map(|size| size.to_string()),
        length_m: length.ok().map(|length| length.value()),
    }
}

fn finding(study: &Study, number: usize) -> FindingReport {
    let (model, found) = (&study.model, &study.findings[number]);
    FindingReport {
        rule: found.rule,
        place: found.place.label(model),
        circuit: study
            .by_circuit
            .of_finding(number)
            .map(|at| model.circuits.id(at).to_owned()),
        zone: found
            .place
            .zone(model)
            .map(|at| model.zones.id(at).to_owned()),
        rule_set: found.rule_set.map(RuleSet::word),
        state: found.state.map(|at| model.states.id(at).to_owned()),
        outcome: found.outcome.word(),
        value: found.value.map(|quantity| quantity.value),
        limit: found.limit.map(|quantity| quantity.value),
        unit: found
            .value
            .or(found.limit)
            .map_or("", |quantity| quantity.unit),
        message: found.message.clone(),
        next_step: found.next_step.clone(),
        working: found.working.steps().to_vec(),
        worst_boat: option_ids(model, study.boat_of(number)),
        failing_boats: failing_boats(study, number),
    }
}
