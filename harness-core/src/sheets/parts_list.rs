//! Parts list: everything that is bought, counted from the other sheets.

use super::cavity_tables::{self, Holds};
use super::cut_list;
use super::scope::Scope;
use super::table::{Cell, Column, Sheet, Table};
use crate::study::Study;
use serde::Serialize;
use std::collections::BTreeMap;

/// What kind of part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PartKind {
    /// Wire by the meter.
    Wire,
    /// Terminal or contact.
    Terminal,
    /// Seal on a wire.
    Seal,
    /// Boot or sleeve.
    Sleeve,
    /// Connector.
    Connector,
    /// Plug of an unused cavity.
    Plug,
    /// Splice.
    Splice,
    /// Cap or blank of an end that serves nothing.
    EndTreatment,
}

impl PartKind {
    /// The kind as printed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Wire => "wire",
            Self::Terminal => "terminal",
            Self::Seal => "wire seal",
            Self::Sleeve => "sleeve",
            Self::Connector => "connector",
            Self::Plug => "cavity plug",
            Self::Splice => "splice",
            Self::EndTreatment => "end treatment",
        }
    }
}

/// One part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartRow {
    /// Kind.
    pub kind: PartKind,
    /// Part number, or the wire in words.
    pub part: String,
    /// Quantity: pieces, or meters of wire cut.
    pub quantity: f64,
    /// Unit: `pieces` or `m`.
    pub unit: &'static str,
    /// Quantity with scrap, for wire.
    pub with_scrap: Option<f64>,
    /// Where it is used.
    pub where_used: Vec<String>,
}

/// The rows by kind, then part.
pub fn rows(study: &Study, scope: &Scope) -> Vec<PartRow> {
    let mut counted = Counted::default();
    for piece in cut_list::rows(study, scope) {
        let size = piece.size.as_deref().unwrap_or("size not stated");
        let color = piece.color.as_deref().unwrap_or("color not stated");
        let class = piece.insulation_degc.map_or_else(
            || "class not stated".to_owned(),
            |degc| format!("{degc} °C"),
        );
        let metres = piece.cut_mm.as_ref().map_or(0.0, |mm| mm / 1000.0);
        counted.wire(format!("{size}, {color}, {class}"), metres, &piece.wires);
        if piece.cut_mm.is_err() {
            counted.wire(
                format!("{size}, {color}, {class}: LENGTH NOT EVALUATED"),
                0.0,
                &piece.wires,
            );
        }
        for (made, wire) in piece
            .end_a
            .iter()
            .zip(&piece.wires)
            .chain(piece.end_b.iter().zip(&piece.wires))
        {
            let terminal = made
                .terminal
                .clone()
                .unwrap_or_else(|| "not stated".to_owned());
            let splice = made.strip_tenths_mm.is_none() && terminal.starts_with("splice");
            if !splice {
                counted.piece(PartKind::Terminal, terminal, wire);
            }
            if let Some(seal) = &made.seal {
                counted.piece(PartKind::Seal, seal.clone(), wire);
            }
            if let Some(sleeve) = &made.sleeve {
                counted.piece(PartKind::Sleeve, sleeve.clone(), wire);
            }
        }
    }
    connectors(study, scope, &mut counted);
    end_treatments(study, scope, &mut counted);
    counted.rows(study.model.settings.scrap_share)
}

fn connectors(study: &Study, scope: &Scope, counted: &mut Counted) {
    for table in cavity_tables::tables(study, scope) {
        let sealed = study
            .model
            .connector_types
            .get(&table.part)
            .is_some_and(|part| part.sealed == Some(true));
        counted.piece(PartKind::Connector, table.part.clone(), &table.connector);
        for row in table.rows {
            // A wire of other boats leaves its cavity open; sealed connectors need a plug there.
            let plugged = match row.holds {
                Holds::Plug => true,
                Holds::OtherBoats(_) | Holds::Spare => sealed,
                Holds::Wires(_) | Holds::EmptyByDesign | Holds::Undecided => false,
            };
            if plugged {
                let part = row
                    .seal_or_plug
                    .unwrap_or_else(|| "plug not stated".to_owned());
                counted.piece(PartKind::Plug, part, &table.connector);
            }
        }
    }
    let splices = study.model.splices.iter().filter(|(_, splice)| {
        scope.has(&splice.fitted_when)
            && (scope.harness.is_none() || splice.harness == scope.harness)
    });
    for (_, splice) in splices {
        let kind = splice.kind.map_or("kind not stated", |kind| kind.word());
        let sealed = match splice.sealed {
            Some(true) => "sealed",
            Some(false) => "not sealed",
            None => "sealing not stated",
        };
        counted.piece(
            PartKind::Splice,
            format!("{kind} splice, {sealed}"),
            &splice.id,
        );
    }
}

/// Caps and blanks: on one boat where they serve nothing there; over all boats wherever stated,
/// since some boat needs them.
fn end_treatments(study: &Study, scope: &Scope, counted: &mut Counted) {
    for unused in super::zone_sheet::unused_ends(study, scope) {
        let part = unused
            .part
            .unwrap_or_else(|| format!("{}, part not stated", unused.treatment));
        counted.piece(PartKind::EndTreatment, part, &unused.at);
    }
}

#[derive(Default)]
struct Counted {
    wires: BTreeMap<String, (f64, Vec<String>)>,
    pieces: BTreeMap<(PartKind, String), Vec<String>>,
}

impl Counted {
    fn wire(&mut self, part: String, metres: f64, wires: &[String]) {
        let entry = self.wires.entry(part).or_default();
        entry.0 += metres * wires.len() as f64;
        entry.1.extend(wires.iter().cloned());
    }

    fn piece(&mut self, kind: PartKind, part: String, at: &str) {
        self.pieces
            .entry((kind, part))
            .or_default()
            .push(at.to_owned());
    }

    fn rows(self, scrap: f64) -> Vec<PartRow> {
        let wires = self
            .wires
            .into_iter()
            .map(|(part, (metres, where_used))| PartRow {
                kind: PartKind::Wire,
                part,
                quantity: metres,
                unit: "m",
                with_scrap: Some(metres * (1.0 + scrap)),
                where_used,
            });
        let pieces = self
            .pieces
            .into_iter()
            .map(|((kind, part), where_used)| PartRow {
                kind,
                part,
                quantity: where_used.len() as f64,
                unit: "pieces",
                with_scrap: None,
                where_used,
            });
        wires.chain(pieces).collect()
    }
}

/// The sheet.
pub fn sheet(study: &Study, scope: &Scope) -> Sheet {
    let columns = vec![
        Column::words("kind", "Kind"),
        Column::words("part", "Part"),
        Column::numbers("quantity", "Quantity"),
        Column::words("unit", "Unit"),
        Column::numbers("with_scrap", "With scrap"),
        Column::words("where_used", "Where used"),
    ];
    let rows = rows(study, scope)
        .into_iter()
        .map(|row| {
            let with_scrap = match row.with_scrap {
                Some(metres) => Cell::Number((metres * 1000.0).round() / 1000.0),
                None => Cell::Word(super::table::Word::None),
            };
            vec![
                row.kind.word().into(),
                row.part.into(),
                Cell::Number((row.quantity * 1000.0).round() / 1000.0),
                row.unit.into(),
                with_scrap,
                Cell::list(row.where_used),
            ]
        })
        .collect();
    let scrap = study.model.settings.scrap_share * 100.0;
    Sheet {
        id: "parts-list",
        title: "Parts list".to_owned(),
        covers: scope.words(&study.model),
        conventions: vec![format!(
            "Wire is the sum of the cut lengths; with scrap adds {scrap} %. Counted from the cut \
             list and the cavity tables."
        )],
        tables: vec![Table {
            caption: "Parts".to_owned(),
            columns,
            rows,
        }],
    }
}
