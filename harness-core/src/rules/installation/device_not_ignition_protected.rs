//! Equipment that can light fuel vapor, in a zone where it may gather.

use crate::model::{BoatModel, Identified, Index, Point, RuleSet};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::working::{NotEvaluated, Status};

/// The rule.
pub const DEVICE_NOT_IGNITION_PROTECTED: Rule = Rule {
    code: "device_not_ignition_protected",
    title: "Not ignition protected",
    subject: Subject::Installation,
    depends: Depends::Itself,
    fault: "A device, bus or load that is not ignition protected sits in a zone where fuel vapor \
            may gather.",
    why: "A switch, fuse or motor brush sparks in normal use; in gasoline vapor one spark is an \
          explosion.",
    what_to_do: "Take a part marked as ignition protected, or move it to a zone that is kept free \
                 of vapor by a bulkhead, a deck or open air.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.410",
            place: "(a)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "On boats with a gasoline engine other than an outboard, electrical components \
                   not isolated from the fuel must not ignite vapor around them.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.5.3",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "As the federal regulation.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 8846",
            place: "",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "Devices in spaces with gasoline vapor are ignition protected.",
        },
    ],
    cases: &[
        Case {
            name: "protected",
            given: "Fuel vapor may gather at the stern, the fuse there is ignition protected.",
            changes: &[
                ("zones/stern/fuel_vapor", "true"),
                ("devices/fuse/ignition_protected", "true"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "not protected",
            given: "The same, the fuse not ignition protected.",
            changes: &[
                ("zones/stern/fuel_vapor", "true"),
                ("devices/fuse/ignition_protected", "false"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "load",
            given: "A pump that is not ignition protected, in vapor.",
            changes: &[
                ("zones/bow/fuel_vapor", "true"),
                ("loads/pump/ignition_protected", "false"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "in a protected block",
            given: "A fuse that says nothing itself, fitted in a block that is ignition protected.",
            changes: &[
                ("zones/stern/fuel_vapor", "true"),
                (
                    "buses/+",
                    r#"{"id": "block", "kind": "fuse-block", "point": "at-fuse",
                        "ignition_protected": true}"#,
                ),
                (
                    "devices/+",
                    r#"{"id": "spare", "kind": "fuse",
                        "fitted_in": {"block": "block", "position": 1}}"#,
                ),
            ],
            of: "fuse spare",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "no vapor",
            given: "No fuel vapor at the stern.",
            changes: &[("devices/fuse/ignition_protected", "false")],
            of: "fuse fuse",
            rule_set: None,
            expected: "nothing",
        },
        Case {
            name: "part unknown",
            given: "In vapor, and not stated whether the fuse is ignition protected.",
            changes: &[("zones/stern/fuel_vapor", "true")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "zone unknown",
            given: "Not stated whether fuel vapor may gather at the stern.",
            changes: &[("zones/stern/fuel_vapor", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let model = facts.model;
    let devices = model
        .devices
        .iter()
        .filter(|(_, device)| device.fitted_when.holds(facts.boat));
    let devices = devices.map(|(at, device)| {
        // A block that is ignition protected encloses what is fitted in it.
        let block = device
            .fitted_in
            .and_then(|(block, _)| model.buses[block].ignition_protected);
        (Place::Device(at), device.ignition_protected.or(block))
    });
    let buses = model
        .buses
        .iter()
        .filter(|(_, bus)| bus.fitted_when.holds(facts.boat));
    let buses = buses.map(|(at, bus)| (Place::Bus(at), bus.ignition_protected));
    let loads = facts
        .loads()
        .map(|(at, load)| (Place::Load(at), load.ignition_protected));
    devices
        .chain(buses)
        .chain(loads)
        .filter_map(|(place, protected)| finding(model, place, protected))
        .collect()
}

/// `None` where no fuel vapor gathers.
fn finding(model: &BoatModel, place: Place, protected: Option<bool>) -> Option<Finding> {
    let code = DEVICE_NOT_IGNITION_PROTECTED.code;
    let label = place.label(model);
    let zone = match vapor(model, place.point(model), &label) {
        Ok(Some(zone)) => zone,
        Ok(None) => return None,
        Err(why) => return Some(Finding::not_evaluated(code, place, why)),
    };
    let Some(protected) = protected else {
        let why = format!(
            "fuel vapor may gather in {zone}, and {label} does not state whether it is ignition protected"
        );
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let message = if protected {
        format!("Fuel vapor may gather in {zone}; {label} is ignition protected.")
    } else {
        format!("Fuel vapor may gather in {zone}, and {label} is not ignition protected.")
    };
    let next_step =
        format!("Replace {label} by an ignition protected part, or move it out of {zone}.");
    Some(Finding::judged(code, place, protected, message, next_step))
}

/// The zone of a point if fuel vapor may gather there.
fn vapor<'m>(
    model: &'m BoatModel,
    point: Option<Index<Point>>,
    label: &str,
) -> Result<Option<&'m str>, NotEvaluated> {
    let point =
        point.ok_or_else(|| NotEvaluated::because(format!("{label} is at no stated point")))?;
    let point = &model.points[point];
    let zone = point.zone.ok_or_else(|| {
        NotEvaluated::because(format!("point {} is in no stated zone", point.id()))
    })?;
    let zone = &model.zones[zone];
    match zone.fuel_vapor {
        Some(true) => Ok(Some(zone.title())),
        Some(false) => Ok(None),
        None => Err(NotEvaluated::because(format!(
            "zone {} does not state whether fuel vapor may gather there",
            zone.id()
        ))),
    }
}
