//! The quick calculation of one circuit.

use std::collections::BTreeMap;

use askama::Template;
use harness_core::requests::{self, ConductorRequest, DropRequest};
use harness_core::tables::conductors;
use harness_core::tabular::measured;
use harness_core::units::{SizeSeries, Stated, UnitSystem, WireSize};
use harness_core::working::{Source, Working, significant};
use serde_json::{Value, json};

use super::drawing::{Curve, Plot, plot};
use super::{FieldFault, Frame};
use crate::error::Fault;
use crate::shown::Setting;

/// Kind of a field of the form.
enum Kind {
    /// A number, bare or with a unit that converts into this one.
    Number(&'static str),
    Whole,
    Words,
    Flag,
}

/// Every field of the form that is part of the question.
const FIELDS: &[(&str, Kind)] = &[
    ("nominal_v", Kind::Number("V")),
    ("current_a", Kind::Number("A")),
    ("round_trip_m", Kind::Number("m")),
    ("round_trip_ft", Kind::Number("ft")),
    ("drop_limit_percent", Kind::Number("%")),
    ("size", Kind::Words),
    ("drop_basis", Kind::Words),
    (TEMPERATURE, Kind::Number("°C")),
    ("size_series", Kind::Words),
    ("rule_set", Kind::Words),
    ("insulation_degc", Kind::Number("°C")),
    ("engine_space", Kind::Flag),
    ("bundled_conductors", Kind::Whole),
];

/// The field that holds a number in the units of the form.
const TEMPERATURE: &str = "conductor_temperature_degc";

/// Fields that only the question for a size has.
const ONLY_FOR_A_SIZE: &[&str] = &["drop_limit_percent", "size_series"];

/// Fields chosen from a list.
const CHOICES: &[&str] = &["drop_basis", "size_series", "rule_set", "engine_space"];

/// What the form holds before anything was asked.
const FIRST: &[(&str, &str)] = &[
    ("nominal_v", "12"),
    ("drop_limit_percent", "3"),
    ("drop_basis", "copper-at-temperature"),
    ("conductor_temperature_degc", "30"),
    ("size_series", "awg"),
    ("rule_set", "us"),
    ("insulation_degc", "105"),
    ("engine_space", "false"),
    ("bundled_conductors", "1"),
];

/// The answer, ready to be shown.
#[derive(Debug, Default)]
struct Answer {
    headline: String,
    facts: Vec<(&'static str, String)>,
    working: Working,
    sources: Vec<Source>,
    chart: String,
    assumed: Vec<(String, String)>,
}

/// The form and its answer.
#[derive(Debug, Template)]
#[template(path = "one_circuit.html")]
pub struct OneCircuitPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    values: BTreeMap<String, String>,
    /// Units of the form: the reader's for a new one, then those the address carries, so that a
    /// number in it means the same to everybody.
    units: UnitSystem,
    answer: Option<Answer>,
}

impl OneCircuitPage {
    /// The form as asked; without a question, as first opened.
    pub fn new(mut asked: BTreeMap<String, String>, setting: Setting) -> Self {
        let frame = Frame::new("One circuit").at("/one-circuit");
        if asked.is_empty() {
            let values = FIRST.iter().map(|(name, value)| {
                let celsius = value.parse().ok().filter(|_| *name == TEMPERATURE);
                let value = match (setting.units, celsius) {
                    (UnitSystem::Us, Some(celsius)) => Stated::Celsius.number(celsius, 0),
                    _ => (*value).to_owned(),
                };
                ((*name).to_owned(), value)
            });
            return Self {
                frame,
                faults: Vec::new(),
                values: values.collect(),
                units: setting.units,
                answer: None,
            };
        }
        let units = units(&asked);
        // A list always shows a choice: what the address leaves out is what the list shows.
        for (name, first) in FIRST.iter().filter(|(name, _)| CHOICES.contains(name)) {
            asked
                .entry((*name).to_owned())
                .or_insert_with(|| (*first).to_owned());
        }
        let mut faults = Vec::new();
        let question = question(&asked, &mut faults);
        let answered = match faults.is_empty() {
            true => answer(&question).map_err(|found| faults.extend(found)).ok(),
            false => None,
        };
        Self {
            frame: Frame {
                is_form_again: !faults.is_empty(),
                ..frame
            },
            faults: shown_at_fields(&faults),
            values: asked,
            units,
            answer: answered,
        }
    }

    /// Whether something is wrong with the question.
    pub fn is_faulty(&self) -> bool {
        !self.faults.is_empty()
    }

    fn is_us(&self) -> bool {
        self.units == UnitSystem::Us
    }

    fn temperature_label(&self) -> &'static str {
        match self.units {
            UnitSystem::Si => "Temperature of the conductor, °C",
            UnitSystem::Us => "Temperature of the conductor, °F",
        }
    }

    fn value(&self, name: &str) -> &str {
        self.values.get(name).map_or("", String::as_str)
    }
}

fn units(asked: &BTreeMap<String, String>) -> UnitSystem {
    Setting::of_mark(asked.get("units").map_or("", String::as_str)).units
}

/// The question as the programming interface takes it; what is no number is a fault.
fn question(asked: &BTreeMap<String, String>, faults: &mut Vec<Fault>) -> Value {
    let mut question = serde_json::Map::new();
    for (name, kind) in FIELDS {
        let text = asked.get(*name).map_or("", |text| text.trim());
        if text.is_empty() {
            continue;
        }
        let number = |faults: &mut Vec<Fault>, value: Option<Value>| {
            if value.is_none() {
                let detail = "this is not a number: write it as in 12.5";
                faults.push(Fault::new(format!("/{name}"), detail).given(text));
            }
            value
        };
        let value = match kind {
            Kind::Words => Some(json!(text)),
            Kind::Flag => Some(json!(text == "true")),
            Kind::Whole => number(faults, text.parse::<u64>().ok().map(Value::from)),
            Kind::Number(unit) => {
                let bare = match *name {
                    TEMPERATURE => units(asked),
                    _ => UnitSystem::Si,
                };
                let read = measured(text, unit, bare).ok();
                let read = read.filter(|value| value.is_finite());
                number(faults, read.map(Value::from))
            }
        };
        question.extend(value.map(|value| ((*name).to_owned(), value)));
    }
    Value::Object(question)
}

/// Faults of the two lengths stand at the first of them; a fault of the whole at the first field.
fn shown_at_fields(faults: &[Fault]) -> Vec<FieldFault> {
    let mut shown = FieldFault::of(faults);
    for fault in &mut shown {
        if !FIELDS.iter().any(|(name, _)| *name == fault.field) {
            fault.field = "round_trip_m".to_owned();
        }
    }
    shown
}

fn answer(question: &Value) -> Result<Answer, Vec<Fault>> {
    let faults = |found: Vec<harness_core::file_format::Fault>| {
        found.into_iter().map(Fault::from).collect::<Vec<_>>()
    };
    if question.get("size").is_some() {
        return of_size(question).map_err(faults);
    }
    let found = requests::answer::<ConductorRequest>(question.clone()).map_err(faults)?;
    let (found, assumed) = (found.answer, found.assumed);
    let Some(size) = found.size else {
        return Ok(Answer {
            headline: format!(
                "No size: {}",
                found
                    .reason
                    .unwrap_or_else(|| "none is large enough".to_owned())
            ),
            working: found.working,
            sources: found.sources,
            ..Answer::default()
        });
    };
    let volts_left = found.drop_v.zip(question["nominal_v"].as_f64());
    Ok(Answer {
        headline: format!("{size}: smallest size that serves"),
        facts: vec![
            (
                "Governed by",
                found.governed_by.unwrap_or("not evaluated").to_owned(),
            ),
            (
                "Drop out and back",
                pair(found.drop_v, "V", found.drop_percent, "%"),
            ),
            (
                "Volts left at the load",
                one(volts_left.map(|(drop, nominal)| nominal - drop), 4, "V"),
            ),
            ("Ampacity", one(found.ampacity_a, 4, "A")),
            (
                "Current within ampacity",
                match found.within_ampacity {
                    Some(true) => "yes".to_owned(),
                    Some(false) => "NO".to_owned(),
                    None => "not evaluated".to_owned(),
                },
            ),
            (
                "Area needed for the drop",
                pair(
                    found.required_area_mm2,
                    "mm²",
                    found.required_area_cmil,
                    "cmil",
                ),
            ),
            (
                "Area of the size",
                pair(found.area_mm2, "mm²", found.area_cmil, "cmil"),
            ),
        ],
        working: found.working,
        sources: found.sources,
        chart: chart(question, &size),
        assumed: assumed
            .into_iter()
            .map(|a| (a.field.to_owned(), a.value))
            .collect(),
    })
}

fn of_size(question: &Value) -> Result<Answer, Vec<harness_core::file_format::Fault>> {
    let mut question = question.clone();
    let limit = question["drop_limit_percent"].as_f64();
    if let Some(fields) = question.as_object_mut() {
        for name in ONLY_FOR_A_SIZE {
            fields.remove(*name);
        }
    }
    let found = requests::answer::<DropRequest>(question.clone())?;
    let (found, assumed) = (found.answer, found.assumed);
    let size = question["size"].as_str().unwrap_or_default().to_owned();
    let nominal = question["nominal_v"].as_f64().unwrap_or(0.0);
    let verdict = match limit {
        Some(limit) if found.drop_percent <= limit => {
            format!("within the limit of {} %", significant(limit, 3))
        }
        Some(limit) => format!("OVER the limit of {} %", significant(limit, 3)),
        None => "no limit asked".to_owned(),
    };
    Ok(Answer {
        headline: format!(
            "{size} drops {} V, {} %: {verdict}",
            significant(found.drop_v, 3),
            significant(found.drop_percent, 3)
        ),
        facts: vec![
            (
                "Volts left at the load",
                one(Some(nominal - found.drop_v), 4, "V"),
            ),
            (
                "Resistance out and back",
                one(Some(found.resistance_ohm), 4, "ohm"),
            ),
            ("Ampacity", one(found.ampacity_a, 4, "A")),
        ],
        sources: found.working.sources(),
        chart: chart(&question, &size),
        working: found.working,
        assumed: assumed
            .into_iter()
            .map(|a| (a.field.to_owned(), a.value))
            .collect(),
    })
}

fn one(value: Option<f64>, digits: usize, unit: &str) -> String {
    value.map_or_else(
        || "not evaluated".to_owned(),
        |value| format!("{} {unit}", significant(value, digits)),
    )
}

fn pair(first: Option<f64>, unit: &str, second: Option<f64>, other: &str) -> String {
    match (first, second) {
        (Some(first), Some(second)) => format!(
            "{} {unit}, {} {other}",
            significant(first, 4),
            significant(second, 4)
        ),
        (first, _) => one(first, 4, unit),
    }
}

/// Drop over length for the size and its neighbors, with the limit asked for.
fn chart(question: &Value, size: &str) -> String {
    let Ok(size) = size.parse::<WireSize>() else {
        return String::new();
    };
    let metres = question["round_trip_m"]
        .as_f64()
        .or_else(|| Some(0.3048 * question["round_trip_ft"].as_f64()?));
    let Some(metres) = metres else {
        return String::new();
    };
    let series: SizeSeries = size.series();
    let sizes: Vec<_> = conductors::stocked(series).map(|row| row.size).collect();
    let at = sizes.iter().position(|other| *other == size).unwrap_or(0);
    let near = at.saturating_sub(1)..(at + 2).min(sizes.len());
    let mut asked = question.clone();
    if let Some(fields) = asked.as_object_mut() {
        for name in ONLY_FOR_A_SIZE.iter().chain(&["round_trip_ft"]) {
            fields.remove(*name);
        }
    }
    let longest = metres * 2.0;
    let curves = near.filter_map(|number| {
        let drawn = sizes[number];
        asked["size"] = json!(drawn.to_string());
        // Drop grows in proportion to length, so the far end tells the whole line.
        asked["round_trip_m"] = json!(longest);
        let far = requests::answer::<DropRequest>(asked.clone()).ok()?.answer;
        Some(Curve {
            name: drawn.to_string(),
            class: if drawn == size {
                "curve"
            } else {
                "curve second"
            },
            points: vec![(0.0, 0.0), (longest, far.drop_percent)],
        })
    });
    plot(&Plot {
        id: "drop",
        title: "Drop over length for this size and its neighbors".to_owned(),
        how: "The full line is the size of the answer, broken lines are the next sizes.".to_owned(),
        axes: ("length of conductor out and back, m", "drop, %"),
        curves: curves.collect(),
        limit: question["drop_limit_percent"]
            .as_f64()
            .map(|limit| (limit, format!("limit {} %", significant(limit, 3)))),
        from_zero: true,
    })
}
