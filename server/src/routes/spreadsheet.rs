//! A boat model as spreadsheets: out, and in as a dry run that is accepted or not.

use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, Path, State};
use axum::response::Response;
use harness_core::file_format::{self, ModelRecord};
use harness_core::tabular::{self, Table, Unlisted};

use super::upload::Upload;
use crate::answer;
use crate::error::{self, Error};
use crate::intake;
use crate::lists;
use crate::pages::{DryRunPage, SpreadsheetPage, first_page};
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome};
use crate::spreadsheet;
use crate::store::{Revision, RevisionHead, StoreError};

pub(super) const WORKBOOK: &str =
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
pub(super) const VALUES: &str = "text/csv; charset=utf-8";

/// `GET /models/{id}/spreadsheet`
pub async fn form(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Person(who): Person,
) -> Result<Response, Error> {
    let head = state.store.latest_head(&id).await?;
    let mut page = SpreadsheetPage::new(&head);
    page.who = who;
    answer::page(&page)
}

/// `GET /models/{id}/spreadsheet/{file}`: `model.xlsx`, `template.xlsx`, or a list as `loads.csv`.
pub async fn file(
    State(state): State<AppState>,
    Path((id, name)): Path<(String, String)>,
) -> Result<Response, Error> {
    let revision = state.store.latest(&id).await?;
    off_thread(move || {
        let head = &revision.head;
        let stem = format!("{}-revision-{}", head.model_id, head.number);
        let broken = |fault: rust_xlsxwriter::XlsxError| Error::Answer(fault.into());
        match name.split_once('.') {
            Some(("template", "xlsx")) => {
                let bytes = spreadsheet::template::<ModelRecord>().map_err(broken)?;
                Ok(answer::file("boat-model-template.xlsx", WORKBOOK, bytes))
            }
            Some(("model", "xlsx")) => {
                let tables = tabular::tables_of(&record_of(&revision)?);
                let made_from = format!(
                    "{}, revision {}, stamp {}",
                    head.name, head.number, head.stamp
                );
                let bytes =
                    spreadsheet::workbook_of::<ModelRecord>(&tables, &made_from).map_err(broken)?;
                Ok(answer::file(&format!("{stem}.xlsx"), WORKBOOK, bytes))
            }
            Some((list, "csv")) if tabular::list_named::<ModelRecord>(list) == Some(list) => {
                let tables = tabular::tables_of(&record_of(&revision)?);
                let table = tables.iter().find(|table| table.name == list);
                let table = table.ok_or_else(|| not_offered(&name))?;
                let bytes =
                    spreadsheet::csv_of(table).map_err(|fault| Error::Answer(fault.into()))?;
                Ok(answer::file(&format!("{stem}-{list}.csv"), VALUES, bytes))
            }
            _ => Err(not_offered(&name)),
        }
    })
    .await
}

/// `POST /models/{id}/spreadsheet`: form of `file` or `pasted`, `list`, `unlisted`, `who`,
/// `reason`, `expected_revision`. Tells what the file would change; nothing is stored.
pub async fn dry_run(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let revision = state.store.latest(&id).await?;
    let sent = Upload::read(form?).await?;
    expected_is_latest(&revision.head, &sent)?;
    let mut page = SpreadsheetPage::new(&revision.head);
    page.list = sent.text("list").to_owned();
    page.who = sent.text("who").to_owned();
    page.reason = sent.text("reason").to_owned();
    page.removes = !sent.text("unlisted").is_empty();
    let mut faults = Vec::new();
    intake::signed(&page.who, &page.reason, &mut faults);
    let unlisted = if page.removes {
        Unlisted::Removed
    } else {
        Unlisted::Stay
    };
    // Rows pasted from a spreadsheet come with tabs between the cells: a file of values.
    page.pasted = sent.text("pasted").to_owned();
    let (name, file) = sent.into_file();
    off_thread(move || {
        let base = record_of(&revision)?;
        let bytes: &[u8] = match file.is_empty() {
            true => page.pasted.as_bytes(),
            false => &file,
        };
        let read = spreadsheet::read::<ModelRecord>(&name, &page.list, bytes);
        drop(file);
        match spreadsheet::dry_run(&base, read, unlisted) {
            Ok(dry) if faults.is_empty() => {
                let model = file_format::write_record(&dry.record);
                let page = DryRunPage::new(&revision.head, &page, &dry.changes, model);
                drop(dry);
                answer::page(&page)
            }
            Ok(_) => error::form_again(&page.again(&faults)),
            Err(refusal) => error::form_again(&page.refused(&faults, refusal)),
        }
    })
    .await
}

/// `POST /models/{id}/spreadsheet/accept`: form of `model` (the whole model file that the dry run
/// made), `who`, `reason`, `expected_revision` (the one it was made of). All of it becomes the next
/// revision, or nothing.
pub async fn accept(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let sent = Upload::read(form?).await?;
    let mut faults = Vec::new();
    let made = lists::whole(sent.text("model"), "/model");
    let made = made.map_err(|found| faults.extend(found)).ok();
    let signed = intake::signed(sent.text("who"), sent.text("reason"), &mut faults);
    let (Some(made), Some((who, reason))) = (made, signed) else {
        return Err(Error::Faults(faults));
    };
    let intent = Intent {
        id,
        // A form without it was not made by this page: it gets no say over any revision.
        seen: sent.text("expected_revision").parse().unwrap_or(0),
        who,
        reason,
    };
    match saving::save(&state, &intent, move |_| made.clone()).await? {
        Outcome::Saved(_) | Outcome::Nothing => {
            let done = answer::go_to(&first_page(&intent.id));
            Ok(remember(done, &intent.who))
        }
        Outcome::Faults(faults, _) => Err(Error::Faults(faults)),
        Outcome::Clashes(latest, _) => Err(intent.late(&latest)),
    }
}

/// `POST /models/{id}/spreadsheet/marked`: form of `sheets` (what a dry run has read), `faults`
/// (what it found), gives the workbook back with the faulty cells marked.
pub async fn marked(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let revision = state.store.latest(&id).await?;
    let sent = Upload::read(form?).await?;
    let removes = !sent.text("unlisted").is_empty();
    let unlisted = if removes {
        Unlisted::Removed
    } else {
        Unlisted::Stay
    };
    let unreadable =
        |what: &str| Error::Unreadable(format!("The {what} of the dry run arrived broken."));
    let tables: Vec<Table> =
        serde_json::from_str(sent.text("sheets")).map_err(|_| unreadable("sheets"))?;
    let faults = serde_json::from_str(sent.text("faults")).map_err(|_| unreadable("faults"))?;
    off_thread(move || {
        let base = record_of(&revision)?;
        let sent = spreadsheet::Sent {
            tables: tables.clone(),
            faults,
            is_whole: true,
        };
        // Faults of meaning are found anew: the model may be another by now.
        let faults = match spreadsheet::dry_run(&base, Ok(sent), unlisted) {
            Ok(_) => Vec::new(),
            Err(refusal) => refusal.faults,
        };
        let bytes = spreadsheet::marked(&tables, &faults).map_err(|fault| {
            Error::Unreadable(format!("The sheets do not fit into a workbook: {fault}."))
        })?;
        let name = format!(
            "{}-revision-{}-marked.xlsx",
            revision.head.model_id, revision.head.number
        );
        Ok(answer::file(&name, WORKBOOK, bytes))
    })
    .await
}

/// Work that takes time: not on a thread that serves others.
async fn off_thread(
    work: impl FnOnce() -> Result<Response, Error> + Send + 'static,
) -> Result<Response, Error> {
    tokio::task::spawn_blocking(work)
        .await
        .map_err(|broken| Error::Answer(Box::new(broken)))?
}

/// A form is about the revision its reader saw; one that names none gets no say.
fn expected_is_latest(head: &RevisionHead, sent: &Upload) -> Result<(), Error> {
    let expected = sent.text("expected_revision").parse().unwrap_or(0);
    if expected == head.number {
        return Ok(());
    }
    Err(Error::Store(StoreError::Conflict {
        id: head.model_id.clone(),
        expected,
        latest: head.number,
    }))
}

fn record_of(revision: &Revision) -> Result<ModelRecord, Error> {
    file_format::read_record(&revision.body).map_err(|faults| {
        Error::Answer(format!("a stored model has {} faults", faults.len()).into())
    })
}

fn not_offered(name: &str) -> Error {
    Error::NotFound(format!(
        "There is no {name}; take model.xlsx, template.xlsx, or a list such as loads.csv."
    ))
}
