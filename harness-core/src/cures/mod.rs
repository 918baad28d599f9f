//! What clears a failing limit: single changes, each tried on every buildable boat.
//!
//! No limit and no estimate decides: the model is changed, routed, solved and judged again over
//! all boats, and what fails then is compared with what fails now.

mod moves;

pub use moves::{OtherFeed, OtherReturn};

use crate::boats::{OptionIndex, OptionRule};
use crate::effect::ConductorChange;
use crate::model::{BoatModel, Index, StatedRule, Wire};
use crate::network::assembly::Part;
use crate::routing::Routing;
use crate::rules::{self, Finding, LimitKey, Place};
use crate::sizing::size_circuit;
use crate::study::Study;
use crate::tables::conductors::{self, ConductorRow};
use crate::units::WireSize;
use std::collections::{BTreeMap, BTreeSet};

/// Most changes tried for one limit: each is a study of every boat.
const MOST_TRIED: usize = 12;
/// Sizes a single wire is raised by at most.
const MOST_STEPS: usize = 4;

/// One change to the model.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// These wires get these sizes.
    Sizes(Vec<(Index<Wire>, WireSize)>),
    /// The circuit is fed from another block, returned to another bar, or both.
    Moved(Option<OtherFeed>, Option<OtherReturn>),
    /// The two options are no longer ordered together.
    Exclude(OptionIndex, OptionIndex),
}

/// A change with what it does over every boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Cure {
    /// The change.
    pub change: Change,
    /// Whether it clears the limit asked about.
    pub clears: bool,
    /// What failed and holds or cannot occur then.
    pub cleared: Vec<String>,
    /// What fails then and did not.
    pub created: Vec<String>,
    /// Conductor more or less.
    pub conductor: ConductorChange,
}

impl Change {
    /// The change in words.
    pub fn words(&self, model: &BoatModel) -> String {
        match self {
            Self::Sizes(sizes) => {
                let each = sizes.iter().map(|(wire, size)| {
                    let now = model.wires[*wire].size;
                    let now = now.map_or_else(|| "no size".to_owned(), |now| now.to_string());
                    format!("wire {} from {now} to {size}", model.wires.id(*wire))
                });
                each.collect::<Vec<_>>().join(", ")
            }
            Self::Moved(feed, back) => {
                let feed = feed.as_ref().map(|feed| feed.words(model));
                let back = back.as_ref().map(|back| back.words(model));
                let both: Vec<_> = feed.into_iter().chain(back).collect();
                both.join(", and ")
            }
            Self::Exclude(one, other) => {
                let name = |option: &OptionIndex| {
                    let stated = &model.options[Index::new(option.0)];
                    stated.name.clone().unwrap_or_else(|| stated.id.clone())
                };
                format!("no longer order {} and {} together", name(one), name(other))
            }
        }
    }

    fn on(&self, model: &BoatModel) -> BoatModel {
        let mut changed = model.clone();
        match self {
            Self::Sizes(sizes) => {
                for (wire, size) in sizes {
                    changed.wires.change(*wire, |wire| wire.size = Some(*size));
                }
            }
            Self::Moved(feed, back) => {
                if let Some(feed) = feed {
                    feed.on(&mut changed);
                }
                if let Some(back) = back {
                    back.on(&mut changed);
                }
            }
            Self::Exclude(one, other) => changed.option_rules.push(StatedRule {
                rule: OptionRule::Excludes(*one, *other),
                because: None,
            }),
        }
        changed
    }
}

/// Tries single changes for one failing finding of a study of every boat; those that clear it
/// come first, of these the lightest.
pub fn cures(study: &Study, finding: usize) -> Vec<Cure> {
    let before = failing(&study.findings);
    let asked = study.findings[finding].limit_key();
    let mut found: Vec<Cure> = changes(study, finding)
        .into_iter()
        .filter_map(|change| {
            let changed = change.on(&study.model);
            let after = failing(&study.findings_with(&changed)?);
            let only = |these: &BTreeMap<LimitKey, String>, those: &BTreeMap<LimitKey, String>| {
                let left = these.iter().filter(|(key, _)| !those.contains_key(*key));
                left.map(|(_, message)| message.clone()).collect()
            };
            Some(Cure {
                clears: !after.contains_key(&asked),
                cleared: only(&before, &after),
                created: only(&after, &before),
                conductor: ConductorChange::between(
                    (&study.model, &study.routing),
                    (&changed, &Routing::of(&changed)),
                ),
                change,
            })
        })
        .collect();
    let copper = |cure: &Cure| cure.conductor.whole_copper_kg().unwrap_or(f64::INFINITY);
    found.sort_by(|a, b| {
        let rank = |cure: &Cure| (!cure.clears, cure.created.len());
        rank(a).cmp(&rank(b)).then(copper(a).total_cmp(&copper(b)))
    });
    found
}

fn failing(findings: &[Finding]) -> BTreeMap<LimitKey, String> {
    let fails = findings.iter().filter(|finding| finding.fails());
    fails
        .map(|finding| (finding.limit_key(), finding.message.clone()))
        .collect()
}

/// The changes worth trying.
fn changes(study: &Study, finding: usize) -> Vec<Change> {
    let failing = &study.findings[finding];
    let worst = study.with_boat(study.boat_of(finding));
    let mut changes: Vec<Change> = match failing.place {
        Place::Load(load) => along(&worst, load),
        Place::Wire(wire) => thicker(&study.model, wire)
            .take(MOST_STEPS)
            .map(|size| Change::Sizes(vec![(wire, size)]))
            .collect(),
        Place::Run(_) | Place::Device(_) | Place::Bus(_) | Place::Source(_) => Vec::new(),
        Place::Connector(_) | Place::Coupler(_) | Place::Splice(_) => Vec::new(),
    };
    if let Some(circuit) = failing.place.circuit(&study.model)
        && matches!(failing.place, Place::Load(_) | Place::Wire(_))
        && let Ok(sizing) = size_circuit(&worst.facts(), circuit)
        && sizing.changes_anything()
    {
        let proposed = sizing
            .wires
            .iter()
            .filter(|wire| wire.size_now != Some(wire.proposed));
        changes.push(Change::Sizes(
            proposed.map(|wire| (wire.wire, wire.proposed)).collect(),
        ));
    }
    if let Place::Load(load) = failing.place {
        changes.extend(moves::moves(&worst, load));
    }
    changes.extend(apart(study, finding));
    let mut known = BTreeSet::new();
    changes.retain(|change| known.insert(change.clone()));
    changes.truncate(MOST_TRIED);
    changes
}

/// Thicker wires where most of a load's volts go: one, and two together.
fn along(worst: &Study, load: Index<crate::model::Load>) -> Vec<Change> {
    let Some((_, supplied)) = worst.worst_supply(load) else {
        return Vec::new();
    };
    let model = &worst.model;
    let mut shares: Vec<(Index<Wire>, f64)> = supplied
        .feed
        .iter()
        .chain(&supplied.back)
        .filter_map(|share| match worst.assembly.branches[share.branch].part {
            Part::Wire(wire) => Some((wire, share.lost.value())),
            _ => None,
        })
        .collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    let limit = model.loads[load].drop_limit_percent();
    let excess = limit.map_or(0.0, |limit| {
        supplied.drop().value() - limit / 100.0 * supplied.nominal.value()
    });
    // The thinnest that should be enough to the first order, and the next: a judged answer follows.
    let enough = |wires: &[(Index<Wire>, f64)]| -> Vec<Change> {
        let saved = |sizes: &[(Index<Wire>, WireSize)]| -> f64 {
            let each = sizes
                .iter()
                .zip(wires)
                .filter_map(|((wire, size), (_, lost))| {
                    let now = area(conductors::row(model.wires[*wire].size?)?);
                    Some(lost * (1.0 - now / area(conductors::row(*size)?)))
                });
            each.sum()
        };
        let raised = (0..MOST_STEPS).filter_map(|step| {
            let each = wires
                .iter()
                .map(|(wire, _)| Some((*wire, thicker(model, *wire).nth(step)?)));
            each.collect::<Option<Vec<_>>>()
        });
        let first = raised.skip_while(|sizes| saved(sizes) < excess);
        first.take(1).map(Change::Sizes).collect()
    };
    let mut changes = Vec::new();
    for wire in shares.iter().take(3) {
        changes.extend(enough(&[*wire]));
    }
    if let [one, other, ..] = shares[..] {
        changes.extend(enough(&[one, other]));
    }
    changes
}

fn area(row: &ConductorRow) -> f64 {
    row.area.value.value()
}

/// Stocked sizes above that of a wire.
fn thicker(model: &BoatModel, wire: Index<Wire>) -> impl Iterator<Item = WireSize> {
    let now = model.wires[wire].size.and_then(conductors::row);
    now.into_iter().flat_map(|now| {
        conductors::stocked(now.size.series())
            .filter(move |row| area(row) > area(now))
            .map(|row| row.size)
    })
}

/// Pairs of options that all failing boats have, or that make it fail, ordered apart.
fn apart(study: &Study, finding: usize) -> Vec<Change> {
    let Some(extent) = study.extent(finding) else {
        return Vec::new();
    };
    let pairs = |set: &[OptionIndex]| match set {
        [one, other, ..] => Some(Change::Exclude(*one, *other)),
        _ => None,
    };
    let together = extent.causes.iter().chain([&extent.all_have]);
    together.filter_map(|set| pairs(set)).take(2).collect()
}

/// The rule a finding breaks, by its title.
pub fn title(finding: &Finding) -> &'static str {
    rules::rule(finding.rule).map_or(finding.rule, |rule| rule.title)
}
