//! What a change of a model does: two studies of every boat compared.
//!
//! Limits are matched by rule, rule set and the short name of what they are about, so that the
//! order of the lists of either model does not matter.

mod conductor;
mod cost;

pub use conductor::{ConductorChange, ConductorLength};
pub use cost::{ConductorCost, CostRow};

use crate::model::{BoatModel, BusPin, Identified, Pin, RuleSet};
use crate::report::{failing_boats, option_ids};
use crate::rules::{CONDUIT_CODE, Finding, HOLE_CODE, Outcome, Place};
use crate::sheets::difference::{SheetDifference, of_studies};
use crate::study::Study;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What a change does over every boat.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// Number of buildable boats before and after, exact.
    pub buildable: (String, String),
    /// Limits that fail after and did not.
    pub new: Vec<LimitChange>,
    /// Limits that failed and do not any more.
    pub cleared: Vec<LimitChange>,
    /// Limits that fail before and after, by another amount.
    pub changed: Vec<LimitChange>,
    /// Limits that fail before and after by the same amount.
    pub unchanged: usize,
    /// Limits that could be evaluated before and cannot after, or are new and cannot.
    pub not_evaluated: Vec<LimitChange>,
    /// Blocks, bars and connectors of which more or fewer places are taken on some boat.
    pub places: Vec<PlacesChange>,
    /// Conduits and holes that are fuller or emptier on their fullest boat.
    pub fills: Vec<FillChange>,
    /// Copper and conductor of all wires of the model.
    pub conductor: ConductorChange,
    /// What changed on each sheet.
    pub sheets: Vec<SheetDifference>,
}

/// A limit on both sides; a side is `None` where there is no such limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitChange {
    /// Code of the rule.
    pub rule: &'static str,
    /// Its title.
    pub title: &'static str,
    /// What it is about.
    pub place: String,
    /// Rule set whose limit was applied.
    pub rule_set: Option<&'static str>,
    /// Before.
    pub before: Option<LimitState>,
    /// After.
    pub after: Option<LimitState>,
}

/// How a limit stands on its worst boat.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitState {
    /// `met`, `fails` or `not evaluated`.
    pub outcome: &'static str,
    /// What is the case.
    pub message: String,
    /// Value judged.
    pub value: Option<f64>,
    /// Boats on which it fails: a number, or bounds; `None` where they are not counted.
    pub boats: Option<String>,
    /// Options of the boat on which it is so.
    pub worst_boat: Vec<String>,
}

/// Places taken of one thing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlacesChange {
    /// The block, bar or connector.
    pub thing: String,
    /// `positions` or `cavities`.
    pub kind: &'static str,
    /// Taken on some boat before and after.
    pub taken: (usize, usize),
    /// All there are, after.
    pub room: usize,
}

/// How full a conduit or hole is on its fullest boat, in percent of its limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FillChange {
    /// The run.
    pub run: String,
    /// Title of the rule.
    pub title: &'static str,
    /// Value before; `None` where there was none.
    pub before: Option<f64>,
    /// Value after.
    pub after: Option<f64>,
    /// Limit.
    pub limit: Option<f64>,
    /// Unit of the three.
    pub unit: &'static str,
}

type Key = (&'static str, String, Option<RuleSet>);

impl Effect {
    /// Compares two studies of every boat.
    pub fn of(before: &Study, after: &Study) -> Self {
        let (old, new) = (limits(before), limits(after));
        let fails =
            |study: &Study, at: Option<&usize>| at.is_some_and(|at| study.findings[*at].fails());
        let unknown = |study: &Study, at: Option<&usize>| {
            at.is_some_and(|at| matches!(study.findings[*at].outcome, Outcome::NotEvaluated(_)))
        };
        let keys: BTreeSet<&Key> = old.keys().chain(new.keys()).collect();
        let mut effect = Self {
            buildable: (
                before.boats.count().to_string(),
                after.boats.count().to_string(),
            ),
            new: Vec::new(),
            cleared: Vec::new(),
            changed: Vec::new(),
            unchanged: 0,
            not_evaluated: Vec::new(),
            places: places(&before.model, &after.model),
            fills: Vec::new(),
            conductor: ConductorChange::between(
                (&before.model, &before.routing),
                (&after.model, &after.routing),
            ),
            sheets: of_studies(before, after),
        };
        for key in keys {
            let (was, is) = (old.get(key), new.get(key));
            let change = || change(key, (before, was), (after, is));
            match (fails(before, was), fails(after, is)) {
                (false, true) => effect.new.push(change()),
                (true, false) => effect.cleared.push(change()),
                (true, true) if differs(before, was, after, is) => effect.changed.push(change()),
                (true, true) => effect.unchanged += 1,
                (false, false) if unknown(after, is) && !unknown(before, was) => {
                    effect.not_evaluated.push(change());
                }
                (false, false) => {}
            }
            if key.0 == CONDUIT_CODE || key.0 == HOLE_CODE {
                effect.fills.extend(fill((before, was), (after, is)));
            }
        }
        effect
    }
}

/// The worst finding of each limit; where a rule says several things of one place, the worst.
fn limits(study: &Study) -> BTreeMap<Key, usize> {
    let mut limits: BTreeMap<Key, usize> = BTreeMap::new();
    for (number, finding) in study.findings.iter().enumerate() {
        let key = (
            finding.rule,
            finding.place.label(&study.model),
            finding.rule_set,
        );
        let worse = |known: &usize| rank(finding) > rank(&study.findings[*known]);
        if limits.get(&key).is_none_or(worse) {
            limits.insert(key, number);
        }
    }
    limits
}

fn rank(finding: &Finding) -> (u8, f64) {
    let outcome = match finding.outcome {
        Outcome::Fails => 2,
        Outcome::NotEvaluated(_) => 1,
        Outcome::Met => 0,
    };
    (outcome, finding.severity())
}

/// Whether two values differ by more than rounding.
fn apart(one: f64, other: f64) -> bool {
    (one - other).abs() > 1e-9 * one.abs().max(other.abs())
}

fn differs(before: &Study, was: Option<&usize>, after: &Study, is: Option<&usize>) -> bool {
    let (Some(was), Some(is)) = (was, is) else {
        return true;
    };
    let (was, is) = (&before.findings[*was], &after.findings[*is]);
    // A difference that its own words do not show is none to a reader.
    let told = was.message != is.message;
    match (was.value, is.value) {
        (Some(was), Some(is)) => told && apart(was.value, is.value),
        _ => told,
    }
}

fn state(study: &Study, number: usize) -> LimitState {
    let finding = &study.findings[number];
    LimitState {
        outcome: finding.outcome.word(),
        message: finding.message.clone(),
        value: finding.value.map(|quantity| quantity.value),
        boats: finding
            .fails()
            .then(|| failing_boats(study, number))
            .flatten(),
        worst_boat: option_ids(&study.model, study.boat_of(number)),
    }
}

fn change(
    key: &Key,
    (before, was): (&Study, Option<&usize>),
    (after, is): (&Study, Option<&usize>),
) -> LimitChange {
    LimitChange {
        rule: key.0,
        title: crate::rules::rule(key.0).map_or(key.0, |rule| rule.title),
        place: key.1.clone(),
        rule_set: key.2.map(RuleSet::word),
        before: was.map(|at| state(before, *at)),
        after: is.map(|at| state(after, *at)),
    }
}

fn fill(
    (before, was): (&Study, Option<&usize>),
    (after, is): (&Study, Option<&usize>),
) -> Option<FillChange> {
    let was = was.map(|at| &before.findings[*at]);
    let is = is.map(|at| &after.findings[*at]);
    let value = |finding: Option<&Finding>| finding?.value.map(|quantity| quantity.value);
    let (old, new) = (value(was), value(is));
    let same = match (old, new) {
        (Some(old), Some(new)) => !apart(old, new),
        (None, None) => true,
        _ => false,
    };
    let (study, shown) = is.map(|is| (after, is)).or(was.map(|was| (before, was)))?;
    let Place::Run(run) = shown.place else {
        return None;
    };
    (!same).then(|| FillChange {
        run: study.model.runs.id(run).to_owned(),
        title: crate::rules::rule(shown.rule).map_or(shown.rule, |rule| rule.title),
        before: old,
        after: new,
        limit: shown.limit.map(|limit| limit.value),
        unit: shown.value.map_or("", |value| value.unit),
    })
}

/// Places taken on some boat, with all there are, by thing.
fn taken(model: &BoatModel) -> BTreeMap<(&'static str, String), (BTreeSet<u32>, usize)> {
    let mut taken: BTreeMap<(&'static str, String), (BTreeSet<u32>, usize)> = BTreeMap::new();
    for (_, bus) in model.buses.iter().filter(|(_, bus)| bus.positions > 1) {
        let room = bus.positions as usize;
        taken.insert(("positions", bus.id().to_owned()), (BTreeSet::new(), room));
    }
    for (_, connector) in model.connectors.iter() {
        let room = model.connector_types[connector.connector_type].cavities as usize;
        taken.insert(
            ("cavities", connector.id().to_owned()),
            (BTreeSet::new(), room),
        );
    }
    let mut take = |kind, id: &str, place: u32| {
        if let Some((places, _)) = taken.get_mut(&(kind, id.to_owned())) {
            places.insert(place);
        }
    };
    for (_, wire) in model.wires.iter() {
        for pin in [wire.from, wire.to] {
            match pin {
                Pin::Bus(bus, BusPin::Position(place)) => {
                    take("positions", model.buses.id(bus), place)
                }
                Pin::Cavity(at, place) => take("cavities", model.connectors.id(at), place),
                _ => {}
            }
        }
    }
    for (_, device) in model.devices.iter() {
        if let Some((block, place)) = device.fitted_in {
            take("positions", model.buses.id(block), place);
        }
    }
    taken
}

fn places(before: &BoatModel, after: &BoatModel) -> Vec<PlacesChange> {
    let (old, new) = (taken(before), taken(after));
    let keys: BTreeSet<_> = old.keys().chain(new.keys()).collect();
    let each = keys.into_iter().filter_map(|key| {
        let count = |places: &BTreeMap<_, (BTreeSet<u32>, usize)>| {
            places.get(key).map_or(0, |one| one.0.len())
        };
        let taken = (count(&old), count(&new));
        (taken.0 != taken.1).then(|| PlacesChange {
            thing: key.1.clone(),
            kind: key.0,
            taken,
            room: new.get(key).map_or(0, |one| one.1),
        })
    });
    each.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::rules::DROP_CODE;
    use crate::study::BoatChoice;

    fn study(text: &str) -> Study {
        Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap()
    }

    #[test]
    fn thicker_wires_clear_a_drop_and_are_told_on_the_sheets() {
        let text = include_str!("../../../server/samples/tender-56.json");
        let before = study(text);
        let same = Effect::of(&before, &study(text));
        assert!(same.new.is_empty() && same.cleared.is_empty() && same.changed.is_empty());
        assert!(same.places.is_empty() && same.fills.is_empty() && same.unchanged > 0);
        assert!(same.sheets.iter().all(|sheet| sheet.tables.is_empty()));

        let mut record = file_format::record(&before.model);
        let circuit =
            |wire: &&mut file_format::records::WireRecord| wire.circuit.as_deref() == Some("8");
        for wire in record.wires.iter_mut().filter(circuit) {
            wire.size = Some("10 AWG".to_owned());
        }
        let effect = Effect::of(&before, &study(&file_format::write_record(&record)));
        let drop = effect
            .cleared
            .iter()
            .find(|change| change.rule == DROP_CODE)
            .unwrap();
        assert_eq!(drop.place, "load washdown-pump-1");
        assert!(drop.before.as_ref().unwrap().boats.is_some());
        assert!(effect.conductor.copper_kg > 0.0 && effect.conductor.unknown.is_empty());
        let sizes: Vec<_> = effect.conductor.by_conductor.iter().collect();
        let [thinner, thicker] = sizes[..] else {
            panic!("two sizes: {sizes:?}");
        };
        assert_eq!(thicker.size.to_string(), "10 AWG");
        assert!(thicker.length_m > 1.0 && thicker.length_m == -thinner.length_m);
        assert_eq!(effect.conductor.length_m, 0.0);
        let wires = effect
            .sheets
            .iter()
            .find(|sheet| sheet.id == "wire-list")
            .unwrap();
        assert_eq!(wires.counts(), (0, 0, 3));
    }
}
