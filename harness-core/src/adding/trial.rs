//! One way of wiring the component, tried: the model is built, sized on one boat that has the
//! option, and judged on every boat; what breaks raises the size or the device until nothing
//! more is gained.

use super::ask::{Ask, AskFault};
use super::build::{Plan, build};
use super::crossing::Way;
use crate::boats::Boat;
use crate::effect::ConductorChange;
use crate::file_format::{self, ModelRecord};
use crate::model::{BoatModel, Index};
use crate::routing::Routing;
use crate::rules::{DEVICE_LOAD_CODE, DROP_CODE, Finding, LimitKey, Outcome, Place, SUPPLY_CODE};
use crate::sizing::size_circuit;
use crate::study::{BoatChoice, Study};
use crate::tables::{conductors, protection};
use crate::units::{Amperes, SizeSeries, WireSize};
use std::collections::BTreeSet;

/// Most times one way is judged on every boat.
const MOST_JUDGED: usize = 7;

/// What came of one way.
#[derive(Clone, Debug)]
pub(super) struct Trial {
    pub plan: Plan,
    pub way: Way,
    pub record: ModelRecord,
    /// Limits that fail on some boat with it and did not before.
    pub fails: Vec<String>,
    /// What of its own could not be evaluated.
    pub unknown: Vec<String>,
    /// What the size follows from.
    pub size_reason: String,
    /// What the rating follows from.
    pub rating_reason: String,
    /// Meters of conductor of the feed; `None` where it is not evaluated.
    pub feed_m: Option<f64>,
    /// Conductor of feed and return.
    pub conductor: ConductorChange,
    /// Zones passed, in order.
    pub zones: Vec<String>,
}

/// What all ways are tried against.
pub(super) struct Trying<'a> {
    pub study: &'a Study,
    pub stated: &'a ModelRecord,
    pub ask: &'a Ask,
    /// A boat with the option and as much else as can be.
    pub boat: &'a Boat,
    /// What fails without it.
    pub before: &'a BTreeSet<LimitKey>,
}

/// Sizes the yard stocks, thin to thick.
pub(super) fn stocked(model: &BoatModel) -> Vec<WireSize> {
    let series = match model.settings.size_series {
        crate::model::SizeSeriesChoice::Awg => SizeSeries::Awg,
        crate::model::SizeSeriesChoice::Mm2 => SizeSeries::Metric,
    };
    conductors::stocked(series).map(|row| row.size).collect()
}

fn area(size: WireSize) -> f64 {
    conductors::row(size).map_or(0.0, |row| row.area.value.value())
}

/// Faults of a file that only a proposal can have made, told at the name.
pub(super) fn refused(faults: &[file_format::Fault]) -> Vec<AskFault> {
    let each = faults.iter().map(|fault| {
        AskFault::new("name", fault.detail.clone())
            .given(&fault.given)
            .limit(fault.limit.clone())
    });
    each.collect()
}

impl Trying<'_> {
    /// Tries one way.
    ///
    /// # Errors
    /// Where the records do not make a model.
    pub(super) fn run(&self, mut plan: Plan, way: &Way) -> Result<Trial, Vec<AskFault>> {
        let stated = &self.study.model;
        let least = way.thinnest(stated).unwrap_or(0.0);
        let most = way.thickest(stated).unwrap_or(f64::INFINITY);
        let fits: Vec<_> = stocked(stated)
            .into_iter()
            .filter(|size| (least..=most).contains(&area(*size)))
            .collect();
        let start = area(plan.size);
        plan.size = match self.ask.decided.size {
            Some(size) => size,
            None => fits
                .iter()
                .copied()
                .find(|size| area(*size) >= start)
                .unwrap_or(plan.size),
        };
        let mut size_reason = format!("{} is the thinnest that is tried", plan.size);
        if self.ask.decided.size.is_none()
            && let Some((size, reason)) = self.on_one_boat(&plan)?
            && area(size) > area(plan.size)
            && area(size) <= most
        {
            plan.size = size;
            size_reason = reason;
        }
        let mut rating_reason = String::new();
        for round in 1.. {
            let (record, model) = self.model(&plan)?;
            let judged = self.study.findings_with(&model);
            let findings = judged.ok_or_else(|| {
                let detail = "with it the boats are too tangled to be judged: take fewer rules";
                vec![AskFault::new("ordered", detail)]
            })?;
            let new = self.new_failures(&findings);
            let raised = (round < MOST_JUDGED)
                .then(|| self.raise(&mut plan, &new, &fits, &mut size_reason, &mut rating_reason))
                .is_some_and(|raised| raised);
            if !raised {
                return Ok(self.told(
                    plan,
                    way,
                    (record, model),
                    &findings,
                    (size_reason, rating_reason),
                ));
            }
        }
        Err(Vec::new())
    }

    fn model(&self, plan: &Plan) -> Result<(ModelRecord, BoatModel), Vec<AskFault>> {
        let record = build(&self.study.model, self.stated, self.ask, plan);
        let model = file_format::model(&record).map_err(|faults| refused(&faults))?;
        Ok((record, model))
    }

    /// The size of its wires on one boat, and what that follows from.
    fn on_one_boat(&self, plan: &Plan) -> Result<Option<(WireSize, String)>, Vec<AskFault>> {
        let (_, model) = self.model(plan)?;
        let choice = BoatChoice::Options(self.boat.options().collect());
        let Ok(one) = Study::of(model, choice) else {
            return Ok(None);
        };
        let circuit = Index::new(self.stated.circuits.len());
        let Ok(sizing) = size_circuit(&one.facts(), circuit) else {
            return Ok(None);
        };
        let thickest = sizing
            .wires
            .iter()
            .max_by(|a, b| area(a.proposed).total_cmp(&area(b.proposed)));
        Ok(thickest.map(|wire| {
            let because = match wire.because.is_empty() {
                true => String::new(),
                false => format!(" One size smaller: {}", wire.because),
            };
            let governed = wire.governed_by.words();
            (wire.proposed, format!("governed by: {governed}.{because}"))
        }))
    }

    fn new_failures<'f>(&self, findings: &'f [Finding]) -> Vec<&'f Finding> {
        let fails = findings.iter().filter(|finding| finding.fails());
        fails
            .filter(|finding| !self.before.contains(&finding.limit_key()))
            .collect()
    }

    /// Whether the place came with the component.
    fn is_own(&self, place: Place) -> bool {
        match place {
            Place::Load(at) => at.number() >= self.stated.loads.len(),
            Place::Wire(at) => at.number() >= self.stated.wires.len(),
            Place::Device(at) => at.number() >= self.stated.devices.len(),
            _ => false,
        }
    }

    /// Raises rating and size as far as what newly fails asks; whether anything changed.
    fn raise(
        &self,
        plan: &mut Plan,
        new: &[&Finding],
        fits: &[WireSize],
        size_reason: &mut String,
        rating_reason: &mut String,
    ) -> bool {
        let mut changed = false;
        let own = || new.iter().filter(|finding| self.is_own(finding.place));
        if let Some(finding) = own().find(|finding| finding.rule == DEVICE_LOAD_CODE)
            && self.ask.decided.rating_a.is_none()
            && let Some(family) = plan.family
            && let Some(next) =
                protection::next_standard(family, Amperes::new(plan.rating * 1.0001))
        {
            *rating_reason = format!("with {} A: {}", plan.rating, finding.message);
            plan.rating = next.value.value();
            changed = true;
        }
        if self.ask.decided.size.is_some() {
            return changed;
        }
        let cures = new.iter().filter_map(|finding| {
            let (wire, size) = finding.cured_by?;
            self.is_own(Place::Wire(wire)).then_some((size, *finding))
        });
        let next = fits
            .iter()
            .copied()
            .find(|size| area(*size) > area(plan.size));
        let volts = own()
            .filter(|finding| finding.rule == DROP_CODE || finding.rule == SUPPLY_CODE)
            .filter_map(|finding| Some((next?, *finding)));
        let asked = cures
            .chain(volts)
            .max_by(|a, b| area(a.0).total_cmp(&area(b.0)));
        if let Some((size, finding)) = asked
            && area(size) > area(plan.size)
            && fits.contains(&size)
        {
            *size_reason = format!("with {}: {}", plan.size, finding.message);
            plan.size = size;
            changed = true;
        }
        changed
    }

    fn told(
        &self,
        plan: Plan,
        way: &Way,
        (record, model): (ModelRecord, BoatModel),
        findings: &[Finding],
        (size_reason, rating_reason): (String, String),
    ) -> Trial {
        let routing = Routing::of(&model);
        let first = self.stated.wires.len();
        let own: Vec<_> = (first..model.wires.len()).map(Index::new).collect();
        let length = |wire| {
            routing
                .electrical_length(&model, wire)
                .ok()
                .map(|one| one.value())
        };
        let feeds = own
            .iter()
            .filter(|wire| model.wires[**wire].role == Some(crate::model::Role::Feed));
        let mut zones: Vec<String> = Vec::new();
        for wire in feeds.clone() {
            let legs = routing
                .path(*wire)
                .map(|path| path.legs.as_slice())
                .unwrap_or_default();
            for zone in legs.iter().filter_map(|leg| routing.zone(leg.run)) {
                let name = model.zones[zone].title().to_owned();
                if zones.last() != Some(&name) {
                    zones.push(name);
                }
            }
        }
        let unknown = findings
            .iter()
            .filter(|finding| self.is_own(finding.place))
            .filter_map(|finding| match &finding.outcome {
                Outcome::NotEvaluated(why) => {
                    let title = crate::cures::title(finding);
                    Some(format!("{}, {title}: {why}", finding.place.label(&model)))
                }
                _ => None,
            });
        Trial {
            fails: self
                .new_failures(findings)
                .iter()
                .map(|one| one.message.clone())
                .collect(),
            unknown: unknown.collect(),
            feed_m: feeds.map(|wire| length(*wire)).sum(),
            conductor: ConductorChange::between(
                (&self.study.model, &self.study.routing),
                (&model, &routing),
            ),
            zones,
            plan,
            way: way.clone(),
            record,
            size_reason,
            rating_reason,
        }
    }
}
