//! Spreadsheets in and out: files become tables and tables files. What the tables mean is known to
//! `harness_core::tabular` alone.

mod guard;
mod gathering;
mod workbook;
mod delimited;
mod write;
mod marked;

pub use delimited::written as csv_of;
pub use gathering::{MOST_ROWS, MOST_VALUES};
pub use guard::{MOST_BYTES, MOST_CELLS, MOST_ENTRIES, MOST_UNPACKED};
pub use marked::marked;
pub use write::{template, workbook as workbook_of};

use harness_core::file_format::Document;
use harness_core::tabular::{self, CellFault, Dry, Table, Unlisted};

/// What a file holds, with what is wrong in its cells.
#[derive(Clone, Debug, Default)]
pub struct Sent {
    /// Its sheets.
    pub tables: Vec<Table>,
    /// Cells that hold no plain value.
    pub faults: Vec<CellFault>,
    /// Whether the sheets hold every cell of the file, or only those that state something.
    pub is_whole: bool,
}

/// Why nothing of a file was accepted.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// Everything that is wrong.
    pub faults: Vec<CellFault>,
    /// Those of cells that hold no plain value, which the sheets below do not show by themselves.
    pub of_cells: Vec<CellFault>,
    /// The sheets as they were sent, if the file could be read at all and is not too large for
    /// that.
    pub tables: Vec<Table>,
}

/// Reads a workbook, or a file of values whose `list` is named or follows from its name.
///
/// # Errors
/// Why it cannot be read at all.
pub fn read<D: Document>(
    file_name: &str,
    list: &str,
    bytes: &[u8],
) -> Result<Sent, Vec<CellFault>> {
    guard::size(bytes)?;
    if bytes.starts_with(b"PK") {
        guard::unpacked(bytes)?;
        workbook::read::<D>(bytes)
    } else if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        Err(refused(
            "This is a workbook of the old kind (.xls), or one with a password.",
            "an .xlsx workbook without a password, or a CSV file",
            "Save it as .xlsx without a password and send it again.",
        ))
    } else {
        delimited::read::<D>(file_name, list, bytes)
    }
}

/// What a file would make of a document: every change, or everything that is wrong.
///
/// # Errors
/// [`Refusal`], with every fault at once.
pub fn dry_run<D: Document>(
    base: &D,
    sent: Result<Sent, Vec<CellFault>>,
    unlisted: Unlisted,
) -> Result<Dry<D>, Refusal> {
    let Sent {
        tables,
        mut faults,
        is_whole,
    } = sent.map_err(|faults| Refusal {
        faults,
        of_cells: Vec::new(),
        tables: Vec::new(),
    })?;
    let of_cells = faults.clone();
    let told: Vec<_> = faults
        .iter()
        .map(|fault| (fault.sheet.clone(), fault.place))
        .collect();
    let told: std::collections::BTreeSet<_> = told.into_iter().collect();
    match tabular::read_tables(base, &tables, unlisted) {
        Ok(dry) if faults.is_empty() => return Ok(dry),
        Ok(_) => {}
        // A cell that holds no plain value is not told a second time for what it then means.
        Err(more) => faults.extend(more.into_iter().filter(|fault| {
            fault.place.is_none() || !told.contains(&(fault.sheet.clone(), fault.place))
        })),
    }
    Err(Refusal {
        faults,
        of_cells,
        tables: if is_whole { tables } else { Vec::new() },
    })
}

/// One fault of the whole file.
fn refused(reason: &str, limit: &str, next_step: &str) -> Vec<CellFault> {
    vec![CellFault::of_sheet(
        "",
        (reason.to_owned(), limit.to_owned(), next_step.to_owned()),
    )]
}
