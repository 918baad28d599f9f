//! Whether a place on the plan can be that of a point, and a line that of a run.

use harness_core::model::{BoatModel, Identified, Index, Zone};
use harness_core::units::Millimetres;
use serde_json::{Map, Value};

use crate::pages::{FieldFault, holds, zones_at};

fn fault(field: &str, text: impl Into<String>) -> FieldFault {
    FieldFault {
        field: field.to_owned(),
        text: text.into(),
    }
}

fn title(model: &BoatModel, zone: Index<Zone>) -> &str {
    model.zones[zone].title()
}

/// Titles of zones with their mouldings.
fn titles(model: &BoatModel, zones: &[Index<Zone>]) -> String {
    let each = zones.iter().map(|zone| {
        let moulding = model.zones[*zone].moulding.map(|at| &model.mouldings[at]);
        let moulding = moulding.map(|one| one.name.as_deref().unwrap_or(&one.id));
        match moulding {
            Some(moulding) => format!("{} ({moulding})", title(model, *zone)),
            None => title(model, *zone).to_owned(),
        }
    });
    each.collect::<Vec<_>>().join(" and ")
}

/// What is wrong with the place that a point states, of a point that has it already `own`. Where
/// no zone is stated, it becomes the only one whose outline holds the place.
pub(super) fn faults(
    model: &BoatModel,
    own: Option<&str>,
    point: &mut Map<String, Value>,
) -> Vec<FieldFault> {
    let number = |name: &str| point.get(name).and_then(Value::as_f64);
    let (Some(x), Some(y)) = (number("x_mm"), number("y_mm")) else {
        let field = if number("x_mm").is_none() {
            "x_mm"
        } else {
            "y_mm"
        };
        return vec![fault(
            field,
            "A point on the plan needs both coordinates: point at its place, or type them.",
        )];
    };
    let z = number("z_mm");
    let around = zones_at(model, Millimetres::new(x), Millimetres::new(y));
    let stated = point.get("zone").and_then(Value::as_str).map(str::to_owned);
    let zone = match (stated, around.as_slice()) {
        (Some(id), _) => match model.zones.find(&id) {
            Some(zone) => zone,
            None => {
                let text = format!("There is no zone {id}: choose one of the list.");
                return vec![fault("zone", text)];
            }
        },
        (None, [zone]) => *zone,
        (None, []) => {
            return vec![fault(
                "x_mm",
                "This place lies in no zone: take one inside an outline, or choose the zone.",
            )];
        }
        (None, several) => {
            let text = format!(
                "This place lies in {}, one above the other: choose the zone.",
                titles(model, several)
            );
            return vec![fault("zone", text)];
        }
    };
    let outlined = &model.zones[zone];
    if !outlined.outline.is_empty() && !holds(outlined, x, y) {
        let instead = match around.as_slice() {
            [] => "in no other either".to_owned(),
            several => format!("in {}", titles(model, several)),
        };
        let text = format!(
            "This place lies outside of zone {}, {instead}: choose another place or zone.",
            outlined.title()
        );
        return vec![fault("x_mm", text)];
    }
    let same = model.points.iter().find(|(_, other)| {
        let at = |coordinate: Option<Millimetres>| coordinate.map(Millimetres::value);
        let moulding = other.zone.map(|zone| model.zones[zone].moulding);
        Some(other.id()) != own
            && (at(other.x), at(other.y), at(other.z)) == (Some(x), Some(y), z)
            && moulding == Some(outlined.moulding)
    });
    if let Some((_, other)) = same {
        let text = format!(
            "Point {} is at this place already: take that one, or another place or height.",
            other.id()
        );
        return vec![fault("x_mm", text)];
    }
    point.insert("zone".to_owned(), model.zones.id(zone).into());
    Vec::new()
}

/// What is wrong with a run between two points.
pub(super) fn run_faults(model: &BoatModel, ends: [&str; 2]) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    for (field, end) in [("from", ends[0]), ("to", ends[1])] {
        let text = match (end.is_empty(), model.points.find(end)) {
            (true, _) => "Choose the point at this end of the run.".to_owned(),
            (_, None) => format!("There is no point {end}: choose one of the list."),
            _ => continue,
        };
        faults.push(fault(field, text));
    }
    let [Some(from), Some(to)] = ends.map(|end| model.points.find(end)) else {
        return faults;
    };
    if from == to {
        let text = format!(
            "A run from {} to itself leads nowhere: choose another end.",
            ends[0]
        );
        faults.push(fault("to", text));
    }
    let same = model
        .runs
        .iter()
        .find(|(_, run)| (run.from, run.to) == (from, to) || (run.from, run.to) == (to, from));
    if let Some((_, run)) = same {
        let text = format!(
            "Run {} leads between these points already: change that one, or choose others.",
            run.id()
        );
        faults.push(fault("to", text));
    }
    let unplaced = [from, to].into_iter().find(|at| {
        let point = &model.points[*at];
        point.x.is_none() || point.y.is_none()
    });
    if let Some(at) = unplaced.filter(|_| faults.is_empty()) {
        let text = format!(
            "Point {} states no place, so the run would have no length: place it first.",
            model.points[at].id()
        );
        faults.push(fault(if at == from { "from" } else { "to" }, text));
    }
    faults
}

/// A short name for a point in a zone: the zone with the first free number.
pub(super) fn free_point(model: &BoatModel, zone: &str) -> String {
    let names = (1..).map(|number| format!("{zone}-{number}"));
    first_free(names, |name| model.points.find(name).is_some())
}

/// A short name for a run: both its points, with a number where that is taken.
pub(super) fn free_run(model: &BoatModel, from: &str, to: &str) -> String {
    let plain = format!("{from}--{to}");
    let numbered = (2..).map(|number| format!("{plain}-{number}"));
    let names = std::iter::once(plain.clone()).chain(numbered);
    first_free(names, |name| model.runs.find(name).is_some())
}

fn first_free(mut names: impl Iterator<Item = String>, is_taken: impl Fn(&str) -> bool) -> String {
    names.find(|name| !is_taken(name)).unwrap_or_default()
}
