//! The most there is of everything on any buildable boat: what leaves room for one more option.

use std::collections::BTreeSet;

use askama::Template;
use harness_core::boats::Boat;
use harness_core::gaps::gaps;
use harness_core::model::{Identified, Index, Load};
use harness_core::most::{Most, NotTold, Thing, most_on_any_boat};
use harness_core::report::option_ids;
use harness_core::working::significant;

use super::Frame;
use super::findings::{Linked, gap_address};
use super::reach::beside_standard;
use crate::studies::AskedBoat;
use crate::view::View;

/// One amount.
#[derive(Clone, Debug)]
struct MostRow {
    thing: String,
    value: String,
    /// *of 32*, *of 314 mm²*; empty where nothing is stated.
    room: String,
    /// Share of the room in hundredths, for a bar.
    used: Option<f64>,
    state: String,
    boat: Linked,
    /// What nothing can exceed, where the value is not proven to be the most.
    at_most: String,
    /// Whether it may be more than this beside a load of unknown draw.
    is_least: bool,
}

/// What is not told for one reason.
#[derive(Debug)]
struct NotToldRow {
    why: String,
    /// Where the missing figure is listed.
    gap: String,
    /// Kinds with the things of each.
    kinds: Vec<(&'static str, Vec<String>)>,
}

/// Amounts of one kind.
#[derive(Debug)]
struct Group {
    id: &'static str,
    heading: &'static str,
    how: &'static str,
    /// The fullest first.
    rows: Vec<MostRow>,
    others: Vec<MostRow>,
}

/// Rows of a kind that stand open on the page.
const SHOWN: usize = 12;

/// The page.
#[derive(Debug, Template)]
#[template(path = "models/most.html")]
pub struct MostPage {
    frame: Frame,
    groups: Vec<Group>,
    not_told: Vec<NotToldRow>,
    /// Loads of unknown draw beside which something may be more.
    undrawn: Vec<String>,
    every_href: String,
    is_every: bool,
}

/// Kinds in the order shown: id, heading, how to read it, unit, and whether a thing is of it.
type Kind = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    fn(Thing) -> bool,
);

const KINDS: [Kind; 6] = [
    (
        "positions",
        "Positions of blocks and bars, terminals on studs",
        "Positions with a wire or a device; what is left on the fullest boat is free on every boat.",
        "",
        |thing| matches!(thing, Thing::Positions(_)),
    ),
    (
        "cavities",
        "Cavities of connectors",
        "Cavities with a wire.",
        "",
        |thing| matches!(thing, Thing::Cavities(_)),
    ),
    (
        "cross-sections",
        "Cross-section in runs",
        "Of all that lies in the run, over insulation and jackets; beside it that of the whole bore.",
        "mm²",
        |thing| matches!(thing, Thing::CrossSection(_)),
    ),
    (
        "loaded",
        "Conductors that carry current in runs",
        "In the state in which there are most; factors for bundles go by this number.",
        "",
        |thing| matches!(thing, Thing::LoadedConductors(_)),
    ),
    (
        "heat",
        "Heat of runs",
        "R I² of all conductors on each metre, in the state in which it is most.",
        "W/m",
        |thing| matches!(thing, Thing::Heat(_)),
    ),
    (
        "sources",
        "Current of sources",
        "In the state in which it is most; beside it what the source can give.",
        "A",
        |thing| matches!(thing, Thing::Given(_)),
    ),
];

impl MostPage {
    /// Counted over every boat.
    pub fn new(view: &View) -> Self {
        let study = &*view.study;
        let (most, not_told) = most_on_any_boat(study);
        let groups = KINDS.map(|(id, heading, how, unit, is_of)| {
            let mut found: Vec<&Most> = most.iter().filter(|most| is_of(most.thing)).collect();
            found.sort_by(|a, b| fullness(b).total_cmp(&fullness(a)));
            let mut rows: Vec<MostRow> = found
                .into_iter()
                .map(|most| row(view, most, unit))
                .collect();
            let others = rows.split_off(rows.len().min(SHOWN));
            Group {
                id,
                heading,
                how,
                rows,
                others,
            }
        });
        let undrawn: BTreeSet<Index<Load>> = most.iter().filter_map(|most| most.beside).collect();
        let frame = Frame::of("Most on any boat", view, "boats")
            .under("Boats", view.addresses.to(&["boats"]));
        Self {
            frame,
            groups: groups
                .into_iter()
                .filter(|group| !group.rows.is_empty())
                .collect(),
            undrawn: undrawn
                .into_iter()
                .map(|load| study.model.loads.id(load).to_owned())
                .collect(),
            not_told: by_reason(view, &not_told),
            every_href: view.addresses.of_boat(AskedBoat::Every).to(&["most"]),
            is_every: study.every.is_some(),
        }
    }
}

/// The share of the room, where one is stated; else the amount, which stands after those.
fn fullness(most: &Most) -> f64 {
    match most.room {
        Some(room) if room > 0.0 => 1e6 * most.value / room,
        _ => most.value,
    }
}

/// Name of a thing, and whether it is counted in whole pieces.
fn name(view: &View, thing: Thing) -> (String, bool) {
    let model = &view.study.model;
    match thing {
        Thing::LoadedConductors(run) => (format!("run {}", model.runs.id(run)), true),
        Thing::CrossSection(run) | Thing::Heat(run) => {
            (format!("run {}", model.runs.id(run)), false)
        }
        Thing::Positions(bus) => {
            let stated = &model.buses[bus];
            (format!("{} {}", stated.kind, stated.id()), true)
        }
        Thing::Cavities(connector) => (
            format!("connector {}", model.connectors.id(connector)),
            true,
        ),
        Thing::Given(source) => {
            let stated = &model.sources[source];
            let name = stated.name.as_deref().unwrap_or(&stated.id);
            (name.to_owned(), false)
        }
    }
}

/// What is not told, by the reason.
fn by_reason(view: &View, not_told: &[NotTold]) -> Vec<NotToldRow> {
    let mut reasons: Vec<(&str, Vec<Thing>)> = Vec::new();
    for one in not_told {
        let why = &*one.why.because;
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, things)) => things.push(one.thing),
            None => reasons.push((why, vec![one.thing])),
        }
    }
    let gaps = gaps(&view.study.model);
    let row = |(why, things): (&str, Vec<Thing>)| NotToldRow {
        why: why.to_owned(),
        gap: gap_address(&view.addresses, &gaps, why),
        kinds: KINDS
            .iter()
            .map(|(_, heading, _, _, is_of)| {
                let here = things.iter().filter(|thing| is_of(**thing));
                (*heading, here.map(|thing| name(view, *thing).0).collect())
            })
            .filter(|(_, here): &(_, Vec<String>)| !here.is_empty())
            .collect(),
    };
    reasons.into_iter().map(row).collect()
}

fn row(view: &View, most: &Most, unit: &str) -> MostRow {
    let (thing, is_whole) = name(view, most.thing);
    let amount = |value: f64| {
        let number = if is_whole {
            format!("{value:.0}")
        } else {
            significant(value, 3)
        };
        if unit.is_empty() {
            number
        } else {
            format!("{number} {unit}")
        }
    };
    let room = most.room.filter(|room| *room > 0.0);
    MostRow {
        thing,
        value: amount(most.value),
        room: room.map_or_else(String::new, |room| format!("of {}", amount(room))),
        used: room.map(|room| (100.0 * most.value / room).min(100.0)),
        state: most.state.map_or_else(String::new, |state| {
            view.study.model.states[state].title().to_owned()
        }),
        boat: boat(view, &most.boat),
        at_most: if most.is_proven() {
            String::new()
        } else {
            amount(most.bound)
        },
        is_least: most.beside.is_some(),
    }
}

/// A boat as what it differs in from the standard one, and the way to look at it.
fn boat(view: &View, boat: &Boat) -> Linked {
    let study = &*view.study;
    Linked {
        text: beside_standard(study, boat),
        href: view
            .addresses
            .of_boat(AskedBoat::Options(option_ids(&study.model, boat)))
            .to(&[]),
    }
}
