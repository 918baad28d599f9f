//! A terminal or contact that does not take its wire, or an eye that does not fit its stud.

use crate::model::{
    BoatModel, Identified, Index, Pin, RuleSet, TerminalKind, TerminalPart, Wire, WireEnd,
};
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Outcome, Place, Quantity, Relation, Rule, Subject,
};
use crate::tables::conductors;
use crate::units::{Millimetres, SquareMillimetres};
use crate::working::{NotEvaluated, Source, Status, Working, significant};

/// The rule.
pub const TERMINAL_DOES_NOT_FIT: Rule = Rule {
    code: "terminal_does_not_fit",
    title: "Terminal does not fit",
    subject: Subject::Joining,
    depends: Depends::Itself,
    fault: "The terminal or contact is not made for this conductor, or its eye is not of the \
            size of the stud.",
    why: "A barrel too wide cannot be crimped tight, one too narrow cuts strands off; an eye too \
          large for its stud touches on a fraction of its area.",
    what_to_do: "Take the terminal whose range holds the conductor and whose eye has the stud's \
                 size, or a wire size the contacts take.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.6.10, as quoted publicly",
            status: Status::SeveralSources,
            relation: Relation::Requires,
            says: "Eyes and captive spades have the nominal size of their stud.",
        },
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11",
            place: "11.14.6.9.1, as quoted publicly",
            status: Status::Sourced,
            relation: Relation::DerivedFrom,
            says: "The copper in a crimp lies within the capacity of the terminal.",
        },
        Citation {
            rule_set: None,
            document: "our practice",
            place: "the part's own range",
            status: Status::OurPractice,
            relation: Relation::OurPractice,
            says: "A conductor lies within the range its terminal, contact and connector part \
                   state, because the maker's crimp holds only there.",
        },
    ],
    cases: &[
        Case {
            name: "well inside",
            given: "12 AWG (3.31 mm²) in an eye for 2.5 to 6 mm², on a fuse without a stud size.",
            changes: &[
                ("terminal_parts/ring/min_mm2", "2.5"),
                ("terminal_parts/ring/max_mm2", "6"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "2.5 mm² in an eye for 1 to 2.5 mm².",
            changes: &[
                ("wires/feed/size", r#""2.5 mm2""#),
                ("terminal_parts/ring/min_mm2", "1"),
                ("terminal_parts/ring/max_mm2", "2.5"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "12 AWG (3.31 mm²) in an eye for 1 to 3.3 mm².",
            changes: &[
                ("terminal_parts/ring/min_mm2", "1"),
                ("terminal_parts/ring/max_mm2", "3.3"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "too thin",
            given: "12 AWG (3.31 mm²) in an eye for 4 to 6 mm².",
            changes: &[
                ("terminal_parts/ring/min_mm2", "4"),
                ("terminal_parts/ring/max_mm2", "6"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "connector contacts",
            given: "12 AWG at one end in a connector whose contacts take 0.75 to 2.2 mm².",
            changes: &[
                (
                    "connector_types/+",
                    r#"{"id": "k", "cavities": 1, "min_mm2": 0.75, "max_mm2": 2.2}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "plug", "connector_type": "k", "point": "at-pump"}"#,
                ),
                (
                    "wires/+",
                    r#"{"id": "to-plug", "from": "fuse.out", "to": "plug.1", "size": "12 AWG"}"#,
                ),
                ("wires/to-plug/from_end", r#"{"terminal": "ring"}"#),
            ],
            of: "wire to-plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "eye for the stud",
            given: "An M5 eye on an M5 stud.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "post", "kind": "stud", "point": "at-fuse", "stud_mm": 5}"#,
                ),
                ("wires/feed/from", r#""post.1""#),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "eye too small for the stud",
            given: "An M5 eye on an M6 stud.",
            changes: &[
                (
                    "buses/+",
                    r#"{"id": "post", "kind": "stud", "point": "at-fuse", "stud_mm": 6}"#,
                ),
                ("wires/feed/from", r#""post.1""#),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The eye states no range, the wire ends no terminal.",
            changes: &[
                ("wires/feed/from_end", "{}"),
                ("terminal_parts/ring/max_mm2", "null"),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .judged_wires()
        .filter_map(|(wire, stated)| finding(facts.model, wire, stated))
        .collect()
}

/// A stated value, the limit it breaks, and what that means.
struct Misfit {
    value: Quantity,
    limit: Quantity,
    says: String,
}

#[derive(Default)]
struct Fit {
    checked: usize,
    misfits: Vec<Misfit>,
    missing: Vec<String>,
    working: Working,
}

/// `None` for a wire both ends of which need no terminal.
fn finding(model: &BoatModel, wire: Index<Wire>, stated: &Wire) -> Option<Finding> {
    let mut fit = Fit::default();
    for (pin, end) in [(stated.from, &stated.from_end), (stated.to, &stated.to_end)] {
        judge_end(model, stated, pin, end, &mut fit);
    }
    let (code, place) = (TERMINAL_DOES_NOT_FIT.code, Place::Wire(wire));
    let id = stated.id();
    if let Some(first) = fit.misfits.first() {
        let says: Vec<_> = fit
            .misfits
            .iter()
            .map(|misfit| misfit.says.as_str())
            .collect();
        return Some(Finding {
            rule: code,
            place,
            rule_set: None,
            state: None,
            outcome: Outcome::Fails,
            value: Some(first.value),
            limit: Some(first.limit),
            message: format!("Wire {id}: {}.", says.join("; ")),
            next_step: format!(
                "Give wire {id} terminals for its size and studs there, or another size."
            ),
            working: fit.working.into(),
            cured_by: None,
        });
    }
    if !fit.missing.is_empty() {
        let why = NotEvaluated::because(fit.missing.join("; "));
        return Some(Finding {
            working: fit.working.into(),
            ..Finding::not_evaluated(code, place, why)
        });
    }
    (fit.checked > 0).then(|| Finding {
        working: fit.working.into(),
        ..Finding::judged(
            code,
            place,
            true,
            format!("The terminals of wire {id} fit."),
            "",
        )
    })
}

/// What keeps a wire of its present size out of the cavities it ends in; its other terminals can
/// be replaced, a contact goes with its connector.
pub(crate) fn misfits_in_cavities(model: &BoatModel, wire: &Wire) -> Vec<String> {
    let mut fit = Fit::default();
    for (pin, end) in [(wire.from, &wire.from_end), (wire.to, &wire.to_end)] {
        if matches!(pin, Pin::Cavity(..)) {
            judge_end(model, wire, pin, end, &mut fit);
        }
    }
    fit.misfits.into_iter().map(|misfit| misfit.says).collect()
}

fn judge_end(model: &BoatModel, wire: &Wire, pin: Pin, end: &WireEnd, fit: &mut Fit) {
    let at = pin.label(model);
    let in_connector = match pin {
        Pin::Splice(..) => return,
        Pin::Cavity(connector, _) => {
            Some(&model.connector_types[model.connectors[connector].connector_type])
        }
        _ => None,
    };
    let terminal = end.terminal.or_else(|| in_connector?.contact);
    if let Some(part) = in_connector {
        let range = (part.min_area, part.max_area);
        judge_area(
            wire,
            range,
            &format!("connector type {}", part.id()),
            &at,
            fit,
        );
    }
    match terminal {
        Some(terminal) => {
            let part = &model.terminal_parts[terminal];
            // A contact without a range of its own has that of its connector type.
            if in_connector.is_none() || part.min_area.is_some() || part.max_area.is_some() {
                let range = (part.min_area, part.max_area);
                judge_area(wire, range, &format!("terminal {}", part.id()), &at, fit);
            }
            judge_stud(model, pin, part, &at, fit);
        }
        None if in_connector.is_none() => {
            fit.missing
                .push(format!("its end at {at} states no terminal"));
        }
        None => {}
    }
}

fn judge_area(
    wire: &Wire,
    range: (Option<SquareMillimetres>, Option<SquareMillimetres>),
    part: &str,
    at: &str,
    fit: &mut Fit,
) {
    let Some(row) = wire.size.and_then(conductors::row) else {
        fit.missing
            .push(format!("wire {} states no size", wire.id()));
        return;
    };
    let area = row.area.value;
    let shown = |area: SquareMillimetres| significant(area.value(), 4);
    let bound = |bound: Option<SquareMillimetres>| bound.map_or_else(|| "?".to_owned(), shown);
    let (least, most) = range;
    let broken = match (least, most) {
        (Some(least), _) if area < least => Some((least, "too thin")),
        (_, Some(most)) if area > most => Some((most, "too thick")),
        (Some(_), Some(_)) => None,
        _ => {
            let why = "does not state from and up to which area it takes wires";
            fit.missing.push(format!("{part} {why}"));
            return;
        }
    };
    fit.checked += 1;
    fit.working.step(
        format!("conductor in {part} at {at}"),
        "least ≤ area ≤ most",
        format!("{} ≤ {} ≤ {} mm²", bound(least), shown(area), bound(most)),
        if broken.is_none() {
            "fits"
        } else {
            "does not fit"
        },
        Some(&row.area.source),
    );
    if let Some((limit, word)) = broken {
        fit.misfits.push(Misfit {
            value: Quantity::new(area.value(), "mm²"),
            limit: Quantity::new(limit.value(), "mm²"),
            says: format!(
                "{} ({} mm²) is {word} for {part} at {at}, which takes {} to {} mm²",
                row.size,
                shown(area),
                bound(least),
                bound(most)
            ),
        });
    }
}

fn judge_stud(model: &BoatModel, pin: Pin, part: &TerminalPart, at: &str, fit: &mut Fit) {
    let clamped = matches!(
        part.kind,
        Some(
            TerminalKind::Ring
                | TerminalKind::Lug
                | TerminalKind::CaptiveSpade
                | TerminalKind::Spade
        )
    );
    // Only buses state the size of their studs.
    let Pin::Bus(bus, _) = pin else { return };
    if !clamped {
        return;
    }
    let (Some(eye), Some(stud)) = (part.stud, model.buses[bus].stud) else {
        let missing = if part.stud.is_none() {
            format!("terminal {} does not state which stud it fits", part.id())
        } else {
            format!("{} states no stud size", model.buses.id(bus))
        };
        fit.missing.push(missing);
        return;
    };
    fit.checked += 1;
    let shown = |size: Millimetres| significant(size.value(), 4);
    let source = Source::new(
        "ABYC E-11 (public excerpts)",
        "11.14.6.10",
        Status::SeveralSources,
    );
    fit.working.step(
        format!("eye of {} on {at}", part.id()),
        "eye for stud = stud",
        format!("{} mm, {} mm", shown(eye), shown(stud)),
        if eye == stud { "fits" } else { "does not fit" },
        Some(&source),
    );
    if eye != stud {
        fit.misfits.push(Misfit {
            value: Quantity::new(eye.value(), "mm"),
            limit: Quantity::new(stud.value(), "mm"),
            says: format!(
                "terminal {} is made for a stud of {} mm, {at} has {} mm",
                part.id(),
                shown(eye),
                shown(stud)
            ),
        });
    }
}
