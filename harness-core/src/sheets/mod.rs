//! The sheets: typed rows made from one study, so that any two printed of one state agree.
//!
//! Each sheet has rows of its own type, and a table for paper, CSV and JSON made from them.
//! [`reconcile`] holds the rules that tie the sheets together.

pub mod table;
pub mod scope;
pub mod ends;
pub mod circuit_list;
pub mod wire_list;
pub mod cut_list;
pub mod cavity_tables;
pub mod parts_list;
pub mod zone_sheet;
pub mod reconcile;
pub mod difference;

pub use scope::Scope;
pub use table::{Cell, Column, Sheet, Table, Word};

use crate::study::Study;

/// One kind of sheet.
#[derive(Debug)]
pub struct SheetKind {
    /// Name in addresses.
    pub id: &'static str,
    /// Title.
    pub title: &'static str,
    /// Who it is for and what it answers.
    pub purpose: &'static str,
    /// Makes it.
    pub make: fn(&Study, &Scope) -> Sheet,
}

/// Every sheet, in the order shown.
pub const SHEETS: &[SheetKind] = &[
    SheetKind {
        id: "circuit-list",
        title: "Circuit list",
        purpose: "Designer, inspection, service: each circuit with its device, switch, loads, \
                  wires and the options that use it.",
        make: circuit_list::sheet,
    },
    SheetKind {
        id: "wire-list",
        title: "Wire list",
        purpose: "Harness supplier, service: each wire from pin to pin, its path and its lengths.",
        make: wire_list::sheet,
    },
    SheetKind {
        id: "cut-list",
        title: "Cut list",
        purpose: "Harness supplier: pieces to cut, like with like, with both ends made ready.",
        make: cut_list::sheet,
    },
    SheetKind {
        id: "cavity-tables",
        title: "Cavity tables",
        purpose: "Harness supplier, test: every cavity of every connector, none left blank.",
        make: cavity_tables::sheet,
    },
    SheetKind {
        id: "parts-list",
        title: "Parts list",
        purpose: "Purchasing, supplier: wire by the meter, terminals, seals, plugs, connectors, \
                  caps.",
        make: parts_list::sheet,
    },
    SheetKind {
        id: "zone-sheet",
        title: "Zone sheet",
        purpose: "Rigging lead: in each zone what passes through, what ends, what to do before it \
                  is closed.",
        make: zone_sheet::sheet,
    },
];

/// The kind of sheet with a name.
pub fn kind(id: &str) -> Option<&'static SheetKind> {
    SHEETS.iter().find(|kind| kind.id == id)
}
