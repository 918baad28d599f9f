//! What the columns of a sheet are for, told by its headings before its rows are read: of a large
//! file only what states something need be kept.

use super::columns::{self, MODEL};
use super::table::{CellFault, Row, Table};
use super::{headings, is_named};
use crate::file_format::Document;
use std::collections::BTreeSet;

/// What the cells of a column are for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// They state a field, or which thing the row is about.
    States,
    /// They stand under no heading of a list, which is a fault of each.
    Unheaded,
    /// They are not asked about: their heading, or their sheet, is unknown.
    None,
}

/// The columns of a sheet.
#[derive(Clone, Debug, Default)]
pub struct Uses {
    states: BTreeSet<u32>,
    headed: BTreeSet<u32>,
    /// Whether the sheet is read at all.
    pub is_list: bool,
    /// What is wrong with the headings.
    pub faults: Vec<CellFault>,
}

impl Uses {
    /// Of a sheet of this name with these headings.
    pub fn of<D: Document>(sheet: &str, row: &Row) -> Self {
        let lists = columns::lists(D::FORM);
        let Some(list) = lists.iter().find(|list| is_named(list, sheet)) else {
            return Self::default();
        };
        let table = Table {
            name: sheet.to_owned(),
            headings: row.clone(),
            rows: Vec::new(),
        };
        let mut uses = Self::default();
        let known = headings::read(&table, list, &mut uses.faults);
        uses.is_list = known.id.is_some() || list.name == MODEL;
        if uses.is_list {
            let fields = known.columns.iter().map(|column| column.at);
            uses.states = fields.chain(known.id).collect();
            uses.headed = row.cells.iter().map(|(at, _)| *at).collect();
        }
        uses
    }

    /// What the cells of a column are for.
    pub fn column(&self, at: u32) -> Use {
        if self.states.contains(&at) {
            Use::States
        } else if self.is_list && !self.headed.contains(&at) {
            Use::Unheaded
        } else {
            Use::None
        }
    }
}
