//! A wire has a color that stands for something else.

use crate::model::{BoatModel, Function, Identified, Index, Role, RuleSet, Wire};
use crate::rules::{Case, Citation, Depends, Facts, Finding, Place, Relation, Rule, Subject};
use crate::tables::colors;
use crate::working::{NotEvaluated, Status, Working};

/// The rule.
pub const WRONG_COLOR_FOR_FUNCTION: Rule = Rule {
    code: "wrong_color_for_function",
    title: "Color of something else",
    subject: Subject::Conductors,
    depends: Depends::Itself,
    fault: "The color of this wire is kept for something else, or is not the one recommended for \
            what it feeds.",
    why: "Whoever repairs the boat trusts the color: a live wire in green, or a feed in black, \
          ends in a short or on a finger.",
    what_to_do: "Return black or yellow, bonding green or green with yellow, no live wire in \
                 either; feeds in red or in the color of what they serve, that of a bilge blower \
                 in yellow only where no return of the boat model is yellow.",
    citations: &[
        Citation {
            rule_set: Some(RuleSet::UsVoluntary),
            document: "ABYC E-11 color tables, public reprints",
            place: "d.c. system color code",
            status: Status::SeveralSources,
            relation: Relation::Recommends,
            says: "Black or yellow for d.c. negative, green or green with yellow for grounding and \
                   bonding, red for positive mains, and a color for each common function.",
        },
        Citation {
            rule_set: Some(RuleSet::Iso),
            document: "ISO 10133:2012",
            place: "clause 7, identification",
            status: Status::FromMemory,
            relation: Relation::Requires,
            says: "Yellow or black for the negative; green or green with yellow never for a live \
                   d.c. conductor.",
        },
    ],
    cases: &[
        Case {
            name: "return in black",
            given: "A black return.",
            changes: &[],
            of: "wire return",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "return in yellow",
            given: "A yellow return.",
            changes: &[("wires/return/color", "\"Yellow\"")],
            of: "wire return",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "return in red",
            given: "A red return.",
            changes: &[("wires/return/color", "\"red\"")],
            of: "wire return",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "feed in its own color",
            given: "A brown feed of a pump.",
            changes: &[],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "feed in red",
            given: "A red feed of a pump.",
            changes: &[("wires/feed/color", "\"red\"")],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "feed with a stripe",
            given: "A feed of a pump in brown with a white stripe.",
            changes: &[("wires/feed/color", "\"brown/white\"")],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "feed in the color of another function",
            given: "An orange feed of a pump.",
            changes: &[("wires/feed/color", "\"orange\"")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "feed in black",
            given: "A black feed.",
            changes: &[("wires/feed/color", "\"black\"")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "live wire in green",
            given: "A green feed with a yellow stripe.",
            changes: &[("wires/feed/color", "\"green/yellow\"")],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "bonding in black",
            given: "A bonding wire that is not green.",
            changes: &[("wires/return/role", "\"bonding\"")],
            of: "wire return",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "yellow blower where yellow is the negative",
            given: "A yellow feed of a bilge blower beside a yellow return.",
            changes: &[
                ("circuits/C1/function", "\"bilge-blower\""),
                ("wires/feed/color", "\"yellow\""),
                ("wires/return/color", "\"yellow\""),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "fails",
        },
        Case {
            name: "ISO knows no color of a function",
            given: "An orange feed of a pump under ISO.",
            changes: &[
                ("settings/rule_sets", "[\"iso\"]"),
                ("wires/feed/color", "\"orange\""),
            ],
            of: "wire feed",
            rule_set: None,
            expected: "met",
        },
        Case {
            name: "data missing",
            given: "The wire states no color.",
            changes: &[("wires/feed/color", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
        Case {
            name: "role missing",
            given: "The wire states no role.",
            changes: &[("wires/feed/role", "null")],
            of: "wire feed",
            rule_set: None,
            expected: "not evaluated",
        },
    ],
    judge,
};

/// Names of the functions in the color table.
const NEGATIVE: &str = "DC negative return";
const BONDING: &str = "DC grounding and bonding";
const POSITIVE: &str = "positive mains";

/// The functions of the color table that a circuit's function means; none where the table has
/// none for it.
fn table_functions(function: Function) -> &'static [&'static str] {
    match function {
        Function::MainFeed | Function::Charging => &[POSITIVE],
        Function::AccessoryFeed => &["accessory feed", "common feed to switches"],
        Function::IgnitionFeed => &["ignition", "instrument feed"],
        Function::NavigationLights => &["navigation lights"],
        Function::BilgeBlower => &["bilge blowers"],
        Function::Pump => &["pumps"],
        Function::CabinLights => &["cabin and instrument lights"],
        Function::Starting => &["starting switch to solenoid"],
        Function::Bonding => &[BONDING],
        Function::Sender => &[
            "instrument feed",
            "oil pressure sender",
            "water temperature sender",
            "fuel gauge sender",
        ],
        Function::Electronics | Function::Other => &[],
    }
}

/// A color as written, in the spelling of the table.
fn spelled(color: &str) -> String {
    color.trim().to_lowercase().replace("grey", "gray")
}

fn base(color: &str) -> &str {
    color.split('/').next().unwrap_or(color).trim()
}

/// The colors of these functions in the table.
fn colors_of(functions: &[&str]) -> Vec<&'static str> {
    colors::functions()
        .iter()
        .filter(|row| functions.contains(&row.function.as_str()))
        .map(|row| row.color.value.as_str())
        .collect()
}

/// Whether a color is one of the table's, or that with a stripe: `blue` for `dark blue` too.
fn is_one_of(color: &str, table: &[&str]) -> bool {
    let own = base(color);
    table.iter().any(|listed| {
        color == *listed
            || !listed.contains('/')
                && (own == *listed || listed.split(' ').next_back() == Some(own))
    })
}

fn judge(facts: &Facts<'_>) -> Vec<Finding> {
    let yellow_return = has_yellow_return(facts.model);
    facts
        .judged_wires()
        .map(|(wire, stated)| finding(facts, wire, stated, yellow_return))
        .collect()
}

/// Whether yellow stands for the negative on any boat of a model: whoever works on one has seen the
/// others, so one color code serves them all (our practice).
pub(crate) fn has_yellow_return(model: &BoatModel) -> bool {
    model.wires.iter().any(|(_, wire)| {
        let color = wire.color.as_deref().map(spelled);
        wire.role == Some(Role::Return) && color.is_some_and(|color| base(&color) == "yellow")
    })
}

/// Whether the color of a wire is right only where no return of the model is yellow.
pub(crate) fn hangs_on_returns(model: &BoatModel, wire: &Wire) -> bool {
    let function = wire.function(model);
    let color = wire.color.as_deref().map(spelled);
    color.is_some_and(|color| is_yellow_blower(&color, function))
}

fn is_yellow_blower(color: &str, function: Option<Function>) -> bool {
    function == Some(Function::BilgeBlower) && color == "yellow"
}

/// What is wrong with a color, and the colors to choose from.
struct Wrong {
    because: String,
    choose: Vec<&'static str>,
}

fn finding(facts: &Facts<'_>, wire: Index<Wire>, stated: &Wire, yellow_return: bool) -> Finding {
    let code = WRONG_COLOR_FOR_FUNCTION.code;
    let place = Place::Wire(wire);
    let (Some(color), Some(role)) = (&stated.color, stated.role) else {
        let what = if stated.color.is_none() {
            "color"
        } else {
            "role"
        };
        let why = NotEvaluated::because(format!("the wire states no {what}"));
        return Finding::not_evaluated(code, place, why);
    };
    let color = spelled(color);
    let function = stated.function(facts.model);
    let by_function = facts.applies(RuleSet::UsVoluntary);
    let wrong = match role {
        Role::Return => wrong_return(&color),
        Role::Bonding => wrong_bonding(&color),
        Role::Feed | Role::Signal => live_in_green(&color)
            .or_else(|| {
                (role == Role::Feed).then(|| wrong_feed(&color, function, yellow_return))?
            })
            .or_else(|| {
                let function = function.filter(|_| role == Role::Feed && by_function)?;
                not_recommended(&color, function)
            }),
    };
    let id = stated.id();
    let mut working = Working::new();
    let citation = &WRONG_COLOR_FOR_FUNCTION.citations[usize::from(!by_function)];
    working.step(
        "color table",
        "",
        format!(
            "{role}, {}",
            function.map_or("no function stated", Function::word)
        ),
        wrong
            .as_ref()
            .map_or_else(|| color.clone(), |wrong| wrong.choose.join(", ")),
        Some(&citation.source()),
    );
    let found = match wrong {
        None => {
            let message = format!("Wire {id} ({role}) is {color}.");
            Finding::judged(code, place, true, message, "")
        }
        Some(wrong) => {
            let message = format!("Wire {id} ({role}) is {color}, but {}.", wrong.because);
            let next_step = format!("Use {} for wire {id}.", wrong.choose.join(" or "));
            Finding::judged(code, place, false, message, next_step)
        }
    };
    found.shown(working)
}

fn wrong_return(color: &str) -> Option<Wrong> {
    let choose = colors_of(&[NEGATIVE]);
    (!is_one_of(color, &choose)).then(|| Wrong {
        because: "a return is black or yellow".to_owned(),
        choose,
    })
}

fn wrong_bonding(color: &str) -> Option<Wrong> {
    let choose = colors_of(&[BONDING]);
    (!choose.contains(&color)).then(|| Wrong {
        because: "a bonding wire is green or green with yellow".to_owned(),
        choose,
    })
}

fn live_in_green(color: &str) -> Option<Wrong> {
    colors_of(&[BONDING]).contains(&color).then(|| Wrong {
        because: "that is kept for bonding and must never be on a live wire".to_owned(),
        choose: colors_of(&[POSITIVE]),
    })
}

/// A feed in a color of returns. Yellow is older practice for bilge blowers, and only where no
/// return of the model is yellow; with a red stripe it is that of the starting switch.
fn wrong_feed(color: &str, function: Option<Function>, yellow_return: bool) -> Option<Wrong> {
    let blower = is_yellow_blower(color, function) && !yellow_return;
    let negative = base(color) == "black" || color == "yellow";
    (negative && !blower).then(|| Wrong {
        because: "that is a color of returns".to_owned(),
        choose: function
            .map(|function| colors_of(table_functions(function)))
            .filter(|colors| !colors.is_empty())
            .unwrap_or_else(|| colors_of(&[POSITIVE]))
            .into_iter()
            .filter(|color| *color != "yellow")
            .collect(),
    })
}

fn not_recommended(color: &str, function: Function) -> Option<Wrong> {
    let mut choose = colors_of(table_functions(function));
    if choose.is_empty() {
        return None;
    }
    for red in colors_of(&[POSITIVE]) {
        if !choose.contains(&red) {
            choose.push(red);
        }
    }
    (!is_one_of(color, &choose)).then(|| Wrong {
        because: format!("another color is recommended for {function}"),
        choose,
    })
}
