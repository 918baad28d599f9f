//! `/api/models`: store, list, revisions.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::ApiJson;
use crate::answer;
use crate::error::{Error, Fault};
use crate::intake::{self, Accepted};
use crate::router::AppState;
use crate::saving;
use crate::store::{Revision, RevisionHead};

/// Body of `POST /api/models`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Create {
    model: Box<RawValue>,
    id: Option<String>,
    #[serde(default)]
    who: String,
    #[serde(default)]
    reason: String,
}

/// Body of `PUT /api/models/{id}`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replace {
    model: Box<RawValue>,
    #[serde(default)]
    who: String,
    #[serde(default)]
    reason: String,
    expected_revision: Option<i64>,
}

/// Query of `DELETE /api/models/{id}`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Expected {
    expected_revision: Option<i64>,
}

#[derive(Serialize)]
struct HeadOut<'a> {
    id: &'a str,
    name: &'a str,
    revision: i64,
    recorded_at: &'a str,
    who: &'a str,
    reason: &'a str,
    stamp: &'a str,
}

impl<'a> From<&'a RevisionHead> for HeadOut<'a> {
    fn from(head: &'a RevisionHead) -> Self {
        Self {
            id: &head.model_id,
            name: &head.name,
            revision: head.number,
            recorded_at: &head.recorded_at,
            who: &head.who,
            reason: &head.reason,
            stamp: &head.stamp,
        }
    }
}

#[derive(Serialize)]
struct RevisionOut<'a> {
    #[serde(flatten)]
    head: HeadOut<'a>,
    model: &'a RawValue,
}

/// `GET /api/models`: `{models: [{id, name, revision, ...}]}`.
pub async fn list(State(state): State<AppState>) -> Result<Response, Error> {
    let heads = state.store.models().await?;
    let models: Vec<HeadOut> = heads.iter().map(HeadOut::from).collect();
    answer::json(&serde_json::json!({ "models": models }))
}

/// `POST /api/models`: `{model, id?, who?, reason?}`; without `id`, it is made from the name.
pub async fn create(
    State(state): State<AppState>,
    ApiJson(sent): ApiJson<Create>,
) -> Result<Response, Error> {
    let mut faults = Vec::new();
    let model = model(&sent.model, &mut faults);
    let signed = intake::signed(&sent.who, &sent.reason, &mut faults);
    let id = match (&sent.id, &model) {
        (Some(id), _) => intake::keep(intake::id("/id", id), &mut faults),
        (None, Some(model)) => intake::keep(intake::id_from_name("/id", &model.name), &mut faults),
        (None, None) => None,
    };
    let (Some(model), Some((who, reason)), Some(id)) = (model, signed, id) else {
        return Err(Error::Faults(faults));
    };
    let head = state
        .store
        .create(&id, model.revision(&who, &reason))
        .await?;
    answer::created(&format!("/api/models/{id}"), &HeadOut::from(&head))
}

/// `GET /api/models/{id}`: the latest revision, with the model file under `model`.
pub async fn read(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    whole(&state.store.latest(&id).await?)
}

/// `PUT /api/models/{id}`: `{model, who?, reason?, expected_revision?}` adds a revision.
pub async fn replace(
    State(state): State<AppState>,
    Path(id): Path<String>,
    ApiJson(sent): ApiJson<Replace>,
) -> Result<Response, Error> {
    let mut faults = Vec::new();
    let model = model(&sent.model, &mut faults);
    let signed = intake::signed(&sent.who, &sent.reason, &mut faults);
    let (Some(model), Some((who, reason))) = (model, signed) else {
        return Err(Error::Faults(faults));
    };
    let new = model.revision(&who, &reason);
    let head = saving::replace(&state, &id, sent.expected_revision, new).await?;
    answer::json(&HeadOut::from(&head))
}

/// `DELETE /api/models/{id}?expected_revision=`: removes the model with all its revisions.
pub async fn delete(
    State(state): State<AppState>,
    Path(id): Path<String>,
    query: Result<Query<Expected>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(Expected { expected_revision }) = query?;
    state.store.delete(&id, expected_revision).await?;
    Ok(answer::done())
}

/// `GET /api/models/{id}/revisions`: `{revisions: [...]}`, newest first.
pub async fn revisions(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    let heads = state.store.revisions(&id).await?;
    let revisions: Vec<HeadOut> = heads.iter().map(HeadOut::from).collect();
    answer::json(&serde_json::json!({ "revisions": revisions }))
}

/// `GET /api/models/{id}/revisions/{number}`: the model as it stood then.
pub async fn revision(
    State(state): State<AppState>,
    Path((id, number)): Path<(String, String)>,
) -> Result<Response, Error> {
    let number = intake::revision_number(&number)?;
    whole(&state.store.revision(&id, number).await?)
}

fn whole(revision: &Revision) -> Result<Response, Error> {
    let model: &RawValue = serde_json::from_str(&revision.body)?;
    answer::json(&RevisionOut {
        head: HeadOut::from(&revision.head),
        model,
    })
}

fn model(sent: &RawValue, faults: &mut Vec<Fault>) -> Option<Accepted> {
    match intake::read(sent.get()) {
        Ok(model) => Some(model),
        Err(found) => {
            faults.extend(found.into_iter().map(|fault| fault.under("/model")));
            None
        }
    }
}
