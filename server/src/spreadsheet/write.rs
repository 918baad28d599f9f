//! Tables written as a workbook.

use harness_core::CAUTION;
use harness_core::file_format::Document;
use harness_core::tabular::{Cell, Explained, Row, Table, explained};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError,
};

/// Width of a column of values, in characters.
const WIDTH: f64 = 18.0;
/// Number format by which a spreadsheet leaves what is typed as it is: `0147`, `+12V`.
const AS_TYPED: &str = "@";

/// A workbook of the tables of a document, `made_from` told on its first sheet.
///
/// # Errors
/// When the tables do not fit into a workbook.
pub fn workbook<D: Document>(tables: &[Table], made_from: &str) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = new()?;
    let columns = explained::<D>();
    read_me(workbook.add_worksheet(), &columns, D::WORDS, made_from)?;
    for table in tables {
        let sheet = workbook.add_worksheet();
        sheet.set_name(&table.name)?;
        let as_typed = Format::new().set_num_format(AS_TYPED);
        let of_sheet = columns.iter().filter(|column| column.sheet == table.name);
        for (at, column) in (0_u16..).zip(of_sheet) {
            if column.is_text {
                sheet.set_column_format(at, &as_typed)?;
            }
            sheet.set_column_width(at, WIDTH)?;
        }
        rows(sheet, table, &as_typed)?;
    }
    workbook.save_to_buffer()
}

/// A workbook with headings alone, to be filled in.
///
/// # Errors
/// None in practice: headings fit into a workbook.
pub fn template<D: Document>() -> Result<Vec<u8>, XlsxError> {
    let tables = harness_core::tabular::template::<D>();
    workbook::<D>(&tables, "an empty template")
}

/// A workbook that is the same at each writing: no time of making stands in it.
pub(super) fn new() -> Result<Workbook, XlsxError> {
    let mut workbook = Workbook::new();
    let no_time = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&no_time));
    Ok(workbook)
}

/// Writes headings and rows at their own places.
pub(super) fn rows(sheet: &mut Worksheet, table: &Table, text: &Format) -> Result<(), XlsxError> {
    let bold = Format::new().set_bold().set_num_format(AS_TYPED);
    row(sheet, &table.headings, &bold)?;
    for filled in &table.rows {
        row(sheet, filled, text)?;
    }
    sheet.set_freeze_panes(table.headings.number.max(1), 1)?;
    Ok(())
}

fn row(sheet: &mut Worksheet, row: &Row, text: &Format) -> Result<(), XlsxError> {
    for (column, value) in &row.cells {
        cell(sheet, (row.number, *column), value, text)?;
    }
    Ok(())
}

/// Writes a value; `text` is the format of texts.
pub(super) fn cell(
    sheet: &mut Worksheet,
    (row, column): (u32, u32),
    value: &Cell,
    text: &Format,
) -> Result<(), XlsxError> {
    let row = row.saturating_sub(1);
    let column = u16::try_from(column).map_err(|_| XlsxError::RowColumnLimitError)?;
    match value {
        Cell::Text(value) => sheet.write_string_with_format(row, column, value, text)?,
        Cell::Number(value) => sheet.write_number(row, column, *value)?,
        Cell::Flag(value) => sheet.write_boolean(row, column, *value)?,
    };
    Ok(())
}

/// What every sheet and column means.
fn read_me(
    sheet: &mut Worksheet,
    columns: &[Explained],
    words: &str,
    made_from: &str,
) -> Result<(), XlsxError> {
    let bold = Format::new().set_bold();
    let wrapped = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    sheet.set_name("read me")?;
    for (column, width) in [(0, 16.0), (1, 34.0), (2, 60.0), (3, 60.0), (4, 12.0)] {
        sheet.set_column_width(column, width)?;
    }
    let lines = [
        format!("Made from: {made_from}."),
        CAUTION.to_owned(),
        format!("Each sheet is a list of {words}. A row whose id is known changes that thing, a new id adds one. An empty cell removes a value; a column that is not there changes nothing."),
        "Units may stand in the heading, as Length (ft), or in the cell, as 12 ft 6 in. Several values in one cell have ; between them. Conditions are such as: a and (b or not c).".to_owned(),
    ];
    for (at, line) in (0..).zip(&lines) {
        sheet.write_string(at, 0, line)?;
    }
    let head = 5;
    for (at, heading) in (0..).zip([
        "Sheet",
        "Column",
        "What it means",
        "What may stand in it",
        "Needed",
    ]) {
        sheet.write_string_with_format(head, at, heading, &bold)?;
    }
    for (row, column) in (head + 1..).zip(columns) {
        sheet.write_string(row, 0, column.sheet)?;
        sheet.write_string(row, 1, &column.heading)?;
        sheet.write_string_with_format(row, 2, column.about, &wrapped)?;
        sheet.write_string_with_format(row, 3, &column.accepted, &wrapped)?;
        sheet.write_string(row, 4, if column.is_required { "yes" } else { "no" })?;
    }
    Ok(())
}
