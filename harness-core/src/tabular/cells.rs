//! One value of the model file in one cell, and back.

use super::measure::{self, Unit};
use super::table::Cell;
use super::{condition, words};
use crate::file_format::check::accepted;
use crate::file_format::form::{Form, Need, Shape};
use crate::units::WireSize;
use serde_json::{Map, Number, Value};

/// Longest text of a cell, in characters: what common spreadsheets hold.
const LONGEST: usize = 32_767;
/// Stands for a value that is too long for a cell; read again, it changes nothing.
pub(super) const KEPT: &str = "(kept as it is: too long for a cell)";

/// The cell of a value.
pub(super) fn cell(shape: &Shape, value: &Value) -> Cell {
    let text = match (shape, value) {
        (_, Value::Bool(flag)) => return Cell::Flag(*flag),
        (_, Value::Number(number)) => return Cell::Number(number.as_f64().unwrap_or(f64::NAN)),
        (Shape::Condition, _) => condition::written(value),
        (Shape::List(item, _), Value::Array(items)) => {
            let written: Option<Vec<_>> = items.iter().map(|value| in_list(item, value)).collect();
            let written = written.filter(|written| !written.is_empty());
            written.map_or_else(|| value.to_string(), |written| written.join("; "))
        }
        (_, Value::String(text)) => text.clone(),
        _ => value.to_string(),
    };
    Cell::Text(if text.chars().count() > LONGEST {
        KEPT.to_owned()
    } else {
        text
    })
}

/// A value among others in one cell; nothing where it could not be told from its neighbors.
fn in_list(shape: &Shape, value: &Value) -> Option<String> {
    match (shape, value) {
        (_, Value::String(text)) => {
            let is_plain =
                !text.contains([';', '=', '\n', '\r']) && text.trim() == text && !text.is_empty();
            (is_plain && !text.starts_with(['[', '{'])).then(|| text.clone())
        }
        (_, Value::Number(number)) => number.as_f64().map(|number| number.to_string()),
        (Shape::Record(form), Value::Object(record)) => {
            let [first, second] = pair(form)?;
            let first = in_list(&first.shape, record.get(first.name)?)?;
            let second = in_list(&second.shape, record.get(second.name)?)?;
            Some(format!("{first} = {second}"))
        }
        _ => None,
    }
}

/// The two fields of a record that is written `first = second`.
fn pair(form: &'static Form) -> Option<[&'static crate::file_format::form::Field; 2]> {
    match form.fields {
        [first, second] if first.need == Need::Required && second.need == Need::Required => {
            Some([first, second])
        }
        _ => None,
    }
}

/// Why a cell is no value of its field: what is wrong, what is accepted, what to do.
pub(super) type Refused = (String, String, String);

/// What is accepted in a cell of this shape, in words.
pub(super) fn wanted(shape: &Shape) -> String {
    match shape {
        Shape::Condition => "an option, or such as \"a and (b or not c)\"".to_owned(),
        Shape::List(Shape::Record(form), _) => match pair(form) {
            Some([first, second]) => format!(
                "\"{} = {}\", with ; between several",
                first.name, second.name
            ),
            None => format!("a JSON list of records that each state a {}", form.words()),
        },
        Shape::List(item, _) => format!("{}, with ; between several", accepted(item)),
        _ => accepted(shape),
    }
}

/// The value of a cell; a bare number is in `given`, the unit of the heading.
pub(super) fn value(
    shape: &Shape,
    given: Option<&'static Unit>,
    cell: &Cell,
) -> Result<Value, Refused> {
    let refused = |reason: String, next: &str| (reason, wanted(shape), next.to_owned());
    match (shape, cell) {
        (Shape::Number(bounds), Cell::Number(number)) => {
            let own = measure::unit(bounds.unit);
            let number = match (given, own) {
                (Some(given), Some(own)) => given.convert(*number, own),
                _ => *number,
            };
            Ok(of_number(number))
        }
        (Shape::Number(bounds), Cell::Text(text)) => {
            let read = measure::read(text, measure::unit(bounds.unit), given);
            read.map(of_number).map_err(|reason| {
                let unit = if bounds.unit.is_empty() {
                    String::new()
                } else {
                    format!(" in {}, or with its unit", bounds.unit)
                };
                refused(
                    reason,
                    &format!("Write one number{unit}, without marks between thousands."),
                )
            })
        }
        (Shape::Whole(..), Cell::Number(number)) => Ok(of_number(*number)),
        (Shape::Whole(..), Cell::Text(text)) => measure::number(text)
            .map(of_number)
            .map_err(|reason| refused(reason, "Write a whole number in digits.")),
        (Shape::Flag, Cell::Flag(flag)) => Ok(Value::Bool(*flag)),
        (Shape::Flag, Cell::Number(number)) if *number == 0.0 || *number == 1.0 => {
            Ok(Value::Bool(*number == 1.0))
        }
        (Shape::Flag, Cell::Text(text)) => match text.trim().to_lowercase().as_str() {
            "true" | "yes" | "y" | "1" => Ok(Value::Bool(true)),
            "false" | "no" | "n" | "0" => Ok(Value::Bool(false)),
            _ => Err(refused(
                "This is neither yes nor no.".to_owned(),
                "Write true or false.",
            )),
        },
        (Shape::End, Cell::Number(_)) => Err(refused(
            "This is a number, of which the last zeros are lost.".to_owned(),
            "Format the cell as text and write it again.",
        )),
        (Shape::Text, Cell::Text(text)) => Ok(Value::String(text.clone())),
        (Shape::Choice(choices), cell) => {
            let text = cell.to_string();
            let meant = words::choice(&text, choices);
            Ok(Value::String(
                meant.map_or_else(|| text.trim().to_owned(), str::to_owned),
            ))
        }
        (Shape::Size, cell) => Ok(Value::String(size(&cell.to_string(), given))),
        (Shape::Condition, Cell::Text(text)) if text.trim_start().starts_with('{') => {
            json(text).map_err(|reason| refused(reason, "Mend the JSON."))
        }
        (Shape::Condition, cell) => condition::read(&cell.to_string()).map_err(|reason| {
            refused(
                reason,
                "Write options with and, or, not between them, in parentheses where both stand.",
            )
        }),
        (Shape::List(item, _), cell) => list(item, &cell.to_string())
            .map_err(|reason| refused(reason, "Write the values with ; between them.")),
        (Shape::Numbers(..) | Shape::Record(_), cell) => {
            json(&cell.to_string()).map_err(|reason| refused(reason, "Mend the JSON."))
        }
        (_, cell) => Ok(Value::String(cell.to_string().trim().to_owned())),
    }
}

/// A whole number as such, so that counts are read.
fn of_number(number: f64) -> Value {
    const EXACT: f64 = 9.0e15;
    if number.fract() == 0.0 && (0.0..EXACT).contains(&number) && number.is_sign_positive() {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked above"
        )]
        return Value::from(number as u64);
    }
    Number::from_f64(number).map_or(Value::Null, Value::Number)
}

fn size(text: &str, given: Option<&'static Unit>) -> String {
    let text = text.trim();
    let bare = text
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '/'));
    let whole = match given {
        Some(unit) if bare => format!("{text} {}", unit.word()),
        _ => text.to_owned(),
    };
    whole
        .parse::<WireSize>()
        .map_or(whole, |size| size.to_string())
}

fn json(text: &str) -> Result<Value, String> {
    serde_json::from_str(text).map_err(|error| format!("This is not JSON: {error}."))
}

fn list(item: &Shape, text: &str) -> Result<Value, String> {
    if text.trim_start().starts_with('[') {
        return json(text);
    }
    let parts = text
        .split(';')
        .map(str::trim)
        .filter(|part| !part.is_empty());
    let values: Result<Vec<_>, _> = parts.map(|part| listed(item, part)).collect();
    Ok(Value::Array(values?))
}

fn listed(shape: &Shape, text: &str) -> Result<Value, String> {
    if let Shape::Record(form) = shape {
        let [first, second] = pair(form).ok_or("A record cannot be written so.")?;
        let (left, right) = text.split_once('=').ok_or_else(|| {
            format!(
                "\"{}\" does not say which {} and which {}: a = is missing.",
                super::table::shortened(text),
                first.name,
                second.name
            )
        })?;
        let mut record = Map::new();
        for (field, text) in [(first, left), (second, right)] {
            record.insert(field.name.to_owned(), listed(&field.shape, text.trim())?);
        }
        return Ok(Value::Object(record));
    }
    let cell = Cell::Text(text.to_owned());
    value(shape, None, &cell).map_err(|(reason, _, _)| reason)
}
