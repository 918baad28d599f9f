//! A return is thinner than what it brings back.

use crate::conductor::{AmpacityQuestion, allowable};
use crate::model::{Behavior, BoatModel, Function, Identified, Index, Load, Role, RuleSet, Wire};
use crate::network::assembly::{LoadPoint, Part, PathShare, SourceCondition};
use crate::rules::ampacity::allowance::{Allowances, bare, thick_enough};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Relation, Rule, Subject,
    UNKNOWN_UNDER_WAY, settled, within,
};
use crate::tables::conductors::{self, ConductorRow};
use crate::units::{Amperes, SquareMillimetres, WireSize};
use crate::working::{NotEvaluated, Status, Worked, Working, significant};
use std::collections::BTreeMap;
use std::rc::Rc;

/// The rule.
pub const RETURN_SMALLER_THAN_FEED: Rule = Rule {
    code: "return_smaller_than_feed",
    title: "Return smaller than its feeds",
    subject: Subject::Conductors,
    depends: Depends::Company,
    fault: "A return is thinner than the feed of a load that uses it, or a shared return is not \
            allowed the currents of all its loads together.",
    why: "What goes out must come back. Returns are drawn last and shared freely: gauges move \
          when lights go on, the plotter restarts when the horn sounds.",
    what_to_do: "Make the return at least as thick as the feed it belongs to; size a shared return \
                 for everything that comes back through it.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public article quoting E-11 clauses, 2020)",
            place: "11.5.4.7.3",
            status: Status::Sourced,
            relation: Relation::DerivedFrom,
            says: "A negative bus for accessories, and the conductor to it, has at least the \
                   ampacity of the feeders to the panels it serves.",
        },
        Citation {
            rule_set: None,
            document: "Return of each load",
            place: "area and sum of currents",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "A return is at least as thick as the thinnest conductor of the feed of each \
                   load that uses it, and a shared one is allowed, by the bare table value, the \
                   greatest currents of all its loads at once, because options are added to \
                   returns without anyone counting. Engine starting is left out of the sum.",
        },
    ],
    cases: &[
        Case {
            name: "exactly at",
            given: "Feed and return of 12 AWG.",
            changes: &[],
            of: "wire return",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "well inside",
            given: "A return of 10 AWG for a feed of 12 AWG.",
            changes: &[("wires/return/size", "\"10 AWG\"")],
            of: "wire return",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just under",
            given: "A return of 14 AWG for a feed of 12 AWG.",
            changes: &[("wires/return/size", "\"14 AWG\"")],
            of: "wire return",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "shared, exactly at",
            given: "Two pumps, 20 A and 25 A, come back through one 12 AWG of 105 °C: 45 A.",
            changes: &[
                ("loads/pump/current_a", "20.0"),
                SHARED[0],
                SHARED[1],
                SHARED[2],
            ],
            of: "wire return",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "shared, just over",
            given: "The same with 20.1 A for the first.",
            changes: &[
                ("loads/pump/current_a", "20.1"),
                SHARED[0],
                SHARED[1],
                SHARED[2],
            ],
            of: "wire return",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "no size",
            given: "The return states no size.",
            changes: &[("wires/return/size", "null")],
            of: "wire return",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "feed unknown",
            given: "The feed states no size, so the way of the current back is not evaluated.",
            changes: &[("wires/feed/size", "null")],
            of: "wire return",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "shared, one of them behind a wire of no size",
            given: "Two pumps of 20 A come back through one 12 AWG; the feed of one states no size.",
            changes: &[
                ("loads/pump/current_a", "20.0"),
                SHARED[0],
                SHARED[1],
                SHARED[2],
                ("wires/feed-2/size", "null"),
            ],
            of: "wire return",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "within in one state, unknown in another",
            given: "As thick as the feed; under way a pump of unknown current comes back through it too.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
            ],
            of: "wire return",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "thinner, unknown in another state",
            given: "The same with a return of 14 AWG: too thin for the pump that is known.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("wires/return/size", "\"14 AWG\""),
            ],
            of: "wire return",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

/// A second pump of 25 A whose return joins that of the first at the pump.
const SHARED: [(&str, &str); 3] = [
    (
        "loads/+",
        r#"{"id": "pump-2", "point": "at-pump", "current_a": 25.0, "drop_class": "other"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "feed-2", "from": "fuse.out", "to": "pump-2.plus", "size": "12 AWG"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "join", "from": "pump-2.minus", "to": "pump.minus", "size": "12 AWG"}"#,
    ),
];

/// Whether a load counts among those that come back through a return all at once: engine starting
/// does not.
pub(crate) fn counts_in_sum(model: &BoatModel, load: Index<Load>) -> bool {
    let circuit = model.loads[load].circuit;
    circuit.is_none_or(|circuit| model.circuits[circuit].function != Some(Function::Starting))
}

/// What all that comes back through a wire is held to: the least of its table values; `None` where
/// none is known.
pub(crate) fn most_together(model: &BoatModel, wire: Index<Wire>) -> Option<Amperes> {
    let sets = model.settings.rule_sets.iter();
    let values = sets.filter_map(|set| allowable(&bare(model, wire, *set).ok()?).ok());
    values.min_by(|one, other| one.value().total_cmp(&other.value()))
}

/// What comes back through one wire.
#[derive(Default)]
struct Shared {
    loads: BTreeMap<Index<Load>, Portion>,
    /// A load that comes back through it and is not evaluated, with the reason.
    unknown: Option<(Index<Load>, NotEvaluated)>,
}

/// One load's portion: its greatest current, and the thinnest wire of its feed.
struct Portion {
    current: Amperes,
    thinnest: Option<Index<Wire>>,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let asked = |branch: usize| match facts.assembly.branches[branch].part {
        Part::Wire(wire) if facts.judges(Place::Wire(wire)) => Some(wire),
        _ => None,
    };
    let mut returns: BTreeMap<Index<Wire>, Shared> = BTreeMap::new();
    for operating in facts.at(SourceCondition::Nominal) {
        for (&load, back) in &operating.back_of_unknown {
            let Some(LoadPoint::NotEvaluated(why)) = operating.loads.get(&load) else {
                continue;
            };
            for branch in back {
                if let Some(wire) = asked(*branch) {
                    let unknown = &mut returns.entry(wire).or_default().unknown;
                    unknown.get_or_insert_with(|| (load, why.clone()));
                }
            }
        }
        for (&load, point) in &operating.loads {
            let LoadPoint::Supplied(supplied) = point else {
                continue;
            };
            let mut thinnest_feed = None;
            let more = operating.at_least.loads.get(&load);
            let more = more.filter(|_| draws_more_at_less(facts.model, load));
            for share in &supplied.back {
                if let Some(wire) = asked(share.branch) {
                    let shared = returns.entry(wire).or_default();
                    if let (None, Some(why)) = (&shared.unknown, more) {
                        shared.unknown = Some((load, why.clone()));
                    }
                    let part = shared.loads.entry(load).or_insert(Portion {
                        current: Amperes::ZERO,
                        thinnest: *thinnest_feed
                            .get_or_insert_with(|| thinnest(facts, &supplied.feed)),
                    });
                    part.current = part.current.max(supplied.current);
                }
            }
        }
    }
    let mut allowances = Allowances::of(facts);
    let nothing = Shared::default();
    facts
        .judged_wires()
        .filter_map(|(wire, stated)| {
            let shared = returns.get(&wire).unwrap_or(&nothing);
            let found = match shared.loads.is_empty() {
                false => finding(facts, &mut allowances, wire, shared)?,
                true if stated.role == Some(Role::Return) => unused(facts, wire),
                true => return None,
            };
            Some(match more_comes_back(facts, wire, shared) {
                Some(why) if found.outcome == Outcome::Met => {
                    Finding::not_evaluated(found.rule, found.place, why)
                }
                _ => found,
            })
        })
        .collect()
}

fn draws_more_at_less(model: &BoatModel, load: Index<Load>) -> bool {
    matches!(model.loads[load].behavior, Some(Behavior::Power(_)))
}

/// Why not everything that comes back through a wire is known, in every state.
fn more_comes_back(facts: &Facts<'_>, wire: Index<Wire>, shared: &Shared) -> Option<NotEvaluated> {
    let comes_back = |(load, why): &(Index<Load>, NotEvaluated)| {
        NotEvaluated::because(format!(
            "{}, so what comes back of {} is not evaluated",
            why.because,
            facts.model.loads[*load].title()
        ))
    };
    let current = facts.greatest_current(Part::Wire(wire));
    current
        .unknown
        .or_else(|| shared.unknown.as_ref().map(comes_back))
}

/// What is met may still become not evaluated, which is worse than met.
fn is_wanted(
    facts: &Facts<'_>,
    (wire, shared): (Index<Wire>, &Shared),
    holds: bool,
    (value, limit): (f64, f64),
) -> bool {
    let of = (RETURN_SMALLER_THAN_FEED.code, Place::Wire(wire), None);
    facts.wants(of, holds, value, limit) || more_comes_back(facts, wire, shared).is_some()
}

fn unused(facts: &Facts<'_>, wire: Index<Wire>) -> Finding {
    let message = format!(
        "No load of this boat comes back through wire {}.",
        facts.model.wires.id(wire)
    );
    let place = Place::Wire(wire);
    Finding::judged(RETURN_SMALLER_THAN_FEED.code, place, true, message, "")
}

fn row(facts: &Facts<'_>, wire: Index<Wire>) -> Option<&'static ConductorRow> {
    facts.model.wires[wire].size.and_then(conductors::row)
}

fn area(row: &ConductorRow) -> SquareMillimetres {
    row.area.value
}

/// The thinnest wire of a feed.
fn thinnest(facts: &Facts<'_>, feed: &[PathShare]) -> Option<Index<Wire>> {
    let wires = feed
        .iter()
        .filter_map(|share| match facts.assembly.branches[share.branch].part {
            Part::Wire(wire) => Some((wire, area(row(facts, wire)?).value())),
            _ => None,
        });
    wires
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(wire, _)| wire)
}

fn finding(
    facts: &Facts<'_>,
    allowances: &mut Allowances<'_, '_>,
    wire: Index<Wire>,
    shared: &Shared,
) -> Option<Finding> {
    let code = RETURN_SMALLER_THAN_FEED.code;
    let place = Place::Wire(wire);
    let Some(own) = row(facts, wire) else {
        let why = "the wire states no size";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let thickest_feed = shared
        .loads
        .iter()
        .filter_map(|(load, part)| Some((*load, part.thinnest?)))
        .filter_map(|(load, feed)| Some((load, feed, row(facts, feed)?)))
        .max_by(|a, b| area(a.2).value().total_cmp(&area(b.2).value()));
    if let Some((load, feed, needed)) = thickest_feed
        && area(own) < area(needed)
    {
        return Some(thinner(facts, wire, own, load, feed, needed));
    }
    if shared.loads.len() > 1 {
        return sum(facts, allowances, wire, shared);
    }
    if let Some((_, _, needed)) = thickest_feed
        && !is_wanted(
            facts,
            (wire, shared),
            true,
            (area(own).value(), area(needed).value()),
        )
    {
        return None;
    }
    let message = format!(
        "Wire {} ({}) is at least as thick as the feed it belongs to.",
        facts.model.wires.id(wire),
        own.size
    );
    let mut found = Finding::judged(code, place, true, message, "");
    if let Some((_, feed, needed)) = thickest_feed {
        found = found
            .measured(area(own).value(), area(needed).value(), "mm²")
            .shown(areas(facts, wire, own, feed, needed));
    }
    Some(found)
}

fn thinner(
    facts: &Facts<'_>,
    wire: Index<Wire>,
    own: &ConductorRow,
    load: Index<Load>,
    feed: Index<Wire>,
    needed: &ConductorRow,
) -> Finding {
    let id = facts.model.wires.id(wire);
    let message = format!(
        "Wire {id} ({}) brings back what goes to {} through at least {} ({}).",
        own.size,
        facts.model.loads[load].title(),
        needed.size,
        facts.model.wires.id(feed),
    );
    let size: Option<WireSize> = conductors::stocked(own.size.series())
        .find(|row| area(row) >= area(needed))
        .map(|row| row.size);
    let next_step = size.map_or_else(
        || format!("Lay a second conductor beside wire {id}."),
        |size| format!("Use {size} for wire {id}."),
    );
    Finding::judged(
        RETURN_SMALLER_THAN_FEED.code,
        Place::Wire(wire),
        false,
        message,
        next_step,
    )
    .measured(area(own).value(), area(needed).value(), "mm²")
    .shown(areas(facts, wire, own, feed, needed))
    .cured_by(wire, size)
}

fn areas(
    facts: &Facts<'_>,
    wire: Index<Wire>,
    own: &ConductorRow,
    feed: Index<Wire>,
    needed: &ConductorRow,
) -> Working {
    let mut working = Working::new();
    for (what, wire, row) in [
        ("area of the return", wire, own),
        ("thinnest of the thickest feed", feed, needed),
    ] {
        working.step(
            what,
            "",
            format!("wire {}, {}", facts.model.wires.id(wire), row.size),
            format!("{} mm²", significant(area(row).value(), 4)),
            Some(&row.area.source),
        );
    }
    working
}

/// A shared return against the greatest currents of all its loads at once.
fn sum(
    facts: &Facts<'_>,
    allowances: &mut Allowances<'_, '_>,
    wire: Index<Wire>,
    shared: &Shared,
) -> Option<Finding> {
    let code = RETURN_SMALLER_THAN_FEED.code;
    let place = Place::Wire(wire);
    let counts = |load: Index<Load>| counts_in_sum(facts.model, load);
    let counted = || shared.loads.iter().filter(|(load, _)| counts(**load));
    let total: Amperes = counted().map(|(_, part)| part.current).sum();
    let mut least: Option<(AmpacityQuestion, Rc<Worked<Amperes>>)> = None;
    let mut unknown = None;
    for &set in &facts.model.settings.rule_sets {
        match allowances.table_value(wire, set) {
            Err(why) => unknown = Some(why),
            Ok((question, found)) => {
                if least
                    .as_ref()
                    .is_none_or(|(_, known)| found.value < known.value)
                {
                    least = Some((question, found));
                }
            }
        }
    }
    let fits =
        (least.as_ref()).is_none_or(|(_, allowed)| within(total.value(), allowed.value.value()));
    let holds = match settled(fits, unknown.as_ref()) {
        Ok(holds) => holds,
        Err(why) => return Some(Finding::not_evaluated(code, place, why)),
    };
    let Some((question, table)) = least else {
        let why = "the model applies no rule set with an ampacity table";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let allowed = table.value;
    let measured = (total.value(), allowed.value());
    if !is_wanted(facts, (wire, shared), holds, measured) {
        return None;
    }
    let id = facts.model.wires[wire].id();
    let message = format!(
        "{} loads come back through wire {id} ({}), together at most {} A; its table value is {} A.",
        shared.loads.len(),
        question.size,
        significant(total.value(), 4),
        significant(allowed.value(), 4),
    );
    let next_step = if holds {
        String::new()
    } else {
        thick_enough(&question, total).map_or_else(
            || format!("Give some of the loads on wire {id} a return of their own."),
            |size| {
                format!(
                    "Use {size} for wire {id}, or give some of its loads a return of their own."
                )
            },
        )
    };
    let each: Vec<_> = counted()
        .map(|(load, part)| {
            let current = significant(part.current.value(), 4);
            format!("{} {current} A", facts.model.loads.id(*load))
        })
        .collect();
    let mut working = Working::new();
    working.step(
        "greatest currents of its loads, all at once",
        "sum, engine starting left out",
        each.join(" + "),
        format!("{} A", significant(total.value(), 5)),
        Some(&RETURN_SMALLER_THAN_FEED.citations[1].source()),
    );
    working.append(table.working.clone());
    let found = Finding::judged(code, place, holds, message, next_step)
        .measured(total.value(), allowed.value(), "A")
        .shown(working)
        .cured_by(wire, thick_enough(&question, total));
    Some(found)
}
