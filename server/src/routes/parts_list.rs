//! The parts list: every part, one at a time, and its history.

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use harness_core::edits::{List, Whole, difference, find_parts, mentions};
use harness_core::file_format;
use harness_core::parts::shipped;
use serde::Deserialize;
use serde_json::Value;

use super::edit::{Edited, Named, Removed, Sent, name_taken, placed, texts, typed_in, without};
use crate::error::{self, Error, Fault};
use crate::history::standing;
use crate::pages::{
    FieldFault, Filled, PartsBesidePage, PartsPage, PartsRevisionPage, PartsRevisionsPage,
    RemovePage, ThingPage,
};
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome, Target};
use crate::shown::Setting;
use crate::store::PARTS;
use crate::{answer, intake, parts_list};

/// `GET /models/{id}/parts`: where the boat model and the parts list differ.
pub async fn beside(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    let latest = state.store.latest(&id).await?;
    let own = parts_list::own(&state.store).await?;
    answer::worked_out(move || {
        let model = file_format::read_record(&latest.body).map_err(|found| {
            let faults = found.into_iter().map(Fault::from);
            Error::Faults(faults.collect())
        })?;
        Ok(PartsBesidePage::new(&latest.head, &model, &own))
    })
    .await
}

/// Query of [`all`] and [`list`].
#[derive(Debug, Default, Deserialize)]
pub struct Find {
    #[serde(default)]
    find: String,
}

/// `GET /parts`: every part, own and shipped; `find` keeps those that hold the words.
pub async fn all(
    State(state): State<AppState>,
    query: Result<Query<Find>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    shown(&state, None, asked.find).await
}

/// `GET /parts/{list}`: the parts of one list.
pub async fn list(
    State(state): State<AppState>,
    Path(list): Path<String>,
    query: Result<Query<Find>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    shown(&state, Some(known(&list)?), asked.find).await
}

async fn shown(state: &AppState, list: Option<List>, find: String) -> Result<Response, Error> {
    let latest = parts_list::latest(&state.store).await?;
    answer::worked_out(move || {
        let whole = parts_list::whole(&latest.body)?;
        Ok(PartsPage::new(&latest.head, &whole, list, &find))
    })
    .await
}

fn known(list: &str) -> Result<List, Error> {
    find_parts(list).ok_or_else(|| Error::NotFound(format!("A parts list has no list “{list}”.")))
}

/// `GET /parts/{list}/thing`: the form of a part; with `part` that of a new one like a shipped one.
pub async fn thing(
    State(state): State<AppState>,
    Path(list): Path<String>,
    query: Result<Query<Named>, QueryRejection>,
    Person(who): Person,
    setting: Setting,
) -> Result<Response, Error> {
    let Query(named) = query?;
    let list = known(&list)?;
    let edited = Edited {
        form: list.form,
        list: Some(list),
    };
    let latest = parts_list::latest(&state.store).await?;
    let whole = parts_list::whole(&latest.body)?;
    let stated = match named.part.is_empty() {
        true => edited.thing(&whole, &named.id)?,
        false => edited.thing(&Whole::of(shipped()), &named.part)?,
    };
    let filled = Filled {
        seen: latest.head.number,
        key: named.id,
        texts: texts(list.form, &stated, setting.units),
        units: setting.units,
        who,
        ..Filled::default()
    };
    answer::page(&ThingPage::of_part(&whole, &list, filled))
}

/// `POST /parts/{list}/thing`: the fields of the part by name, with `expected_revision`, `key`,
/// `who`, `reason`.
pub async fn save(
    State(state): State<AppState>,
    Path(list): Path<String>,
    form: Result<Form<Vec<(String, String)>>, FormRejection>,
) -> Result<Response, Error> {
    let Form(fields) = form?;
    let list = known(&list)?;
    let edited = Edited {
        form: list.form,
        list: Some(list),
    };
    let sent = Sent::of(fields);
    let base = parts_list::revision(&state.store, sent.seen).await?;
    let whole = parts_list::whole(&base.body)?;
    let mut stated = edited.thing(&whole, &sent.key)?;
    let mut shown = texts(list.form, &stated, sent.units);
    shown.extend(sent.texts.clone());
    let mut faults = typed_in(list.form, &sent.texts, &mut stated, sent.units);
    faults.extend(name_taken(&whole, &list, &sent.key, &stated));
    let mut plain = Vec::new();
    let signed = intake::signed(&sent.who, &sent.reason, &mut plain);
    faults.extend(FieldFault::of(&plain));
    let page = |whole: &Whole, faults| {
        let filled = Filled {
            seen: sent.seen,
            key: sent.key.clone(),
            units: sent.units,
            texts: shown.clone(),
            who: sent.who.clone(),
            reason: sent.reason.clone(),
            faults,
        };
        ThingPage::of_part(whole, &list, filled)
    };
    let (Some((who, reason)), true) = (signed, faults.is_empty()) else {
        return error::form_again(&page(&whole, faults));
    };
    let intent = intent(sent.seen, who, reason);
    let key = Whole::key_of(&list, &Value::Object(stated.clone()));
    let before = sent.key.clone();
    let make = move |whole: &Whole| edited.put(whole, &before, &stated);
    match saving::save_in(Target::Parts, &state, &intent, make).await? {
        Outcome::Saved(_) | Outcome::Nothing => {
            let to = format!("/parts/{}", list.name);
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Faults(found, whole) => {
            let faults = placed(&found, &whole, Some(&key));
            error::form_again(&page(&whole, faults))
        }
        Outcome::Clashes(latest, clashes) => {
            let mut again = page(&whole, Vec::new());
            again.clash(&latest, list.form, &clashes);
            let mut response = answer::page(&again)?;
            *response.status_mut() = StatusCode::CONFLICT;
            Ok(response)
        }
    }
}

fn intent(seen: i64, who: String, reason: String) -> Intent {
    Intent {
        id: PARTS.to_owned(),
        seen,
        who,
        reason,
    }
}

/// `GET /parts/{list}/remove`
pub async fn remove_form(
    State(state): State<AppState>,
    Path(list): Path<String>,
    query: Result<Query<Named>, QueryRejection>,
    Person(who): Person,
) -> Result<Response, Error> {
    let Query(named) = query?;
    let list = known(&list)?;
    let latest = parts_list::latest(&state.store).await?;
    let whole = parts_list::whole(&latest.body)?;
    let edited = Edited {
        form: list.form,
        list: Some(list),
    };
    edited.thing(&whole, &named.id)?;
    let spoken = mentions(&whole, list.kinds, &named.id);
    let seen = latest.head.number;
    answer::page(&RemovePage::of_part(seen, &list, named.id, who, &spoken))
}

/// `POST /parts/{list}/remove`: form of `key`, `expected_revision`, `who`, `reason`.
pub async fn remove(
    State(state): State<AppState>,
    Path(list): Path<String>,
    form: Result<Form<Removed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(sent) = form?;
    let list = known(&list)?;
    let (key, intent) = sent.asked(PARTS.to_owned(), &list)?;
    let make = without(&key);
    match saving::save_in(Target::Parts, &state, &intent, make).await? {
        Outcome::Saved(_) => {
            let to = format!("/parts/{}", list.name);
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Nothing => Err(Error::NotFound(format!(
            "The parts list has no {} now; somebody may have removed or renamed it.",
            key.words()
        ))),
        Outcome::Faults(faults, _) => Err(Error::Faults(faults)),
        Outcome::Clashes(latest, _) => Err(intent.late(&latest)),
    }
}

/// `GET /parts/revisions`
pub async fn revisions(
    State(state): State<AppState>,
    Person(who): Person,
) -> Result<Response, Error> {
    let revisions = state.store.parts_revisions().await?;
    let standing = standing(&revisions);
    answer::page(&PartsRevisionsPage::new(revisions, standing, who))
}

/// `GET /parts/revisions/{number}`: what it changed.
pub async fn revision(
    State(state): State<AppState>,
    Path(number): Path<String>,
    Person(who): Person,
) -> Result<Response, Error> {
    let number = intake::revision_number(&number)?;
    let this = state.store.parts_revision(number).await?;
    let before = parts_list::revision(&state.store, number - 1).await?;
    let latest = parts_list::latest(&state.store).await?.head.number;
    let (before, after) = (
        parts_list::whole(&before.body)?,
        parts_list::whole(&this.body)?,
    );
    let changes = difference(&before, &after);
    answer::page(&PartsRevisionPage::new(this.head, latest, &changes, who))
}

/// Form of [`bring_back`].
#[derive(Debug, Deserialize)]
pub struct Confirmed {
    expected_revision: i64,
    #[serde(default)]
    who: String,
}

/// `POST /parts/revisions/{number}/bring-back`: its state becomes the latest one.
pub async fn bring_back(
    State(state): State<AppState>,
    Path(number): Path<String>,
    form: Result<Form<Confirmed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(confirmed) = form?;
    let number = intake::revision_number(&number)?;
    // Revision 0 is no state that somebody saved.
    state.store.parts_revision(number).await?;
    let mut faults: Vec<Fault> = Vec::new();
    let reason = format!("back to revision {number}");
    let Some((who, reason)) = intake::signed(&confirmed.who, &reason, &mut faults) else {
        return Err(Error::Faults(faults));
    };
    let intent = intent(confirmed.expected_revision, who, reason);
    saving::bring_back_in(Target::Parts, &state, &intent, number).await?;
    Ok(remember(answer::go_to("/parts/revisions"), &intent.who))
}
