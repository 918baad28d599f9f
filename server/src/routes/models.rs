//! Boat models: list, import, download, replace, delete, revisions.

use axum::extract::multipart::MultipartRejection;
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Multipart, Path, State};
use axum::response::Response;
use serde::Deserialize;

use super::upload::Upload;
use crate::answer;
use crate::error::{self, Error, Fault};
use crate::intake;
use crate::pages::{DeletePage, ModelFormPage, ModelRow, ModelsPage, first_page};
use crate::router::AppState;
use crate::saving;
use crate::store::{Revision, StoreError};

/// `GET /` and `GET /models`
pub async fn list(State(state): State<AppState>) -> Result<Response, Error> {
    let mut models = Vec::new();
    for head in state.store.models().await? {
        // A model replaced or deleted meanwhile is shown as it now is, or not at all.
        match state.store.latest(&head.model_id).await {
            Ok(revision) => {
                let summary = state.studies.summary(&revision).await?;
                let head = revision.head;
                models.push(ModelRow { head, summary });
            }
            Err(StoreError::NoModel { .. }) => {}
            Err(fault) => return Err(fault.into()),
        }
    }
    answer::page(&ModelsPage::new(models))
}

/// `GET /models/import`
pub async fn import_form() -> Result<Response, Error> {
    answer::page(&ModelFormPage::import("", "", "", &[]))
}

/// `POST /models/import`: form of `file`, `id`, `who`, `reason`.
pub async fn import(
    State(state): State<AppState>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let sent = Upload::read(form?).await?;
    let (id, who, reason) = (sent.text("id"), sent.text("who"), sent.text("reason"));
    let again =
        |faults: &[Fault]| error::form_again(&ModelFormPage::import(id, who, reason, faults));

    let mut faults = Vec::new();
    let model = sent.model().map_err(|found| faults.extend(found)).ok();
    let given_id = match (id.trim(), &model) {
        ("", Some(model)) => intake::keep(intake::id_from_name("/id", &model.name), &mut faults),
        ("", None) => None,
        (typed, _) => intake::keep(intake::id("/id", typed), &mut faults),
    };
    let signed = intake::signed(who, reason, &mut faults);
    let (Some(model), Some(new_id), Some((given_who, given_reason))) = (model, given_id, signed)
    else {
        return again(&faults);
    };
    match state
        .store
        .create(&new_id, model.revision(&given_who, &given_reason))
        .await
    {
        Ok(head) => Ok(answer::go_to(&first_page(&head.model_id))),
        Err(StoreError::IdTaken { id }) => {
            let detail = "there is already a boat model of this short name: replace that one, or \
                give another short name";
            again(&[Fault::new("/id", detail).given(id)])
        }
        Err(fault) => Err(fault.into()),
    }
}

/// `GET /models/{id}/replace`
pub async fn replace_form(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    let head = state.store.latest_head(&id).await?;
    answer::page(&ModelFormPage::replace(&head, head.number, "", "", &[]))
}

/// `POST /models/{id}/replace`: form of `file`, `who`, `reason`, `expected_revision`.
pub async fn replace(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let head = state.store.latest_head(&id).await?;
    let sent = Upload::read(form?).await?;
    let (who, reason) = (sent.text("who"), sent.text("reason"));
    // A form without it was not made by this page: it gets no say over a newer revision.
    let expected = sent.text("expected_revision").parse().unwrap_or(0);

    let mut faults = Vec::new();
    let model = sent.model().map_err(|found| faults.extend(found)).ok();
    let signed = intake::signed(who, reason, &mut faults);
    let (Some(model), Some((given_who, given_reason))) = (model, signed) else {
        let page = ModelFormPage::replace(&head, expected, who, reason, &faults);
        return error::form_again(&page);
    };
    let new = model.revision(&given_who, &given_reason);
    saving::replace(&state, &id, Some(expected), new).await?;
    Ok(answer::go_to(&first_page(&id)))
}

/// `GET /models/{id}/delete`
pub async fn delete_form(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    answer::page(&DeletePage::new(state.store.latest_head(&id).await?))
}

/// Form of [`delete`].
#[derive(Debug, Deserialize)]
pub struct Confirmed {
    expected_revision: i64,
}

/// `POST /models/{id}/delete`: form of `expected_revision`, the one the reader saw.
pub async fn delete(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Form<Confirmed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(confirmed) = form?;
    state
        .store
        .delete(&id, Some(confirmed.expected_revision))
        .await?;
    Ok(answer::go_to("/models"))
}

/// `GET /models/{id}/file.json`: the model file at its latest revision.
pub async fn file(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    Ok(download(state.store.latest(&id).await?))
}

/// `GET /models/{id}/revisions/{number}/file.json`
pub async fn revision_file(
    State(state): State<AppState>,
    Path((id, number)): Path<(String, String)>,
) -> Result<Response, Error> {
    let number = intake::revision_number(&number)?;
    Ok(download(state.store.revision(&id, number).await?))
}

fn download(revision: Revision) -> Response {
    let name = format!(
        "{}-revision-{}.json",
        revision.head.model_id, revision.head.number
    );
    answer::file(&name, "application/json", revision.body)
}
