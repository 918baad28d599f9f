//! Reading a workbook, one cell after the other.

use std::io::Cursor;

use calamine::{DataRef, Reader, SheetType, Xlsx, XlsxError};
use harness_core::file_format::Document;
use harness_core::tabular::{Cell, CellFault, Row};

use super::gathering::Gathering;
use super::{Sent, refused};

/// Most columns of a sheet; beyond them no spreadsheet has any.
const MOST_COLUMNS: u32 = 16_384;

/// Reads the sheets of a workbook that has passed the guard.
pub(super) fn read<D: Document>(bytes: &[u8]) -> Result<Sent, Vec<CellFault>> {
    let mut workbook: Xlsx<_> =
        Xlsx::new(Cursor::new(bytes)).map_err(|fault| unreadable("", &fault))?;
    let sheets: Vec<_> = workbook
        .sheets_metadata()
        .iter()
        .filter(|sheet| sheet.typ == SheetType::WorkSheet)
        .map(|sheet| sheet.name.clone())
        .collect();
    let mut gathering = Gathering::default();
    for name in sheets {
        if gathering.sheet(&name) {
            sheet::<D>(&mut workbook, &name, &mut gathering)?;
        }
    }
    Ok(gathering.end())
}

fn sheet<D: Document>(
    workbook: &mut Xlsx<Cursor<&[u8]>>,
    name: &str,
    gathering: &mut Gathering,
) -> Result<(), Vec<CellFault>> {
    let mut row = Row::default();
    let mut cells = workbook
        .worksheet_cells_reader(name)
        .map_err(|fault| unreadable(name, &fault))?;
    while let Some(record) = cells
        .next_cell_with_formula_metadata()
        .map_err(|fault| unreadable(name, &fault))?
    {
        gathering.count(1)?;
        let (number, column) = (record.pos.0 + 1, record.pos.1);
        if column >= MOST_COLUMNS {
            return Err(refused(
                "A cell stands outside of any sheet.",
                "at most 16384 columns",
                "Save the workbook anew and send that.",
            ));
        }
        if number < row.number {
            return Err(refused(
                &format!(
                    "In the sheet \"{name}\" row {number} stands below row {}.",
                    row.number
                ),
                "rows in order",
                "Save the workbook anew and send that.",
            ));
        }
        if number > row.number {
            gathering.row::<D>(in_order(&mut row))?;
            row.number = number;
        }
        let (cell, refused) = if record.formula.is_some() {
            let told = (
                "This is a formula: what it stands for may have changed since it was last computed.",
                "a plain value",
                "Replace it by its value (copy, then paste values) and send the file again.",
            );
            (shown(&record.value), Some(told))
        } else {
            plain(record.value)
        };
        if let Some(told) = refused {
            gathering.fault((number, column), cell.as_ref(), told);
        }
        if let Some(cell) = cell {
            row.cells.push((column, cell));
        }
    }
    gathering.row::<D>(in_order(&mut row))
}

/// The row, which is empty then. Its cells are in order already, unless the workbook was made by
/// something odd.
fn in_order(row: &mut Row) -> Row {
    let mut row = std::mem::take(row);
    row.cells.sort_by_key(|(column, _)| *column);
    row.cells.dedup_by_key(|(column, _)| *column);
    row
}

type Told = (&'static str, &'static str, &'static str);

/// The value of a cell that is no formula; what is none is kept to be shown, with what is wrong.
fn plain(value: DataRef) -> (Option<Cell>, Option<Told>) {
    match value {
        DataRef::Empty => (None, None),
        DataRef::Int(number) => (Some(whole(number)), None),
        DataRef::Float(number) => (Some(Cell::Number(number)), None),
        DataRef::Bool(flag) => (Some(Cell::Flag(flag)), None),
        DataRef::String(text) => (text_cell(&text), None),
        DataRef::SharedString(text) => (text_cell(text), None),
        other @ DataRef::Error(_) => {
            let told = (
                "This is an error of the spreadsheet.",
                "a plain value",
                "Replace it by a value, or empty the cell.",
            );
            (shown(&other), Some(told))
        }
        other @ (DataRef::DateTime(_) | DataRef::DateTimeIso(_) | DataRef::DurationIso(_)) => {
            let told = (
                "The spreadsheet took this for a date or a time.",
                "a plain value: no field of a boat model is a date",
                "Format the cell as text and write it again.",
            );
            (shown(&other), Some(told))
        }
    }
}

/// Any value as a text, for a fault.
fn shown(value: &DataRef) -> Option<Cell> {
    match value {
        DataRef::Empty => text_cell("(no value)"),
        DataRef::Int(number) => Some(whole(*number)),
        DataRef::Float(number) => Some(Cell::Number(*number)),
        DataRef::Bool(flag) => Some(Cell::Flag(*flag)),
        DataRef::String(text) | DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => {
            text_cell(text)
        }
        DataRef::SharedString(text) => text_cell(text),
        DataRef::Error(error) => text_cell(&error.to_string()),
        DataRef::DateTime(time) => Some(Cell::Number(time.as_f64())),
    }
}

fn whole(number: i64) -> Cell {
    // A spreadsheet keeps numbers as decimals: beyond 2^53 it has lost digits already.
    #[expect(clippy::cast_precision_loss, reason = "said above")]
    Cell::Number(number as f64)
}

fn text_cell(text: &str) -> Option<Cell> {
    (!text.is_empty()).then(|| Cell::Text(text.to_owned()))
}

fn unreadable(sheet: &str, fault: &XlsxError) -> Vec<CellFault> {
    let place = if sheet.is_empty() {
        "The workbook".to_owned()
    } else {
        format!("The sheet \"{sheet}\"")
    };
    refused(
        &format!("{place} cannot be read: {fault}."),
        "an .xlsx workbook",
        "Open it, save it as .xlsx under a new name, and send that.",
    )
}
