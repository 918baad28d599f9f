//! A connection in bilge water that is not sealed.

use crate::model::{BoatModel, Identified, Index, Point, RuleSet};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::units::Millimetres;
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const CONNECTION_BELOW_BILGE_WATER: Rule = Rule {
    code: "connection_below_bilge_water",
    title: "Connection in bilge water",
    subject: Subject::Installation,
    depends: Depends::Itself,
    fault: "A connector, splice, device or bus lies at or below the bilge water of its zone and \
            is not sealed.",
    why: "Wet joints corrode through, most often those of the bilge pump itself, and leak current \
          into the water.",
    what_to_do: "Move the connection above the water at rest, or take a sealed connector or \
                 splice.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.6, as quoted publicly",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "Conductors run above bilge water; where they cannot, their joints are \
                   watertight.",
        },
        Citation {
            rule_set: None,
            document: "our practice",
            place: "devices and buses",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "Fuses, switches, bars and studs lie above bilge water without exception, \
                   because they have no seal that could be stated.",
        },
    ],
    cases: &[
        Case {
            name: "well above",
            given: "A splice 200 mm up, water to 60 mm.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "200"),
                (
                    "splices/+",
                    r#"{"id": "joint", "point": "at-fuse", "sealed": false}"#,
                ),
            ],
            of: "splice joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just above",
            given: "An unsealed splice 61 mm up, water to 60 mm.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "61"),
                (
                    "splices/+",
                    r#"{"id": "joint", "point": "at-fuse", "sealed": false}"#,
                ),
            ],
            of: "splice joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "An unsealed splice at the height of the water.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "60"),
                (
                    "splices/+",
                    r#"{"id": "joint", "point": "at-fuse", "sealed": false}"#,
                ),
            ],
            of: "splice joint",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "below, sealed",
            given: "A sealed splice 10 mm up, water to 60 mm.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "10"),
                (
                    "splices/+",
                    r#"{"id": "joint", "point": "at-fuse", "sealed": true}"#,
                ),
            ],
            of: "splice joint",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "connector below",
            given: "A connector of an unsealed type 10 mm up, water to 60 mm.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "10"),
                (
                    "connector_types/+",
                    r#"{"id": "k", "cavities": 2, "sealed": false}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-fuse"}"#,
                ),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "fuse below",
            given: "The fuse 10 mm up, water to 60 mm.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "10"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "seal unknown",
            given: "A splice below the water that does not state whether it is sealed.",
            changes: &[
                ("zones/stern/bilge_water_z_mm", "60"),
                ("points/at-fuse/z_mm", "10"),
                ("splices/+", r#"{"id": "joint", "point": "at-fuse"}"#),
            ],
            of: "splice joint",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "height unknown",
            given: "The point of the fuse states no height.",
            changes: &[("zones/stern/bilge_water_z_mm", "60")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no bilge",
            given: "A zone without bilge water.",
            changes: &[("points/at-fuse/z_mm", "10")],
            of: "fuse fuse",
            rule_set: None,
            expected: "nothing",
        },
    ],
    judge,
};

/// Whether water stays out.
#[derive(Clone, Copy)]
enum Seal {
    Sealed,
    Open,
    Unknown,
}

fn stated(sealed: Option<bool>) -> Seal {
    match sealed {
        Some(true) => Seal::Sealed,
        Some(false) => Seal::Open,
        None => Seal::Unknown,
    }
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let (model, boat) = (facts.model, facts.boat);
    let connectors = model
        .connectors
        .iter()
        .filter(|(_, it)| it.fitted_when.holds(boat));
    let connectors = connectors.map(|(at, connector)| {
        let sealed = model.connector_types[connector.connector_type].sealed;
        (Place::Connector(at), stated(sealed))
    });
    let splices = model
        .splices
        .iter()
        .filter(|(_, it)| it.fitted_when.holds(boat));
    let splices = splices.map(|(at, splice)| (Place::Splice(at), stated(splice.sealed)));
    // What is fitted in a block lies where the block does and is judged with it.
    let devices = model
        .devices
        .iter()
        .filter(|(_, it)| it.fitted_in.is_none() && it.fitted_when.holds(boat));
    let devices = devices.map(|(at, _)| (Place::Device(at), Seal::Open));
    let buses = model
        .buses
        .iter()
        .filter(|(_, it)| it.fitted_when.holds(boat));
    let buses = buses.map(|(at, _)| (Place::Bus(at), Seal::Open));
    connectors
        .chain(splices)
        .chain(devices)
        .chain(buses)
        .filter_map(|(place, seal)| finding(model, place, seal))
        .collect()
}

/// `None` where there is no bilge water.
fn finding(model: &BoatModel, place: Place, seal: Seal) -> Option<Finding> {
    let code = CONNECTION_BELOW_BILGE_WATER.code;
    let label = place.label(model);
    let unknown = |why: String| {
        Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ))
    };
    let Some(point) = place.point(model) else {
        return unknown(format!("{label} is at no stated point"));
    };
    let Some(zone) = model.points[point].zone else {
        return unknown(format!(
            "point {} is in no stated zone",
            model.points.id(point)
        ));
    };
    let water = model.zones[zone].bilge_water_z?;
    let Some(height) = model.points[point].z else {
        return unknown(height_missing(model, point));
    };
    let above = height > water;
    let (outcome, message) = match (above, seal) {
        (true, _) => (Outcome::Met, "lies above bilge water"),
        (false, Seal::Sealed) => (Outcome::Met, "lies in bilge water and is sealed"),
        (false, Seal::Open) => (Outcome::Fails, "lies in bilge water and is not sealed"),
        (false, Seal::Unknown) => {
            return unknown(format!(
                "{label} lies in bilge water and does not state whether it is sealed"
            ));
        }
    };
    Some(judged(
        place,
        &label,
        outcome,
        message,
        height,
        water,
        model.zones[zone].title(),
    ))
}

fn height_missing(model: &BoatModel, point: Index<Point>) -> String {
    format!(
        "point {} states no height above the datum",
        model.points[point].id()
    )
}

fn judged(
    place: Place,
    label: &str,
    outcome: Outcome,
    message: &str,
    height: Millimetres,
    water: Millimetres,
    zone: &str,
) -> Finding {
    let shown = |height: Millimetres| significant(height.value(), 4);
    let mut working = Working::new();
    working.step(
        "height over the water",
        "z - z water",
        format!("{} mm - {} mm", shown(height), shown(water)),
        format!("{} mm", shown(height - water)),
        None,
    );
    let next_step = if outcome == Outcome::Fails {
        format!(
            "Move {label} above {} mm, or make the joint a sealed one.",
            shown(water)
        )
    } else {
        String::new()
    };
    Finding {
        rule: CONNECTION_BELOW_BILGE_WATER.code,
        place,
        rule_set: None,
        state: None,
        outcome,
        value: Some(Quantity::new(height.value(), "mm")),
        limit: Some(Quantity::new(water.value(), "mm")),
        message: format!(
            "At {} mm {label} {message}; water in {zone} stands to {} mm.",
            shown(height),
            shown(water)
        ),
        next_step,
        working: working.into(),
        cured_by: None,
    }
}
