//! The pages about boat models as a whole.

use askama::Template;

use super::{FieldFault, Frame, first_page};
use crate::error::Fault;
use crate::shown::grouped;
use crate::store::RevisionHead;
use crate::studies::{AskedBoat, Summary};
use crate::view::Addresses;

/// The list of boat models.
#[derive(Debug, Template)]
#[template(path = "models/list.html")]
pub struct ModelsPage {
    frame: Frame,
    models: Vec<ModelRow>,
}

/// A boat model in the list.
#[derive(Clone, Debug)]
pub struct ModelRow {
    /// Its latest revision.
    pub head: RevisionHead,
    /// What was found on it.
    pub summary: Summary,
}

impl ModelRow {
    fn to(&self, page: &str) -> String {
        Addresses::new(&*self.head.model_id, AskedBoat::Every).to(&[page])
    }

    fn buildable(&self) -> String {
        match &self.summary.buildable {
            Some(count) => grouped(count),
            None => "none can be ordered".to_owned(),
        }
    }
}

impl ModelsPage {
    /// All boat models, at their latest revisions.
    pub fn new(models: Vec<ModelRow>) -> Self {
        Self {
            frame: Frame::new("Boat models").at("/models"),
            models,
        }
    }
}

/// The form that imports a boat model or replaces one.
#[derive(Debug, Template)]
#[template(path = "models/form.html")]
pub struct ModelFormPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    replaces: Option<i64>,
    cancel: String,
    id: String,
    who: String,
    reason: String,
}

impl ModelFormPage {
    /// Form of a new boat model, filled in as sent, with what is wrong.
    pub fn import(id: &str, who: &str, reason: &str, faults: &[Fault]) -> Self {
        let frame = Frame::new("Import a boat model").under("Boat models", "/models");
        Self {
            frame: Frame {
                is_form_again: !faults.is_empty(),
                ..frame.at("/models/import")
            },
            faults: FieldFault::of(faults),
            replaces: None,
            cancel: "/models".to_owned(),
            id: id.to_owned(),
            who: who.to_owned(),
            reason: reason.to_owned(),
        }
    }

    /// Form that replaces revision `seen` of a boat model.
    pub fn replace(
        head: &RevisionHead,
        seen: i64,
        who: &str,
        reason: &str,
        faults: &[Fault],
    ) -> Self {
        let frame = Frame::new("Replace the boat model").of_model(head, "replace");
        Self {
            frame: Frame {
                is_form_again: !faults.is_empty(),
                ..frame
            },
            faults: FieldFault::of(faults),
            replaces: Some(seen),
            cancel: first_page(&head.model_id),
            id: head.model_id.clone(),
            who: who.to_owned(),
            reason: reason.to_owned(),
        }
    }
}

/// The question before a boat model is deleted.
#[derive(Debug, Template)]
#[template(path = "models/delete.html")]
pub struct DeletePage {
    frame: Frame,
    head: RevisionHead,
}

impl DeletePage {
    /// Asks about this boat model.
    pub fn new(head: RevisionHead) -> Self {
        let title = format!("Delete {}?", head.name);
        Self {
            frame: Frame::new(title).of_model(&head, "delete"),
            head,
        }
    }
}
