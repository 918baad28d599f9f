//! Question: the whole study of a boat model, without storing it.

use super::Request;
use crate::boats::OptionIndex;
use crate::file_format::fault::{Fault, nearest};
use crate::file_format::form::{Form, Shape, record};
use crate::file_format::{self, ModelRecord};
use crate::model::{BoatModel, Identified};
use crate::report::Report;
use crate::sheets::scope::option_names;
use crate::study::{BoatChoice, NoBoat, Study};

record! {
    /// Question: the study of a boat model, on one boat or on every buildable boat.
    CheckRequest
    required {
        /// The boat model file.
        model: ModelRecord = Shape::Record(ModelRecord::FORM);
    }
    optional {
        /// Options of one boat; left out, every buildable boat.
        options: Option<Vec<String>> = Shape::List(&Shape::Text, 0);
    }
}

impl Request for CheckRequest {
    type Answer = Report;
    const FORM: &'static Form = CheckRequest::FORM;

    fn answer(self) -> Result<Report, Vec<Fault>> {
        let model = file_format::model(&self.model).map_err(|faults| {
            let under = |fault: Fault| Fault {
                pointer: format!("/model{}", fault.pointer),
                ..fault
            };
            faults.into_iter().map(under).collect::<Vec<_>>()
        })?;
        let choice = match &self.options {
            None => BoatChoice::Every,
            Some(ids) => BoatChoice::Options(options(&model, ids)?),
        };
        let names = option_names(&model);
        let study = Study::of(model, choice).map_err(|no_boat| {
            let broken = match &no_boat {
                NoBoat::NotBuildable(rules) => {
                    let says: Vec<_> = rules.iter().map(|rule| rule.says(&names)).collect();
                    format!(": {}", says.join("; "))
                }
                NoBoat::NoneBuildable(_) | NoBoat::TooWide(_) => String::new(),
            };
            let place = if self.options.is_some() {
                "/options"
            } else {
                "/model/option_rules"
            };
            vec![Fault {
                pointer: place.to_owned(),
                detail: format!("{no_boat}{broken}."),
                given: self
                    .options
                    .as_ref()
                    .map_or(String::new(), |ids| ids.join(", ")),
                limit: "a boat that can be ordered".to_owned(),
            }]
        })?;
        Ok(Report::of(&study))
    }
}

/// The options with these ids, or every id that is none.
pub(crate) fn options(model: &BoatModel, ids: &[String]) -> Result<Vec<OptionIndex>, Vec<Fault>> {
    let mut found = Vec::new();
    let mut faults = Vec::new();
    for (place, id) in ids.iter().enumerate() {
        match model.options.find(id) {
            Some(at) => found.push(OptionIndex(at.number())),
            None => {
                let known = model.options.iter().map(|(_, option)| option.id());
                let hint = nearest(id, known)
                    .map_or(String::new(), |near| format!(" Did you mean \"{near}\"?"));
                faults.push(Fault {
                    pointer: format!("/options/{place}"),
                    detail: format!("This model has no option \"{id}\".{hint}"),
                    given: id.clone(),
                    limit: "the short name of an option of the model".to_owned(),
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(found)
    } else {
        Err(faults)
    }
}
