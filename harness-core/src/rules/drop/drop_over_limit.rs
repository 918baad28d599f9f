//! The drop from the source to a load and back is over its limit.

use super::over_states::{InState, worst};
use crate::model::{BoatModel, DropClass, Index, Load, RuleSet};
use crate::network::assembly::{Part, PathShare, SourceCondition, Supplied};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject, UNKNOWN_UNDER_WAY,
    within,
};
use crate::tables::conductors;
use crate::units::{Volts, WireSize};
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const DROP_OVER_LIMIT: Rule = Rule {
    code: "drop_over_limit",
    title: "Voltage drop over its limit",
    subject: Subject::Drop,
    depends: Depends::Flow,
    fault: "Between the source and this load, out and back, more volts are lost than the load may \
            lose.",
    why: "A light too dim to be seen, a pump that moves half its water, a plotter that restarts \
          when the horn sounds.",
    what_to_do: "Thicken the segment with the largest share, shorten the way, or give the load a \
                 feed and return of its own.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.2.6, as quoted publicly",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "3 % for panel feeders, blowers, electronics and navigation lights; 10 % for \
                   other circuits.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133 / ISO 13297",
            place: "clause on conductor size",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "At most 10 % of nominal; 3 % is usual for navigation lights, blowers and pumps.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "5 A along 10.1 m of 12 AWG, out and back, at 30 °C: 0.28 V of 12 V, 2.3 %; \
                    limit 10 %.",
            changes: &[],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "well over",
            given: "30 A along the same 10.1 m: 1.7 V of 12 V, 14 %; limit 10 %.",
            changes: &[("loads/pump/current_a", "30.0")],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "just inside",
            given: "The 5 A as above, 2.348 % lost, held to 2.35 %.",
            changes: &[("loads/pump/drop_limit_percent", "2.35")],
            of: "load pump",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "The 5 A as above, 2.348 % lost, held to 2.345 %.",
            changes: &[("loads/pump/drop_limit_percent", "2.345")],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The feed states no size.",
            changes: &[("wires/feed/size", "null")],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no class",
            given: "The load states neither class nor limit.",
            changes: &[("loads/pump/drop_class", "null")],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "over in one state, unknown in another",
            given: "30 A lose 14 % moored; under way a pump of unknown current shares the wires: over is over.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("loads/pump/current_a", "30.0"),
            ],
            of: "load pump",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "within in one state, unknown in another",
            given: "The same with 5 A: how much is lost under way is not known.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
            ],
            of: "load pump",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_loads()
        .filter_map(|(load, stated)| finding(facts, load, stated))
        .collect()
}

fn finding(facts: &Facts<'_>, load: Index<Load>, stated: &Load) -> Option<Finding> {
    let code = DROP_OVER_LIMIT.code;
    let place = Place::Load(load);
    let Some(limit) = stated.drop_limit_percent() else {
        let why = "the load states neither drop class nor a limit of its own";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let found = worst(
        facts,
        load,
        SourceCondition::Nominal,
        |one, other| one.drop_percent() > other.drop_percent(),
        |supplied| within(supplied.drop_percent(), limit),
    );
    match found {
        Err(why) => Some(Finding::not_evaluated(code, place, why)),
        Ok((at, holds)) => facts
            .wants((code, place, None), holds, at.1.drop_percent(), limit)
            .then(|| judged(facts, place, stated, at, limit, holds)),
    }
}

fn judged(
    facts: &Facts<'_>,
    place: Place,
    stated: &Load,
    (state, supplied): InState<'_>,
    limit: f64,
    holds: bool,
) -> Finding {
    let percent = supplied.drop_percent();
    let message = format!(
        "{} loses {} V of {} V ({} %, limit {} %) {}; {} V are left.",
        stated.title(),
        significant(supplied.drop().value(), 3),
        supplied.nominal.value(),
        significant(percent, 3),
        limit,
        facts.state_words(state),
        significant(supplied.volts.value(), 4),
    );
    let next_step = if holds {
        String::new()
    } else {
        next_step(facts, supplied, limit)
    };
    Finding::judged(DROP_OVER_LIMIT.code, place, holds, message, next_step)
        .worst_in(state)
        .measured(percent, limit, "%")
        .shown(working(facts.model, stated, supplied, limit))
}

fn working(model: &BoatModel, stated: &Load, supplied: &Supplied, limit: f64) -> Working {
    let mut working = Working::new();
    let volts = |value: Volts| significant(value.value(), 5);
    working.step(
        "volts lost out and back",
        "drop = V source - V load",
        format!(
            "{} V - {} V",
            volts(supplied.source_volts),
            volts(supplied.volts)
        ),
        format!("{} V", volts(supplied.drop())),
        None,
    );
    working.step(
        "in percent of nominal",
        "drop / V nominal · 100",
        format!(
            "{} V / {} V · 100",
            volts(supplied.drop()),
            supplied.nominal.value()
        ),
        format!("{} %", significant(supplied.drop_percent(), 4)),
        None,
    );
    let class = stated
        .drop_class
        .map_or("its own limit", |class| match class {
            DropClass::Critical => "drop class critical",
            DropClass::Other => "drop class other",
        });
    let source = DROP_OVER_LIMIT.citations.iter().find(|citation| {
        citation
            .rule_set
            .is_some_and(|set| model.settings.rule_sets.contains(&set))
    });
    let source = source.map(Citation::source);
    let stands = if stated.own_drop_limit_percent.is_some() {
        "its own limit"
    } else {
        class
    };
    working.step("limit", "", stands, format!("{limit} %"), source.as_ref());
    working
}

/// The next step: the segment that loses most, and the size that would cure it.
fn next_step(facts: &Facts<'_>, supplied: &Supplied, limit: f64) -> String {
    let Some(feed) = greatest_loss(&supplied.feed) else {
        return "Shorten the way to the load.".to_owned();
    };
    let back = greatest_loss(&supplied.back).unwrap_or(feed);
    let (most, other) = if feed.lost >= back.lost {
        (feed, back)
    } else {
        (back, feed)
    };
    let part = |share: &PathShare| facts.assembly.branches[share.branch].part;
    let name = part(most).label(facts.model);
    let share = most.lost / supplied.drop() * 100.0;
    let excess = supplied.drop() - supplied.nominal * (limit / 100.0);
    let alone = thicker(facts, &[part(most)], most.lost, excess);
    let both = || {
        let parts = [part(most), part(other)];
        thicker(facts, &parts, most.lost + other.lost, excess)
    };
    let cure = if let Some(size) = alone {
        format!("use {size} for it")
    } else if let Some(size) = both() {
        format!(
            "use {size} for it and for {}",
            part(other).label(facts.model)
        )
    } else {
        "no stocked size of it alone is enough: shorten the way, or give the load a feed and \
         return of its own"
            .to_owned()
    };
    format!(
        "{} % of it is lost in {name}: {cure}.",
        significant(share, 2)
    )
}

fn greatest_loss(shares: &[PathShare]) -> Option<&PathShare> {
    shares
        .iter()
        .max_by(|a, b| a.lost.value().total_cmp(&b.lost.value()))
}

/// The thinnest stocked size that, given to each of these wires, takes `excess` off what they
/// lose at the same current: a loss falls with the area.
fn thicker(facts: &Facts<'_>, parts: &[Part], lost: Volts, excess: Volts) -> Option<WireSize> {
    let sizes = parts.iter().map(|part| match part {
        Part::Wire(wire) => facts.model.wires[*wire].size,
        _ => None,
    });
    let sizes: Option<Vec<_>> = sizes.collect();
    let thinnest = sizes?
        .into_iter()
        .filter_map(conductors::row)
        .min_by(|a, b| a.area.value.value().total_cmp(&b.area.value.value()))?;
    conductors::stocked(thinnest.size.series())
        .find(|row| lost * (1.0 - thinnest.area.value / row.area.value) >= excess)
        .map(|row| row.size)
}
