//! Bundles, areas and lengths.

use harness_core::conductor;
use harness_core::units::{CircularMils, Metres, Millimetres, SquareMillimetres};
use harness_core::working::NotEvaluated;

use super::super::fact::Fact;
use super::Ours;

pub(super) fn bundle_diameter(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let wires: Vec<_> = fact
        .numbers("diameters_mm")
        .into_iter()
        .map(Millimetres::new)
        .collect();
    Ok(Ours::Number(
        conductor::bundle_diameter(&wires)?.value.value(),
    ))
}

pub(super) fn equal_wires(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let wires = vec![Millimetres::new(1.0); fact.number("wires") as usize];
    Ok(Ours::Number(
        conductor::bundle_diameter(&wires)?.value.value(),
    ))
}

pub(super) fn area_sum(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let mm2_per_square_inch = 25.4 * 25.4;
    let area: SquareMillimetres = fact
        .numbers("areas_in2")
        .into_iter()
        .map(|square_inches| SquareMillimetres::new(square_inches * mm2_per_square_inch))
        .sum();
    Ok(Ours::Number(area.value() / mm2_per_square_inch))
}

pub(super) fn strand_area(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let area = CircularMils::new(fact.number("cmil_each")) * fact.number("strands");
    Ok(Ours::Number(area.value()))
}

pub(super) fn length_tolerance(fact: &Fact) -> Result<Ours, NotEvaluated> {
    let nominal = Metres::new(fact.number("length_m"));
    Ok(Ours::Number(
        conductor::finished_length_tolerance(nominal).value.value(),
    ))
}
