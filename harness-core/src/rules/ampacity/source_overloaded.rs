//! A source gives more than it can without harm.

use crate::model::{Index, Source};
use crate::network::assembly::SourceCondition;
use crate::rules::{
    Case, Citation, Depends, Facts, Finding, Greatest, Place, Relation, Rule, Subject,
    UNKNOWN_UNDER_WAY, settled, within,
};
use crate::working::{NotEvaluated, Status, Working, significant};

/// The rule.
pub const SOURCE_OVERLOADED: Rule = Rule {
    code: "source_overloaded",
    title: "Source overloaded",
    subject: Subject::Ampacity,
    depends: Depends::Flow,
    fault: "In some state the loads of this boat draw more from the source than it is stated to \
            give without harm.",
    why: "An alternator burns out, a charger shuts off, a battery's internal limit opens and the \
          boat goes dark.",
    what_to_do: "Fit a larger source, share the loads between sources, or do not run them \
                 together.",
    citations: &[Citation {
        rule_set: None,
        document: "Greatest current stated for the source",
        place: "label or data sheet of the source",
        status: Status::OurPractice,
        relation: Relation::OurPractice,
        says: "A source is held to the greatest current stated for it, because beyond it the \
               maker promises nothing.",
    }],
    cases: &[
        Case {
            name: "well inside",
            given: "5 A from a battery stated for 600 A.",
            changes: &[],
            of: "source battery",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "exactly at",
            given: "5 A from a battery stated for 5 A.",
            changes: &[("sources/battery/max_a", "5.0")],
            of: "source battery",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "just over",
            given: "5 A from a battery stated for 4.9 A.",
            changes: &[("sources/battery/max_a", "4.9")],
            of: "source battery",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "data missing",
            given: "The battery states no greatest current.",
            changes: &[("sources/battery/max_a", "null")],
            of: "source battery",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "load unknown",
            given: "The pump states neither current, power nor resistance.",
            changes: &[("loads/pump/current_a", "null")],
            of: "source battery",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "over in one state, unknown in another",
            given: "30 A moored from a battery for 20 A; under way a pump of unknown current runs besides.",
            changes: &[
                UNKNOWN_UNDER_WAY[0],
                UNKNOWN_UNDER_WAY[1],
                UNKNOWN_UNDER_WAY[2],
                UNKNOWN_UNDER_WAY[3],
                UNKNOWN_UNDER_WAY[4],
                ("loads/pump/current_a", "30.0"),
                ("sources/battery/max_a", "20.0"),
            ],
            of: "source battery",
            rule_set: None,
            expected: "fails",
        },
    ],
    judge,
};

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    facts
        .assembly
        .sources
        .iter()
        .filter(|(source, ..)| facts.judges(Place::Source(*source)))
        .map(|&(source, ..)| finding(facts, source))
        .collect()
}

/// The greatest current the source gives over the states; charging is none.
fn greatest(facts: &Facts<'_>, source: Index<Source>) -> Greatest {
    let mut greatest = Greatest::default();
    for operating in facts.at(SourceCondition::Nominal) {
        if let Some(given) = operating.source_currents.get(&source) {
            greatest.include(operating.state, given);
            let more = operating.at_least.sources.get(&source);
            greatest.may_be_more(given.clone().unwrap_or_default(), more);
        }
    }
    greatest
}

fn finding(facts: &Facts<'_>, source: Index<Source>) -> Finding {
    let code = SOURCE_OVERLOADED.code;
    let place = Place::Source(source);
    let greatest = greatest(facts, source);
    let Some(limit) = facts.model.sources[source].max_current else {
        let why = "the source states no greatest current";
        return Finding::not_evaluated(code, place, NotEvaluated::because(why));
    };
    let title = place.title(facts.model);
    let current = greatest.current;
    let fits = within(current.value(), limit.value());
    let holds = match settled(fits, greatest.may_exceed(limit)) {
        Ok(holds) => holds,
        Err(why) => return Finding::not_evaluated(code, place, why),
    };
    let message = format!(
        "{title} gives {} A {}; it can give {} A.",
        significant(current.value(), 4),
        facts.state_words(greatest.state),
        significant(limit.value(), 4),
    );
    let next_step = format!(
        "Take {} A off {title} in that state, or fit a source for {} A.",
        significant((current - limit).value(), 3),
        significant(current.value(), 3)
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
        "greatest current it can give",
        "",
        "as stated",
        limit.to_string(),
        Some(&SOURCE_OVERLOADED.citations[0].source()),
    );
    Finding::judged(code, place, holds, message, next_step)
        .worst_in(greatest.state)
        .measured(current.value(), limit.value(), "A")
        .shown(working)
}
