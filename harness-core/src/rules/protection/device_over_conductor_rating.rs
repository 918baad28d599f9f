//! A fuse or breaker lets through more than a conductor behind it is allowed.

use super::walk::{Upstream, Walk};
use crate::conductor::AmpacityQuestion;
use crate::model::{Device, DeviceKind, Family, Identified, Index, RuleSet, Wire};
use crate::network::assembly::Part;
use crate::rules::ampacity::allowance::{Allowances, is_starting, thick_enough};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::tables::limits::{self, Limit};
use crate::tables::protection::{largest_standard, next_standard};
use crate::units::Amperes;
use crate::working::{NotEvaluated, Status, Worked, Working, significant};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// The rule.
pub const DEVICE_OVER_CONDUCTOR_RATING: Rule = Rule {
    code: "device_over_conductor_rating",
    title: "Fuse or breaker too large for its wire",
    subject: Subject::Protection,
    depends: Depends::Company,
    fault: "This device is rated higher than the weakest conductor behind it permits, up to the \
            next device.",
    why: "A fault that the device holds for minutes heats the wire past what its insulation \
          stands.",
    what_to_do: "Use a smaller device if its loads allow it, a thicker conductor, or a device of \
                 its own where the conductor gets thinner.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsFederal),
            document: "33 CFR 183.455",
            place: "(c)(1), under 50 V",
            status: Status::Sourced,
            relation: Relation::Requires,
            says: "At most 150 % of the Table 5 value of the conductor; the text names no factor \
                   for engine spaces or bundles, so none is taken here.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 (public excerpts)",
            place: "11.10.2.3 and exception",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "At most the ampacity of the conductor; where no standard rating equals it, the \
                   next one above, up to 150 %.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133:2012",
            place: "8.2",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "At most the current the conductor is allowed.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "15 A before 12 AWG of 105 °C: 45 A.",
            changes: &[],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "45 A before 12 AWG of 105 °C: 45 A.",
            changes: &[
                ("devices/fuse/rating_a", "45.0"),
                ("devices/fuse/family", "\"other\""),
            ],
            of: "fuse fuse",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "next standard rating",
            given: "A 40 A large blade fuse before 12 AWG in an engine space, 38.25 A: the next \
                    standard rating, 105 %.",
            changes: &[
                ("devices/fuse/rating_a", "40.0"),
                ("devices/fuse/family", "\"blade-large\""),
                ("zones/bow/engine_space", "true"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "met",
        },
        Case {
            name: "one standard rating too far",
            given: "A 60 A fuse before the same 45 A: 50 A would be the next.",
            changes: &[
                ("devices/fuse/rating_a", "60.0"),
                ("devices/fuse/family", "\"blade-large\""),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "fails",
        },
        Case {
            name: "federal, exactly at",
            given: "67.5 A before 12 AWG: 150 % of 45 A.",
            changes: &[("devices/fuse/rating_a", "67.5")],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsFederal),
            expected: "met",
        },
        Case {
            name: "federal, just over",
            given: "68 A before 12 AWG.",
            changes: &[("devices/fuse/rating_a", "68.0")],
            of: "fuse fuse",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "ISO, just over",
            given: "A 30 A fuse before 2.5 mm2 of 70 °C under ISO, which knows no next rating.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("settings/insulation_degc", "70.0"),
                ("wires/feed/size", "\"2.5 mm2\""),
                ("devices/fuse/rating_a", "30.0"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::Iso),
            expected: "fails",
        },
        Case {
            name: "family missing",
            given: "50 A before 45 A, and the fuse states no family to find the next rating in.",
            changes: &[
                ("devices/fuse/rating_a", "50.0"),
                ("devices/fuse/family", "null"),
            ],
            of: "fuse fuse",
            rule_set: Some(RuleSet::UsVoluntary),
            expected: "not evaluated",
        },
        Case {
            name: "no size",
            given: "The wire behind the fuse states no size.",
            changes: &[("wires/feed/size", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "no rating",
            given: "The fuse states no rating.",
            changes: &[("devices/fuse/rating_a", "null")],
            of: "fuse fuse",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// What one conductor permits.
struct Permitted {
    wire: Index<Wire>,
    verdict: Verdict,
    /// Greatest rating permitted before it.
    limit: Amperes,
    question: AmpacityQuestion,
    ampacity: Rc<Worked<Amperes>>,
}

#[derive(Clone, Debug, PartialEq)]
enum Verdict {
    Within,
    NotStated(String),
    Over,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let mut allowances = Allowances::of(facts);
    let protected = protected(facts);
    let mut findings = Vec::new();
    for branch in &facts.assembly.branches {
        let Part::Device(device) = branch.part else {
            continue;
        };
        let protects = facts.model.devices[device].protects();
        if !protects || !facts.judges(Place::Device(device)) {
            continue;
        }
        let wires = protected.get(&device);
        for &set in &facts.model.settings.rule_sets {
            let found = match wires {
                None => Some(nothing_behind(facts, device)),
                Some(wires) => finding(facts, &mut allowances, device, wires, set),
            };
            findings.extend(found.map(|found| found.under(set)));
        }
    }
    findings
}

/// The wires each device protects: those it is the last device before, seen from some source.
fn protected(facts: &Facts<'_>) -> BTreeMap<Index<Device>, BTreeSet<Index<Wire>>> {
    let mut protected: BTreeMap<_, BTreeSet<_>> = BTreeMap::new();
    let wires = facts.assembly.branches.iter().filter_map(|branch| {
        let Part::Wire(wire) = branch.part else {
            return None;
        };
        (!is_starting(facts, wire)).then_some((wire, branch))
    });
    let limits = |walk: &Walk| facts.model.sources[walk.source].self_limiting == Some(true);
    let walks = facts.walks.of(facts).iter();
    let walks: Vec<&Walk> = walks.filter(|walk| !limits(walk)).collect();
    for (wire, branch) in wires {
        for walk in &walks {
            if let Some(Upstream::Device(device)) = walk.upstream(branch) {
                protected.entry(device).or_default().insert(wire);
            }
        }
    }
    protected
}

fn nothing_behind(facts: &Facts<'_>, device: Index<Device>) -> Finding {
    let place = Place::Device(device);
    let message = format!(
        "No live conductor lies behind {} on this boat.",
        place.label(facts.model)
    );
    Finding::judged(DEVICE_OVER_CONDUCTOR_RATING.code, place, true, message, "")
}

fn finding(
    facts: &Facts<'_>,
    allowances: &mut Allowances<'_, '_>,
    device: Index<Device>,
    wires: &BTreeSet<Index<Wire>>,
    rule_set: RuleSet,
) -> Option<Finding> {
    let code = DEVICE_OVER_CONDUCTOR_RATING.code;
    let place = Place::Device(device);
    let stated = &facts.model.devices[device];
    let Some(rating) = stated.rating else {
        let why = "the device states no rated current";
        return Some(Finding::not_evaluated(
            code,
            place,
            NotEvaluated::because(why),
        ));
    };
    let mut weakest: Option<Permitted> = None;
    let mut missing = None;
    for &wire in wires {
        match permitted(allowances, stated, rating, wire, rule_set) {
            Err(why) => missing = Some(why),
            Ok(one) => {
                let weaker = weakest.as_ref().is_none_or(|known| {
                    (rank(&one.verdict), -one.limit.value())
                        > (rank(&known.verdict), -known.limit.value())
                });
                if weaker {
                    weakest = Some(one);
                }
            }
        }
    }
    let over = weakest
        .as_ref()
        .is_some_and(|one| one.verdict == Verdict::Over);
    let weakest = match (missing, weakest) {
        (Some(why), _) if !over => return Some(Finding::not_evaluated(code, place, why)),
        (_, Some(weakest)) => weakest,
        (_, None) => return Some(nothing_behind(facts, device)),
    };
    let limit = weakest.limit.value();
    let known = match weakest.verdict {
        Verdict::Within => Some(true),
        Verdict::Over => Some(false),
        Verdict::NotStated(_) => None,
    };
    let of = (code, place, Some(rule_set));
    if known.is_some_and(|holds| !facts.wants(of, holds, rating.value(), limit)) {
        return None;
    }
    let mut working = weakest.ampacity.working.clone();
    let ampacity = weakest.ampacity.value;
    if let Err(why) = against(stated, rating, ampacity, rule_set, Some(&mut working)) {
        return Some(Finding::not_evaluated(code, place, why));
    }
    let message = format!(
        "{} of {} A protects {}; the weakest, {} ({}), permits {} A.",
        place.label(facts.model),
        significant(rating.value(), 4),
        match wires.len() {
            1 => "one wire".to_owned(),
            count => format!("{count} wires"),
        },
        facts.model.wires[weakest.wire].id(),
        weakest.question.size,
        significant(weakest.limit.value(), 4),
    );
    let found = match &weakest.verdict {
        Verdict::Within => Finding::judged(code, place, true, message, ""),
        Verdict::NotStated(why) => {
            Finding::not_evaluated(code, place, NotEvaluated::because(why.clone()))
        }
        Verdict::Over => {
            let next_step = next_step(facts, device, &weakest, rating);
            let size = thick_enough(&weakest.question, rating * weakest.question_share());
            Finding::judged(code, place, false, message, next_step).cured_by(weakest.wire, size)
        }
    };
    Some(found.measured(rating.value(), limit, "A").shown(working))
}

fn rank(verdict: &Verdict) -> u8 {
    match verdict {
        Verdict::Within => 0,
        Verdict::NotStated(_) => 1,
        Verdict::Over => 2,
    }
}

/// The family whose standard ratings a device is chosen from.
fn family(device: &Device) -> Option<Family> {
    match device.kind {
        DeviceKind::Breaker => device.family.or(Some(Family::Breaker)),
        _ => device.family,
    }
}

fn permitted(
    allowances: &mut Allowances<'_, '_>,
    device: &Device,
    rating: Amperes,
    wire: Index<Wire>,
    rule_set: RuleSet,
) -> Result<Permitted, NotEvaluated> {
    let (question, ampacity, inside) = if rule_set == RuleSet::UsFederal {
        let (question, ampacity) = allowances.table_value(wire, rule_set)?;
        (question, ampacity, None)
    } else {
        let allowance = allowances.allowance(wire, rule_set)?;
        (allowance.question, allowance.greatest, allowance.inside)
    };
    let (mut verdict, limit) = against(device, rating, ampacity.value, rule_set, None)?;
    if let (Some((inside, not_stated)), true) = (inside, verdict == Verdict::Within) {
        let holds = inside.is_ok_and(|inside| {
            let judged = against(device, rating, inside, rule_set, None);
            judged.is_ok_and(|(verdict, _)| verdict == Verdict::Within)
        });
        if !holds {
            verdict = Verdict::NotStated(format!(
                "{not_stated}, and the factor for engine spaces decides"
            ));
        }
    }
    Ok(Permitted {
        wire,
        verdict,
        limit,
        question,
        ampacity,
    })
}

/// A rating against the ampacity of one conductor, and the greatest rating permitted.
fn against(
    device: &Device,
    rating: Amperes,
    ampacity: Amperes,
    rule_set: RuleSet,
    mut shown: Option<&mut Working>,
) -> Result<(Verdict, Amperes), NotEvaluated> {
    let percent = limits::number(Limit::DevicePercentOfConductor, rule_set)
        .ok_or_else(|| NotEvaluated::because("this rule set states no share of the ampacity"))?;
    let limit = ampacity * percent.value / 100.0;
    if let Some(working) = &mut shown {
        working.step(
            "greatest rating before this conductor",
            "I device <= share · I conductor",
            format!(
                "{} % of {} A",
                percent.value,
                significant(ampacity.value(), 5)
            ),
            format!("{} A", significant(limit.value(), 5)),
            Some(&percent.source),
        );
    }
    if rating <= limit {
        return Ok((Verdict::Within, limit));
    }
    let Some(exception) = limits::number(Limit::DevicePercentNextStandard, rule_set) else {
        return Ok((Verdict::Over, limit));
    };
    let ceiling = ampacity * exception.value / 100.0;
    if rating > ceiling {
        return Ok((Verdict::Over, limit));
    }
    let Some(family) = family(device) else {
        let why = "the device states no family, and only among the standard ratings of one can \
                   the next above the ampacity be told";
        return Ok((Verdict::NotStated(why.to_owned()), limit));
    };
    let next = next_standard(family, ampacity).map(|next| next.value);
    if let Some(working) = &mut shown {
        working.step(
            "next standard rating, where none equals the ampacity",
            "next rating <= share · I conductor",
            format!(
                "up to {} % of {} A",
                exception.value,
                significant(ampacity.value(), 5)
            ),
            next.map_or_else(|| "none".to_owned(), |next| next.to_string()),
            Some(&exception.source),
        );
    }
    Ok(match next {
        Some(next) if next == rating => (Verdict::Within, next),
        Some(next) if next <= ceiling => (Verdict::Over, next),
        _ => (Verdict::Over, limit),
    })
}

fn next_step(
    facts: &Facts<'_>,
    device: Index<Device>,
    weakest: &Permitted,
    rating: Amperes,
) -> String {
    let stated = &facts.model.devices[device];
    let needed = rating * (weakest.question_share());
    let wire = facts.model.wires.id(weakest.wire);
    let carried = facts.greatest_current(Part::Device(device)).current;
    let smaller = family(stated)
        .and_then(|family| largest_standard(family, weakest.limit))
        .map(|cited| cited.value)
        .filter(|smaller| *smaller >= carried);
    let smaller = smaller.map(|smaller| format!("a {smaller} {}", stated.kind));
    let thicker =
        thick_enough(&weakest.question, needed).map(|size| format!("{size} for wire {wire}"));
    match (smaller, thicker) {
        (Some(smaller), Some(thicker)) => format!("Use {smaller}, or {thicker}."),
        (Some(only), None) | (None, Some(only)) => format!("Use {only}."),
        (None, None) => format!(
            "Put a device of its own, of at most {} A, where wire {wire} begins.",
            significant(weakest.limit.value(), 3)
        ),
    }
}

impl Permitted {
    /// Ampacity needed for one ampere of device rating.
    fn question_share(&self) -> f64 {
        limits::number(Limit::DevicePercentOfConductor, self.question.rule_set)
            .map_or(1.0, |percent| 100.0 / percent.value)
    }
}
