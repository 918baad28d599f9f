//! The page that holds a boat model beside the parts list.

use askama::Template;
use harness_core::edits::find_list;
use harness_core::file_format::{ModelRecord, PartsRecord};
use harness_core::parts::{Differing, beside_the_list};
use harness_core::tabular::entries;
use harness_core::units::UnitSystem;
use serde_json::{Map, Value};

use super::Frame;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::Addresses;

/// A thing of the boat model with the part it was taken from.
#[derive(Clone, Debug)]
struct BesideRow {
    thing: String,
    href: String,
    part: String,
    origin: &'static str,
    /// What differs: field, what the model says, what the list says.
    fields: Vec<[String; 3]>,
    take: String,
}

/// Which things of a boat model say something else than their parts now.
#[derive(Debug, Template)]
#[template(path = "parts_list/beside.html")]
pub struct PartsBesidePage {
    frame: Frame,
    differing: Vec<BesideRow>,
    gone: Vec<BesideRow>,
    alike: usize,
    edit: String,
}

impl PartsBesidePage {
    /// The boat model at its latest revision beside the lists as they are now.
    pub fn new(head: &RevisionHead, model: &ModelRecord, own: &PartsRecord) -> Self {
        let to = Addresses::new(head.model_id.clone(), AskedBoat::Every);
        let mut differing = Vec::new();
        let mut gone = Vec::new();
        let mut alike = 0;
        for beside in beside_the_list(model, own) {
            let address = ["edit", beside.list, "thing"];
            let thing = find_list(beside.list).map_or_else(String::new, |list| list.thing());
            let row = BesideRow {
                thing: format!("{thing} {}", beside.id),
                href: to.with(&address, &[("id", &beside.id)]),
                origin: beside.origin.map_or("", |origin| origin.words()),
                fields: beside
                    .fields
                    .iter()
                    .map(|field| words(beside.list, field))
                    .collect(),
                take: to.with(&address, &[("id", &beside.id), ("part", &beside.part)]),
                part: beside.part,
            };
            match (beside.origin, row.fields.is_empty()) {
                (None, _) => gone.push(row),
                (Some(_), true) => alike += 1,
                (Some(_), false) => differing.push(row),
            }
        }
        let frame = Frame::new("Parts beside the parts list").of_model(head, "edit");
        Self {
            frame: frame.under("Change the boat model", to.to(&["edit"])),
            differing,
            gone,
            alike,
            edit: to.to(&["edit"]),
        }
    }
}

/// Label, what the model says, what the part says.
fn words(list: &str, field: &Differing) -> [String; 3] {
    let form = find_list(list).map(|list| list.form);
    let entry = form.and_then(|form| {
        let mut entries = entries(form).into_iter();
        entries.find(|entry| entry.name() == field.field)
    });
    let Some(entry) = entry else {
        return Default::default();
    };
    let text = |value: &Option<Value>| {
        let stated = value.clone().map(|value| (field.field.to_owned(), value));
        let text = entry.text(&stated.into_iter().collect::<Map<_, _>>(), UnitSystem::Si);
        match text.is_empty() {
            true => "not stated".to_owned(),
            false => text,
        }
    };
    [
        entry.label(UnitSystem::Si),
        text(&field.model),
        text(&field.part),
    ]
}
