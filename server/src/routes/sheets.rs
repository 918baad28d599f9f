//! Sheets: on screen and paper, as CSV and as JSON.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query};
use axum::response::Response;
use harness_core::sheets::{self, Cell, Scope, Sheet};
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::{Covered, SheetPage, SheetsPage};
use crate::view::{View, named};

/// Query of a sheet.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    harness: String,
    #[serde(default)]
    zone: String,
}

/// `GET /models/{id}/sheets`
pub async fn list(view: View) -> Result<Response, Error> {
    answer::page(&SheetsPage::new(&view))
}

/// `GET /models/{id}/sheets/{sheet}?harness=&zone=`: the page, or with `.csv` the download.
pub async fn sheet(
    view: View,
    Path((_, name)): Path<(String, String)>,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    match name.split_once('.') {
        None => {
            let (sheet, covered) = make(&view, &name, &asked)?;
            answer::page(&SheetPage::new(&view, sheet, &covered))
        }
        Some((name, "csv")) => csv_file(&view, &make(&view, name, &asked)?.0),
        Some((name, ending)) => Err(not_offered(name, ending)),
    }
}

/// `GET /api/models/{id}/sheets/{sheet}.{json,csv}?harness=&zone=&hull=&options=`
pub async fn api(
    view: View,
    Path((_, name)): Path<(String, String)>,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    match name.split_once('.') {
        Some((name, "csv")) => csv_file(&view, &make(&view, name, &asked)?.0),
        Some((name, "json")) => {
            let (sheet, covered) = make(&view, name, &asked)?;
            answer::json(&serde_json::json!({
                "model": view.head.model_id,
                "name": view.head.name,
                "revision": view.head.number,
                "recorded_at": view.head.recorded_at,
                "stamp": view.head.stamp,
                "harness_part": covered.harness,
                "caution": harness_core::CAUTION,
                "sheet": sheet,
            }))
        }
        Some((name, ending)) => Err(not_offered(name, ending)),
        None => Err(Error::NotFound(format!(
            "A sheet is asked for with its kind of file: {name}.json or {name}.csv."
        ))),
    }
}

fn not_offered(name: &str, ending: &str) -> Error {
    Error::NotFound(match ending {
        "xlsx" | "pdf" => {
            format!("{name}.{ending} is not offered yet; print the page, or take {name}.csv.")
        }
        _ => format!("There is no {name}.{ending}; take {name}.csv."),
    })
}

fn make(view: &View, name: &str, asked: &Asked) -> Result<(Sheet, Covered), Error> {
    let model = &view.study.model;
    let kind = sheets::kind(name)
        .ok_or_else(|| Error::NotFound(format!("There is no sheet “{name}”.")))?;
    let mut covered = Covered::default();
    let mut scope = Scope { ..view.scope() };
    if !asked.harness.is_empty() {
        let at = named(&model.harnesses, "harness", &asked.harness)?;
        let harness = &model.harnesses[at];
        let part = harness
            .part_number
            .as_deref()
            .unwrap_or("part number not stated");
        let revision = harness.revision.as_deref().unwrap_or("not stated");
        covered.harness = format!("{part}, revision {revision}");
        covered.query.push(("harness", asked.harness.clone()));
        scope.harness = Some(at);
    }
    if !asked.zone.is_empty() {
        scope.zone = Some(named(&model.zones, "zone", &asked.zone)?);
        covered.query.push(("zone", asked.zone.clone()));
    }
    Ok(((kind.make)(&view.study, &scope), covered))
}

fn csv_file(view: &View, sheet: &Sheet) -> Result<Response, Error> {
    let name = format!(
        "{}-revision-{}-{}.csv",
        view.head.model_id, view.head.number, sheet.id
    );
    let made_from = format!(
        "{}, revision {}, state {}, covers {}",
        view.head.name, view.head.number, view.head.stamp, sheet.covers
    );
    let content = csv_of(sheet, &made_from).map_err(|fault| Error::Answer(fault.into()))?;
    Ok(answer::file(&name, "text/csv; charset=utf-8", content))
}

/// All tables of a sheet; the first column names the table. Headings are repeated only where
/// they change. The last two rows say what it was made from, and the caution.
fn csv_of(sheet: &Sheet, made_from: &str) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .flexible(true)
        .from_writer(Vec::new());
    let mut headed = None;
    for table in &sheet.tables {
        if headed != Some(&table.columns) {
            let keys = table.columns.iter().map(|column| column.key);
            writer.write_record(std::iter::once("table").chain(keys))?;
            headed = Some(&table.columns);
        }
        for row in &table.rows {
            let cells = row.iter().map(cell);
            writer.write_record(std::iter::once(guarded(table.caption.clone())).chain(cells))?;
        }
    }
    writer.write_record(["made from", &guarded(made_from.to_owned())])?;
    writer.write_record(["caution", harness_core::CAUTION])?;
    writer
        .into_inner()
        .map_err(|fault| csv::Error::from(fault.into_error()))
}

fn cell(cell: &Cell) -> String {
    match cell {
        Cell::Number(_) | Cell::Count(_) => cell.to_string(),
        Cell::Text(_) | Cell::List(_) | Cell::Word(_) => guarded(cell.to_string()),
    }
}

/// A spreadsheet takes a text that begins like a formula for one: a quote before it keeps it a
/// text (OWASP, CSV injection).
fn guarded(text: String) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '\0') => format!("'{text}"),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use harness_core::sheets::{Column, Table};

    use super::*;

    #[test]
    fn a_text_is_no_formula_and_a_number_stays_a_number() {
        let columns = vec![Column::words("name", "Name"), Column::numbers("x_mm", "mm")];
        let table = |caption: &str, rows| Table {
            caption: caption.to_owned(),
            columns: columns.clone(),
            rows,
        };
        let sheet = Sheet {
            id: "test",
            title: "Test".to_owned(),
            covers: "all".to_owned(),
            conventions: Vec::new(),
            tables: vec![
                table("one", vec![vec![Cell::from("+12V"), Cell::Number(-0.5)]]),
                table("=two", vec![vec![Cell::from("a, \"b\""), Cell::Count(3)]]),
            ],
        };
        let text = String::from_utf8(csv_of(&sheet, "Launch, revision 1").unwrap()).unwrap();
        let rows = "table,name,x_mm\none,'+12V,-0.5\n'=two,\"a, \"\"b\"\"\",3\n";
        let (table, foot) = text.split_at(rows.len());
        assert_eq!(table, rows);
        assert!(
            foot.starts_with("made from,\"Launch, revision 1\"\ncaution,"),
            "{foot}"
        );
    }
}
