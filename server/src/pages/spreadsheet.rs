//! The pages on which a boat model goes out as spreadsheets and comes in again.

use askama::Template;
use harness_core::file_format::{Document, ModelRecord, PartsRecord};
use harness_core::tabular::{self, Cell, CellFault, Change, FieldChange, What};

use super::{FieldFault, Frame, first_page};
use crate::error::Fault;
use crate::shown::grouped;
use crate::spreadsheet::{MOST_BYTES, MOST_ROWS, MOST_VALUES, Refusal};
use crate::store::RevisionHead;

/// Most faults and changes on one page; the marked workbook has all faults.
const MOST_SHOWN: usize = 1_000;
/// Most that a page carries of the sheets to give them back marked, in bytes.
const MOST_CARRIED: usize = 8 * 1024 * 1024;

/// A list of the boat model, to be downloaded or named.
#[derive(Clone, Debug)]
struct ListRow {
    name: &'static str,
    about: &'static str,
}

/// What goes out, the form that takes a file in, and what is wrong with one.
#[derive(Clone, Debug, Template)]
#[template(path = "models/spreadsheet.html")]
pub struct SpreadsheetPage {
    frame: Frame,
    /// Chosen list of a CSV file.
    pub list: String,
    /// Rows pasted instead of a file.
    pub pasted: String,
    /// Name of the sender.
    pub who: String,
    /// Reason of the change.
    pub reason: String,
    /// Whether what is not listed goes.
    pub removes: bool,
    /// Address of this page.
    base: String,
    /// Address one comes from.
    cancel: String,
    /// What goes out and comes in: `boat model`.
    document: &'static str,
    revision: i64,
    lists: Vec<ListRow>,
    faults: Vec<FieldFault>,
    cell_faults: Vec<CellFault>,
    fault_count: usize,
    sheets: Option<(String, String)>,
    file_hint: String,
}

impl SpreadsheetPage {
    /// The page of a boat model at its latest revision.
    pub fn new(head: &RevisionHead) -> Self {
        let frame = Frame::new("Change by a spreadsheet").of_model(head, "spreadsheet");
        let revisions = format!("/models/{}/revisions", head.model_id);
        let base = format!("/models/{}/spreadsheet", head.model_id);
        let frame = frame.under("Revisions", revisions.clone());
        Self::of::<ModelRecord>(frame, head, base, revisions)
    }

    /// The page of the parts list at its latest revision.
    pub fn of_parts(head: &RevisionHead) -> Self {
        let frame = Frame::new("Change by a spreadsheet").at("/parts");
        let frame = frame.under("Parts list", "/parts");
        let base = "/parts/spreadsheet".to_owned();
        Self::of::<PartsRecord>(frame, head, base, "/parts".to_owned())
    }

    fn of<D: Document>(frame: Frame, head: &RevisionHead, base: String, cancel: String) -> Self {
        let mut lists: Vec<ListRow> = Vec::new();
        for column in tabular::explained::<D>() {
            if lists.last().is_none_or(|list| list.name != column.sheet) {
                lists.push(ListRow {
                    name: column.sheet,
                    about: column.about_sheet,
                });
            }
        }
        Self {
            frame,
            list: String::new(),
            pasted: String::new(),
            who: String::new(),
            reason: String::new(),
            removes: false,
            base,
            cancel,
            document: D::WORDS.trim_start_matches("a "),
            revision: head.number,
            lists,
            faults: Vec::new(),
            cell_faults: Vec::new(),
            fault_count: 0,
            sheets: None,
            file_hint: format!(
                "An .xlsx workbook, or a CSV file in UTF-8 with , ; or tabs between the values; at most {} MiB, {} rows and {} values.",
                MOST_BYTES / (1024 * 1024),
                grouped(MOST_ROWS),
                grouped(MOST_VALUES)
            ),
        }
    }

    /// The form again, as it was filled in, with what is wrong.
    #[must_use]
    pub fn again(mut self, faults: &[Fault]) -> Self {
        self.frame.is_form_again = true;
        self.faults = FieldFault::of(faults);
        self
    }

    /// The form again, with every fault of the file.
    #[must_use]
    pub fn refused(self, faults: &[Fault], refusal: Refusal) -> Self {
        let mut page = self.again(faults);
        let count = refusal.faults.len();
        page.faults.push(FieldFault {
            field: "file".to_owned(),
            text: match count {
                1 => "One thing is wrong with the file; it is told below. Nothing was stored.".to_owned(),
                _ => format!("{count} things are wrong with the file; all are told below. Nothing was stored."),
            },
        });
        page.fault_count = count;
        let carried = serde_json::to_string(&refusal.tables)
            .ok()
            .zip(serde_json::to_string(&refusal.of_cells).ok());
        page.sheets = carried.filter(|(sheets, own)| {
            page.base.starts_with("/models")
                && !refusal.tables.is_empty()
                && sheets.len() + own.len() <= MOST_CARRIED
        });
        page.cell_faults = refusal.faults;
        page.cell_faults.truncate(MOST_SHOWN);
        page
    }

    fn not_shown(&self) -> usize {
        self.fault_count - self.cell_faults.len()
    }
}

/// One field of the changes.
#[derive(Clone, Debug)]
struct ChangeRow {
    thing: String,
    what: &'static str,
    field: String,
    before: String,
    after: String,
}

/// What a file would change, to be accepted or not.
#[derive(Clone, Debug, Template)]
#[template(path = "models/dry_run.html")]
pub struct DryRunPage {
    frame: Frame,
    base: String,
    revision: i64,
    who: String,
    reason: String,
    summary: String,
    rows: Vec<ChangeRow>,
    row_count: usize,
    model: String,
    cancel: String,
}

impl DryRunPage {
    /// The changes that `model`, the whole model file, would bring; `asked` is the form as sent.
    pub fn new(
        head: &RevisionHead,
        asked: &SpreadsheetPage,
        changes: &[Change],
        model: String,
    ) -> Self {
        let rows: Vec<_> = changes.iter().flat_map(rows_of).take(MOST_SHOWN).collect();
        let row_count = changes
            .iter()
            .map(|change| match change.what {
                What::Removed => 1,
                _ => change.fields,
            })
            .sum();
        let frame = Frame::new("What the file would change");
        let frame = match asked.frame.model {
            Some(_) => frame.of_model(head, "spreadsheet"),
            None => frame.at("/parts").under("Parts list", "/parts"),
        };
        Self {
            frame: frame.under("Change by a spreadsheet", asked.base.clone()),
            base: asked.base.clone(),
            revision: head.number,
            who: asked.who.clone(),
            reason: asked.reason.clone(),
            summary: summary(changes),
            rows,
            row_count,
            model,
            cancel: match asked.frame.model {
                Some(_) => first_page(&head.model_id),
                None => asked.cancel.clone(),
            },
        }
    }

    fn not_shown(&self) -> usize {
        self.row_count - self.rows.len()
    }
}

fn summary(changes: &[Change]) -> String {
    let count =
        |wanted: fn(&What) -> bool| changes.iter().filter(|change| wanted(&change.what)).count();
    format!(
        "{} added, {} changed, {} removed.",
        count(|what| matches!(what, What::Added(_))),
        count(|what| matches!(what, What::Changed(_))),
        count(|what| matches!(what, What::Removed)),
    )
}

fn rows_of(change: &Change) -> Vec<ChangeRow> {
    let thing = format!("{} {}", change.thing, change.id);
    let row = |what: &'static str, field: &FieldChange| {
        let shown = |cell: &Option<Cell>| {
            cell.as_ref()
                .map_or_else(|| "not stated".to_owned(), ToString::to_string)
        };
        ChangeRow {
            thing: thing.clone(),
            what,
            field: field.field.clone(),
            before: shown(&field.before),
            after: shown(&field.after),
        }
    };
    match &change.what {
        What::Added(fields) => fields.iter().map(|field| row("added", field)).collect(),
        What::Changed(fields) => fields.iter().map(|field| row("changed", field)).collect(),
        What::Removed => vec![ChangeRow {
            thing,
            what: "removed",
            field: "all".to_owned(),
            before: "as it is".to_owned(),
            after: "gone".to_owned(),
        }],
    }
}
