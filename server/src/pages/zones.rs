//! Zones for the rigging lead, and one run.

use askama::Template;
use harness_core::conductor::bundle_diameter;
use harness_core::model::{Index, Reach, Run, Zone};
use harness_core::rules::Place;
use harness_core::sheets::Scope;
use harness_core::sheets::zone_sheet::{self, UnusedEnd, ZoneRows};
use harness_core::working::significant;

use super::Frame;
use super::drawing::{Lit, Plan, plan};
use super::findings::{FindingRow, Linked, circuit_link};
use crate::view::View;

/// One zone in the list.
#[derive(Clone, Debug)]
pub struct ZoneRow {
    zone: Linked,
    moulding: String,
    passing: usize,
    tails: usize,
    before: usize,
    closes: String,
    reached: String,
    failing: usize,
}

/// The list of zones.
#[derive(Debug, Template)]
#[template(path = "zones/list.html")]
pub struct ZonesPage {
    frame: Frame,
    rows: Vec<ZoneRow>,
    plan: Plan,
    most_href: String,
}

impl ZonesPage {
    /// Of the boat in view, or of every boat.
    pub fn new(view: &View) -> Self {
        let study = &*view.study;
        let model = &study.model;
        let all = zone_sheet::rows(study, &view.scope());
        let rows = model.zones.iter().zip(all);
        let rows = rows.map(|((at, zone), found)| ZoneRow {
            zone: Linked {
                text: zone.title().to_owned(),
                href: view.addresses.to(&["zones", &zone.id]),
            },
            moulding: zone.moulding.map_or_else(
                || "not stated".to_owned(),
                |at| {
                    let moulding = &model.mouldings[at];
                    moulding.name.clone().unwrap_or_else(|| moulding.id.clone())
                },
            ),
            passing: found.passes.iter().map(|pass| pass.wires.len()).sum(),
            tails: found.tails.len(),
            before: found.before.len(),
            closes: closes(zone),
            reached: reached(zone),
            failing: study
                .findings
                .iter()
                .filter(|finding| finding.fails() && finding.place.zone(model) == Some(at))
                .count(),
        });
        Self {
            frame: Frame::of("Zones", view, "zones"),
            rows: rows.collect(),
            plan: plan(study, &view.addresses, &Lit::default()),
            most_href: view.addresses.to(&["most"]),
        }
    }
}

fn closes(zone: &Zone) -> String {
    zone.closes_at
        .clone()
        .unwrap_or_else(|| "stays open".to_owned())
}

fn reached(zone: &Zone) -> String {
    match (&zone.reach, &zone.closes_at) {
        (Some(Reach::Through(hatch)), _) => hatch.clone(),
        (Some(Reach::Nowhere), _) => "nothing: not reachable afterwards".to_owned(),
        (None, Some(_)) => "not stated".to_owned(),
        (None, None) => "stays open".to_owned(),
    }
}

/// One zone.
#[derive(Debug, Template)]
#[template(path = "zones/zone.html")]
pub struct ZonePage {
    frame: Frame,
    covers: String,
    closes: String,
    reached: String,
    ambient: String,
    rows: ZoneRows,
    plan: Plan,
    /// Ends of this boat that serve nothing; `None` when every boat is in view.
    unused: Option<Vec<UnusedEnd>>,
    hulls: Vec<Linked>,
    all_boats: Option<String>,
    failing: Vec<FindingRow>,
    sheet_href: String,
    stamp: String,
}

impl ZonePage {
    /// Of the boat in view, or of every boat.
    pub fn new(view: &View, at: Index<Zone>) -> Self {
        let study = &*view.study;
        let model = &study.model;
        let zone = &model.zones[at];
        let scope = Scope {
            zone: Some(at),
            ..view.scope()
        };
        let here = |end: &UnusedEnd| {
            end.point
                .is_some_and(|point| model.points[point].zone == Some(at))
        };
        let rows = zone_sheet::rows(study, &scope).into_iter().next();
        let failing = study
            .findings
            .iter()
            .filter(|finding| finding.fails() && finding.place.zone(model) == Some(at));
        let to = &view.addresses;
        let hulls = model.hulls.iter().map(|(_, hull)| Linked {
            text: hull.id.clone(),
            href: to
                .of_boat(crate::studies::AskedBoat::Hull(hull.id.clone()))
                .to(&["zones", &zone.id]),
        });
        Self {
            frame: Frame::of(format!("Zone: {}", zone.title()), view, "zones")
                .under("Zones", to.to(&["zones"])),
            covers: match &scope.boat {
                Some((_, words)) => words.clone(),
                None => "all buildable boats: not every boat has every wire listed".to_owned(),
            },
            closes: closes(zone),
            reached: reached(zone),
            ambient: zone.ambient.map_or_else(
                || "not stated".to_owned(),
                |degc| format!("{} °C", significant(degc.value(), 3)),
            ),
            rows: rows.unwrap_or_else(|| ZoneRows {
                zone: zone.id.clone(),
                title: zone.title().to_owned(),
                passes: Vec::new(),
                tails: Vec::new(),
                before: Vec::new(),
            }),
            plan: plan(
                study,
                to,
                &Lit {
                    zone: Some(at),
                    ..Lit::default()
                },
            ),
            unused: scope.boat.is_some().then(|| {
                zone_sheet::unused_ends(study, &scope)
                    .into_iter()
                    .filter(here)
                    .collect()
            }),
            hulls: hulls.collect(),
            all_boats: scope.boat.is_some().then(|| {
                to.of_boat(crate::studies::AskedBoat::Every)
                    .to(&["zones", &zone.id])
            }),
            failing: FindingRow::all(view, failing),
            sheet_href: to.with(&["sheets", "zone-sheet"], &[("zone", &zone.id)]),
            stamp: view.head.stamp.clone(),
        }
    }
}

/// One wire in a run.
#[derive(Clone, Debug)]
pub struct RunWire {
    wire: String,
    circuit: Linked,
    size: String,
    color: String,
}

/// One run.
#[derive(Debug, Template)]
#[template(path = "zones/run.html")]
pub struct RunPage {
    frame: Frame,
    facts: Vec<(&'static str, String)>,
    zone: Linked,
    wires: Vec<RunWire>,
    findings: Vec<FindingRow>,
}

impl RunPage {
    /// Of the boat in view.
    pub fn new(view: &View, at: Index<Run>) -> Self {
        let study = &*view.study;
        let model = &study.model;
        let run = &model.runs[at];
        let to = &view.addresses;
        let not_stated = || "not stated".to_owned();
        let bundle = study.bundles.iter().find(|bundle| bundle.run == at);
        let diameter = bundle.map_or_else(not_stated, |bundle| match &bundle.diameters {
            Ok(each) if each.is_empty() => "no wires".to_owned(),
            Ok(each) => match bundle_diameter(each) {
                Ok(worked) => format!("{} mm", significant(worked.value.value(), 3)),
                Err(why) => why.to_string(),
            },
            Err(why) => why.to_string(),
        });
        let mm = |length: Option<harness_core::units::Millimetres>| {
            length.map_or_else(not_stated, |mm| {
                format!("{} mm", significant(mm.value(), 4))
            })
        };
        let length = match &study.routing.run_lengths[at.number()] {
            Ok(length) => format!("{} m", significant(length.value(), 4)),
            Err(why) => why.to_string(),
        };
        let point = |at| {
            let point: &harness_core::model::Point = &model.points[at];
            point.title().to_owned()
        };
        let hole = run.hole.as_ref().map_or_else(
            || "none".to_owned(),
            |hole| {
                let number = hole.number.as_deref().unwrap_or("without number");
                let edge = hole
                    .edge_protection
                    .map_or("not stated", |edge| edge.word());
                format!("{number}, {}, edge: {edge}", mm(hole.diameter))
            },
        );
        let wires = bundle.map_or_else(Vec::new, |bundle| {
            let wire = |wire: &Index<harness_core::model::Wire>| {
                let stated = &model.wires[*wire];
                RunWire {
                    wire: stated.id.clone(),
                    circuit: circuit_link(model, to, Place::Wire(*wire)),
                    size: stated.size.map_or_else(not_stated, |size| size.to_string()),
                    color: stated.color.clone().unwrap_or_else(not_stated),
                }
            };
            bundle.wires.iter().map(wire).collect()
        });
        let zone = study.routing.zone(at);
        Self {
            frame: Frame::of(format!("Run {}", run.id), view, "run")
                .under("Zones", to.to(&["zones"])),
            facts: vec![
                ("From", point(run.from)),
                ("To", point(run.to)),
                ("Length", length),
                ("Wires on the boat drawn", wires.len().to_string()),
                ("Bundle diameter", diameter),
                (
                    "Fixing",
                    run.fixing
                        .map_or_else(not_stated, |fixing| fixing.to_string()),
                ),
                ("Bore", mm(run.bore)),
                ("Supports every", mm(run.support_spacing)),
                ("Hole", hole),
            ],
            zone: zone.map_or_else(
                || Linked {
                    text: "between two zones".to_owned(),
                    href: String::new(),
                },
                |zone| Linked {
                    text: model.zones[zone].title().to_owned(),
                    href: to.to(&["zones", model.zones.id(zone)]),
                },
            ),
            wires,
            findings: FindingRow::all(
                view,
                study
                    .findings
                    .iter()
                    .filter(|finding| finding.place == Place::Run(at)),
            ),
        }
    }
}
