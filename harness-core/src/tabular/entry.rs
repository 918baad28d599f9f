//! The fields of a thing as they stand in a form: typed by a person, one text each.

use super::cells;
use super::columns::{self, Column};
use super::measure;
use super::table::Cell;
use crate::file_format::form::{Field, Form, Kind, Need, Shape};
use crate::units::{Stated, UnitSystem, significant};
use serde_json::{Map, Value};

/// Digits of a number shown in customary units: a micrometer of a boat.
const CUSTOMARY_DIGITS: usize = 7;

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
    pub fn label(&self, units: UnitSystem) -> String {
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
            let customary = self.customary(units).map(Stated::customary);
            label.push_str(", ");
            label.push_str(customary.unwrap_or(unit));
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

    /// The unit of the field where a person of these units writes another one.
    fn customary(&self, units: UnitSystem) -> Option<Stated> {
        match (units, self.0.field.shape) {
            (UnitSystem::Us, Shape::Number(bounds)) => Stated::of(bounds.unit),
            _ => None,
        }
    }

    /// What a thing states, as a person of these units would type it; empty where it states
    /// nothing.
    pub fn text(&self, thing: &Map<String, Value>, units: UnitSystem) -> String {
        let Some(value) = self.0.value(thing) else {
            return String::new();
        };
        if let (Some(stated), Some(number)) = (self.customary(units), value.as_f64()) {
            return significant(stated.value(number), CUSTOMARY_DIGITS);
        }
        match cells::cell(&self.0.field.shape, value) {
            Cell::Flag(true) => "yes".to_owned(),
            Cell::Flag(false) => "no".to_owned(),
            cell => cell.to_string(),
        }
    }

    /// Takes in what was typed, a bare number in these units; nothing typed takes the field out.
    /// What is as it was shown leaves the value alone, to the last bit.
    ///
    /// # Errors
    /// What is wrong with it, what is accepted, what to do.
    pub fn take(
        &self,
        thing: &mut Map<String, Value>,
        typed: &str,
        units: UnitSystem,
    ) -> Result<(), String> {
        let typed = typed.trim();
        if !typed.is_empty() && typed == self.text(thing, units).trim() {
            return Ok(());
        }
        if typed.is_empty() {
            self.0.remove(thing);
            return Ok(());
        }
        let cell = Cell::Text(typed.to_owned());
        let given = match (self.customary(units), self.0.field.shape) {
            (Some(_), Shape::Number(bounds)) => measure::customary(bounds.unit),
            _ => None,
        };
        match cells::value(&self.0.field.shape, given, &cell) {
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
