//! `/api/parts`: the builder's parts list.

use axum::extract::State;
use axum::response::Response;
use harness_core::edits::Whole;
use harness_core::file_format::parts_schema;
use harness_core::parts::shipped;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::ApiJson;
use crate::error::{Error, Fault};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome, Target};
use crate::store::{PARTS, Revision, RevisionHead};
use crate::{answer, intake, parts_list};

#[derive(Serialize)]
struct ListOut<'a> {
    revision: i64,
    recorded_at: &'a str,
    who: &'a str,
    reason: &'a str,
    stamp: &'a str,
    parts: &'a RawValue,
}

fn whole(revision: &Revision) -> Result<Response, Error> {
    let head: &RevisionHead = &revision.head;
    answer::json(&ListOut {
        revision: head.number,
        recorded_at: &head.recorded_at,
        who: &head.who,
        reason: &head.reason,
        stamp: &head.stamp,
        parts: serde_json::from_str(&revision.body)?,
    })
}

/// `GET /api/parts`: the list at its latest revision; revision 0 before anything was saved.
pub async fn read(State(state): State<AppState>) -> Result<Response, Error> {
    whole(&parts_list::latest(&state.store).await?)
}

/// `GET /api/parts/shipped`: the parts that come with the service.
pub async fn read_shipped() -> Result<Response, Error> {
    answer::json(shipped())
}

/// `GET /api/parts-schema.json`: JSON Schema draft 2020-12.
pub async fn schema() -> Result<Response, Error> {
    answer::json(&parts_schema())
}

/// Body of `PUT /api/parts`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replace {
    parts: Box<RawValue>,
    /// The revision that was read and changed; what others changed since stays.
    expected_revision: i64,
    #[serde(default)]
    who: String,
    #[serde(default)]
    reason: String,
}

/// `PUT /api/parts`: the whole list, made of revision `expected_revision`.
pub async fn replace(
    State(state): State<AppState>,
    ApiJson(sent): ApiJson<Replace>,
) -> Result<Response, Error> {
    let mut faults = Vec::new();
    let made: Option<Whole> = match harness_core::file_format::read_parts(sent.parts.get()) {
        Ok(list) => Some(Whole::of(&list)),
        Err(found) => {
            let found = found.into_iter().map(Fault::from);
            faults.extend(found.map(|fault| fault.under("/parts")));
            None
        }
    };
    let signed = intake::signed(&sent.who, &sent.reason, &mut faults);
    let (Some(made), Some((who, reason))) = (made, signed) else {
        return Err(Error::Faults(faults));
    };
    let intent = Intent {
        id: PARTS.to_owned(),
        seen: sent.expected_revision,
        who,
        reason,
    };
    match saving::save_in(Target::Parts, &state, &intent, move |_| made.clone()).await? {
        Outcome::Saved(_) | Outcome::Nothing => whole(&parts_list::latest(&state.store).await?),
        Outcome::Faults(faults, _) => {
            let faults = faults.into_iter().map(|fault| fault.under("/parts"));
            Err(Error::Faults(faults.collect()))
        }
        Outcome::Clashes(latest, _) => Err(intent.late(&latest)),
    }
}
