//! The sheets as they were sent, with the faulty cells marked.

use std::collections::{BTreeMap, BTreeSet};

use harness_core::tabular::{CellFault, NOT_READ, Table};
use rust_xlsxwriter::{Color, Format, Note, Workbook, XlsxError};

use super::write;

/// Color of a marked cell: seen beside black text and in gray print.
const MARK: Color = Color::RGB(0x00FF_C7CE);
/// Most notes of a workbook: spreadsheets grow slow with more, and the list of faults has all.
const MOST_NOTES: usize = 5_000;

/// A workbook of the tables: faulty cells are filled and carry a note, and a sheet lists all
/// faults.
///
/// # Errors
/// When the tables do not fit into a workbook.
pub fn marked(tables: &[Table], faults: &[CellFault]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = write::new()?;
    listed(&mut workbook, faults)?;
    let mut notes = 0;
    let mut names = BTreeSet::new();
    for table in tables {
        let is_for_people = NOT_READ.contains(&table.name.to_lowercase().as_str());
        if is_for_people || !names.insert(table.name.to_lowercase()) {
            continue;
        }
        let sheet = workbook.add_worksheet();
        sheet.set_name(&table.name)?;
        let plain = Format::new().set_num_format("@");
        write::rows(sheet, table, &plain)?;
        let mut told: BTreeMap<(u32, u32), Vec<&CellFault>> = BTreeMap::new();
        for fault in faults.iter().filter(|fault| fault.sheet == table.name) {
            if let Some(place) = fault.place {
                told.entry(place).or_default().push(fault);
            }
        }
        let mark = Format::new().set_background_color(MARK);
        for ((number, column), faults) in told {
            let rows = std::iter::once(&table.headings).chain(&table.rows);
            let value = rows
                .into_iter()
                .find(|row| row.number == number)
                .and_then(|row| row.cell(column));
            let (row, at) = (
                number.saturating_sub(1),
                u16::try_from(column).map_err(|_| XlsxError::RowColumnLimitError)?,
            );
            if value.is_none() {
                sheet.write_blank(row, at, &mark)?;
            }
            sheet.set_cell_format(row, at, &mark)?;
            notes += 1;
            if notes <= MOST_NOTES {
                let words: Vec<_> = faults
                    .iter()
                    .map(|fault| {
                        format!(
                            "{} {} Accepted: {}.",
                            fault.reason, fault.next_step, fault.limit
                        )
                    })
                    .collect();
                sheet.insert_note(row, at, &Note::new(words.join("\n")))?;
            }
        }
    }
    workbook.save_to_buffer()
}

fn listed(workbook: &mut Workbook, faults: &[CellFault]) -> Result<(), XlsxError> {
    let bold = Format::new().set_bold();
    let sheet = workbook.add_worksheet();
    sheet.set_name("faults")?;
    for (at, (heading, width)) in (0..).zip([
        ("Sheet", 16.0),
        ("Cell", 8.0),
        ("Value as read", 24.0),
        ("What is wrong", 60.0),
        ("Accepted", 40.0),
        ("Next step", 60.0),
    ]) {
        sheet.set_column_width(at, width)?;
        sheet.write_string_with_format(0, at, heading, &bold)?;
    }
    for (row, fault) in (1..).zip(faults) {
        let cell = fault.cell();
        let texts = [
            &fault.sheet,
            &cell,
            &fault.given,
            &fault.reason,
            &fault.limit,
            &fault.next_step,
        ];
        for (at, text) in (0..).zip(texts) {
            sheet.write_string(row, at, text)?;
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    Ok(())
}
