//! The bundle of wires in each run.

use super::Routing;
use crate::model::{BoatModel, Index, Run, Wire};
use crate::tables;
use crate::units::{Millimetres, SquareMillimetres};
use crate::working::NotEvaluated;
use std::collections::BTreeSet;

/// The wires that lie together in one run on one boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Bundle {
    /// The run.
    pub run: Index<Run>,
    /// The wires, in stated order.
    pub wires: Vec<Index<Wire>>,
    /// Outside diameters of what lies there: a jacket counts once, with the wires inside it.
    pub diameters: Result<Vec<Millimetres>, NotEvaluated>,
}

impl Bundle {
    /// Sum of the cross-sections over insulation and jackets.
    pub fn filled_area(&self) -> Result<SquareMillimetres, NotEvaluated> {
        let diameters = self.diameters.as_ref().map_err(Clone::clone)?;
        Ok(diameters
            .iter()
            .map(|diameter| diameter.circle_area())
            .sum())
    }
}

/// The bundle of every run, counting the wires for which `fitted` holds.
pub fn bundles(
    model: &BoatModel,
    routing: &Routing,
    fitted: impl Fn(Index<Wire>) -> bool,
) -> Vec<Bundle> {
    let mut wires: Vec<Vec<Index<Wire>>> = vec![Vec::new(); model.runs.len()];
    for wire in model.wires.indices().filter(|wire| fitted(*wire)) {
        let Ok(path) = routing.path(wire) else {
            continue;
        };
        for leg in &path.legs {
            let here = &mut wires[leg.run.number()];
            if here.last() != Some(&wire) {
                here.push(wire);
            }
        }
    }
    model
        .runs
        .indices()
        .zip(wires)
        .map(|(run, wires)| {
            let diameters = diameters(model, &wires);
            Bundle {
                run,
                wires,
                diameters,
            }
        })
        .collect()
}

/// Outside diameters of wires that lie together: a jacket counts once.
pub(crate) fn diameters(
    model: &BoatModel,
    wires: &[Index<Wire>],
) -> Result<Vec<Millimetres>, NotEvaluated> {
    let mut jackets = BTreeSet::new();
    let mut diameters = Vec::new();
    for &wire in wires {
        let stated = &model.wires[wire];
        if let Some(cable) = stated.cable
            && let Some(diameter) = model.cables[cable].outside_diameter
        {
            if jackets.insert(cable) {
                diameters.push(diameter);
            }
            continue;
        }
        let row = stated
            .size
            .and_then(tables::conductors::row)
            .ok_or_else(|| NotEvaluated::because(format!("wire {} states no size", stated.id)))?;
        diameters.push(row.diameter.value);
    }
    Ok(diameters)
}
