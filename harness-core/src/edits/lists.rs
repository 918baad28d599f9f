//! The lists of a model file.

use crate::file_format::form::{Form, Kind, Shape};
use crate::file_format::{ModelRecord, PartsRecord};

/// A list of things of one kind.
#[derive(Clone, Copy, Debug)]
pub struct List {
    /// Its name in the file: `wires`.
    pub name: &'static str,
    /// What one of its things may hold.
    pub form: &'static Form,
    /// What the list is, one sentence.
    pub about: &'static str,
    /// Name spaces of the short names of its things; none where they have no short name.
    pub kinds: &'static [Kind],
}

impl List {
    /// One of its things in words: `wire`, `option rule`.
    pub fn thing(&self) -> String {
        self.form.words()
    }

    /// One of its things with its article: `a wire`, `an option rule`.
    pub fn one(&self) -> String {
        let thing = self.thing();
        let article = if thing.starts_with(['a', 'e', 'i', 'o', 'u']) {
            "an"
        } else {
            "a"
        };
        format!("{article} {thing}")
    }

    /// The list in words: `option rules`.
    pub fn words(&self) -> String {
        self.name.replace('_', " ")
    }
}

/// Name under which what belongs to the whole model is found: its name, settings.
pub const SETTINGS: &str = "model";

/// Every list of a boat model, in the order of the file.
pub fn lists() -> impl Iterator<Item = List> {
    lists_of(ModelRecord::FORM)
}

/// Every list of a document, in the order of its file.
pub fn lists_of(form: &'static Form) -> impl Iterator<Item = List> {
    form.fields.iter().filter_map(|field| {
        let Shape::List(Shape::Record(form), _) = field.shape else {
            return None;
        };
        let kinds: &[Kind] = match form.field("id").map(|id| id.shape) {
            Some(Shape::Id(kinds)) => kinds,
            _ => &[],
        };
        Some(List {
            name: field.name,
            form,
            about: field.about,
            kinds,
        })
    })
}

/// The list of this name of a parts list.
pub fn find_parts(name: &str) -> Option<List> {
    lists_of(PartsRecord::FORM).find(|list| list.name == name)
}

/// The list of this name of a boat model.
pub fn find_list(name: &str) -> Option<List> {
    lists().find(|list| list.name == name)
}
