//! A conductor is thinner than the rule sets permit, whatever it carries.

use crate::model::{BoatModel, Function, Identified, Index, Pin, Role, RuleSet, Wire};
use crate::network::assembly::Part;
use crate::rules::ampacity::allowance::is_starting;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject, settled,
};
use crate::tables::conductors::{self, ConductorRow};
use crate::tables::limits::{self, Limit};
use crate::units::{Amperes, Millimetres, WireSize};
use crate::working::{Cited, NotEvaluated, Status, Working, significant};

/// The rule.
pub const CONDUCTOR_BELOW_SMALLEST_PERMITTED: Rule = Rule {
    code: "conductor_below_smallest_permitted",
    title: "Conductor thinner than permitted",
    subject: Subject::Conductors,
    depends: Depends::Flow,
    fault: "This wire is thinner than the smallest a rule set permits, run singly or in a jacket.",
    why: "A thin wire breaks by vibration and handling long before its current matters.",
    what_to_do: "Use the smallest size permitted, or lay it in a jacket where that is enough.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.425",
            place: "(d), (e), (f); exemptions (g)",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "16 AWG run separately; 18 AWG in a multiconductor sheath that it leaves by at \
                   most 30 in. Exempt are communications, electronic circuits under 1 A, pigtails \
                   under 7 in, cranking conductors, and others that a model does not show.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public excerpts)",
            place: "11.14.1.2",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "16 AWG; 18 AWG in a sheath that it leaves by at most 30 in, for electronics \
                   under 1 A, and for pigtails under 7 in.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133:2012",
            place: "7.7",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "1 mm2 for a single conductor over 200 mm long; 0.75 mm2 in a sheath that it \
                   leaves by at most 800 mm.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "12 AWG run singly.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "16 AWG run singly.",
            changes: &[("wires/feed/size", "\"16 AWG\"")],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just under",
            given: "18 AWG run singly.",
            changes: &[("wires/feed/size", "\"18 AWG\"")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "in a jacket, exactly at 30 in",
            given: "18 AWG that leaves its jacket by 762 mm at one end.",
            changes: &[
                JACKET[0],
                JACKET[1],
                JACKET[2],
                JACKET[3],
                ("wires/feed/to_end/outside_sheath_mm", "762.0"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "in a jacket, just over 30 in",
            given: "18 AWG that leaves its jacket by 763 mm at one end.",
            changes: &[
                JACKET[0],
                JACKET[1],
                JACKET[2],
                JACKET[3],
                ("wires/feed/to_end/outside_sheath_mm", "763.0"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "jacket left by an unknown length",
            given: "18 AWG in a jacket; the second end does not state how far it leaves it.",
            changes: &[JACKET[0], JACKET[1], JACKET[2], JACKET[3]],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "electronics under 1 A",
            given: "18 AWG run singly to electronics of 0.9 A: exempt.",
            changes: &[
                ("wires/feed/size", "\"18 AWG\""),
                ("circuits/C1/function", "\"electronics\""),
                ("loads/pump/current_a", "0.9"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "electronics of 1 A",
            given: "The same with 1 A: no longer exempt.",
            changes: &[
                ("wires/feed/size", "\"18 AWG\""),
                ("circuits/C1/function", "\"electronics\""),
                ("loads/pump/current_a", "1.0"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "ISO, exactly at",
            given: "1 mm2 run singly under ISO.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("wires/feed/size", "\"1 mm2\""),
            ],
            of: "wire feed",
            rule_set: Some(RuleSet::Iso),
            expected: "met",
        },
        Case {
            name: "ISO, just under",
            given: "0.75 mm2 run singly under ISO.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("wires/feed/size", "\"0.75 mm2\""),
            ],
            of: "wire feed",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "ISO, short",
            given: "0.75 mm2 of 100 mm under ISO: the limit begins above 200 mm.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("wires/main/size", "\"0.75 mm2\""),
            ],
            of: "wire main",
            rule_set: Some(RuleSet::Iso),
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "The wire states no size.",
            changes: &[("wires/feed/size", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// The feed is 18 AWG in a jacket that it leaves by 50 mm at its first end.
const JACKET: [(&str, &str); 4] = [
    ("cables/+", r#"{"id": "J1", "sheathed": true}"#),
    ("wires/feed/cable", "\"J1\""),
    ("wires/feed/size", "\"18 AWG\""),
    ("wires/feed/from_end/outside_sheath_mm", "50.0"),
];

/// Below this current electronic circuits are exempt: 33 CFR 183.425(g), ABYC E-11 11.14.1.2.
const ELECTRONICS_BELOW: Amperes = Amperes::new(1.0);
/// Pigtails shorter than this are exempt, 7 in: the same places.
const PIGTAIL_BELOW: Millimetres = Millimetres::from_inches(7.0);
/// ISO limits single conductors longer than this: ISO 10133:2012, 7.7.
const ISO_LONGER_THAN: Millimetres = Millimetres::new(200.0);

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let sets = &facts.model.settings.rule_sets;
    let code = CONDUCTOR_BELOW_SMALLEST_PERMITTED.code;
    facts
        .judged_wires()
        .flat_map(|(wire, stated)| {
            let hangs_on_current = hangs_on_current(facts.model, stated);
            // Otherwise it is the same on each boat that has the wire.
            let wanted = move |set: &&RuleSet| {
                hangs_on_current || facts.wants_met((code, Place::Wire(wire), Some(**set)))
            };
            sets.iter()
                .filter(wanted)
                .map(move |&set| finding(facts, wire, stated, set).under(set))
        })
        .collect()
}

/// Whether what is permitted for a wire hangs on its current.
pub(crate) fn hangs_on_current(model: &BoatModel, wire: &Wire) -> bool {
    let function = wire.function(model);
    wire.role == Some(Role::Signal) || function == Some(Function::Electronics)
}

fn finding(facts: &Facts<'_>, wire: Index<Wire>, stated: &Wire, rule_set: RuleSet) -> Finding {
    let code = CONDUCTOR_BELOW_SMALLEST_PERMITTED.code;
    let place = Place::Wire(wire);
    let Some(row) = stated.size.and_then(conductors::row) else {
        let why = "the wire states no size";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let (Some(single), Some(jacket)) = (
        limits::smallest_size(rule_set, false),
        limits::smallest_size(rule_set, true),
    ) else {
        let why = "the rule set states no smallest size";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let met = |message: String, limit: &Cited<WireSize>| {
        Finding::judged(code, place, true, message, "").shown(working(row, limit))
    };
    if at_least(row, single.value) {
        let message = format!(
            "Wire {} is {}; the smallest run singly is {}.",
            stated.id(),
            row.size,
            single.value
        );
        return met(message, &single);
    }
    match exemption(facts, wire, stated, rule_set) {
        Err(why) => return Finding::not_evaluated(code, place, why),
        Ok(Some(exempt)) => {
            let message = format!("Wire {} is {} and exempt: {exempt}.", stated.id(), row.size);
            return met(message, &single);
        }
        Ok(None) => {}
    }
    let cable = stated.cable.map(|cable| &facts.model.cables[cable]);
    if let Some(cable) = cable
        && cable.sheathed != Some(false)
        && at_least(row, jacket.value)
    {
        if cable.sheathed.is_none() {
            let why = format!(
                "cable {} does not state whether it has a jacket",
                cable.id()
            );
            return Finding::not_evaluated(code, place, NotEvaluated::because(why));
        }
        return in_jacket(facts, wire, stated, row, &jacket, rule_set);
    }
    let message = format!(
        "Wire {} is {}; the smallest run singly is {}, in a jacket {}.",
        stated.id(),
        row.size,
        single.value,
        jacket.value
    );
    let next_step = format!("Use {} for wire {}.", single.value, stated.id());
    let enough = conductors::rows()
        .iter()
        .filter(|one| one.stocked.value && one.size.series() == row.size.series())
        .find(|one| at_least(one, single.value));
    Finding::judged(code, place, false, message, next_step)
        .shown(working(row, &single))
        .cured_by(wire, enough.map(|row| row.size))
}

fn at_least(row: &ConductorRow, smallest: WireSize) -> bool {
    conductors::row(smallest).is_some_and(|limit| row.area.value >= limit.area.value)
}

/// The longest end outside the jacket against its limit.
fn in_jacket(
    facts: &Facts<'_>,
    wire: Index<Wire>,
    stated: &Wire,
    row: &ConductorRow,
    jacket: &Cited<WireSize>,
    rule_set: RuleSet,
) -> Finding {
    let code = CONDUCTOR_BELOW_SMALLEST_PERMITTED.code;
    let place = Place::Wire(wire);
    let Some(limit) = limits::number(Limit::OutOfSheath, rule_set) else {
        let why = "the rule set states no length outside a jacket";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let mut longest = Millimetres::ZERO;
    let mut not_stated = None;
    for (pin, end) in [(stated.from, &stated.from_end), (stated.to, &stated.to_end)] {
        match end.outside_sheath {
            Some(length) => longest = longest.max(length),
            None => not_stated = Some(pin),
        }
    }
    let holds = longest.value() <= limit.value;
    if let (true, Some(pin)) = (holds, not_stated) {
        let why = format!(
            "the end of wire {} on {} does not state how far it leaves its jacket",
            stated.id(),
            pin.label(facts.model)
        );
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    }
    let message = format!(
        "Wire {} ({}) leaves its jacket by {} mm; allowed for a conductor this thin are {} mm.",
        stated.id(),
        row.size,
        significant(longest.value(), 4),
        significant(limit.value, 4)
    );
    let next_step = format!(
        "Strip the jacket by at most {} mm, or use a size for wire {} that may run singly.",
        significant(limit.value, 4),
        stated.id()
    );
    let mut working = working(row, jacket);
    working.step(
        "greatest length outside the jacket",
        "",
        limit.source.place.clone(),
        format!("{} mm", significant(limit.value, 4)),
        Some(&limit.source),
    );
    Finding::judged(code, place, holds, message, next_step)
        .measured(longest.value(), limit.value, "mm")
        .shown(working)
}

/// Which exemption a wire has, if any; those that a model does not show are not taken.
fn exemption(
    facts: &Facts<'_>,
    wire: Index<Wire>,
    stated: &Wire,
    rule_set: RuleSet,
) -> Result<Option<&'static str>, NotEvaluated> {
    let length = facts.routing.electrical_length(facts.model, wire);
    let length = length.map(|length| length.millimetres());
    if rule_set == RuleSet::Iso {
        return Ok((length? <= ISO_LONGER_THAN)
            .then_some("the limit begins above 200 mm of single conductor"));
    }
    if is_starting(facts, wire) {
        return Ok(Some("conductors of the cranking motor"));
    }
    if hangs_on_current(facts.model, stated) {
        let greatest = facts.greatest_current(Part::Wire(wire));
        let below = greatest.current < ELECTRONICS_BELOW;
        if settled(below, greatest.may_exceed(ELECTRONICS_BELOW))? {
            return Ok(Some("communications and electronic circuits under 1 A"));
        }
    }
    let on_load = [stated.from, stated.to]
        .iter()
        .any(|pin| matches!(pin, Pin::Load(..)));
    if on_load && length? < PIGTAIL_BELOW {
        return Ok(Some("pigtails under 7 in"));
    }
    Ok(None)
}

fn working(row: &ConductorRow, limit: &Cited<WireSize>) -> Working {
    let area = |row: &ConductorRow| format!("{} mm²", significant(row.area.value.value(), 4));
    let mut working = Working::new();
    working.step(
        "area of the wire",
        "",
        row.size.to_string(),
        area(row),
        Some(&row.area.source),
    );
    working.step(
        "smallest permitted",
        "",
        limit.value.to_string(),
        conductors::row(limit.value).map_or_else(String::new, area),
        Some(&limit.source),
    );
    working
}
