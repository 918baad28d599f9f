//! A device carries more than its rating in service.

use crate::model::{Device, DeviceKind, Family, Index};
use crate::network::assembly::Part;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject, UNDRAWN_BESIDE,
    UNKNOWN_UNDER_WAY, settled, within,
};
use crate::tables::protection::next_standard;
use crate::units::Amperes;
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const DEVICE_BELOW_LOAD: Rule = Rule {
    code: "device_below_load",
    title: "Device smaller than its load",
    subject: Subject::Protection,
    depends: Depends::Flow,
    fault: "In some state more current passes this fuse, breaker, switch or relay than it is \
            rated for.",
    why: "A fuse opens in service, a switch or relay burns its contacts: the pump stops when it \
          is needed.",
    what_to_do: "Fit the next larger device if its conductors allow it, or share the loads \
                 between circuits.",
    citations: &[Citation {
        rule_set: None,
        document: "Coordination of device and load",
        place: "I load <= I device",
        status: Status::CommonPractice,
        relation: Relation::OurPractice,
        says: "A device is rated for at least the greatest steady current through it, because a \
               smaller one opens or burns in service. That heat takes some of the rating of a \
               fuse is not counted.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "5 A through a 15 A fuse.",
            changes: &[],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "15 A through a 15 A fuse.",
            changes: &[("loads/pump/current_a", "15.0")],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "15.1 A through a 15 A fuse.",
            changes: &[("loads/pump/current_a", "15.1")],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The fuse states no rating.",
            changes: &[("devices/fuse/rating_a", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "load unknown",
            given: "The pump states neither current, power nor resistance.",
            changes: &[("loads/pump/current_a", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "over in one state, unknown in another",
            given: "16 A moored through 15 A; under way a pump of unknown current runs besides.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("loads/pump/current_a", "16.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "within, and more where another load draws more",
            given: "100 W through the fuse draw 8.6 A, and more the more a load of unknown current \
                    on the same battery takes; the least volts of the pump are not stated.",
            changes: &[
                UNDRAWN_BESIDE[0],
                UNDRAWN_BESIDE[1],
                UNDRAWN_BESIDE[2],
                UNDRAWN_BESIDE[3],
                UNDRAWN_BESIDE[4],
                ("loads/pump/power_w", "100.0"),
                ("loads/pump/min_v", "null"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "within, however much another load draws",
            given: "The same with a pump that needs 9 V: 11.1 A at most as long as it has them, which \
                    is a limit of its own.",
            changes: &[
                UNDRAWN_BESIDE[0],
                UNDRAWN_BESIDE[1],
                UNDRAWN_BESIDE[2],
                UNDRAWN_BESIDE[3],
                UNDRAWN_BESIDE[4],
                ("loads/pump/power_w", "100.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "over, and more where another load draws more",
            given: "The same with 200 W: 18.3 A at least through 15 A are over.",
            changes: &[
                UNDRAWN_BESIDE[0],
                UNDRAWN_BESIDE[1],
                UNDRAWN_BESIDE[2],
                UNDRAWN_BESIDE[3],
                UNDRAWN_BESIDE[4],
                ("loads/pump/power_w", "200.0"),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let devices = facts.assembly.branches.iter().filter_map(|branch| {
        let Part::Device(device) = branch.part else {
            return None;
        };
        facts.judges(Place::Device(device)).then_some(device)
    });
    devices
        .filter_map(|device| finding(facts, device))
        .collect()
}

fn finding(facts: &Facts<'_>, device: Index<Device>) -> Option<Finding> {
    let code = DEVICE_BELOW_LOAD.code;
    let place = Place::Device(device);
    let stated = &facts.model.devices[device];
    let greatest = facts.greatest_current(Part::Device(device));
    let Some(rating) = stated.rating else {
        let why = "the device states no rated current";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let current = greatest.current;
    let fits = within(current.value(), rating.value());
    let holds = match settled(fits, greatest.may_exceed(rating)) {
        Ok(holds) => holds,
        Err(why) => return Some(Finding::not_evaluated(code, place, why)),
    };
    if !facts.wants((code, place, None), holds, current.value(), rating.value()) {
        return None;
    }
    let message = format!(
        "{} A pass {} {}; it is rated {} A.",
        significant(current.value(), 4),
        place.label(facts.model),
        facts.state_words(greatest.state),
        significant(rating.value(), 4),
    );
    let mut working = Working::new();
    working.step(
        "greatest current over the states",
        "",
        facts.state_words(greatest.state),
        format!("{} A", significant(current.value(), 5)),
        None,
    );
    working.step(
        "rating",
        "I load <= I device",
        "as stated",
        rating.to_string(),
        Some(&DEVICE_BELOW_LOAD.citations[0].source()),
    );
    let next_step = next_step(stated, current);
    let found = Finding::judged(code, place, holds, message, next_step)
        .worst_in(greatest.state)
        .measured(current.value(), rating.value(), "A")
        .shown(working);
    Some(found)
}

fn next_step(stated: &Device, current: Amperes) -> String {
    let family = match stated.kind {
        DeviceKind::Breaker => stated.family.or(Some(Family::Breaker)),
        _ => stated.family,
    };
    let standard = family.and_then(|family| next_standard(family, current));
    let rating = standard.map_or_else(
        || format!("of at least {} A", significant(current.value(), 3)),
        |standard| format!("of {}", standard.value),
    );
    if stated.protects() {
        format!(
            "Use a {} {rating} if its conductors allow that, or share its loads between circuits.",
            stated.kind
        )
    } else {
        format!("Use a {} {rating}, or share its loads.", stated.kind)
    }
}
