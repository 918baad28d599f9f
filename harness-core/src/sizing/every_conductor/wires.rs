//! Which wires are sized, and the sizes each may take.

use super::super::least_copper::Choice as Area;
use super::super::search::{Choice, stocked};
use crate::conductor::ohms_per_metre;
use crate::model::{Function, Index, Load, Pin, Role, SourceKind, Wire};
use crate::network::assembly::branches::resistance_basis;
use crate::network::assembly::{Assembly, LoadPoint, Part, SourceCondition};
use crate::rules::{CURRENT_CODE, Outcome, Place};
use crate::study::Study;
use crate::tables::conductors::{self, ConductorRow};
use crate::units::WireSize;
use std::collections::{BTreeMap, BTreeSet};

/// What an area stands for: Ω mm²/m. Only ratios matter.
const OHM_MM2_PER_M: f64 = 0.0172;
/// A wire with less carries nothing but rounding of the solver, A.
pub(super) const NO_CURRENT_A: f64 = 1e-3;
/// Why such a wire stays as it is.
pub(super) const NO_CURRENT: &str = "no current of a load is known to flow through it";
/// Density of copper, kg/dm³ (IEC 60028, from memory).
const COPPER_KG_PER_DM3: f64 = 8.89;

/// A wire with the sizes it may take.
pub(super) struct Sized {
    pub wire: Index<Wire>,
    /// In ascending area.
    pub sizes: Vec<&'static ConductorRow>,
    /// Area by which its drop goes, and copper, of each size.
    pub areas: Vec<Area>,
    pub contacts: Choice,
}

/// The wires that are sized, and those that stay, `besides` some for reasons known already.
pub(super) fn which(
    study: &Study,
    besides: &BTreeMap<Index<Wire>, String>,
) -> (Vec<Sized>, Vec<(Index<Wire>, String)>) {
    let model = &study.model;
    let series = stocked(model);
    // What was not judged, and what carries nothing that is known, cannot be held to anything.
    let mut unknown: BTreeMap<Index<Wire>, &str> = BTreeMap::new();
    let mut flows: BTreeSet<Index<Wire>> = BTreeSet::new();
    for finding in &study.findings {
        let Place::Wire(wire) = finding.place else {
            continue;
        };
        if finding.rule != CURRENT_CODE {
            continue;
        }
        match &finding.outcome {
            Outcome::NotEvaluated(why) => drop(unknown.insert(wire, &why.because)),
            _ if finding.value.is_some_and(|amps| amps.value > NO_CURRENT_A) => {
                flows.insert(wire);
            }
            _ => {}
        }
    }
    let cranks = cranking(study);
    let (mut sized, mut kept) = (Vec::new(), Vec::new());
    for (wire, stated) in model.wires.iter() {
        if matches!(stated.role, Some(Role::Bonding | Role::Signal)) {
            continue;
        }
        let function = stated.function(model);
        let gives = |pin: Pin| match pin {
            Pin::Source(source, _) => {
                !matches!(model.sources[source].kind, None | Some(SourceKind::Battery))
            }
            _ => false,
        };
        let charges =
            function == Some(Function::Charging) || gives(stated.from) || gives(stated.to);
        let besides = besides.get(&wire).map(String::as_str);
        let why = match besides.as_ref().or_else(|| unknown.get(&wire)) {
            _ if cranks.contains(&wire) || function == Some(Function::Starting) => {
                "it carries the current of engine starting: the engine maker states its size"
            }
            _ if charges => "what charges is not among the loads, and it carries that current",
            Some(why) if besides.is_some() || stated.size.is_some() => *why,
            None if !flows.contains(&wire) => NO_CURRENT,
            _ => "",
        };
        if !why.is_empty() {
            kept.push((wire, why.to_owned()));
            continue;
        }
        match sizes_of(study, &series, wire) {
            Ok(one) => sized.push(one),
            Err(why) => kept.push((wire, why)),
        }
    }
    (sized, kept)
}

/// Wires on the way of engine starting, on any boat that is worst for something.
fn cranking(study: &Study) -> BTreeSet<Index<Wire>> {
    let model = &study.model;
    let starts = |load: &Index<Load>| {
        let circuit = model.loads[*load].circuit;
        circuit.is_some_and(|at| model.circuits[at].function == Some(Function::Starting))
    };
    let mut cranking = BTreeSet::new();
    if !model.loads.indices().any(|load| starts(&load)) {
        return cranking;
    }
    let boats = study.every.iter().flat_map(|every| &every.candidates.boats);
    for boat in boats {
        let assembly = Assembly::of(model, &study.routing, boat);
        for operating in assembly.operate_all(model, &[SourceCondition::Nominal]) {
            for (_, point) in operating.loads.iter().filter(|(load, _)| starts(load)) {
                let LoadPoint::Supplied(supplied) = point else {
                    continue;
                };
                for share in supplied.feed.iter().chain(&supplied.back) {
                    if let Part::Wire(wire) = assembly.branches[share.branch].part {
                        cranking.insert(wire);
                    }
                }
            }
        }
    }
    cranking
}

/// The sizes a wire may take; why it may not be sized.
fn sizes_of(study: &Study, series: &[WireSize], wire: Index<Wire>) -> Result<Sized, String> {
    let model = &study.model;
    let length = study
        .routing
        .electrical_length(model, wire)
        .map_err(|why| why.to_string())?;
    let contacts = Choice::within_contacts(model, series, wire).map_err(|why| why.to_string())?;
    let basis = resistance_basis(model, &study.routing, wire);
    let rows = contacts
        .fits
        .iter()
        .filter_map(|at| conductors::row(series[*at]));
    let (mut sizes, mut areas) = (Vec::new(), Vec::<Area>::new());
    for row in rows {
        let resistance = ohms_per_metre(row, &basis).map_err(|why| why.to_string())?;
        let area_mm2 = OHM_MM2_PER_M / resistance;
        if areas.last().is_none_or(|last| last.area_mm2 < area_mm2) {
            sizes.push(row);
            areas.push(Area {
                area_mm2,
                mass_kg: copper(row) * length.value(),
            });
        }
    }
    Ok(Sized {
        wire,
        sizes,
        areas,
        contacts,
    })
}

/// Copper of one metre, kg: its area, and what the lay of the strands adds.
pub(super) fn copper(row: &ConductorRow) -> f64 {
    let area_mm2 = row.area.value.value();
    area_mm2 * row.stranding_allowance.value * COPPER_KG_PER_DM3 / 1000.0
}
