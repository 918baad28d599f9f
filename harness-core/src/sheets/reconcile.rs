//! The rules that tie the sheets of one state together. They hold by construction; this counts
//! again, another way, and names whatever does not agree.

use super::cavity_tables::{self, Holds};
use super::parts_list::{self, PartKind};
use super::scope::Scope;
use super::{cut_list, wire_list, zone_sheet};
use crate::model::{Pin, Wire};
use crate::study::Study;
use std::collections::{BTreeMap, BTreeSet};

/// Largest difference of two sums of lengths that is rounding, meters.
const ROUNDING_M: f64 = 1e-9;

/// Everything on which the sheets disagree; empty if they agree.
pub fn disagreements(study: &Study, scope: &Scope) -> Vec<String> {
    [
        each_wire_once(study, scope),
        each_end_once(study, scope),
        no_blank_cavity(study, scope),
        lengths_sum(study, scope),
        parts_counted(study, scope),
        crossings_on_both_sheets(study, scope),
    ]
    .concat()
}

/// Each wire of the wire list is cut once and only once.
fn each_wire_once(study: &Study, scope: &Scope) -> Vec<String> {
    let mut cut: BTreeMap<String, usize> = BTreeMap::new();
    for row in cut_list::rows(study, scope) {
        if row.quantity != row.wires.len() {
            return vec![format!(
                "cut list item {}: quantity is not its wires",
                row.item
            )];
        }
        for wire in row.wires {
            *cut.entry(wire).or_default() += 1;
        }
    }
    let listed: BTreeMap<_, _> = wire_list::rows(study, scope)
        .into_iter()
        .map(|row| (row.id, 1))
        .collect();
    if cut == listed {
        return Vec::new();
    }
    vec!["the wires of the cut list are not those of the wire list".to_owned()]
}

/// Each wire end that is in a cavity stands in the cavity tables once.
fn each_end_once(study: &Study, scope: &Scope) -> Vec<String> {
    let whole = Scope {
        harness: None,
        ..scope.clone()
    };
    let mut standing: BTreeMap<(String, u32, String), usize> = BTreeMap::new();
    for table in cavity_tables::tables(study, &whole) {
        for row in table.rows {
            if let Holds::Wires(wires) = row.holds {
                for wire in wires {
                    *standing
                        .entry((table.connector.clone(), row.cavity, wire))
                        .or_default() += 1;
                }
            }
        }
    }
    let mut problems = Vec::new();
    let mut stated = 0;
    for (_, wire) in whole.wires(&study.model) {
        for pin in [wire.from, wire.to] {
            let Pin::Cavity(connector, cavity) = pin else {
                continue;
            };
            let fitted = whole.has(&study.model.connectors[connector].fitted_when);
            if !fitted {
                continue;
            }
            stated += 1;
            let key = (
                study.model.connectors.id(connector).to_owned(),
                cavity,
                wire.id.clone(),
            );
            if standing.get(&key) != Some(&1) {
                problems.push(format!(
                    "wire {} is not once in {}.{cavity}",
                    wire.id, key.0
                ));
            }
        }
    }
    if stated != standing.values().sum::<usize>() {
        problems.push("the cavity tables hold wires that no wire end states".to_owned());
    }
    problems
}

/// Every cavity from 1 to the last has a row with a decision or the word for none.
fn no_blank_cavity(study: &Study, scope: &Scope) -> Vec<String> {
    cavity_tables::tables(study, scope)
        .into_iter()
        .filter(|table| {
            let count = study
                .model
                .connector_types
                .get(&table.part)
                .map_or(0, |part| part.cavities);
            let numbers: Vec<u32> = table.rows.iter().map(|row| row.cavity).collect();
            numbers != (1..=count).collect::<Vec<_>>()
        })
        .map(|table| format!("connector {} lacks a cavity", table.connector))
        .collect()
}

/// Σ cut lengths by wire = meters in the parts list.
fn lengths_sum(study: &Study, scope: &Scope) -> Vec<String> {
    let cut: f64 = scope
        .wires(&study.model)
        .filter_map(|(at, _)| study.routing.cut_length(at).ok())
        .map(|cut| cut.total.metres().value())
        .sum();
    let bought: f64 = parts_list::rows(study, scope)
        .iter()
        .filter(|row| row.kind == PartKind::Wire)
        .map(|row| row.quantity)
        .sum();
    if (cut - bought).abs() <= ROUNDING_M * cut.max(1.0) {
        return Vec::new();
    }
    vec![format!(
        "the wires are {cut} m, the parts list buys {bought} m"
    )]
}

/// Terminals, seals and plugs of the parts list are those of the wire ends and cavities.
fn parts_counted(study: &Study, scope: &Scope) -> Vec<String> {
    let parts = parts_list::rows(study, scope);
    let bought = |kind: PartKind| -> f64 {
        parts
            .iter()
            .filter(|row| row.kind == kind)
            .map(|row| row.quantity)
            .sum()
    };
    let in_cavity = |pin: &Pin| matches!(pin, Pin::Cavity(..));
    let sealed = |pin: &Pin| {
        super::ends::connector_type(&study.model, *pin)
            .is_some_and(|part| part.sealed == Some(true))
    };
    let ends: Vec<Pin> = scope
        .wires(&study.model)
        .flat_map(|(_, wire): (_, &Wire)| [wire.from, wire.to])
        .collect();
    let terminals = ends
        .iter()
        .filter(|pin| !matches!(pin, Pin::Splice(..)))
        .count();
    let seals = ends
        .iter()
        .filter(|pin| in_cavity(pin) && sealed(pin))
        .count();
    let mut problems = Vec::new();
    if bought(PartKind::Terminal) != terminals as f64 {
        problems.push(format!(
            "{terminals} wire ends take a terminal, the parts list buys {}",
            bought(PartKind::Terminal)
        ));
    }
    if bought(PartKind::Seal) != seals as f64 {
        problems.push(format!(
            "{seals} wire ends take a seal, the parts list buys {}",
            bought(PartKind::Seal)
        ));
    }
    problems
}

/// Each zone crossing of a wire appears on the sheets of both zones.
fn crossings_on_both_sheets(study: &Study, scope: &Scope) -> Vec<String> {
    let whole = Scope {
        zone: None,
        ..scope.clone()
    };
    let mut by_crossing: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
    for zone in zone_sheet::rows(study, &whole) {
        for pass in &zone.passes {
            for wire in &pass.wires {
                for by in [&pass.enters_by, &pass.leaves_by] {
                    by_crossing
                        .entry((wire.clone(), by.clone()))
                        .or_default()
                        .insert(zone.zone.clone());
                }
            }
        }
        for tail in &zone.tails {
            by_crossing
                .entry((tail.wire.clone(), tail.comes_by.clone()))
                .or_default()
                .insert(zone.zone.clone());
        }
    }
    let known = study
        .model
        .points
        .iter()
        .all(|(_, point)| point.zone.is_some());
    by_crossing
        .into_iter()
        .filter(|((_, by), zones)| known && by != "both ends here" && zones.len() < 2)
        .map(|((wire, by), _)| format!("wire {wire} crosses by {by} on one zone sheet only"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::study::BoatChoice;

    fn studies() -> Vec<Study> {
        [
            include_str!("../../../server/samples/launch-92.json"),
            include_str!("../../../server/samples/tender-56.json"),
        ]
        .into_iter()
        .map(|text| Study::of(file_format::read(text).unwrap(), BoatChoice::Fullest).unwrap())
        .collect()
    }

    fn scopes(study: &Study) -> Vec<Scope> {
        let mut scopes = vec![
            Scope::default(),
            Scope {
                boat: Some((study.boat.clone(), "the fullest boat".into())),
                ..Scope::default()
            },
            Scope {
                boat: Some((crate::boats::Boat::bare(), "no options".into())),
                ..Scope::default()
            },
        ];
        scopes.extend(study.model.harnesses.indices().map(|at| Scope {
            harness: Some(at),
            ..Scope::default()
        }));
        scopes
    }

    #[test]
    fn the_sheets_of_the_demo_models_agree() {
        for study in studies() {
            for scope in scopes(&study) {
                let disagreements = disagreements(&study, &scope);
                assert!(
                    disagreements.is_empty(),
                    "{}: {disagreements:#?}",
                    study.model.name
                );
            }
        }
    }

    #[test]
    fn every_row_has_a_cell_for_each_column_and_none_is_blank() {
        for study in studies() {
            for kind in super::super::SHEETS {
                let sheet = (kind.make)(&study, &Scope::default());
                assert_eq!(sheet.id, kind.id);
                for table in &sheet.tables {
                    for row in &table.rows {
                        assert_eq!(row.len(), table.columns.len(), "{}", table.caption);
                        assert!(row.iter().all(|cell| !cell.to_string().trim().is_empty()));
                    }
                }
            }
        }
    }

    #[test]
    fn an_option_adds_its_own_wires_and_nothing_else() {
        let study = studies().remove(0);
        let mut with = crate::boats::Boat::bare();
        let option = crate::boats::OptionIndex(0);
        with.add(option);
        let list = |boat: &crate::boats::Boat| -> BTreeSet<String> {
            let scope = Scope {
                boat: Some((boat.clone(), String::new())),
                ..Scope::default()
            };
            wire_list::rows(&study, &scope)
                .into_iter()
                .map(|row| row.id)
                .collect()
        };
        let bare = list(&crate::boats::Boat::bare());
        for wire in list(&with).symmetric_difference(&bare) {
            let stated = study.model.wires.get(wire).unwrap();
            assert!(stated.fitted_when.options().contains(&option), "{wire}");
        }
    }
}
