//! One circuit: its way, its volts, its rules, its wires.

use std::collections::BTreeSet;

use askama::Template;
use harness_core::boats::OptionIndex;
use harness_core::model::{Circuit, Index, Load, OperatingState, Wire, Zone};
use harness_core::network::assembly::branches::{conductor_row, wire_temperature};
use harness_core::network::assembly::{Operating, Part, PathShare, Supplied};
use harness_core::rules::{Outcome as CoreOutcome, Place};
use harness_core::study::Study;
use harness_core::working::significant;

use super::circuits::device_words;
use super::drawing::{Curve, Element, Lit, Plan, Plot, path, plan, plot};
use super::findings::{FindingRow, Linked, others, supplied};
use super::reach::options_words;
use super::{Frame, Outcome};
use crate::studies::AskedBoat;
use crate::view::View;

/// One segment of the way.
#[derive(Clone, Debug)]
pub struct Segment {
    what: String,
    side: &'static str,
    length: String,
    size: String,
    zones: String,
    resistance: String,
    current: String,
    lost: String,
    share: String,
    share_bar: f64,
    others: usize,
    element: Element,
    metres: f64,
    volts: f64,
}

/// One wire of the circuit.
#[derive(Clone, Debug)]
pub struct WireRow {
    id: String,
    role: String,
    size: String,
    color: String,
    from: String,
    to: String,
    zones: Vec<Linked>,
    cut: String,
    terms: Vec<(String, String)>,
}

/// A link that changes what is shown.
#[derive(Clone, Debug)]
pub struct Switch {
    link: Linked,
    is_here: bool,
}

/// The load and state shown, solved.
#[derive(Debug)]
struct Shown {
    load: String,
    state: String,
    source: String,
    drop_v: String,
    drop_percent: String,
    limit: String,
    volts: String,
    current: String,
    /// What it loses on the standard boat, in the same state.
    standard: Option<String>,
    path: String,
    plot: String,
    segments: Vec<Segment>,
}

/// One circuit.
#[derive(Debug, Template)]
#[template(path = "circuits/circuit.html")]
pub struct CircuitPage {
    frame: Frame,
    function: String,
    device: String,
    switch: String,
    states: Vec<Switch>,
    loads: Vec<Switch>,
    shown: Option<Shown>,
    not_shown: String,
    worst: Option<Linked>,
    rules: Vec<FindingRow>,
    failing: usize,
    unknown: usize,
    wires: Vec<WireRow>,
    plan: Plan,
    sheets_href: String,
    sizes_href: String,
}

/// What of the circuit to show first.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// A load; none takes the one with the largest drop.
    pub load: Option<Index<Load>>,
    /// A state; none takes the worst.
    pub state: Option<Index<OperatingState>>,
}

impl CircuitPage {
    /// Of the boat in view.
    pub fn new(view: &View, at: Index<Circuit>, asked: Asked) -> Self {
        let study = &*view.study;
        let model = &study.model;
        let circuit = &model.circuits[at];
        let loads = study.by_circuit.loads(at);
        let drop = |load: &Index<Load>| {
            supplied(study, *load, asked.state).map_or(-1.0, |(_, s)| s.drop_percent())
        };
        let worst = loads
            .iter()
            .copied()
            .max_by(|a, b| drop(a).total_cmp(&drop(b)));
        let load = asked.load.or(worst);
        let point = load.and_then(|load| Some((load, supplied(study, load, asked.state)?)));
        let standard = study
            .every
            .as_ref()
            .map(|every| study.with_boat(&every.standard));
        let shown = point.map(|(load, (operating, supplied))| {
            let beside = standard.as_ref().and_then(|standard| {
                let (same, there) = self::supplied(standard, load, operating.state)?;
                Some((standard, same, there))
            });
            shown(study, load, operating, supplied, beside)
        });
        let on_way: BTreeSet<Place> = point.map_or_else(BTreeSet::new, |(_, (_, supplied))| {
            let way = supplied.feed.iter().chain(&supplied.back);
            way.filter_map(|share| place_of(study.assembly.branches[share.branch].part))
                .collect()
        });
        let touches = |number: &usize| {
            study.by_circuit.of_finding(*number) == Some(at)
                || on_way.contains(&study.findings[*number].place)
        };
        let touching = (0..study.findings.len()).filter(touches);
        let touching = touching.map(|number| &study.findings[number]);
        let mut rules = FindingRow::with_guesses(view, touching);
        rules.sort_by_key(|row| match row.outcome {
            Outcome::Fails => 0,
            Outcome::NotEvaluated => 1,
            Outcome::Met => 2,
        });
        let count = |wanted| rules.iter().filter(|row| row.outcome == wanted).count();
        let wires = study.by_circuit.wires(at);
        let runs = wires
            .iter()
            .filter_map(|wire| study.routing.path(*wire).ok())
            .flat_map(|path| path.legs.iter().map(|leg| leg.run))
            .collect();
        let lit = Lit { zone: None, runs };
        let number = circuit.id.as_str();
        let title = match &circuit.name {
            Some(name) => format!("Circuit {number}: {name}"),
            None => format!("Circuit {number}"),
        };
        Self {
            frame: Frame::of(title, view, "circuits")
                .under("Circuits", view.addresses.to(&["circuits"])),
            function: circuit
                .function
                .map_or("not stated", |function| function.word())
                .to_owned(),
            device: circuit
                .device
                .map_or_else(|| "not stated".to_owned(), |at| device_words(study, at)),
            switch: circuit.switch.map_or_else(
                || "none".to_owned(),
                |at| {
                    let device = &model.devices[at];
                    device.name.clone().unwrap_or_else(|| device.id.clone())
                },
            ),
            states: state_switches(view, at, asked, load),
            loads: load_switches(view, at, asked, loads, load),
            not_shown: not_shown(study, load, asked.state),
            worst: study.every.is_some().then(|| {
                let options: Vec<OptionIndex> = study.boat.options().collect();
                Linked {
                    text: options_words(study, &options),
                    href: view
                        .addresses
                        .of_boat(AskedBoat::Options(study.boat_options()))
                        .to(&["circuits", &circuit.id]),
                }
            }),
            shown,
            failing: count(Outcome::Fails),
            unknown: count(Outcome::NotEvaluated),
            rules,
            wires: wires.iter().map(|wire| wire_row(view, *wire)).collect(),
            plan: plan(study, &view.addresses, &lit),
            sheets_href: view.addresses.to(&["sheets"]),
            sizes_href: view.addresses.to(&["circuits", &circuit.id, "sizes"]),
        }
    }
}

fn place_of(part: Part) -> Option<Place> {
    Some(match part {
        Part::Wire(at) => Place::Wire(at),
        Part::Device(at) => Place::Device(at),
        Part::Coupler(at, _) => Place::Coupler(at),
        Part::Contact(at, _) => Place::Connector(at),
        Part::Splice(at) => Place::Splice(at),
    })
}

fn state_switches(
    view: &View,
    circuit: Index<Circuit>,
    asked: Asked,
    load: Option<Index<Load>>,
) -> Vec<Switch> {
    let study = &*view.study;
    let model = &study.model;
    let Some(load) = load else { return Vec::new() };
    let load_id = asked.load.map_or("", |at| model.loads.id(at));
    let address = |state: &str| {
        let segments = ["circuits", model.circuits.id(circuit)];
        view.addresses
            .with(&segments, &[("load", load_id), ("state", state)])
    };
    let mut switches = vec![Switch {
        link: Linked {
            text: "worst state".to_owned(),
            href: address(""),
        },
        is_here: asked.state.is_none(),
    }];
    for (at, state) in model.states.iter() {
        let drop = supplied(study, load, Some(at));
        let text = match drop {
            Some((_, s)) => format!("{} {} %", state.title(), significant(s.drop_percent(), 3)),
            None => format!("{}: not running", state.title()),
        };
        switches.push(Switch {
            link: Linked {
                text,
                href: address(&state.id),
            },
            is_here: asked.state == Some(at),
        });
    }
    switches
}

fn load_switches(
    view: &View,
    circuit: Index<Circuit>,
    asked: Asked,
    loads: &[Index<Load>],
    here: Option<Index<Load>>,
) -> Vec<Switch> {
    let model = &view.study.model;
    let state = asked.state.map_or("", |at| model.states.id(at));
    let segments = ["circuits", model.circuits.id(circuit)];
    loads
        .iter()
        .map(|&load| Switch {
            link: Linked {
                text: model.loads[load].title().to_owned(),
                href: view.addresses.with(
                    &segments,
                    &[("load", model.loads.id(load)), ("state", state)],
                ),
            },
            is_here: here == Some(load),
        })
        .collect()
}

/// Why there is no way to show.
fn not_shown(
    study: &Study,
    load: Option<Index<Load>>,
    state: Option<Index<OperatingState>>,
) -> String {
    let model = &study.model;
    let Some(load) = load else {
        return "The boat in view has no load on this circuit: it feeds others, or its loads come \
                with options that this boat does not have."
            .to_owned();
    };
    let finding = study
        .findings
        .iter()
        .find(|finding| finding.place == Place::Load(load) && finding.outcome != CoreOutcome::Met);
    match (finding, state) {
        (Some(finding), _) => finding.message.clone(),
        (None, Some(state)) => format!(
            "{} does not run in the state {}: choose another state.",
            model.loads[load].title(),
            model.states[state].title()
        ),
        (None, None) => format!("{} runs in no state.", model.loads[load].title()),
    }
}

/// The same load on the standard boat.
type Beside<'s> = (&'s Study, &'s Operating, &'s Supplied);

fn shown(
    study: &Study,
    load: Index<Load>,
    operating: &Operating,
    supplied: &Supplied,
    beside: Option<Beside<'_>>,
) -> Shown {
    let model = &study.model;
    let stated = &model.loads[load];
    let source = &model.sources[supplied.source];
    let source_name = source.name.as_deref().unwrap_or(&source.id);
    let segments_of = |shares: &[PathShare], side| {
        shares
            .iter()
            .map(|share| segment(study, load, operating, supplied, share, side))
            .collect::<Vec<_>>()
    };
    let feed = segments_of(&supplied.feed, "feed");
    let back = segments_of(&supplied.back, "return");
    let elements = |segments: &[Segment]| {
        segments
            .iter()
            .map(|segment| segment.element.clone())
            .collect::<Vec<_>>()
    };
    // The return is drawn under the feed: its end at the load stands on the right.
    let mut returning = elements(&back);
    returning.reverse();
    let limit = stated.drop_limit_percent();
    let there = beside.map(|(standard, operating, supplied)| {
        let of = |shares: &[PathShare], side| -> Vec<Segment> {
            let each = shares.iter();
            each.map(|share| segment(standard, load, operating, supplied, share, side))
                .collect()
        };
        let mut way = of(&supplied.feed, "feed");
        way.extend(of(&supplied.back, "return"));
        (supplied, way)
    });
    Shown {
        standard: there.as_ref().map(|(supplied, _)| {
            format!(
                "{} V ({} %)",
                significant(supplied.drop().value(), 3),
                significant(supplied.drop_percent(), 3)
            )
        }),
        load: stated.title().to_owned(),
        state: operating.state.map_or_else(
            || "with every load running".to_owned(),
            |at| model.states[at].title().to_owned(),
        ),
        source: source_name.to_owned(),
        drop_v: significant(supplied.drop().value(), 3),
        drop_percent: significant(supplied.drop_percent(), 3),
        limit: limit.map_or_else(
            || "not stated".to_owned(),
            |limit| format!("{} %", significant(limit, 3)),
        ),
        volts: significant(supplied.volts.value(), 4),
        current: significant(supplied.current.value(), 3),
        path: path((source_name, stated.title()), &elements(&feed), &returning),
        plot: volts_plot(supplied, limit, (&feed, &back), there.as_ref()),
        segments: feed.into_iter().chain(back).collect(),
    }
}

fn volts_plot(
    supplied: &Supplied,
    limit: Option<f64>,
    (feed, back): (&[Segment], &[Segment]),
    standard: Option<&(&Supplied, Vec<Segment>)>,
) -> String {
    let along = |start: (f64, f64), segments: &[Segment]| {
        let mut at = start;
        let mut points = vec![at];
        for segment in segments {
            at = (at.0 + segment.metres, at.1 - segment.volts);
            points.push(at);
        }
        points
    };
    let out = along((0.0, supplied.source_volts.value()), feed);
    let load = out[out.len() - 1];
    let curve = |name: &str, class, points| Curve {
        name: name.to_owned(),
        class,
        points,
    };
    let mut curves = vec![
        curve("at the load, feed", "curve", out),
        curve("and after the return", "curve second", along(load, back)),
    ];
    if let Some((supplied, way)) = standard {
        let start = (0.0, supplied.source_volts.value());
        curves.push(curve("standard boat", "curve third", along(start, way)));
    }
    let limit = limit.map(|percent| {
        let least = supplied.source_volts.value() - supplied.nominal.value() * percent / 100.0;
        (least, format!("limit {} V", significant(least, 4)))
    });
    plot(&Plot {
        id: "volts",
        title: "Volts left along the way out and back".to_owned(),
        how: "Source volts less what is lost so far, over the length from the source to the load \
              and back. Steps without length are fuses, switches and contacts. The end of the \
              second line is the voltage across the load."
            .to_owned(),
        axes: ("length from the source, out and back, m", "V left"),
        curves,
        limit,
        from_zero: false,
    })
}

fn segment(
    study: &Study,
    load: Index<Load>,
    operating: &Operating,
    supplied: &Supplied,
    share: &PathShare,
    side: &'static str,
) -> Segment {
    let model = &study.model;
    let branch = &study.assembly.branches[share.branch];
    let wire = match branch.part {
        Part::Wire(at) => Some(at),
        _ => None,
    };
    let length = wire.and_then(|at| study.routing.electrical_length(model, at).ok());
    let row = wire.and_then(|at| conductor_row(model, at).ok());
    let none = || "none".to_owned();
    let size = row.map_or_else(none, |row| row.size.to_string());
    let length_words = length.map_or_else(none, |length| {
        format!("{} m", significant(length.value(), 4))
    });
    let zones = match wire {
        Some(at) => zones_of(study, at),
        None => part_zone(study, branch.part).into_iter().collect(),
    };
    let zones: Vec<_> = zones
        .into_iter()
        .map(|zone| model.zones[zone].title())
        .collect();
    let whole = supplied.drop().value();
    let part = if whole > 0.0 {
        share.lost.value() / whole
    } else {
        0.0
    };
    let others = others(operating, load, share.branch);
    let resistance = match (&branch.resistance, wire) {
        (Ok(ohms), Some(at)) => {
            let degc = wire_temperature(model, &study.routing, at).value();
            format!(
                "{} at {} °C",
                significant(ohms.value(), 3),
                significant(degc, 3)
            )
        }
        (Ok(ohms), None) => significant(ohms.value(), 3),
        (Err(why), _) => why.to_string(),
    };
    let what = branch.part.label(model);
    Segment {
        element: Element {
            what: what.clone(),
            detail: match wire {
                Some(_) => format!("{size}, {length_words}"),
                None => String::new(),
            },
            zone: zones.join(", "),
            area_mm2: row.map(|row| row.area.value.value()),
            share: part,
            others,
        },
        what,
        side,
        length: length_words,
        size,
        zones: match zones.is_empty() {
            true => "not stated".to_owned(),
            false => zones.join(", "),
        },
        resistance,
        current: significant(share.current.value(), 3),
        lost: significant(share.lost.value(), 3),
        share: format!("{:.0} %", 100.0 * part),
        share_bar: (100.0 * part).clamp(0.0, 100.0),
        others,
        metres: length.map_or(0.0, |length| length.value()),
        volts: share.lost.value(),
    }
}

fn zones_of(study: &Study, wire: Index<Wire>) -> Vec<Index<Zone>> {
    let Ok(path) = study.routing.path(wire) else {
        return Vec::new();
    };
    let mut zones = Vec::new();
    for zone in path
        .points(&study.model)
        .into_iter()
        .filter_map(|point| study.model.points[point].zone)
    {
        if !zones.contains(&zone) {
            zones.push(zone);
        }
    }
    zones
}

fn part_zone(study: &Study, part: Part) -> Option<Index<Zone>> {
    place_of(part)?.zone(&study.model)
}

fn wire_row(view: &View, at: Index<Wire>) -> WireRow {
    let study = &*view.study;
    let model = &study.model;
    let wire = &model.wires[at];
    let stated = |text: Option<String>| text.unwrap_or_else(|| "not stated".to_owned());
    let (cut, terms) = match study.routing.cut_length(at) {
        Ok(cut) => {
            let terms = cut.terms().into_iter();
            let terms = terms.map(|term| (term.what, format!("{:.1} mm", term.length.value())));
            (format!("{:.0} mm", cut.total.value()), terms.collect())
        }
        Err(why) => (why.to_string(), Vec::new()),
    };
    WireRow {
        id: wire.id.clone(),
        role: stated(wire.role.map(|role| role.to_string())),
        size: stated(wire.size.map(|size| size.to_string())),
        color: stated(wire.color.clone()),
        from: wire.from.label(model),
        to: wire.to.label(model),
        zones: zones_of(study, at)
            .into_iter()
            .map(|zone| Linked {
                text: model.zones[zone].title().to_owned(),
                href: view.addresses.to(&["zones", model.zones.id(zone)]),
            })
            .collect(),
        cut,
        terms,
    }
}
