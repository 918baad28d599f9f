//! Settings, mouldings, zones, points, runs, harness parts.

use super::{Into, at, maybe};
use crate::file_format::records;
use crate::model::{
    AreaBasis, DcBundling, DropBasis, EdgeProtection, Fixing, Harness, Hole, Moulding, Point,
    Reach, RuleSet, Run, Settings, SizeSeriesChoice, Table, Zone,
};
use crate::units::{Celsius, Metres, Millimetres, Ohms};

/// Word that says a place is not reached at all.
pub(in crate::file_format) const NOWHERE: &str = "none";

pub(super) fn reach(stated: &Option<String>) -> Option<Reach> {
    stated.as_ref().map(|text| match text.trim() {
        NOWHERE => Reach::Nowhere,
        hatch => Reach::Through(hatch.to_owned()),
    })
}

/// A word that `check` has found among the choices.
pub(super) fn word<T>(stated: &Option<String>, from_word: fn(&str) -> Option<T>) -> Option<T> {
    stated.as_deref().and_then(from_word)
}

fn millimetres(stated: Option<f64>) -> Option<Millimetres> {
    stated.map(Millimetres::new)
}

impl Into<'_> {
    pub(super) fn settings(&self) -> Settings {
        let default = Settings::default();
        let Some(record) = &self.record.settings else {
            return default;
        };
        let rule_sets: Vec<_> = record
            .rule_sets
            .iter()
            .filter_map(|text| RuleSet::from_word(text))
            .collect();
        Settings {
            rule_sets: if rule_sets.is_empty() {
                default.rule_sets
            } else {
                rule_sets
            },
            size_series: word(&record.size_series, SizeSeriesChoice::from_word)
                .unwrap_or(default.size_series),
            drop_basis: word(&record.drop_basis, DropBasis::from_word)
                .unwrap_or(default.drop_basis),
            area_basis: word(&record.area_basis, AreaBasis::from_word)
                .unwrap_or(default.area_basis),
            dc_bundling: word(&record.dc_bundling, DcBundling::from_word)
                .unwrap_or(default.dc_bundling),
            insulation: record.insulation_degc.map(Celsius::new),
            slack_share: record.slack_share.unwrap_or(default.slack_share),
            cut_step: millimetres(record.cut_step_mm).unwrap_or(default.cut_step),
            contact_resistance: record.contact_resistance_mohm.map(milliohms),
            scrap_share: record.scrap_share.unwrap_or(default.scrap_share),
        }
    }

    pub(super) fn mouldings(&self) -> Table<Moulding> {
        let moulding = |record: &records::Moulding| Moulding {
            id: record.id.clone(),
            name: record.name.clone(),
        };
        Table::new(self.record.mouldings.iter().map(moulding).collect())
    }

    pub(super) fn zones(&self) -> Table<Zone> {
        let zone = |record: &records::ZoneRecord| Zone {
            id: record.id.clone(),
            name: record.name.clone(),
            moulding: maybe(&self.positions.mouldings, &record.moulding),
            outline: record
                .outline
                .iter()
                .map(|corner| (Millimetres::new(corner.x_mm), Millimetres::new(corner.y_mm)))
                .collect(),
            ambient: record.ambient_degc.map(Celsius::new),
            engine_space: record.engine_space,
            fuel_vapor: record.fuel_vapor,
            bilge_water_z: millimetres(record.bilge_water_z_mm),
            compass_distance: millimetres(record.compass_distance_mm),
            closes_at: record.closes_at.clone(),
            reach: reach(&record.reached_by),
        };
        Table::new(self.record.zones.iter().map(zone).collect())
    }

    pub(super) fn points(&self) -> Table<Point> {
        let point = |record: &records::PointRecord| Point {
            id: record.id.clone(),
            name: record.name.clone(),
            zone: maybe(&self.positions.zones, &record.zone),
            x: millimetres(record.x_mm),
            y: millimetres(record.y_mm),
            z: millimetres(record.z_mm),
        };
        Table::new(self.record.points.iter().map(point).collect())
    }

    pub(super) fn runs(&mut self) -> Table<Run> {
        let record = self.record;
        let mut runs = Vec::with_capacity(record.runs.len());
        for (number, record) in record.runs.iter().enumerate() {
            if record.from == record.to {
                let detail = format!(
                    "Run \"{}\" starts and ends at the same point. Name another point.",
                    record.id
                );
                self.fault(
                    format!("/runs/{number}/to"),
                    detail,
                    &record.to,
                    "another point",
                );
            }
            runs.push(Run {
                id: record.id.clone(),
                from: at(&self.positions.points, &record.from),
                to: at(&self.positions.points, &record.to),
                stated_length: record.length_m.map(Metres::new),
                stated_zone: maybe(&self.positions.zones, &record.zone),
                fixing: word(&record.fixing, Fixing::from_word),
                bore: millimetres(record.bore_mm),
                bends: record.bends,
                support_spacing: millimetres(record.support_spacing_mm),
                hole: record.hole.as_ref().map(hole),
                board_angle_degrees: record.board_angle_degrees,
                closed_to_wires: record.closed_to_wires.unwrap_or(false),
            });
        }
        Table::new(runs)
    }

    pub(super) fn harnesses(&self) -> Table<Harness> {
        let harness = |record: &records::HarnessRecord| Harness {
            id: record.id.clone(),
            name: record.name.clone(),
            part_number: record.part_number.clone(),
            revision: record.revision.clone(),
            moulding: maybe(&self.positions.mouldings, &record.moulding),
            datum: maybe(&self.positions.points, &record.datum),
            covering: record.covering.clone(),
        };
        Table::new(self.record.harnesses.iter().map(harness).collect())
    }
}

pub(super) fn milliohms(stated: f64) -> Ohms {
    Ohms::new(stated / 1000.0)
}

fn hole(record: &records::Hole) -> Hole {
    Hole {
        number: record.number.clone(),
        diameter: millimetres(record.diameter_mm),
        edge_protection: word(&record.edge_protection, EdgeProtection::from_word),
        watertight: record.watertight,
    }
}
