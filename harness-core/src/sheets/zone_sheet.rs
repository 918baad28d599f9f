//! Zone sheet for the rigging lead: what passes through, what ends here, what to do before the
//! zone is closed.

use super::ends::{WhichEnd, stated, treatment};
use super::scope::Scope;
use super::table::{Cell, Column, Sheet, Table};
use crate::conductor::bundle_diameter;
use crate::model::{
    BoatModel, Connector, EndTreatment, Identified, Index, Pin, Point, Reach, Run, Wire, Zone,
};
use crate::routing::Path;
use crate::study::Study;
use crate::tables::conductors;
use crate::units::Metres;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Wires that pass a zone from one crossing to another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassRow {
    /// Hole or run by which they enter.
    pub enters_by: String,
    /// Hole or run by which they leave.
    pub leaves_by: String,
    /// Circuits.
    pub circuits: Vec<String>,
    /// Wires.
    pub wires: Vec<String>,
    /// Diameter of the bundle; `None` where a size is missing.
    pub bundle_mm: Option<f64>,
}

/// A wire end in a zone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TailRow {
    /// Wire.
    pub wire: String,
    /// Circuit, number and name.
    pub circuit: String,
    /// Hole or run by which it comes; *starts here* where both ends are in the zone.
    pub comes_by: String,
    /// Length past that hole.
    pub past_hole_m: f64,
    /// Pin it ends on.
    pub ends_on: String,
    /// What that pin belongs to.
    pub equipment: String,
    /// Text on its label.
    pub label: String,
    /// What to do with it on a boat where it serves nothing.
    pub unused: Option<String>,
}

/// Something that has to be done before the zone is closed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoBeforeRow {
    /// The coupler, connector, splice or cap.
    pub what: String,
    /// What to do.
    pub work: String,
    /// Station that closes the zone.
    pub before: String,
    /// How it is reached afterwards.
    pub reached_by: String,
}

/// Everything about one zone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ZoneRows {
    /// The zone.
    pub zone: String,
    /// Its full name.
    pub title: String,
    /// Passing wires, by entry and exit.
    pub passes: Vec<PassRow>,
    /// Wire ends here.
    pub tails: Vec<TailRow>,
    /// What to do before closing.
    pub before: Vec<DoBeforeRow>,
}

/// An end that serves nothing, and what is done with it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UnusedEnd {
    /// The connector, or the wire end.
    pub at: String,
    /// Its wires.
    pub wires: Vec<String>,
    /// The treatment.
    pub treatment: String,
    /// Part used.
    pub part: Option<String>,
    /// Point it is tied to.
    pub tie_point: Option<String>,
    /// Point it hangs at.
    #[serde(skip)]
    pub point: Option<Index<Point>>,
}

/// One stretch of a wire within a zone.
struct Stretch {
    zone: Option<Index<Zone>>,
    enters_by: Option<Index<Run>>,
    leaves_by: Option<Index<Run>>,
    length: Metres,
}

/// The stretches of a path, zone after zone.
fn stretches(study: &Study, path: &Path) -> Vec<Stretch> {
    let model = &study.model;
    let points = path.points(model);
    let zone = |point: Index<Point>| model.points[point].zone;
    let mut stretches = vec![Stretch {
        zone: zone(points[0]),
        enters_by: None,
        leaves_by: None,
        length: Metres::ZERO,
    }];
    for (leg, pair) in path.legs.iter().zip(points.windows(2)) {
        let length = study.routing.run_lengths[leg.run.number()]
            .clone()
            .unwrap_or(Metres::ZERO);
        let last = stretches.len() - 1;
        if zone(pair[0]) == zone(pair[1]) {
            stretches[last].length += length;
        } else {
            // The run counts to the zone it enters: past the hole.
            stretches[last].leaves_by = Some(leg.run);
            stretches.push(Stretch {
                zone: zone(pair[1]),
                enters_by: Some(leg.run),
                leaves_by: None,
                length,
            });
        }
    }
    stretches
}

/// A crossing as painted beside it: hole number, or the run where no hole is stated.
pub fn crossing(model: &BoatModel, run: Index<Run>) -> String {
    let stated = &model.runs[run];
    match stated.hole.as_ref().and_then(|hole| hole.number.as_ref()) {
        Some(number) => format!("hole {number}"),
        None => format!("run {}", stated.id()),
    }
}

/// The rows of every zone in scope, in stated order.
pub fn rows(study: &Study, scope: &Scope) -> Vec<ZoneRows> {
    let model = &study.model;
    let mut passing: BTreeMap<(usize, String, String), Vec<Index<Wire>>> = BTreeMap::new();
    let mut tails: BTreeMap<usize, Vec<TailRow>> = BTreeMap::new();
    for (at, wire) in scope.wires(model) {
        let Ok(path) = study.routing.path(at) else {
            continue;
        };
        let stretches = stretches(study, path);
        let last = stretches.len() - 1;
        for (number, stretch) in stretches.iter().enumerate() {
            let Some(zone) = stretch.zone else { continue };
            let by = |run: Option<Index<Run>>| run.map(|run| crossing(model, run));
            if number == 0 || number == last {
                let here = tails.entry(zone.number()).or_default();
                if number == 0 {
                    here.push(tail(
                        study,
                        scope,
                        wire,
                        WhichEnd::From,
                        stretch,
                        stretch.leaves_by,
                    ));
                }
                if number == last {
                    here.push(tail(
                        study,
                        scope,
                        wire,
                        WhichEnd::To,
                        stretch,
                        stretch.enters_by,
                    ));
                }
            } else if let (Some(enters), Some(leaves)) =
                (by(stretch.enters_by), by(stretch.leaves_by))
            {
                let (first, second) = if enters <= leaves {
                    (enters, leaves)
                } else {
                    (leaves, enters)
                };
                passing
                    .entry((zone.number(), first, second))
                    .or_default()
                    .push(at);
            }
        }
    }
    model
        .zones
        .iter()
        .filter(|(at, _)| scope.zone.is_none_or(|zone| zone == *at))
        .map(|(at, zone)| {
            let passes = passing
                .iter()
                .filter(|((number, ..), _)| *number == at.number())
                .map(|((_, enters, leaves), wires)| pass(study, enters, leaves, wires))
                .collect();
            ZoneRows {
                zone: zone.id.clone(),
                title: zone.title().to_owned(),
                passes,
                tails: tails.remove(&at.number()).unwrap_or_default(),
                before: before(study, scope, at, zone),
            }
        })
        .collect()
}

fn pass(study: &Study, enters: &str, leaves: &str, wires: &[Index<Wire>]) -> PassRow {
    let model = &study.model;
    let circuits: BTreeSet<_> = wires
        .iter()
        .filter_map(|wire| {
            Some(circuit_words(model, &model.wires[*wire])).filter(|w| !w.is_empty())
        })
        .collect();
    let diameters: Option<Vec<_>> = wires
        .iter()
        .map(|wire| Some(conductors::row(model.wires[*wire].size?)?.diameter.value))
        .collect();
    let bundle = diameters.and_then(|diameters| bundle_diameter(&diameters).ok());
    PassRow {
        enters_by: enters.to_owned(),
        leaves_by: leaves.to_owned(),
        circuits: circuits.into_iter().collect(),
        wires: wires
            .iter()
            .map(|wire| model.wires.id(*wire).to_owned())
            .collect(),
        bundle_mm: bundle.map(|worked| (worked.value.value() * 10.0).round() / 10.0),
    }
}

fn circuit_words(model: &BoatModel, wire: &Wire) -> String {
    wire.circuit.map_or_else(String::new, |at| {
        let circuit = &model.circuits[at];
        match &circuit.name {
            Some(name) => format!("{} {name}", circuit.id),
            None => circuit.id.clone(),
        }
    })
}

fn tail(
    study: &Study,
    scope: &Scope,
    wire: &Wire,
    which: WhichEnd,
    stretch: &Stretch,
    comes_by: Option<Index<Run>>,
) -> TailRow {
    let model = &study.model;
    let (pin, _) = stated(wire, which);
    let other = stated(
        wire,
        match which {
            WhichEnd::From => WhichEnd::To,
            WhichEnd::To => WhichEnd::From,
        },
    );
    let circuit = circuit_words(model, wire);
    let unused = (scope.boat.is_some() && !serves(model, scope, pin))
        .then(|| treatment_words(model, treatment(model, wire, which).as_ref()));
    TailRow {
        wire: wire.id.clone(),
        comes_by: comes_by.map_or_else(|| "both ends here".to_owned(), |run| crossing(model, run)),
        past_hole_m: (stretch.length.value() * 1000.0).round() / 1000.0,
        ends_on: pin.label(model),
        equipment: pin.equipment().title(model).to_owned(),
        label: format!(
            "{} {} -> {}",
            wire.id,
            circuit.to_uppercase(),
            other.0.label(model)
        ),
        circuit,
        unused,
    }
}

/// Whether what a pin meets is there: the equipment itself, what its connector plugs into, the
/// other half of its coupler.
fn serves(model: &BoatModel, scope: &Scope, pin: Pin) -> bool {
    if !scope.has(pin.equipment().fitted_when(model)) {
        return false;
    }
    let Pin::Cavity(at, _) = pin else { return true };
    let connector = &model.connectors[at];
    if let Some(plugged) = &connector.plugs_into {
        return scope.has(plugged.equipment.fitted_when(model));
    }
    let other = model.couplers.iter().find_map(|(_, coupler)| match at {
        at if at == coupler.first => Some(coupler.second),
        at if at == coupler.second => Some(coupler.first),
        _ => None,
    });
    other.is_none_or(|other| scope.has(&model.connectors[other].fitted_when))
}

fn treatment_words(model: &BoatModel, treatment: Option<&EndTreatment>) -> String {
    let Some(treatment) = treatment else {
        return "NOT USED on this boat, and no end treatment is stated".to_owned();
    };
    let part = treatment
        .part
        .as_ref()
        .map_or(String::new(), |part| format!(" with {part}"));
    let tie = treatment.tie_point.map_or(String::new(), |point| {
        format!(", tie at {}", model.points[point].title())
    });
    format!("{}{part}{tie}", treatment.kind)
}

/// Ends that serve nothing: on one boat those that do so there; over all boats every end for
/// which a treatment is stated.
pub fn unused_ends(study: &Study, scope: &Scope) -> Vec<UnusedEnd> {
    let model = &study.model;
    let mut connectors: BTreeMap<Index<Connector>, Vec<String>> = BTreeMap::new();
    let mut ends = Vec::new();
    for (_, wire) in scope.wires(model) {
        for which in [WhichEnd::From, WhichEnd::To] {
            let (pin, _) = stated(wire, which);
            let counted = match scope.boat {
                Some(_) => !serves(model, scope, pin),
                None => treatment(model, wire, which).is_some(),
            };
            if !counted {
                continue;
            }
            match pin {
                Pin::Cavity(at, _) => connectors.entry(at).or_default().push(wire.id.clone()),
                pin => {
                    let end = pin.label(model);
                    let point = pin.equipment().point(model);
                    let treated = treatment(model, wire, which);
                    ends.push(unused(model, end, vec![wire.id.clone()], treated, point));
                }
            }
        }
    }
    let of_connectors = connectors.into_iter().map(|(at, wires)| {
        let connector = &model.connectors[at];
        let treated = connector.when_unused.clone();
        unused(model, connector.id.clone(), wires, treated, connector.point)
    });
    of_connectors.chain(ends).collect()
}

fn unused(
    model: &BoatModel,
    at: String,
    wires: Vec<String>,
    treated: Option<EndTreatment>,
    point: Option<Index<Point>>,
) -> UnusedEnd {
    UnusedEnd {
        at,
        wires,
        treatment: treated.as_ref().map_or_else(
            || "no end treatment stated".to_owned(),
            |t| t.kind.word().to_owned(),
        ),
        tie_point: treated
            .as_ref()
            .and_then(|t| t.tie_point)
            .map(|point| model.points[point].title().to_owned()),
        part: treated.and_then(|t| t.part),
        point,
    }
}

fn reach_words(reach: Option<&Reach>) -> String {
    match reach {
        Some(Reach::Through(hatch)) => hatch.clone(),
        Some(Reach::Nowhere) => "NOTHING: not reachable afterwards".to_owned(),
        None => "not stated".to_owned(),
    }
}

fn before(study: &Study, scope: &Scope, at: Index<Zone>, zone: &Zone) -> Vec<DoBeforeRow> {
    let model = &study.model;
    let Some(closes) = &zone.closes_at else {
        return Vec::new();
    };
    let here = |point: Option<Index<Point>>| {
        point.is_some_and(|point| model.points[point].zone == Some(at))
    };
    let row = |what: String, work: &str, reach: Option<&Reach>| DoBeforeRow {
        what,
        work: work.to_owned(),
        before: closes.clone(),
        reached_by: reach_words(reach),
    };
    let mut rows = Vec::new();
    for (_, coupler) in model.couplers.iter() {
        let halves = [coupler.first, coupler.second].map(|half| &model.connectors[half]);
        let fitted = halves.iter().all(|half| scope.has(&half.fitted_when));
        if fitted && halves.iter().any(|half| here(half.point)) {
            let what = format!(
                "coupler {} ({} - {})",
                coupler.id, halves[0].id, halves[1].id
            );
            rows.push(row(
                what,
                "mate, check both locks",
                coupler.reach.as_ref().or(zone.reach.as_ref()),
            ));
        }
    }
    for (_, splice) in model
        .splices
        .iter()
        .filter(|(_, splice)| scope.has(&splice.fitted_when))
    {
        if here(splice.point) {
            rows.push(row(
                format!("splice {}", splice.id),
                "check seal",
                zone.reach.as_ref(),
            ));
        }
    }
    for end in unused_ends(study, scope)
        .into_iter()
        .filter(|end| here(end.point))
    {
        let part = end
            .part
            .map_or(String::new(), |part| format!(" with {part}"));
        let tie = end
            .tie_point
            .map_or(String::new(), |point| format!(", tie at {point}"));
        let work = match scope.boat {
            Some(_) => format!("{}{part}{tie}", end.treatment),
            None => format!("where not used: {}{part}{tie}", end.treatment),
        };
        rows.push(row(format!("end {}", end.at), &work, zone.reach.as_ref()));
    }
    rows
}

/// The sheet: three tables a zone.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let tables = rows(study, scope).into_iter().flat_map(tables_of).collect();
    Sheet {
        id: "zone-sheet",
        title: match scope.zone {
            Some(zone) => format!("Zone sheet: {}", study.model.zones[zone].title()),
            None => "Zone sheet".to_owned(),
        },
        covers: scope.words(&study.model),
        conventions: vec![
            "Holes are named by the number painted beside them.".to_owned(),
            "Length past the hole runs along the path to the equipment; slack and ends come on top."
                .to_owned(),
        ],
        tables,
    }
}

fn tables_of(zone: ZoneRows) -> [Table; 3] {
    let passes = Table {
        caption: format!("{}: passes through", zone.title),
        columns: vec![
            Column::words("enters_by", "Between"),
            Column::words("leaves_by", "And"),
            Column::words("circuits", "Circuits"),
            Column::words("wires", "Wires"),
            Column::numbers("bundle_mm", "Bundle, mm"),
        ],
        rows: zone
            .passes
            .into_iter()
            .map(|row| {
                vec![
                    row.enters_by.into(),
                    row.leaves_by.into(),
                    Cell::list(row.circuits),
                    Cell::list(row.wires),
                    Cell::number(row.bundle_mm),
                ]
            })
            .collect(),
    };
    let tails = Table {
        caption: format!("{}: ends here", zone.title),
        columns: vec![
            Column::words("wire", "Wire"),
            Column::words("circuit", "Circuit"),
            Column::words("comes_by", "Comes by"),
            Column::numbers("past_hole_m", "Past the hole, m"),
            Column::words("ends_on", "Ends on"),
            Column::words("equipment", "Equipment"),
            Column::words("label", "Label"),
            Column::words("unused", "If it serves nothing"),
        ],
        rows: zone
            .tails
            .into_iter()
            .map(|row| {
                vec![
                    row.wire.into(),
                    Cell::stated(Some(row.circuit).filter(|circuit| !circuit.is_empty())),
                    row.comes_by.into(),
                    Cell::Number(row.past_hole_m),
                    row.ends_on.into(),
                    row.equipment.into(),
                    row.label.into(),
                    Cell::or_none(row.unused),
                ]
            })
            .collect(),
    };
    let before = Table {
        caption: format!("{}: do before it is closed", zone.title),
        columns: vec![
            Column::words("what", "What"),
            Column::words("work", "Work"),
            Column::words("before", "Before"),
            Column::words("reached_by", "Reached afterwards by"),
            Column::words("done", "Done by"),
        ],
        rows: zone
            .before
            .into_iter()
            .map(|row| {
                vec![
                    row.what.into(),
                    row.work.into(),
                    row.before.into(),
                    row.reached_by.into(),
                    Cell::Word(super::table::Word::ToFillIn),
                ]
            })
            .collect(),
    };
    [passes, tails, before]
}
