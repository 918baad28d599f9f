//! Adding an optional component: asked and proposed by GET, so that nothing is changed and an
//! address can be sent on; accepted by POST, as one revision.

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use harness_core::file_format;
use tokio::task::spawn_blocking;

use crate::answer;
use crate::error::{self, Error, Fault};
use crate::intake;
use crate::pages::{AddFields, AddOptionPage, ProposedPage, of_every_boat, proposal};
use crate::parts_list;
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving;
use crate::view::View;

/// Name and value of each field, in the order sent; a field may stand several times.
type Pairs = Vec<(String, String)>;

/// `GET /models/{id}/options/add`: the form; with its fields in the query, the proposal.
pub async fn ask(
    State(state): State<AppState>,
    view: View,
    query: Result<Query<Pairs>, QueryRejection>,
    Person(who): Person,
) -> Result<Response, Error> {
    let Query(mut pairs) = query?;
    if !who.is_empty() {
        pairs.push(("who".to_owned(), who));
    }
    let fields = AddFields::of(pairs, parts_list::own(&state.store).await?);
    let view = of_every_boat(view);
    let fields = fields.pointed(&view.study.model);
    let is_first = fields.is_pointed() || !fields.is_sent() || !fields.text("again").is_empty();
    let work = move || {
        if is_first {
            return answer::page(&AddOptionPage::new(&view, fields, &[]));
        }
        match proposal(&view.study, &fields) {
            Ok(found) => answer::page(&ProposedPage::new(
                &view,
                &fields,
                &found,
                view.head.number,
                &[],
            )?),
            Err(faults) => error::form_again(&AddOptionPage::new(&view, fields, &faults)),
        }
    };
    spawn_blocking(work).await.map_err(broken)?
}

/// `POST /models/{id}/options/add`: the same fields with `who`, `reason`, `expected_revision`;
/// what was proposed becomes the next revision.
pub async fn accept(
    State(state): State<AppState>,
    view: View,
    form: Result<Form<Pairs>, FormRejection>,
) -> Result<Response, Error> {
    let Form(pairs) = form?;
    let fields = AddFields::of(pairs, parts_list::own(&state.store).await?);
    let view = of_every_boat(view);
    // A form without it was not made by this page: it gets no say over a newer revision.
    let expected = fields.text("expected_revision").parse().unwrap_or(0);
    if expected != view.head.number {
        return spawn_blocking(move || anew(&view, fields))
            .await
            .map_err(broken)?;
    }
    let id = view.head.model_id.clone();
    let to = view.addresses.clone();
    let work = move || match proposal(&view.study, &fields) {
        Err(faults) => Ok(Err(error::form_again(&AddOptionPage::new(
            &view, fields, &faults,
        ))?)),
        Ok(found) => {
            let mut faults: Vec<Fault> = Vec::new();
            match intake::signed(fields.text("who"), fields.text("reason"), &mut faults) {
                Some((who, reason)) => {
                    let text = file_format::write_record(&found.record);
                    let model = intake::read(&text).map_err(Error::Faults)?;
                    Ok(Ok((model, who, reason, found.option)))
                }
                None => {
                    let page = ProposedPage::new(&view, &fields, &found, expected, &faults)?;
                    Ok(Err(error::form_again(&page)?))
                }
            }
        }
    };
    let worked: Result<_, Error> = spawn_blocking(work).await.map_err(broken)?;
    let (model, who, reason, option) = match worked? {
        Ok(accepted) => accepted,
        Err(page) => return Ok(page),
    };
    let new = model.revision(&who, &reason);
    saving::replace(&state, &id, Some(expected), new).await?;
    let done = answer::go_to(&to.to(&["options", &option]));
    Ok(remember(done, &who))
}

/// What was asked for on a model that was changed after it was looked at: worked out on the model
/// as it is now, to be accepted again.
fn anew(view: &View, fields: AddFields) -> Result<Response, Error> {
    let latest = view.head.number;
    let mut response = match proposal(&view.study, &fields) {
        Err(faults) => return error::form_again(&AddOptionPage::new(view, fields, &faults)),
        Ok(found) => {
            let page = ProposedPage::new(view, &fields, &found, latest, &[])?;
            answer::page(&page.after(&view.head))?
        }
    };
    *response.status_mut() = StatusCode::CONFLICT;
    Ok(response)
}

fn broken(broken: tokio::task::JoinError) -> Error {
    Error::Panicked(broken.to_string())
}
