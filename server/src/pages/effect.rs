//! The effect of a change in words and numbers for a page.

use harness_core::effect::{ConductorChange, ConductorCost, Effect, LimitChange, LimitState};
use harness_core::file_format::PartsRecord;
use harness_core::sheets::Cell;
use harness_core::sheets::difference::{CellChange, RowChange, SheetDifference, TableDifference};
use harness_core::working::significant;

use crate::shown::grouped;

/// Rows of one sheet shown; the rest is counted.
const MOST_ROWS: usize = 60;

/// A limit in the list.
#[derive(Clone, Debug)]
pub(crate) struct LimitRow {
    pub title: &'static str,
    pub place: String,
    pub before: String,
    pub after: String,
    pub boats: String,
    pub worst: String,
}

/// What changed on one sheet.
#[derive(Clone, Debug)]
pub(crate) struct SheetWords {
    pub title: &'static str,
    pub counts: String,
    /// `added`, `removed` or `changed`, and what.
    pub rows: Vec<(&'static str, String)>,
    pub left: usize,
}

/// What conductor costs.
#[derive(Clone, Debug)]
pub(crate) struct CostWords {
    /// The amount, or why it is not evaluated.
    pub amount: String,
    /// The same without the reason.
    pub short: String,
    pub working: Vec<String>,
}

impl CostWords {
    pub(crate) fn of(change: &ConductorChange, list: &PartsRecord) -> Self {
        let cost = ConductorCost::of(change, &list.conductors);
        Self {
            amount: cost.words(),
            short: match cost.amount {
                Ok(_) => cost.words(),
                Err(_) => "not evaluated".to_owned(),
            },
            working: cost.working(),
        }
    }
}

/// The whole effect.
#[derive(Clone, Debug)]
pub(crate) struct EffectWords {
    pub buildable: String,
    pub new: Vec<LimitRow>,
    pub cleared: Vec<LimitRow>,
    pub changed: Vec<LimitRow>,
    pub unchanged: usize,
    pub unknown: Vec<LimitRow>,
    pub places: Vec<(String, &'static str, usize, usize, usize)>,
    pub fills: Vec<(String, &'static str, String, String, String)>,
    pub conductor: String,
    pub cost: CostWords,
    pub sheets: Vec<SheetWords>,
}

impl EffectWords {
    /// The effect, with what the conductor costs by the builder's parts list.
    pub(crate) fn of(effect: &Effect, list: &PartsRecord) -> Self {
        let rows = |changes: &[LimitChange]| changes.iter().map(limit).collect();
        let number = |value: Option<f64>, unit: &str| match value {
            Some(value) => format!("{} {unit}", significant(value, 3)),
            None => "not there".to_owned(),
        };
        let conductor = &effect.conductor;
        let unknown = match conductor.unknown.is_empty() {
            true => String::new(),
            false => format!("; not evaluated for {}", conductor.unknown.join(", ")),
        };
        Self {
            buildable: format!(
                "{} before, {} after",
                grouped(&effect.buildable.0),
                grouped(&effect.buildable.1)
            ),
            new: rows(&effect.new),
            cleared: rows(&effect.cleared),
            changed: rows(&effect.changed),
            unchanged: effect.unchanged,
            unknown: rows(&effect.not_evaluated),
            places: effect
                .places
                .iter()
                .map(|one| {
                    let left = one.room.saturating_sub(one.taken.1);
                    (one.thing.clone(), one.kind, one.taken.0, one.taken.1, left)
                })
                .collect(),
            fills: effect
                .fills
                .iter()
                .map(|one| {
                    let told = |value| number(value, one.unit);
                    (
                        one.run.clone(),
                        one.title,
                        told(one.before),
                        told(one.after),
                        told(one.limit),
                    )
                })
                .collect(),
            conductor: format!(
                "{:+.2} m of conductor, {:+.0} g of copper{unknown}",
                conductor.length_m,
                conductor.copper_kg * 1000.0
            ),
            cost: CostWords::of(conductor, list),
            sheets: effect.sheets.iter().map(sheet).collect(),
        }
    }
}

fn limit(change: &LimitChange) -> LimitRow {
    let told = |state: &Option<LimitState>| match state {
        Some(state) if state.message.starts_with(state.outcome) => state.message.clone(),
        Some(state) => format!("{}: {}", state.outcome, state.message),
        None => "not there".to_owned(),
    };
    let shown = change.after.as_ref().or(change.before.as_ref());
    LimitRow {
        title: change.title,
        place: change.place.clone(),
        before: told(&change.before),
        after: told(&change.after),
        boats: shown
            .and_then(|state| state.boats.as_deref().map(grouped))
            .unwrap_or_else(|| "not counted".to_owned()),
        worst: shown.map_or_else(String::new, |state| match state.worst_boat.is_empty() {
            true => "the boat without options".to_owned(),
            false => state.worst_boat.join(", "),
        }),
    }
}

fn sheet(difference: &SheetDifference) -> SheetWords {
    let (added, removed, changed) = difference.counts();
    let counts = match added + removed + changed {
        0 => "the same".to_owned(),
        _ => format!("{added} rows added, {removed} removed, {changed} changed"),
    };
    let tables = difference.tables.iter();
    let rows = tables.flat_map(|table| table.rows.iter().map(move |row| (table, row)));
    let all = added + removed + changed;
    SheetWords {
        title: difference.title,
        counts,
        rows: rows
            .take(MOST_ROWS)
            .map(|(table, row)| words(table, row))
            .collect(),
        left: all.saturating_sub(MOST_ROWS),
    }
}

fn words(table: &TableDifference, row: &RowChange) -> (&'static str, String) {
    let whole = |cells: &[Cell]| {
        let pairs = table.columns.iter().zip(cells);
        let each = pairs.map(|(column, cell)| format!("{column} {cell}"));
        format!("{}: {}", table.caption, each.collect::<Vec<_>>().join("; "))
    };
    match row {
        RowChange::Added(cells) => ("added", whole(cells)),
        RowChange::Removed(cells) => ("removed", whole(cells)),
        RowChange::Changed { row, cells } => {
            let each = cells.iter().map(changed);
            let each = each.collect::<Vec<_>>().join("; ");
            ("changed", format!("{}, {row}: {each}", table.caption))
        }
    }
}

/// What changed in a cell; of a list only the entries that came or went.
fn changed(cell: &CellChange) -> String {
    let entries = |cell: &Cell| match cell {
        Cell::List(entries) => entries.clone(),
        _ => Vec::new(),
    };
    let is_list = matches!(cell.before, Cell::List(_)) || matches!(cell.after, Cell::List(_));
    if !is_list {
        return format!("{} from {} to {}", cell.column, cell.before, cell.after);
    }
    let (mut gone, mut come) = (entries(&cell.before), entries(&cell.after));
    come.retain(|entry| match gone.iter().position(|known| known == entry) {
        Some(at) => {
            gone.remove(at);
            false
        }
        None => true,
    });
    let told = |word: &str, entries: &[String]| {
        (!entries.is_empty()).then(|| format!("{word} {}", entries.join(", ")))
    };
    let both: Vec<_> = told("with", &come)
        .into_iter()
        .chain(told("without", &gone))
        .collect();
    match both.is_empty() {
        true => format!("{} in another order", cell.column),
        false => format!("{} now {}", cell.column, both.join(", ")),
    }
}
