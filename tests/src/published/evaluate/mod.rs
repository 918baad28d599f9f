//! Answers each published question with the code of `harness-core`.

mod conductor;
mod ampacity;
mod table;
mod ohm;
mod geometry;
mod distributor;
mod least_copper;

use harness_core::working::NotEvaluated;

use super::fact::Fact;

/// Our answer.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Ours {
    /// A number in the unit of the fact.
    Number(f64),
    /// A number that must not be above the published one.
    AtMost(f64),
    /// A size or a name.
    Word(String),
}

type Evaluate = fn(&Fact) -> Result<Ours, NotEvaluated>;

/// Every kind of calculation: its key, its name, and what answers it.
const KINDS: [(&str, &str, Evaluate); 34] = [
    (
        "ampacity",
        "Allowable current of a conductor",
        ampacity::ampacity,
    ),
    ("limit", "Limit of a rule set", table::limit),
    (
        "smallest-size",
        "Thinnest conductor permitted",
        table::smallest_size,
    ),
    (
        "source-distance",
        "Distance from a source to its device",
        table::source_distance,
    ),
    (
        "interrupting-rating",
        "Interrupting rating asked of a device",
        table::interrupting_rating,
    ),
    (
        "conduit-fill",
        "Share of a conduit that may be filled",
        table::conduit_fill,
    ),
    ("pull-force", "Pull a crimp must stand", table::pull_force),
    (
        "aircraft-ampacity",
        "Allowable current in aircraft bundles at altitude",
        outside_aircraft,
    ),
    ("factors", "Current times factors", ampacity::factors),
    (
        "size-for-drop",
        "Smallest size for a drop limit and an ampacity",
        conductor::size_for_drop,
    ),
    (
        "required-area",
        "Area a drop limit asks for",
        conductor::required_area,
    ),
    (
        "area-for-drop",
        "Area for a drop at a given resistivity",
        conductor::area_for_drop,
    ),
    (
        "least-copper",
        "Split of a drop between feeder and branches",
        least_copper::least_copper,
    ),
    ("drop", "Drop of a given size", conductor::drop),
    (
        "drop-at-most",
        "Drop of a given size within a limit",
        conductor::drop_at_most,
    ),
    (
        "drop-by-resistivity",
        "Drop at a given resistivity",
        conductor::drop_by_resistivity,
    ),
    (
        "drop-index",
        "Index of ampere-feet per volt and percent",
        conductor::drop_index,
    ),
    (
        "longest-run",
        "Longest run within a drop limit",
        conductor::longest_run,
    ),
    (
        "greatest-current",
        "Greatest current within a drop limit",
        conductor::greatest_current,
    ),
    (
        "conductor-area",
        "Area of a gauge",
        conductor::conductor_area,
    ),
    (
        "conductor-resistance",
        "Resistance of a size",
        conductor::conductor_resistance,
    ),
    (
        "resistance-by-formula",
        "Resistance from resistivity and area",
        conductor::by_formula,
    ),
    (
        "resistance-at-temperature",
        "Resistance at temperature",
        conductor::at_temperature,
    ),
    (
        "resistivity-at-temperature",
        "Resistivity at temperature",
        conductor::resistivity,
    ),
    (
        "temperature-by-resistance",
        "Temperature from resistance",
        outside_temperature,
    ),
    (
        "strand-area",
        "Area of stranded wire",
        geometry::strand_area,
    ),
    ("area-sum", "Sum of areas", geometry::area_sum),
    (
        "bundle-diameter",
        "Diameter of a bundle",
        geometry::bundle_diameter,
    ),
    (
        "equal-wires",
        "Diameter of a bundle of equal wires",
        geometry::equal_wires,
    ),
    (
        "length-tolerance",
        "Tolerance of a finished length",
        geometry::length_tolerance,
    ),
    ("ohms-law", "Ohm's law and power", ohm::ohms_law),
    (
        "distributor",
        "Network of sources, conductors and loads",
        distributor::distributor,
    ),
    (
        "moving-load",
        "Load moving between two sources",
        distributor::moving_load,
    ),
    (
        "cutting-stock",
        "Cutting of stock lengths",
        outside_cutting_stock,
    ),
];

fn kind(key: &str) -> &'static (&'static str, &'static str, Evaluate) {
    KINDS
        .iter()
        .find(|(known, ..)| *known == key)
        .unwrap_or_else(|| panic!("no kind of calculation is called {key}"))
}

/// The name of a kind in words.
pub(super) fn title(key: &str) -> &'static str {
    kind(key).1
}

/// Our answer to a fact, or why there is none.
pub(super) fn evaluate(fact: &Fact) -> Result<Ours, NotEvaluated> {
    kind(&fact.kind).2(fact)
}

fn outside_aircraft(_: &Fact) -> Result<Ours, NotEvaluated> {
    Err(NotEvaluated::because(
        "altitude and an ambient of 70 °C are no part of a boat",
    ))
}

fn outside_temperature(_: &Fact) -> Result<Ours, NotEvaluated> {
    Err(NotEvaluated::because(
        "this service finds resistance from temperature, never temperature from resistance, and \
         of copper only",
    ))
}

fn outside_cutting_stock(_: &Fact) -> Result<Ours, NotEvaluated> {
    Err(NotEvaluated::because(
        "wire is cut from reels of hundreds of metres: this service lists the pieces and does not \
         fit them into stock lengths",
    ))
}
