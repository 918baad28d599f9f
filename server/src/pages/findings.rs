//! Findings as rows of a table.

use std::collections::BTreeMap;
use std::sync::Arc;

use harness_core::gaps::{Gap, gaps};
use harness_core::guesses::{Guesses, Rest, Trust};
use harness_core::model::{BoatModel, Condition, Index, Load, OperatingState};
use harness_core::network::assembly::{LoadPoint, Operating, PathShare, SourceCondition, Supplied};
use harness_core::rules::{self, Finding, Outcome as CoreOutcome, Place};
use harness_core::study::Study;
use harness_core::working::{Working, significant};

use super::Outcome;
use super::reach::Reach;
use crate::view::{Addresses, View};

/// Text with the page it leads to; no address where there is none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Linked {
    /// The words.
    pub text: String,
    /// Where they lead; may be empty.
    pub href: String,
}

/// Value against limit as a bar, in hundredths of its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// Length of the value.
    pub value: f64,
    /// Place of the limit.
    pub limit: f64,
}

impl Bar {
    /// How close the value is to the limit: 1 at it, less on either side of it.
    pub fn closeness(self) -> f64 {
        self.value.min(self.limit) / self.value.max(self.limit)
    }
}

/// One finding, ready to be shown.
#[derive(Clone, Debug)]
pub struct FindingRow {
    /// Circuit it belongs to.
    pub circuit: Linked,
    /// The thing it is about.
    pub at: String,
    /// Zone it lies in.
    pub zone: Linked,
    /// Rule broken or met.
    pub rule: Linked,
    /// Rule set whose limit was applied; may be empty.
    pub rule_set: &'static str,
    /// Outcome.
    pub outcome: Outcome,
    /// The value judged; may be empty.
    pub value: String,
    /// The limit; may be empty.
    pub limit: String,
    /// What is left to the limit; may be empty.
    pub margin: String,
    /// Both as a bar.
    pub bar: Option<Bar>,
    /// The largest share of a drop; may be empty.
    pub because: String,
    /// What is the case.
    pub message: String,
    /// The guesses that it rests on; may be empty.
    pub guesses: String,
    /// The figures of unknown source that it rests on; may be empty.
    pub unsourced: String,
    /// What to do; may be empty.
    pub next_step: String,
    /// On which boats it fails, where every boat is in view.
    pub reach: Option<Reach>,
    /// Where a missing figure is listed.
    pub gap: Option<String>,
    /// How the value was reached.
    pub working: Arc<Working>,
    /// For sorting, worst first.
    pub severity: f64,
}

impl FindingRow {
    /// The row of a finding.
    pub fn of(view: &View, finding: &Finding, gaps: &[Gap]) -> Self {
        let (study, to) = (&*view.study, &view.addresses);
        let model = &study.model;
        let rule = rules::rule(finding.rule).map_or(finding.rule, |rule| rule.title);
        let quantity = |quantity: Option<rules::Quantity>| {
            quantity.map_or_else(String::new, |quantity| quantity.to_string())
        };
        let because = match finding.place {
            // Over every boat the one at hand is not the one on which this is worst.
            Place::Load(load) if study.every.is_none() => {
                largest_share(study, load, finding.state).unwrap_or_default()
            }
            _ => String::new(),
        };
        Self {
            circuit: circuit_link(model, to, finding.place),
            at: place_words(model, finding.place),
            zone: finding
                .place
                .zone(model)
                .map_or_else(Linked::default, |at| Linked {
                    text: model.zones[at].title().to_owned(),
                    href: to.to(&["zones", model.zones.id(at)]),
                }),
            rule: Linked {
                text: rule.to_owned(),
                href: to.to(&["rules", finding.rule]),
            },
            rule_set: finding.rule_set.map_or("", |set| set.word()),
            outcome: Outcome::from(&finding.outcome),
            value: quantity(finding.value),
            limit: quantity(finding.limit),
            margin: margin(finding),
            bar: bar(finding),
            because,
            message: finding.message.clone(),
            next_step: finding.next_step.clone(),
            guesses: String::new(),
            unsourced: String::new(),
            reach: Reach::of(view, finding),
            gap: match &finding.outcome {
                CoreOutcome::NotEvaluated(why) => Some(gap_address(to, gaps, &why.because)),
                _ => None,
            },
            working: finding.working.clone(),
            severity: finding.severity(),
        }
    }

    /// The rows of some findings, worst first.
    pub fn all<'f>(view: &View, findings: impl Iterator<Item = &'f Finding>) -> Vec<Self> {
        let gaps = gaps(&view.study.model);
        let rows = findings.map(|finding| Self::of(view, finding, &gaps));
        worst_first(rows.collect())
    }

    /// The same, each with the doubtful figures that it rests on.
    pub fn with_guesses<'f>(view: &View, findings: impl Iterator<Item = &'f Finding>) -> Vec<Self> {
        let study = &*view.study;
        let gaps = gaps(&study.model);
        let keys = study.findings.iter().map(Finding::limit_key);
        let numbers: BTreeMap<_, _> = keys.zip(0..).collect();
        let numbered = findings.filter_map(|finding| {
            let number = numbers.get(&finding.limit_key())?;
            Some((finding, *number))
        });
        let numbered: Vec<(&Finding, usize)> = numbered.collect();
        let guesses = Guesses::of_those(study, numbered.iter().map(|(_, number)| *number));
        let rows = numbered.into_iter().map(|(finding, number)| {
            let doubtful = guesses.doubtful(number, &study.model);
            Self {
                guesses: doubtful_words(&study.model, &doubtful, Trust::Guess),
                unsourced: doubtful_words(&study.model, &doubtful, Trust::NotStated),
                ..Self::of(view, finding, &gaps)
            }
        });
        worst_first(rows.collect())
    }
}

fn worst_first(mut rows: Vec<FindingRow>) -> Vec<FindingRow> {
    rows.sort_by(|a, b| b.severity.total_cmp(&a.severity));
    rows
}

/// Figures named of one finding; the others are counted.
const MOST_NAMED: usize = 3;

/// Figures of one kind with what hangs on each: `draw of bilge pump (34 %)`.
fn doubtful_words(model: &BoatModel, doubtful: &[(Rest, Trust)], wanted: Trust) -> String {
    let of_kind = doubtful.iter().filter(|(_, trust)| *trust == wanted);
    let words: Vec<String> = of_kind
        .map(|(rest, _)| {
            let percent = significant(rest.share * 100.0, 2);
            format!("{} ({percent} % of it)", rest.figure.words(model))
        })
        .collect();
    let named = words.iter().take(MOST_NAMED).cloned();
    let named = named.collect::<Vec<_>>().join(", ");
    match words.len() {
        0..=MOST_NAMED => named,
        count => format!("{named}, and {} more", count - MOST_NAMED),
    }
}

impl From<&CoreOutcome> for Outcome {
    fn from(outcome: &CoreOutcome) -> Self {
        match outcome {
            CoreOutcome::Met => Self::Met,
            CoreOutcome::Fails => Self::Fails,
            CoreOutcome::NotEvaluated(_) => Self::NotEvaluated,
        }
    }
}

fn margin(finding: &Finding) -> String {
    match (finding.value, finding.limit) {
        (Some(value), Some(limit)) if finding.outcome == CoreOutcome::Met => {
            let left = (limit.value - value.value).abs();
            format!("{} {}", significant(left, 3), limit.unit)
                .trim_end()
                .to_owned()
        }
        (Some(value), Some(limit)) if finding.fails() => {
            let over = (limit.value - value.value).abs();
            format!("−{} {}", significant(over, 3), limit.unit)
                .trim_end()
                .to_owned()
        }
        _ => String::new(),
    }
}

fn bar(finding: &Finding) -> Option<Bar> {
    let (value, limit) = (finding.value?.value, finding.limit?.value);
    let whole = 1.05 * value.max(limit);
    (whole > 0.0 && value >= 0.0).then(|| Bar {
        value: 100.0 * value / whole,
        limit: 100.0 * limit / whole,
    })
}

/// The circuit of a place: *14 Bow light*.
pub fn circuit_link(model: &BoatModel, to: &Addresses, place: Place) -> Linked {
    place.circuit(model).map_or_else(Linked::default, |at| {
        let circuit = &model.circuits[at];
        Linked {
            text: match &circuit.name {
                Some(name) => format!("{} {name}", circuit.id),
                None => circuit.id.clone(),
            },
            href: to.to(&["circuits", &circuit.id]),
        }
    })
}

/// The thing, with its point where one is stated.
fn place_words(model: &BoatModel, place: Place) -> String {
    let (title, label) = (place.title(model), place.label(model));
    if title == label {
        title
    } else {
        format!("{title} ({label})")
    }
}

/// The list of gaps, at the one that the reason speaks of when it can be told.
pub(super) fn gap_address(to: &Addresses, gaps: &[Gap], reason: &str) -> String {
    let names = |id: &str| {
        reason
            .split(|letter: char| letter.is_whitespace() || ",;:()".contains(letter))
            .any(|word| word == id)
    };
    let named = gaps
        .iter()
        .position(|gap| gap.at.iter().any(|place| names(&place.id)));
    let page = to.to(&["gaps"]);
    match named {
        Some(number) => format!("{page}#gap-{}", number + 1),
        None => page,
    }
}

/// When a thing is fitted, for the filter by option.
pub fn fitted_when(model: &BoatModel, place: Place) -> Option<&Condition> {
    Some(match place {
        Place::Load(at) => &model.loads[at].fitted_when,
        Place::Wire(at) => &model.wires[at].fitted_when,
        Place::Device(at) => &model.devices[at].fitted_when,
        Place::Connector(at) => &model.connectors[at].fitted_when,
        Place::Coupler(at) => &model.connectors[model.couplers[at].first].fitted_when,
        Place::Bus(at) => &model.buses[at].fitted_when,
        Place::Splice(at) => &model.splices[at].fitted_when,
        Place::Source(at) => &model.sources[at].fitted_when,
        Place::Run(_) => return None,
    })
}

/// One load at nominal volts in one state.
pub fn supplied(
    study: &Study,
    load: Index<Load>,
    state: Option<Index<OperatingState>>,
) -> Option<(&Operating, &Supplied)> {
    let nominal = |operating: &&Operating| operating.condition == SourceCondition::Nominal;
    let mut points = study
        .operating
        .iter()
        .filter(nominal)
        .filter(|operating| state.is_none() || operating.state == state)
        .filter_map(|operating| match operating.loads.get(&load)? {
            LoadPoint::Supplied(supplied) => Some((operating, supplied)),
            _ => None,
        });
    let first = points.next()?;
    Some(points.fold(first, |worst, next| {
        if next.1.drop() > worst.1.drop() {
            next
        } else {
            worst
        }
    }))
}

/// How many other loads use a branch in a state.
pub fn others(operating: &Operating, load: Index<Load>, branch: usize) -> usize {
    let uses = |supplied: &Supplied| {
        supplied
            .feed
            .iter()
            .chain(&supplied.back)
            .any(|share| share.branch == branch)
    };
    operating
        .loads
        .iter()
        .filter(|(other, _)| **other != load)
        .filter(|(_, point)| matches!(point, LoadPoint::Supplied(supplied) if uses(supplied)))
        .count()
}

/// Where most of a drop goes: *61 % of it in wire 5, shared with 9 loads*.
fn largest_share(
    study: &Study,
    load: Index<Load>,
    state: Option<Index<OperatingState>>,
) -> Option<String> {
    let (operating, supplied) = supplied(study, load, state)?;
    let lost = supplied.drop().value();
    let shares = supplied.feed.iter().chain(&supplied.back);
    let largest: &PathShare = shares.max_by(|a, b| a.lost.value().total_cmp(&b.lost.value()))?;
    if lost <= 0.0 {
        return None;
    }
    let part = study.assembly.branches[largest.branch]
        .part
        .label(&study.model);
    let shared = match others(operating, load, largest.branch) {
        0 => String::new(),
        1 => ", shared with 1 load".to_owned(),
        count => format!(", shared with {count} loads"),
    };
    let percent = 100.0 * largest.lost.value() / lost;
    Some(format!("{percent:.0} % of the drop in {part}{shared}"))
}
