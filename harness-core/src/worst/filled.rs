//! What lies in a run, by the condition under which it is there.

use crate::boats::Condition;
use crate::model::{BoatModel, Cable, Index, Wire};
use crate::routing::diameters;
use crate::units::SquareMillimetres;
use crate::working::NotEvaluated;
use std::collections::BTreeMap;

/// Cross-sections over insulation and jackets, as the rules count them: a jacket of stated
/// diameter once, on the boats that have any of its wires here.
///
/// # Errors
/// A wire that states no size.
pub(crate) fn filled_when(
    model: &BoatModel,
    wires: impl IntoIterator<Item = Index<Wire>>,
) -> Result<BTreeMap<Condition, SquareMillimetres>, NotEvaluated> {
    let mut filled: BTreeMap<Condition, SquareMillimetres> = BTreeMap::new();
    let mut jackets: BTreeMap<Index<Cable>, Vec<Index<Wire>>> = BTreeMap::new();
    let mut add = |when: Condition, wires: &[Index<Wire>]| {
        let area = diameters(model, wires)?
            .into_iter()
            .map(|d| d.circle_area());
        *filled.entry(when.simplified()).or_default() += area.sum();
        Ok(())
    };
    for wire in wires {
        let stated = &model.wires[wire];
        match stated.cable {
            Some(cable) if model.cables[cable].outside_diameter.is_some() => {
                jackets.entry(cable).or_default().push(wire);
            }
            _ => add(stated.fitted_when.clone(), &[wire])?,
        }
    }
    for wires in jackets.into_values() {
        let any = wires
            .iter()
            .map(|wire| model.wires[*wire].fitted_when.clone());
        add(Condition::Any(any.collect()), &wires)?;
    }
    Ok(filled)
}
