//! The fields of a thing as they stand in a form: typed by a person, one text each.

use super::cells;
use super::columns::{self, Column};
use super::table::Cell;
use crate::file_format::form::{Field, Form, Kind, Need, Shape};
use serde_json::{Map, Value};

/// One field of a form; of a record inside the thing each field by itself.
#[derive(Clone, Debug)]
pub struct Entry(Column);

/// What a field is chosen from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choices {
    /// Anything may be typed.
    Typed,
    /// One of these words.
    Words(&'static [&'static str]),
    /// Yes or no.
    YesNo,
    /// The short name of one of this kind.
    Things(Kind),
}

/// The fields of a kind of thing in reading order.
pub fn entries(form: &'static Form) -> Vec<Entry> {
    columns::of_form(form).into_iter().map(Entry).collect()
}

impl Entry {
    /// Its name, of fields of a record inside with a dot: `from_end.terminal`.
    pub fn name(&self) -> String {
        self.0.heading()
    }

    /// Its label: the name in words, with the unit after a comma.
    pub fn label(&self) -> String {
        let mut words = Vec::new();
        for name in &self.0.path {
            words.push(match *name {
                "id" => "short name".to_owned(),
                name => name.replace('_', " "),
            });
        }
        let whole = words.join(", ");
        let unit = match self.0.field.shape {
            Shape::Number(bounds) => bounds.unit,
            _ => "",
        };
        let spoken = format!(" {}", unit.replace('/', " per "));
        let bare = match whole.rsplit_once(' ') {
            _ if unit.contains('/') => whole.strip_suffix(&spoken).unwrap_or(&whole),
            Some((bare, last)) if !unit.is_empty() && unit_is(unit, last) => bare,
            _ => whole.as_str(),
        };
        let mut label = bare.to_owned();
        if !unit.is_empty() {
            label.push_str(", ");
            label.push_str(unit);
        }
        let mut letters = label.chars();
        let first = letters.next().map(|first| first.to_uppercase());
        first.into_iter().flatten().chain(letters).collect()
    }

    /// What it means.
    pub fn about(&self) -> &'static str {
        self.0.field.about.trim()
    }

    /// Whether a thing cannot be without it.
    pub fn is_required(&self) -> bool {
        self.0.path.len() == 1 && self.0.field.need == Need::Required
    }

    /// What is accepted, in words.
    pub fn accepted(&self) -> String {
        cells::wanted(&self.0.field.shape)
    }

    /// What it is chosen from.
    pub fn choices(&self) -> Choices {
        match self.0.field.shape {
            Shape::Choice(words) => Choices::Words(words),
            Shape::Flag => Choices::YesNo,
            Shape::Ref(kind) => Choices::Things(kind),
            _ => Choices::Typed,
        }
    }

    /// The declared field.
    pub fn field(&self) -> &Field {
        &self.0.field
    }

    /// What a thing states, as a person would type it; empty where it states nothing.
    pub fn text(&self, thing: &Map<String, Value>) -> String {
        let Some(value) = self.0.value(thing) else {
            return String::new();
        };
        match cells::cell(&self.0.field.shape, value) {
            Cell::Flag(true) => "yes".to_owned(),
            Cell::Flag(false) => "no".to_owned(),
            cell => cell.to_string(),
        }
    }

    /// Takes in what was typed; nothing typed takes the field out.
    ///
    /// # Errors
    /// What is wrong with it, what is accepted, what to do.
    pub fn take(&self, thing: &mut Map<String, Value>, typed: &str) -> Result<(), String> {
        let typed = typed.trim();
        if typed.is_empty() {
            self.0.remove(thing);
            return Ok(());
        }
        let cell = Cell::Text(typed.to_owned());
        match cells::value(&self.0.field.shape, None, &cell) {
            Ok(value) => {
                self.0.set(thing, value);
                Ok(())
            }
            Err((reason, wanted, next)) => Err(format!("{reason} Accepted: {wanted}. {next}")),
        }
    }
}

/// Whether the last word of a name is its unit: `mm2` of mm².
fn unit_is(unit: &str, word: &str) -> bool {
    let plain: String = unit
        .to_lowercase()
        .chars()
        .map(|c| match c {
            '²' => '2',
            other => other,
        })
        .filter(char::is_ascii_alphanumeric)
        .collect();
    plain == word
        || (unit == "°C" && word == "degc")
        || (unit == "Ω" && word == "ohm")
        || (unit == "mΩ" && word == "mohm")
        || (unit == "%" && word == "percent")
}
