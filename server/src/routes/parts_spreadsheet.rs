//! The parts list as spreadsheets: out, and in as a dry run that is accepted or not.

use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, Path, State};
use axum::response::Response;
use harness_core::edits::Whole;
use harness_core::file_format::{PartsRecord, write_parts};
use harness_core::parts::shipped;
use harness_core::tabular::{self, Unlisted};
use tokio::task::spawn_blocking;

use super::spreadsheet::{VALUES, WORKBOOK};
use super::upload::Upload;
use crate::error::{self, Error};
use crate::pages::{DryRunPage, SpreadsheetPage};
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome, Target};
use crate::store::{PARTS, StoreError};
use crate::{answer, intake, parts_list, spreadsheet};

/// `GET /parts/spreadsheet`
pub async fn form(State(state): State<AppState>, Person(who): Person) -> Result<Response, Error> {
    let latest = parts_list::latest(&state.store).await?;
    let mut page = SpreadsheetPage::of_parts(&latest.head);
    page.who = who;
    answer::page(&page)
}

/// `GET /parts/spreadsheet/{file}`: `parts.xlsx`, `template.xlsx`, `shipped.xlsx`, or a list as
/// `loads.csv`.
pub async fn file(
    State(state): State<AppState>,
    Path(name): Path<String>,
) -> Result<Response, Error> {
    let latest = parts_list::latest(&state.store).await?;
    let work = move || {
        let own = parts_list::parts(&latest.body)?;
        let number = latest.head.number;
        let broken = |fault: rust_xlsxwriter::XlsxError| Error::Answer(fault.into());
        let workbook = |file: &str, list: &PartsRecord, made_from: &str| {
            let tables = tabular::tables_of(list);
            let bytes = spreadsheet::workbook_of::<PartsRecord>(&tables, made_from);
            Ok(answer::file(file, WORKBOOK, bytes.map_err(broken)?))
        };
        match name.split_once('.') {
            Some(("template", "xlsx")) => {
                let bytes = spreadsheet::template::<PartsRecord>().map_err(broken)?;
                Ok(answer::file("parts-template.xlsx", WORKBOOK, bytes))
            }
            Some(("parts", "xlsx")) => {
                let made_from = format!("parts list, revision {number}");
                workbook(&format!("parts-revision-{number}.xlsx"), &own, &made_from)
            }
            Some(("shipped", "xlsx")) => {
                workbook("parts-shipped.xlsx", shipped(), "the shipped parts list")
            }
            Some((list, "csv")) if tabular::list_named::<PartsRecord>(list) == Some(list) => {
                let tables = tabular::tables_of(&own);
                let table = tables.iter().find(|table| table.name == list);
                let table = table.ok_or_else(|| not_offered(&name))?;
                let bytes = spreadsheet::csv_of(table);
                let bytes = bytes.map_err(|fault| Error::Answer(fault.into()))?;
                let file = format!("parts-revision-{number}-{list}.csv");
                Ok(answer::file(&file, VALUES, bytes))
            }
            _ => Err(not_offered(&name)),
        }
    };
    spawn_blocking(work).await.map_err(broken)?
}

/// `POST /parts/spreadsheet`: form of `file` or `pasted`, `list`, `unlisted`, `who`, `reason`,
/// `expected_revision`. Tells what the file would change; nothing is stored.
pub async fn dry_run(
    State(state): State<AppState>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let latest = parts_list::latest(&state.store).await?;
    let sent = Upload::read(form?).await?;
    let expected = sent.text("expected_revision").parse().unwrap_or(-1);
    if expected != latest.head.number {
        let latest = latest.head.number;
        return Err(StoreError::PartsConflict { expected, latest }.into());
    }
    let mut page = SpreadsheetPage::of_parts(&latest.head);
    page.list = sent.text("list").to_owned();
    page.who = sent.text("who").to_owned();
    page.reason = sent.text("reason").to_owned();
    page.removes = !sent.text("unlisted").is_empty();
    page.pasted = sent.text("pasted").to_owned();
    let mut faults = Vec::new();
    intake::signed(&page.who, &page.reason, &mut faults);
    let unlisted = match page.removes {
        true => Unlisted::Removed,
        false => Unlisted::Stay,
    };
    let (name, file) = sent.into_file();
    let work = move || {
        let base = parts_list::parts(&latest.body)?;
        let bytes: &[u8] = match file.is_empty() {
            true => page.pasted.as_bytes(),
            false => &file,
        };
        let read = spreadsheet::read::<PartsRecord>(&name, &page.list, bytes);
        drop(file);
        match spreadsheet::dry_run(&base, read, unlisted) {
            Ok(dry) if faults.is_empty() => {
                let list = write_parts(&dry.record);
                let page = DryRunPage::new(&latest.head, &page, &dry.changes, list);
                drop(dry);
                answer::page(&page)
            }
            Ok(_) => error::form_again(&page.again(&faults)),
            Err(refusal) => error::form_again(&page.refused(&faults, refusal)),
        }
    };
    spawn_blocking(work).await.map_err(broken)?
}

/// `POST /parts/spreadsheet/accept`: form of `model` (the whole list that the dry run made), `who`,
/// `reason`, `expected_revision` (the one it was made of).
pub async fn accept(
    State(state): State<AppState>,
    form: Result<Multipart, MultipartRejection>,
) -> Result<Response, Error> {
    let sent = Upload::read(form?).await?;
    let made: Whole = parts_list::whole(sent.text("model"))?;
    let mut faults = Vec::new();
    let signed = intake::signed(sent.text("who"), sent.text("reason"), &mut faults);
    let Some((who, reason)) = signed else {
        return Err(Error::Faults(faults));
    };
    let intent = Intent {
        id: PARTS.to_owned(),
        // A form without it was not made by this page: it gets no say over any revision.
        seen: sent.text("expected_revision").parse().unwrap_or(-1),
        who,
        reason,
    };
    match saving::save_in(Target::Parts, &state, &intent, move |_| made.clone()).await? {
        Outcome::Saved(_) | Outcome::Nothing => Ok(remember(answer::go_to("/parts"), &intent.who)),
        Outcome::Faults(faults, _) => Err(Error::Faults(faults)),
        Outcome::Clashes(latest, _) => Err(intent.late(&latest)),
    }
}

fn broken(broken: tokio::task::JoinError) -> Error {
    Error::Panicked(broken.to_string())
}

fn not_offered(name: &str) -> Error {
    Error::NotFound(format!(
        "There is no {name}; take parts.xlsx, shipped.xlsx, template.xlsx, or a list such as \
         loads.csv."
    ))
}
