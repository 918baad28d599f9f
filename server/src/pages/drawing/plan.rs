//! The plan: mouldings side by side at one scale, zones with their names, runs thick by wires.

use std::collections::{BTreeMap, BTreeSet};

use harness_core::model::{BoatModel, Index, Moulding, Point, Run, Zone};
use harness_core::rules::Place;
use harness_core::study::Study;

use super::svg::{Svg, number};
use crate::view::Addresses;

/// Space around and between mouldings, in mm on the boat.
const GAP: f64 = 350.0;
/// Height of a heading above a moulding, in mm on the boat.
const HEADING: f64 = 320.0;
/// How far from its aft end a zone is looked at for the place of its name, in mm on the boat.
const NAME_DEPTH: f64 = 100.0;
/// Millimetres of the boat for one unit of the drawing.
const SCALE: f64 = 12.0;

/// Width of a letter of a zone's name, in units of the drawing.
const LETTER: f64 = 5.6;

/// What is brought out on a plan.
#[derive(Clone, Debug, Default)]
pub struct Lit {
    /// One zone: only its moulding is drawn, and its holes are named.
    pub zone: Option<Index<Zone>>,
    /// Runs of a circuit.
    pub runs: BTreeSet<Index<Run>>,
}

/// A plan, and what could not be put on it.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The drawing; empty when no zone states an outline.
    pub svg: String,
    /// What is missing, one sentence each.
    pub not_drawn: Vec<String>,
}

/// A moulding on the sheet: offset from boat to drawing.
pub(super) struct Panel {
    pub(super) moulding: Option<Index<Moulding>>,
    pub(super) low: (f64, f64),
    size: (f64, f64),
    at: (f64, f64),
}

impl Panel {
    pub(super) fn place(&self, x: f64, y: f64) -> (f64, f64) {
        (
            (x - self.low.0 + self.at.0) / SCALE,
            (y - self.low.1 + self.at.1) / SCALE,
        )
    }

    /// The other way: what of the boat lies at a place of the drawing.
    pub(super) fn boat(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (
            x * SCALE + self.low.0 - self.at.0,
            y * SCALE + self.low.1 - self.at.1,
        )
    }

    /// How far a place of the drawing lies outside, in mm on the boat.
    pub(super) fn apart(&self, at: (f64, f64)) -> f64 {
        let (x, y) = self.boat(at);
        let outside =
            |value: f64, low: f64, size: f64| (low - value).max(value - low - size).max(0.0);
        outside(x, self.low.0, self.size.0).max(outside(y, self.low.1, self.size.1))
    }

    pub(super) fn title<'m>(&self, model: &'m BoatModel) -> &'m str {
        self.moulding.map_or("Of no moulding", |at| {
            let moulding = &model.mouldings[at];
            moulding.name.as_deref().unwrap_or(&moulding.id)
        })
    }
}

/// Draws the plan of the boat in view: bow to the right, port side up.
pub fn plan(study: &Study, addresses: &Addresses, lit: &Lit) -> Plan {
    let model = &study.model;
    let only = lit.zone.map(|zone| model.zones[zone].moulding);
    let panels = panels(model, only);
    let mut not_drawn = Vec::new();
    let bare = model
        .zones
        .iter()
        .filter(|(_, zone)| zone.outline.is_empty());
    match bare.count() {
        0 => {}
        count => not_drawn.push(format!("{count} zones state no outline")),
    }
    let unplaced = model.runs.iter().filter(|(_, run)| {
        [run.from, run.to]
            .into_iter()
            .any(|point| placed(model, point).is_none())
    });
    match unplaced.count() {
        0 => {}
        count => not_drawn.push(format!("{count} runs lead to points without coordinates")),
    }
    if panels.is_empty() {
        return Plan {
            svg: String::new(),
            not_drawn,
        };
    }
    let size = sheet_size(&panels);
    let mut svg = Svg::new(
        "plan",
        size,
        &format!("Plan of {}", model.name),
        "Seen from above, bow to the right, port side up; mouldings side by side at one scale. \
         Runs are thicker the more wires they hold; a run where a limit fails is dashed and \
         marked with a triangle.",
    );
    for panel in &panels {
        draw_zones(&mut svg, model, panel, addresses, lit);
        draw_runs(&mut svg, study, panel, addresses, lit);
        draw_names(&mut svg, model, panel, lit);
    }
    scale_bar(&mut svg, size);
    Plan {
        svg: svg.done(),
        not_drawn,
    }
}

/// Width and height of the drawing.
pub(super) fn sheet_size(panels: &[Panel]) -> (f64, f64) {
    let width = panels.iter().map(|panel| panel.at.0 + panel.size.0);
    let height = panels.iter().map(|panel| panel.at.1 + panel.size.1);
    (
        (width.fold(0.0, f64::max) + GAP) / SCALE,
        (height.fold(0.0, f64::max) + 2.0 * GAP) / SCALE,
    )
}

pub(super) fn outline(zone: &Zone) -> impl Iterator<Item = (f64, f64)> + '_ {
    zone.outline.iter().map(|(x, y)| (x.value(), y.value()))
}

pub(super) fn placed(model: &BoatModel, point: Index<Point>) -> Option<(f64, f64)> {
    let point = &model.points[point];
    Some((point.x?.value(), point.y?.value()))
}

/// Widest first, each in the first row that still has room.
pub(super) fn panels(model: &BoatModel, only: Option<Option<Index<Moulding>>>) -> Vec<Panel> {
    let mut extents: BTreeMap<Option<usize>, [f64; 4]> = BTreeMap::new();
    for (_, zone) in model.zones.iter() {
        if only.is_some_and(|moulding| moulding != zone.moulding) {
            continue;
        }
        for (x, y) in outline(zone) {
            let extent = extents
                .entry(zone.moulding.map(Index::number))
                .or_insert([x, y, x, y]);
            *extent = [
                extent[0].min(x),
                extent[1].min(y),
                extent[2].max(x),
                extent[3].max(y),
            ];
        }
    }
    let mut panels: Vec<Panel> = extents
        .into_iter()
        .map(|(moulding, [left, top, right, bottom])| Panel {
            moulding: moulding.map(Index::new),
            low: (left, top),
            size: (right - left, bottom - top),
            at: (0.0, 0.0),
        })
        .collect();
    panels.sort_by(|a, b| b.size.0.total_cmp(&a.size.0));
    let widest = panels.first().map_or(0.0, |panel| panel.size.0);
    // Rows of panels: (used width, height).
    let mut rows: Vec<(f64, f64)> = Vec::new();
    let mut row_of = Vec::new();
    for panel in &mut panels {
        let room = |(used, _): &(f64, f64)| used + GAP + panel.size.0 <= 1.5 * widest;
        let row = rows.iter().position(room).unwrap_or(rows.len());
        if row == rows.len() {
            rows.push((0.0, 0.0));
        }
        panel.at.0 = rows[row].0 + GAP;
        rows[row] = (panel.at.0 + panel.size.0, rows[row].1.max(panel.size.1));
        row_of.push(row);
    }
    for (panel, row) in panels.iter_mut().zip(row_of) {
        let above: f64 = rows[..row]
            .iter()
            .map(|(_, height)| height + HEADING + GAP)
            .sum();
        panel.at.1 = above + HEADING + GAP / 2.0;
    }
    panels
}

pub(super) fn zones_of<'m>(
    model: &'m BoatModel,
    panel: &'m Panel,
) -> impl Iterator<Item = (Index<Zone>, &'m Zone)> {
    model
        .zones
        .iter()
        .filter(|(_, zone)| zone.moulding == panel.moulding && !zone.outline.is_empty())
}

fn draw_zones(svg: &mut Svg, model: &BoatModel, panel: &Panel, to: &Addresses, lit: &Lit) {
    let name = panel.title(model);
    let (x, y) = panel.place(panel.low.0, panel.low.1);
    svg.words("moulding", (x, y - 8.0), name);
    for (at, zone) in zones_of(model, panel) {
        let points: Vec<_> = outline(zone)
            .map(|(x, y)| panel.place(x, y))
            .map(|(x, y)| format!("{},{}", number(x), number(y)))
            .collect();
        let class = if lit.zone == Some(at) {
            "zone lit"
        } else {
            "zone"
        };
        let label = format!("Zone {}", zone.title());
        svg.open(
            "a",
            &[
                ("href", &to.to(&["zones", &zone.id])),
                ("aria-label", &label),
            ],
        );
        svg.leaf(
            "polygon",
            &[("class", class), ("points", &points.join(" "))],
        );
        svg.close("a");
    }
}

pub(super) fn draw_names(svg: &mut Svg, model: &BoatModel, panel: &Panel, lit: &Lit) {
    for (at, zone) in zones_of(model, panel) {
        let (aft, forward) = outline(zone).fold((f64::MAX, f64::MIN), |(aft, forward), (x, _)| {
            (aft.min(x), forward.max(x))
        });
        // At the aft end of the zone itself: the corner of its extent may lie in another zone.
        let port = outline(zone)
            .filter(|(x, _)| *x < aft + NAME_DEPTH)
            .fold(f64::MAX, |port, (_, y)| port.min(y));
        let class = if lit.zone == Some(at) {
            "name lit"
        } else {
            "name"
        };
        let (x, y) = panel.place(aft, port);
        // Names stand in the corner of their zone: on one line where it is wide enough for them,
        // else one word a line.
        let title = zone.title();
        let fits = title.chars().count() as f64 * LETTER < (forward - aft) / SCALE;
        let lines = if fits {
            vec![title]
        } else {
            title.split_whitespace().collect()
        };
        for (line, words) in lines.into_iter().enumerate() {
            svg.words(class, (x + 4.0, y + 12.0 + 11.0 * line as f64), words);
        }
    }
}

fn draw_runs(svg: &mut Svg, study: &Study, panel: &Panel, to: &Addresses, lit: &Lit) {
    let model = &study.model;
    let failing: BTreeSet<Index<Run>> = study
        .findings
        .iter()
        .filter(|finding| finding.fails())
        .filter_map(|finding| match finding.place {
            Place::Run(run) => Some(run),
            _ => None,
        })
        .collect();
    let moulding = |point: Index<Point>| {
        model.points[point]
            .zone
            .and_then(|zone| model.zones[zone].moulding)
    };
    for bundle in &study.bundles {
        let run = &model.runs[bundle.run];
        if ![run.from, run.to]
            .iter()
            .any(|point| moulding(*point) == panel.moulding)
        {
            continue;
        }
        let (Some(from), Some(end)) = (placed(model, run.from), placed(model, run.to)) else {
            continue;
        };
        let (from, end) = (panel.place(from.0, from.1), panel.place(end.0, end.1));
        let middle = ((from.0 + end.0) / 2.0, (from.1 + end.1) / 2.0);
        let wires = bundle.wires.len();
        let fails = failing.contains(&bundle.run);
        let is_lit = lit.runs.contains(&bundle.run);
        let class = match (fails, is_lit, wires) {
            (true, true, _) => "run fails lit",
            (true, false, _) => "run fails",
            (false, true, _) => "run lit",
            (false, false, 0) => "run none",
            (false, false, _) => "run",
        };
        let verdict = if fails { ", a limit fails here" } else { "" };
        let label = format!("Run {}: {wires} wires{verdict}", run.id);
        svg.open(
            "a",
            &[("href", &to.to(&["runs", &run.id])), ("aria-label", &label)],
        );
        svg.element("title", &[], &label);
        let width = match wires {
            0 => 0.8,
            // The area of the line grows with the wires, as that of the bundle does.
            wires => 0.8 + 1.3 * (wires as f64).sqrt(),
        };
        svg.line("grip", from, end, 14.0);
        svg.line(class, from, end, width);
        if fails {
            svg.triangle("mark", middle, 6.0);
        }
        svg.close("a");
        let hole = run.hole.as_ref().and_then(|hole| hole.number.as_ref());
        if let (Some(zone), Some(hole)) = (lit.zone, hole) {
            let ends = [run.from, run.to].map(|point| model.points[point].zone);
            if ends.contains(&Some(zone)) {
                let radius = number(5.0 + 3.0 * hole.chars().count() as f64);
                svg.leaf(
                    "circle",
                    &[
                        ("class", "hole"),
                        ("cx", &number(middle.0)),
                        ("cy", &number(middle.1)),
                        ("r", &radius),
                    ],
                );
                svg.words("hole-number", (middle.0, middle.1 + 4.0), hole);
            }
        }
    }
}

fn scale_bar(svg: &mut Svg, size: (f64, f64)) {
    let (left, y, metre) = (GAP / SCALE, size.1 - 10.0, 1000.0 / SCALE);
    svg.line("scale", (left, y), (left + metre, y), 2.0);
    for end in [left, left + metre] {
        svg.line("scale", (end, y - 4.0), (end, y + 4.0), 2.0);
    }
    svg.words("scale-words", (left + metre + 8.0, y + 4.0), "1 m");
}
