//! The rows of a file, kept as far as they are asked about: a million cells that state nothing
//! would fill the memory.

use harness_core::file_format::Document;
use harness_core::tabular::{Cell, CellFault, MOST_FAULTS, NOT_READ, Row, Table, Use, Uses};

use crate::shown::grouped;

use super::guard::MOST_CELLS;
use super::{Sent, refused};

/// Most values that one file may state: what is made of them takes a hundred times as much memory
/// as the file. The demo launch has 8 000, the wires of a model of 10 000 have 113 000.
pub const MOST_VALUES: usize = 120_000;
/// Most rows that one file may state.
pub const MOST_ROWS: usize = 20_000;
/// Most that the texts among these values may have, in bytes.
const MOST_TEXT: usize = 3 * 1024 * 1024;
/// Most cells of a file whose cells are all kept, to be given back with the faulty ones marked.
const MOST_MARKED: usize = 100_000;

/// What a file holds, while it is read row by row.
#[derive(Default)]
pub(super) struct Gathering {
    tables: Vec<Table>,
    /// What the columns of each sheet are for; nothing before its headings.
    uses: Vec<Option<Uses>>,
    faults: Vec<CellFault>,
    cells: usize,
    kept: usize,
    values: usize,
    text: usize,
    rows: usize,
    unheaded: usize,
    drops: bool,
}

impl Gathering {
    /// Begins a sheet; says whether it is read.
    pub(super) fn sheet(&mut self, name: &str) -> bool {
        if NOT_READ.contains(&name.to_lowercase().as_str()) {
            return false;
        }
        self.tables.push(Table {
            name: name.to_owned(),
            headings: Row::default(),
            rows: Vec::new(),
        });
        self.uses.push(None);
        true
    }

    /// Counts cells, empty ones too.
    pub(super) fn count(&mut self, cells: usize) -> Result<(), Vec<CellFault>> {
        self.cells += cells;
        if self.cells > MOST_CELLS {
            return Err(refused(
                &format!("The file has more than {} cells.", grouped(MOST_CELLS)),
                &format!("at most {} cells", grouped(MOST_CELLS)),
                "Remove rows and columns that hold nothing of the boat model.",
            ));
        }
        Ok(())
    }

    /// Keeps what is wrong with a cell of the sheet at hand.
    pub(super) fn fault(
        &mut self,
        place: (u32, u32),
        cell: Option<&Cell>,
        (reason, limit, next): (&str, &str, &str),
    ) {
        if let Some(table) = self
            .tables
            .last()
            .filter(|_| self.faults.len() < MOST_FAULTS)
        {
            let told = (reason.to_owned(), limit.to_owned(), next.to_owned());
            self.faults
                .push(CellFault::at(&table.name, place, cell, told));
        }
    }

    /// Takes the next row of the sheet at hand; the first that is not empty holds its headings.
    pub(super) fn row<D: Document>(&mut self, row: Row) -> Result<(), Vec<CellFault>> {
        let (Some(table), Some(uses)) = (self.tables.last_mut(), self.uses.last_mut()) else {
            return Ok(());
        };
        if row.cells.is_empty() {
            return Ok(());
        }
        let Some(uses) = uses else {
            *uses = Some(Uses::of::<D>(&table.name, &row));
            table.headings = row;
            return Ok(());
        };
        if uses.is_list {
            let states = |(at, _): &&(u32, Cell)| uses.column(*at) == Use::States;
            for (_, cell) in row.cells.iter().filter(states) {
                self.values += 1;
                self.text += match cell {
                    Cell::Text(text) => text.len(),
                    _ => 0,
                };
            }
            self.rows += 1;
            let is_too_much = self.values > MOST_VALUES || self.text > MOST_TEXT;
            if is_too_much || self.rows > MOST_ROWS {
                return Err(self.too_much());
            }
        }
        self.kept += row.cells.len();
        if self.kept > MOST_MARKED && !self.drops {
            self.drops = true;
            for (table, uses) in self.tables.iter_mut().zip(&self.uses) {
                let rows = std::mem::take(&mut table.rows).into_iter();
                let kept = rows.filter_map(|row| asked(row, uses.as_ref()?, &mut self.unheaded));
                table.rows = kept.collect();
            }
        }
        let row = match (self.drops, self.uses.last()) {
            (true, Some(Some(uses))) => asked(row, uses, &mut self.unheaded),
            _ => Some(row),
        };
        if let (Some(mut row), Some(table)) = (row, self.tables.last_mut()) {
            row.cells.shrink_to_fit();
            table.rows.push(row);
        }
        Ok(())
    }

    pub(super) fn end(self) -> Sent {
        Sent {
            tables: self.tables,
            faults: self.faults,
            is_whole: !self.drops,
        }
    }

    /// More than is taken at once, with what is wrong with the headings so far.
    fn too_much(&mut self) -> Vec<CellFault> {
        let mut faults = refused(
            &format!(
                "The file states too much to be checked at once: {} rows, {} values and {} kB of text \
                 so far.",
                grouped(self.rows),
                grouped(self.values),
                grouped(self.text / 1000)
            ),
            &format!(
                "at most {} rows with {} values and {} MiB of text under known headings",
                grouped(MOST_ROWS),
                grouped(MOST_VALUES),
                MOST_TEXT / (1024 * 1024)
            ),
            "Send its sheets one by one, or its rows in parts.",
        );
        let headings = self.uses.iter_mut().flatten();
        faults.extend(headings.flat_map(|uses| std::mem::take(&mut uses.faults)));
        faults
    }
}

/// A row without the cells that nobody asks about; nothing of a sheet that is no list. Of cells
/// under no heading there are as many as are told.
fn asked(mut row: Row, uses: &Uses, unheaded: &mut usize) -> Option<Row> {
    row.cells.retain(|(at, _)| match uses.column(*at) {
        Use::States => true,
        Use::Unheaded => {
            *unheaded += 1;
            *unheaded <= MOST_FAULTS + 1
        }
        Use::None => false,
    });
    row.cells.shrink_to_fit();
    uses.is_list.then_some(row)
}
