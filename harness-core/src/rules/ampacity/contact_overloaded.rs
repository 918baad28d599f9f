//! A contact of a connector carries more than its part is made for.

use crate::model::{Connector, Index};
use crate::network::assembly::Part;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Greatest, Place, Relation, Rule, Subject,
    UNKNOWN_UNDER_WAY, settled, within,
};
use crate::units::Amperes;
use crate::working::{NotEvaluated, Status, Working, significant};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The rule.
pub const CONTACT_OVERLOADED: Rule = Rule {
    code: "contact_overloaded",
    title: "Contact overloaded",
    subject: Subject::Ampacity,
    depends: Depends::Flow,
    fault: "In some state a contact of this connector carries more than its part is rated for.",
    why: "A contact heats with the square of the current; its spring goes soft, its resistance \
          rises, and it melts the housing.",
    what_to_do: "Use a connector of larger contacts, split the circuit over two cavities, or lead \
                 it past the connector.",
    citations: &[Citation {
        rule_set: None,
        document: "Contact rating stated for the connector type",
        place: "maker's sheet of the part",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "Each contact is held to the rating of its part, because no standard read gives one. \
               The rating is taken as stated: makers reduce it when many contacts are loaded.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "5 A through contacts of 13 A.",
            changes: PLUG,
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "13 A through the same contacts.",
            changes: &[
                ("loads/pump/current_a", "13.0"),
                PLUG[0],
                PLUG[1],
                PLUG[2],
                PLUG[3],
            ],
            of: "connector plug",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "13.1 A through the same contacts.",
            changes: &[
                ("loads/pump/current_a", "13.1"),
                PLUG[0],
                PLUG[1],
                PLUG[2],
                PLUG[3],
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "coupler",
            given: "13.1 A through both halves of a coupler of 13 A.",
            changes: &[
                ("loads/pump/current_a", "13.1"),
                PLUG[0],
                (
                    "connectors/+",
                    r#"{"id": "a", "connector_type": "K2", "point": "at-pump"}"#,
                ),
                (
                    "connectors/+",
                    r#"{"id": "b", "connector_type": "K2", "point": "at-pump"}"#,
                ),
                (
                    "couplers/+",
                    r#"{"id": "deck", "first": "a", "second": "b"}"#,
                ),
                ("wires/feed/to", "\"a.1\""),
                (
                    "wires/+",
                    r#"{"id": "tail", "from": "b.1", "to": "pump.plus", "size": "12 AWG"}"#,
                ),
            ],
            of: "coupler deck",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The connector type states no rating.",
            changes: &[
                PLUG[0],
                PLUG[1],
                PLUG[2],
                PLUG[3],
                ("connector_types/K2/contact_rating_a", "null"),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "over in one state, unknown in another",
            given: "14 A moored through contacts for 13 A; under way a pump of unknown current runs besides.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                PLUG[0],
                PLUG[1],
                PLUG[2],
                PLUG[3],
                ("loads/pump/current_a", "14.0"),
            ],
            of: "connector plug",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

/// The pump is reached through a plug of two contacts.
const PLUG: &[(&str, &str)] = &[
    (
        "connector_types/+",
        r#"{"id": "K2", "cavities": 2, "contact_rating_a": 13.0, "contact_resistance_mohm": 0.0,
            "entry_mm": 0.0}"#,
    ),
    (
        "connectors/+",
        r#"{"id": "plug", "connector_type": "K2", "point": "at-pump", "plugs_into":
            {"equipment": "pump", "pins": [{"cavity": 1, "pin": "plus"},
                                           {"cavity": 2, "pin": "minus"}]}}"#,
    ),
    ("wires/feed/to", "\"plug.1\""),
    ("wires/return/from", "\"plug.2\""),
];

/// The heaviest contact known of one coupler or plugged connector, and why another may be heavier.
struct Heaviest {
    cavity: u32,
    greatest: Greatest,
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let mut heaviest: BTreeMap<Place, Heaviest> = BTreeMap::new();
    for branch in &facts.assembly.branches {
        let (place, cavity) = match branch.part {
            Part::Coupler(coupler, cavity) => (Place::Coupler(coupler), cavity),
            Part::Contact(connector, cavity) => (Place::Connector(connector), cavity),
            _ => continue,
        };
        if !facts.judges(place) {
            continue;
        }
        let greatest = facts.greatest_current(branch.part);
        match heaviest.entry(place) {
            Entry::Vacant(first) => drop(first.insert(Heaviest { cavity, greatest })),
            Entry::Occupied(mut known) => {
                let known = known.get_mut();
                let mut other = Heaviest { cavity, greatest };
                if other.greatest.current > known.greatest.current {
                    std::mem::swap(known, &mut other);
                }
                known.greatest.doubts_of(&other.greatest);
            }
        }
    }
    heaviest
        .into_iter()
        .map(|(place, heaviest)| finding(facts, place, &heaviest))
        .collect()
}

/// The rating of a contact: of a coupler that of the weaker half.
fn rating(facts: &Facts<'_>, place: Place) -> Result<Amperes, NotEvaluated> {
    let of = |connector: Index<Connector>| {
        let part = facts.model.connectors[connector].connector_type;
        facts.model.connector_types[part]
            .contact_rating
            .ok_or_else(|| {
                NotEvaluated::because(format!(
                    "connector type {} states no contact rating",
                    facts.model.connector_types.id(part)
                ))
            })
    };
    match place {
        Place::Coupler(coupler) => {
            let coupler = &facts.model.couplers[coupler];
            Ok(of(coupler.first)?.min(of(coupler.second)?))
        }
        Place::Connector(connector) => of(connector),
        _ => Err(NotEvaluated::because("it has no contacts")),
    }
}

fn finding(facts: &Facts<'_>, place: Place, heaviest: &Heaviest) -> Finding {
    let code = CONTACT_OVERLOADED.code;
    let Heaviest { cavity, greatest } = heaviest;
    let judged = rating(facts, place).and_then(|rating| {
        let fits = within(greatest.current.value(), rating.value());
        Ok((rating, settled(fits, greatest.may_exceed(rating))?))
    });
    let (rating, holds) = match judged {
        Ok(judged) => judged,
        Err(why) => return Finding::not_evaluated(code, place, why),
    };
    let message = format!(
        "Cavity {cavity} of {} carries {} A {}, its heaviest; rated are {} A.",
        place.label(facts.model),
        significant(greatest.current.value(), 4),
        facts.state_words(greatest.state),
        significant(rating.value(), 4),
    );
    let next_step = format!(
        "Use a connector whose contacts carry {} A, or split the circuit of cavity {cavity} over two \
         cavities.",
        significant(greatest.current.value(), 3),
    );
    let mut working = Working::new();
    working.step(
        format!("greatest current of cavity {cavity}"),
        "",
        facts.state_words(greatest.state),
        format!("{} A", significant(greatest.current.value(), 5)),
        None,
    );
    working.step(
        "rating of one contact",
        "",
        "as stated for the connector type",
        rating.to_string(),
        Some(&CONTACT_OVERLOADED.citations[0].source()),
    );
    Finding::judged(code, place, holds, message, next_step)
        .worst_in(greatest.state)
        .measured(greatest.current.value(), rating.value(), "A")
        .shown(working)
}
