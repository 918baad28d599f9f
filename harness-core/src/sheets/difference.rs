//! What two states of the same sheets differ in: rows added, removed and changed. The same
//! difference is what a change notice lists.

use super::table::{Cell, Table};
use super::{SHEETS, Scope, Sheet, SheetKind};
use crate::study::Study;
use serde::Serialize;
use std::collections::BTreeMap;
use std::ops::Range;

/// One cell that changed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CellChange {
    /// Heading of its column.
    pub column: &'static str,
    /// Before.
    pub before: Cell,
    /// After.
    pub after: Cell,
}

/// What became of one row.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RowChange {
    /// It is new.
    Added(Vec<Cell>),
    /// It is gone.
    Removed(Vec<Cell>),
    /// Cells of it changed.
    Changed {
        /// The cells that name it.
        row: String,
        /// The cells, in the order of the columns.
        cells: Vec<CellChange>,
    },
}

/// Rows of one table that changed, in the order of the later table, those that are gone last.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableDifference {
    /// What the table lists.
    pub caption: String,
    /// Headings of its columns.
    pub columns: Vec<&'static str>,
    /// The rows.
    pub rows: Vec<RowChange>,
}

/// What changed on one sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetDifference {
    /// Name in addresses.
    pub id: &'static str,
    /// Title on paper.
    pub title: &'static str,
    /// Tables with changes, by caption; none where the sheet is the same.
    pub tables: Vec<TableDifference>,
}

impl SheetDifference {
    /// How many rows were added, removed and changed.
    pub fn counts(&self) -> (usize, usize, usize) {
        let rows = self.tables.iter().flat_map(|table| &table.rows);
        rows.fold((0, 0, 0), |(added, removed, changed), row| match row {
            RowChange::Added(_) => (added + 1, removed, changed),
            RowChange::Removed(_) => (added, removed + 1, changed),
            RowChange::Changed { .. } => (added, removed, changed + 1),
        })
    }
}

/// What every sheet differs in between two studies, in the order of [`SHEETS`].
pub fn of_studies(before: &Study, after: &Study) -> Vec<SheetDifference> {
    let scope = Scope::default();
    let each = SHEETS.iter().map(|kind| {
        let (old, new) = ((kind.make)(before, &scope), (kind.make)(after, &scope));
        of_sheets(kind, &old, &new)
    });
    each.collect()
}

/// What one sheet differs in.
pub fn of_sheets(kind: &SheetKind, before: &Sheet, after: &Sheet) -> SheetDifference {
    let mut old = by_caption(&before.tables);
    let mut tables = Vec::new();
    for (name, table) in by_caption(&after.tables) {
        let known = old.remove(&name);
        tables.extend(of_tables(known, Some(table)));
    }
    tables.extend(
        old.into_values()
            .filter_map(|table| of_tables(Some(table), None)),
    );
    SheetDifference {
        id: kind.id,
        title: kind.title,
        tables,
    }
}

/// Tables by caption and, where one caption stands twice, by how often it stood before.
fn by_caption(tables: &[Table]) -> BTreeMap<(String, usize), &Table> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    let each = tables.iter().map(|table| {
        let count = counts.entry(&table.caption).or_default();
        *count += 1;
        ((table.caption.clone(), *count), table)
    });
    each.collect()
}

fn of_tables(before: Option<&Table>, after: Option<&Table>) -> Option<TableDifference> {
    let shown = after.or(before)?;
    let old = before.map_or(&[][..], |table| &table.rows);
    let new = after.map_or(&[][..], |table| &table.rows);
    let rows = of_rows(shown, old, new);
    (!rows.is_empty()).then(|| TableDifference {
        caption: shown.caption.clone(),
        columns: shown.columns.iter().map(|column| column.title).collect(),
        rows,
    })
}

/// The cells that name a row: its first; two where one alone names several rows. A running number
/// is a place in the list and names nothing.
fn naming(table: &Table) -> Range<usize> {
    match table.columns.first().map(|column| column.key) {
        Some("item") => 1..2,
        Some("connector" | "kind" | "enters_by") => 0..2,
        _ => 0..1,
    }
}

/// Rows that are the same on both sides stay out, whatever their place. Of the rest, rows of one
/// name are one row that changed, in order.
fn of_rows(table: &Table, old: &[Vec<Cell>], new: &[Vec<Cell>]) -> Vec<RowChange> {
    let naming = naming(table);
    let skip = naming.start;
    let name = |row: &[Cell]| {
        let cells = row.get(naming.clone()).unwrap_or(row);
        let words: Vec<_> = cells.iter().map(ToString::to_string).collect();
        words.join(", ")
    };
    let words = |row: &Vec<Cell>| {
        row.iter()
            .skip(skip)
            .map(ToString::to_string)
            .collect::<Vec<_>>()
    };
    let mut same: BTreeMap<Vec<String>, usize> = BTreeMap::new();
    for row in old {
        *same.entry(words(row)).or_default() += 1;
    }
    let mut fresh: Vec<&Vec<Cell>> = Vec::new();
    for row in new {
        match same.get_mut(&words(row)).filter(|count| **count > 0) {
            Some(count) => *count -= 1,
            None => fresh.push(row),
        }
    }
    let mut gone: BTreeMap<String, Vec<&Vec<Cell>>> = BTreeMap::new();
    for row in old.iter().rev() {
        if let Some(count) = same.get_mut(&words(row)).filter(|count| **count > 0) {
            *count -= 1;
            gone.entry(name(row)).or_default().push(row);
        }
    }
    let mut rows: Vec<RowChange> = Vec::new();
    for row in fresh {
        let was = gone.get_mut(&name(row)).and_then(Vec::pop);
        rows.push(match was {
            Some(was) => RowChange::Changed {
                row: name(row),
                cells: cells(table, was, row, skip),
            },
            None => RowChange::Added(row.clone()),
        });
    }
    let left = gone.into_values().flat_map(|rows| rows.into_iter().rev());
    rows.extend(left.map(|row| RowChange::Removed(row.clone())));
    rows
}

fn cells(table: &Table, before: &[Cell], after: &[Cell], skip: usize) -> Vec<CellChange> {
    let pairs = table
        .columns
        .iter()
        .zip(before.iter().zip(after))
        .skip(skip);
    let changed = pairs.filter(|(_, (was, is))| was.to_string() != is.to_string());
    changed
        .map(|(column, (was, is))| CellChange {
            column: column.title,
            before: was.clone(),
            after: is.clone(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheets::Column;

    fn table(rows: &[[&str; 2]]) -> Table {
        let cells = |row: &[&str; 2]| row.iter().map(|text| Cell::from(*text)).collect();
        Table {
            caption: "wires".to_owned(),
            columns: vec![Column::words("id", "Wire"), Column::words("size", "Size")],
            rows: rows.iter().map(cells).collect(),
        }
    }

    #[test]
    fn rows_are_added_removed_changed_or_only_moved() {
        let before = table(&[["w1", "a"], ["w2", "b"], ["w3", "c"], ["w3", "c"]]);
        let after = table(&[["w2", "b"], ["w1", "x"], ["w4", "d"], ["w3", "c"]]);
        let found = of_tables(Some(&before), Some(&after)).unwrap();
        let [changed, added, removed] = &found.rows[..] else {
            panic!("{found:?}")
        };
        let RowChange::Changed { row, cells } = changed else {
            panic!("{changed:?}")
        };
        assert_eq!((row.as_str(), cells.len()), ("w1", 1));
        assert_eq!(cells[0].column, "Size");
        assert_eq!(*added, RowChange::Added(vec!["w4".into(), "d".into()]));
        assert_eq!(*removed, RowChange::Removed(vec!["w3".into(), "c".into()]));
        assert_eq!(of_tables(Some(&before), Some(&before)), None);
        assert_eq!(of_tables(None, Some(&after)).unwrap().rows.len(), 4);
    }

    #[test]
    fn a_row_that_only_moved_down_is_the_same() {
        let numbered = |rows: &[[&str; 2]]| Table {
            columns: vec![
                Column::numbers("item", "Item"),
                Column::words("size", "Size"),
            ],
            ..table(rows)
        };
        let before = numbered(&[["1", "a"], ["2", "b"]]);
        let after = numbered(&[["1", "new"], ["2", "a"], ["3", "b"]]);
        let found = of_tables(Some(&before), Some(&after)).unwrap();
        assert_eq!(
            found.rows,
            [RowChange::Added(vec!["1".into(), "new".into()])]
        );
    }
}
