//! What current a wire is allowed where it lies: size, insulation, engine space, bundle.

use crate::conductor::{AmpacityQuestion, allowable, ampacity};
use crate::model::{BoatModel, DcBundling, Function, Identified, Index, Run, Wire, Zone};
use crate::rules::{Facts, within};
use crate::tables::conductors;
use crate::tables::{Insulation, RuleSet};
use crate::units::{Amperes, Volts, WireSize};
use crate::working::{NotEvaluated, Worked};
use std::collections::BTreeMap;
use std::rc::Rc;

/// The federal regulation reduces bundled conductors from this voltage up, 33 CFR 183.435(b).
const FEDERAL_BUNDLING_FROM: Volts = Volts::new(50.0);

/// Whether a wire passes an engine space.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::rules) enum EngineSpace {
    /// Some part does.
    Passed,
    /// No part does.
    NotPassed,
    /// Some part lies where it is not stated.
    NotStated(String),
}

/// The current a wire is allowed under one rule set.
#[derive(Clone, Debug)]
pub(in crate::rules) struct Allowance {
    /// What it is allowed; where it is not stated whether the wire passes an engine space, what
    /// it would be allowed outside one.
    pub greatest: Rc<Worked<Amperes>>,
    /// Where that is not stated: what it would be allowed inside, and what is not stated.
    pub inside: Option<(Result<Amperes, NotEvaluated>, String)>,
    /// What was asked of the tables.
    pub question: AmpacityQuestion,
    /// The run with most loaded conductors on its way.
    pub fullest: Option<Index<Run>>,
}

impl Allowance {
    /// Whether a current is within it; an error where that hangs on what is not stated.
    pub fn holds(&self, current: Amperes) -> Result<bool, NotEvaluated> {
        if !within(current.value(), self.greatest.value.value()) {
            return Ok(false);
        }
        match &self.inside {
            None => Ok(true),
            Some((Ok(inside), _)) if within(current.value(), inside.value()) => Ok(true),
            Some((_, not_stated)) => Err(NotEvaluated::because(format!(
                "{not_stated}, and the factor for engine spaces decides"
            ))),
        }
    }
}

/// Allowances of the wires of one boat; equal questions are asked of the tables once.
pub(in crate::rules) struct Allowances<'f, 'm> {
    facts: &'f Facts<'m>,
    federal_bundling: DcBundling,
    known: BTreeMap<Key, Result<Rc<Worked<Amperes>>, NotEvaluated>>,
}

type Key = (WireSize, Insulation, RuleSet, bool, u32);

/// The insulation class of a wire, its own or that of the settings.
pub(in crate::rules) fn insulation(
    model: &BoatModel,
    wire: Index<Wire>,
) -> Result<Insulation, NotEvaluated> {
    let stated = &model.wires[wire];
    let Some(degc) = stated.stated_insulation.or(model.settings.insulation) else {
        return Err(NotEvaluated::because(format!(
            "wire {} states no insulation class, nor do the settings",
            stated.id()
        )));
    };
    Insulation::from_degc(degc.value()).ok_or_else(|| {
        NotEvaluated::because(format!(
            "no ampacity table has insulation of {degc} (wire {}): state 60, 70, 75, 80, 85, 90, \
             105, 125 or 200 °C",
            stated.id()
        ))
    })
}

/// The size of a wire.
pub(in crate::rules) fn size(
    model: &BoatModel,
    wire: Index<Wire>,
) -> Result<WireSize, NotEvaluated> {
    let stated = &model.wires[wire];
    stated
        .size
        .ok_or_else(|| NotEvaluated::because(format!("wire {} states no size", stated.id())))
}

/// Whether a wire belongs to engine starting, which several limits exempt.
pub(in crate::rules) fn is_starting(facts: &Facts<'_>, wire: Index<Wire>) -> bool {
    facts.model.wires[wire].function(facts.model) == Some(Function::Starting)
}

impl<'f, 'm> Allowances<'f, 'm> {
    /// For the wires of this boat.
    pub fn of(facts: &'f Facts<'m>) -> Self {
        let nominal = facts.assembly.sources.iter().filter_map(|(source, ..)| {
            let source = &facts.model.sources[*source];
            source.nominal
        });
        let federal_bundling = if nominal.fold(Volts::ZERO, Volts::max) < FEDERAL_BUNDLING_FROM {
            DcBundling::NoneBelow50V
        } else {
            DcBundling::ByCount
        };
        Self {
            facts,
            federal_bundling,
            known: BTreeMap::new(),
        }
    }

    /// What a wire is allowed where it lies.
    ///
    /// # Errors
    /// When it states no size or insulation class, or the table has no row for it.
    pub fn allowance(
        &mut self,
        wire: Index<Wire>,
        rule_set: RuleSet,
    ) -> Result<Allowance, NotEvaluated> {
        let (conductors, fullest) = self.facts.loaded.fullest(self.facts, wire);
        let space = engine_space(self.facts, wire);
        let question = AmpacityQuestion {
            size: size(self.facts.model, wire)?,
            insulation: insulation(self.facts.model, wire)?,
            rule_set,
            engine_space: space == EngineSpace::Passed,
            bundled_conductors: conductors,
            bundling: match rule_set {
                RuleSet::UsFederal => self.federal_bundling,
                RuleSet::UsVoluntary | RuleSet::Iso => self.facts.model.settings.dc_bundling,
            },
        };
        let inside = if let EngineSpace::NotStated(what) = space {
            let asked = AmpacityQuestion {
                engine_space: true,
                ..question
            };
            Some((self.ask(&asked).map(|found| found.value), what))
        } else {
            None
        };
        Ok(Allowance {
            greatest: self.ask(&question)?,
            inside,
            question,
            fullest,
        })
    }

    /// The bare table value of a wire: one conductor outside engine spaces.
    ///
    /// # Errors
    /// As [`Self::allowance`].
    pub fn table_value(
        &mut self,
        wire: Index<Wire>,
        rule_set: RuleSet,
    ) -> Result<(AmpacityQuestion, Rc<Worked<Amperes>>), NotEvaluated> {
        let question = bare(self.facts.model, wire, rule_set)?;
        Ok((question, self.ask(&question)?))
    }

    fn ask(&mut self, question: &AmpacityQuestion) -> Result<Rc<Worked<Amperes>>, NotEvaluated> {
        let key = (
            question.size,
            question.insulation,
            question.rule_set,
            question.engine_space,
            question.bundled_conductors,
        );
        self.known
            .entry(key)
            .or_insert_with(|| ampacity(question).map(Rc::new))
            .clone()
    }
}

/// What is asked of the table for one conductor alone, outside engine spaces.
///
/// # Errors
/// When the wire states no size or insulation class.
pub(in crate::rules) fn bare(
    model: &BoatModel,
    wire: Index<Wire>,
    rule_set: RuleSet,
) -> Result<AmpacityQuestion, NotEvaluated> {
    Ok(AmpacityQuestion {
        size: size(model, wire)?,
        insulation: insulation(model, wire)?,
        rule_set,
        engine_space: false,
        bundled_conductors: 1,
        bundling: DcBundling::NoneBelow50V,
    })
}

/// The thinnest stocked size of the same series that would be allowed a current in the same
/// place.
pub(in crate::rules) fn thick_enough(
    question: &AmpacityQuestion,
    current: Amperes,
) -> Option<WireSize> {
    conductors::stocked(question.size.series())
        .map(|row| row.size)
        .find(|size| {
            let asked = AmpacityQuestion {
                size: *size,
                ..*question
            };
            allowable(&asked).is_ok_and(|allowed| allowed >= current)
        })
}

/// Whether any part of a wire lies in an engine space: the zones of its ends and of its runs,
/// a run between two zones lying in both.
pub(in crate::rules) fn engine_space(facts: &Facts<'_>, wire: Index<Wire>) -> EngineSpace {
    let model = facts.model;
    let mut not_stated = None;
    let mut passed = false;
    let mut look = |zone: Option<Index<Zone>>, lies: &dyn Fn() -> String| match zone
        .map(|zone| (zone, model.zones[zone].engine_space))
    {
        Some((_, Some(true))) => passed = true,
        Some((_, Some(false))) => {}
        Some((zone, None)) => {
            not_stated.get_or_insert_with(|| {
                format!(
                    "zone {} does not state whether it is an engine space",
                    model.zones.id(zone)
                )
            });
        }
        None => {
            not_stated.get_or_insert_with(lies);
        }
    };
    let point_zone = |point| {
        let point: Index<crate::model::Point> = point;
        model.points[point].zone
    };
    let stated = &model.wires[wire];
    for pin in [stated.from, stated.to] {
        let equipment = pin.equipment();
        let point = equipment.point(model);
        look(point.and_then(point_zone), &|| {
            format!("{} lies in no stated zone", equipment.id(model))
        });
    }
    for leg in facts.routing.path(wire).map_or(&[][..], |path| &path.legs) {
        let run = &model.runs[leg.run];
        let lies = || format!("run {} lies in no stated zone", run.id());
        if run.stated_zone.is_some() {
            look(run.stated_zone, &lies);
        } else {
            look(point_zone(run.from), &lies);
            look(point_zone(run.to), &lies);
        }
    }
    match (passed, not_stated) {
        (true, _) => EngineSpace::Passed,
        (false, None) => EngineSpace::NotPassed,
        (false, Some(what)) => EngineSpace::NotStated(what),
    }
}
