//! Which harnesses to make for the boats that are ordered.

mod reading;

use std::collections::BTreeMap;

use askama::Template;
use harness_core::contents::{Cents, ContentAnswer, ContentsAnswer, LevelAnswer, WorthAnswer};
use harness_core::working::{Working, significant};

use super::drawing::{CostCurve, CostPoint, cost_curve};
use super::{FieldFault, Frame};

/// Fields of the form.
const FIELDS: &[&str] = &[
    "modules",
    "shared",
    "orders",
    "base_cost",
    "part_number_cost_per_year",
    "boats_per_year",
];

/// What the form holds before anything was asked: an invented series of 7 m boats.
const EXAMPLE: &[(&str, &str)] = &[
    (
        "modules",
        "courtesy lights, 18, 14\nhardtop lights, 34, 16\nstereo, 41, 18\nplotter, 52, 22\n\
         radar, 46, 24\ntrim tabs, 58, 20\nwindlass, 118, 38\nbow thruster, 204, 44\n\
         second battery, 96, 28",
    ),
    (
        "shared",
        "windlass + bow thruster, 85\nhardtop lights + radar, 30",
    ),
    (
        "orders",
        "none, 21\ncourtesy lights + stereo, 48\ncourtesy lights + plotter, 17\n\
         courtesy lights + stereo + plotter, 66\n\
         courtesy lights + stereo + plotter + trim tabs, 39\n\
         courtesy lights + hardtop lights + stereo + plotter, 34\n\
         courtesy lights + stereo + plotter + windlass, 26\n\
         courtesy lights + hardtop lights + stereo + plotter + radar + trim tabs, 22\n\
         courtesy lights + hardtop lights + stereo + plotter + trim tabs + second battery, 12\n\
         courtesy lights + hardtop lights + stereo + plotter + windlass + second battery, 9\n\
         courtesy lights + hardtop lights + stereo + plotter + radar + trim tabs + windlass \
         + bow thruster + second battery, 6",
    ),
    ("base_cost", "140"),
    ("part_number_cost_per_year", "6500"),
    ("boats_per_year", "300"),
];

/// A row of the table of numbers of contents.
#[derive(Debug)]
struct LevelRow {
    contents: String,
    is_cheapest: bool,
    /// Amounts a year.
    cost: String,
    wiring: String,
    given_away: String,
    part_numbers: String,
    harnesses: Vec<Harness>,
    proven: bool,
    because: Option<String>,
}

/// A harness of a level.
#[derive(Debug)]
struct Harness {
    name: String,
    modules: String,
    rest: String,
}

/// A row of the table of orders: its modules, its boats, and the harness it gets at each level.
#[derive(Debug)]
struct OrderRow {
    modules: String,
    boats: u32,
    gets: Vec<String>,
}

/// A row of the table of modules.
#[derive(Debug)]
struct WorthRow {
    module: String,
    take_rate: String,
    in_main: String,
    threshold: String,
    amounts: Option<[String; 2]>,
    place: &'static str,
    because: Option<String>,
    working: Working,
}

/// The answer, ready to be shown.
#[derive(Debug)]
struct Answer {
    headline: String,
    sentences: Vec<String>,
    chart: String,
    levels: Vec<LevelRow>,
    level_names: Vec<String>,
    orders: Vec<OrderRow>,
    modules: Vec<WorthRow>,
}

/// The form and its answer.
#[derive(Debug, Template)]
#[template(path = "harness_contents.html")]
pub struct HarnessContentsPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    values: BTreeMap<String, String>,
    is_example: bool,
    answer: Option<Answer>,
}

impl HarnessContentsPage {
    /// The form as asked, with its answer; without a question, with an invented one.
    pub fn new(mut asked: BTreeMap<String, String>) -> Self {
        let is_example = !FIELDS.iter().any(|field| asked.contains_key(*field));
        if is_example {
            let example = EXAMPLE.iter();
            asked = example
                .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
                .collect();
        }
        let mut reading = reading::read(&asked);
        let answer = if reading.is_faulty() {
            // What else is wrong is told with what could not be read.
            if let Err(found) = reading.question.demand() {
                reading.add(found);
            }
            None
        } else {
            let answered = reading.question.answer();
            answered.map_err(|found| reading.add(found)).ok()
        };
        Self {
            frame: Frame {
                is_form_again: reading.is_faulty(),
                ..Frame::new("Harness contents").at("/harness-contents")
            },
            faults: reading.faults(),
            values: asked,
            is_example,
            answer: answer.map(|found| Answer::of(&found)),
        }
    }

    /// Whether something is wrong with the question.
    pub fn is_faulty(&self) -> bool {
        !self.faults.is_empty()
    }

    fn value(&self, name: &str) -> &str {
        self.values.get(name).map_or("", String::as_str)
    }
}

/// An amount to the cent.
fn exact(amount: f64) -> String {
    Cents::new((amount * 100.0).round() as i64).to_string()
}

/// An amount without cents.
fn whole(amount: f64) -> String {
    Cents::new(amount.round() as i64 * 100).to_string()
}

fn percent(share: f64) -> String {
    format!("{} %", significant(share * 100.0, 3))
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        _ => format!("{count} {what}s"),
    }
}

fn listed(modules: &[String]) -> String {
    if modules.is_empty() {
        "no module".to_owned()
    } else {
        modules.join(" + ")
    }
}

impl Answer {
    fn of(found: &ContentsAnswer) -> Self {
        let made: Vec<&LevelAnswer> = found
            .levels
            .iter()
            .filter(|level| level.contents.len() == level.most_contents)
            .collect();
        let mut levels: Vec<LevelRow> = made
            .iter()
            .map(|level| LevelRow::of(level, found.cheapest))
            .collect();
        if found.per_order.contents > made.len() {
            levels.push(LevelRow::per_order(found));
        }
        let gets = |order: usize, level: &LevelAnswer| {
            let content = level
                .contents
                .iter()
                .find(|content| content.orders.contains(&order));
            content.map_or(String::new(), |content| content.name.clone())
        };
        let order = |(number, order): (usize, &harness_core::contents::OrderAnswer)| OrderRow {
            modules: listed(&order.modules),
            boats: order.boats_per_year,
            gets: made
                .iter()
                .skip(1)
                .map(|level| gets(number, level))
                .collect(),
        };
        Self {
            headline: headline(found),
            sentences: sentences(found, made.len()),
            chart: chart(found),
            levels,
            level_names: made
                .iter()
                .skip(1)
                .map(|level| level.most_contents.to_string())
                .collect(),
            orders: found.orders.iter().enumerate().map(order).collect(),
            modules: found.main_or_add_on.iter().map(WorthRow::of).collect(),
        }
    }
}

fn cheapest(found: &ContentsAnswer) -> Option<&LevelAnswer> {
    found
        .levels
        .iter()
        .find(|level| level.contents.len() == found.cheapest)
}

fn headline(found: &ContentsAnswer) -> String {
    let cost = cheapest(found).map_or(0.0, |level| level.cost_per_year);
    let count = match found.cheapest {
        1 => "one full harness".to_owned(),
        count => format!("{count} different harnesses"),
    };
    // Each order its own may be cheaper still.
    let among = match found.levels.last() {
        Some(last) if found.per_order.cost_per_year < cost => {
            format!("Cheapest of up to {}", last.most_contents)
        }
        _ => "Cheapest".to_owned(),
    };
    format!("{among}: {count}, {} a year", whole(cost))
}

fn sentences(found: &ContentsAnswer, levels: usize) -> Vec<String> {
    let mut told = Vec::new();
    let cost = cheapest(found).map_or(0.0, |level| level.cost_per_year);
    let unproven = found.levels.iter().filter(|level| !level.proven).count();
    told.push(if unproven == 0 {
        "Proven: none of so many costs less, whatever is in them.".to_owned()
    } else {
        "Not proven: the search ended at its limit. How much less the best ones could cost \
         stands in the table."
            .to_owned()
    });
    if let (Some(full), true) = (found.levels.first(), found.cheapest > 1) {
        told.push(format!(
            "One full harness for every boat costs {} a year, {} more.",
            whole(full.cost_per_year),
            whole(full.cost_per_year - cost)
        ));
    }
    let each = &found.per_order;
    if each.contents > levels {
        let compared = match each.cost_per_year - cost {
            more if more >= 0.0 => format!("{} more", whole(more)),
            less => format!(
                "{} LESS: more different ones than these are worth a look",
                whole(-less)
            ),
        };
        told.push(format!(
            "A harness of its own for each of the {} orders costs {} a year, {compared}.",
            each.contents,
            whole(each.cost_per_year)
        ));
    }
    if levels < found.levels.len() {
        told.push(format!("More than {levels} different ones save no wiring."));
    }
    told
}

fn chart(found: &ContentsAnswer) -> String {
    let last = found.levels.last().map_or(0, |level| level.most_contents);
    let points = found.curve.iter().map(|point| CostPoint {
        contents: point.contents,
        cost: point.cost_per_year,
        bound: point.lower_bound_per_year,
        label: whole(point.cost_per_year),
        is_cheapest: point.contents == found.cheapest,
        is_per_order: point.contents > last,
    });
    cost_curve(&CostCurve {
        title: "Cost a year over the number of different harnesses".to_owned(),
        how: "The ring marks the cheapest number. A broken line down from a point, if any, ends \
              at the bound below which no plan lies. The axis of cost does not begin at nought."
            .to_owned(),
        points: points.collect(),
    })
}

impl LevelRow {
    fn of(level: &LevelAnswer, cheapest: usize) -> Self {
        let harness = |content: &ContentAnswer| Harness {
            name: content.name.clone(),
            modules: listed(&content.modules),
            rest: format!(
                "{} at {}, {}",
                counted(content.boats_per_year as usize, "boat"),
                exact(content.cost),
                counted(content.orders.len(), "order")
            ),
        };
        Self {
            contents: level.most_contents.to_string(),
            is_cheapest: level.contents.len() == cheapest,
            cost: whole(level.cost_per_year),
            wiring: whole(level.wiring_per_year),
            given_away: whole(level.given_away_per_year),
            part_numbers: whole(level.part_numbers_per_year),
            harnesses: level.contents.iter().map(harness).collect(),
            proven: level.proven,
            because: level.because.clone(),
        }
    }

    fn per_order(found: &ContentsAnswer) -> Self {
        let each = &found.per_order;
        Self {
            contents: format!("{}, each order its own", each.contents),
            is_cheapest: false,
            cost: whole(each.cost_per_year),
            wiring: whole(each.wiring_per_year),
            given_away: whole(0.0),
            part_numbers: whole(each.part_numbers_per_year),
            harnesses: Vec::new(),
            proven: true,
            because: None,
        }
    }
}

impl WorthRow {
    fn of(found: &WorthAnswer) -> Self {
        let or_none = |share: Option<f64>| share.map_or_else(|| "none".to_owned(), percent);
        Self {
            module: found.module.clone(),
            take_rate: or_none(found.take_rate),
            in_main: exact(found.in_main),
            threshold: found.threshold.map_or_else(
                || "not evaluated".to_owned(),
                |share| {
                    if share == 0.0 {
                        "always".to_owned()
                    } else {
                        percent(share)
                    }
                },
            ),
            amounts: found
                .given_away_per_year
                .zip(found.as_add_on_per_year)
                .map(|(given, extra)| [whole(given), whole(extra)]),
            place: found.place.unwrap_or_default(),
            because: found.because.clone(),
            working: found.working.clone(),
        }
    }
}
