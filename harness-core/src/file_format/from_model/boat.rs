//! Settings, mouldings, zones, points, runs, harness parts.

use super::{From, id, maybe, milliohms};
use crate::file_format::into_model::NOWHERE;
use crate::file_format::records;
use crate::model::{Harness, Hole, Moulding, Point, Reach, Run, Settings, Zone};
use crate::units::{Celsius, Metres, Millimetres};

pub(super) fn settings(settings: &Settings) -> records::Settings {
    records::Settings {
        rule_sets: settings
            .rule_sets
            .iter()
            .map(|set| set.word().to_owned())
            .collect(),
        size_series: Some(settings.size_series.to_string()),
        drop_basis: Some(settings.drop_basis.to_string()),
        area_basis: Some(settings.area_basis.to_string()),
        dc_bundling: Some(settings.dc_bundling.to_string()),
        insulation_degc: settings.insulation.map(Celsius::value),
        slack_share: Some(settings.slack_share),
        cut_step_mm: Some(settings.cut_step.value()),
        contact_resistance_mohm: milliohms(settings.contact_resistance),
        scrap_share: Some(settings.scrap_share),
    }
}

pub(super) fn moulding(moulding: &Moulding) -> records::Moulding {
    records::Moulding {
        id: moulding.id.clone(),
        name: moulding.name.clone(),
    }
}

pub(super) fn reach(reach: &Option<Reach>) -> Option<String> {
    reach.as_ref().map(|reach| match reach {
        Reach::Through(hatch) => hatch.clone(),
        Reach::Nowhere => NOWHERE.to_owned(),
    })
}

impl From<'_> {
    pub(super) fn zone(&self, zone: &Zone) -> records::ZoneRecord {
        let corner = |&(x, y): &(Millimetres, Millimetres)| records::OutlineCorner {
            x_mm: x.value(),
            y_mm: y.value(),
        };
        records::ZoneRecord {
            id: zone.id.clone(),
            name: zone.name.clone(),
            moulding: maybe(&self.model.mouldings, zone.moulding),
            outline: zone.outline.iter().map(corner).collect(),
            ambient_degc: zone.ambient.map(Celsius::value),
            engine_space: zone.engine_space,
            fuel_vapor: zone.fuel_vapor,
            bilge_water_z_mm: zone.bilge_water_z.map(Millimetres::value),
            compass_distance_mm: zone.compass_distance.map(Millimetres::value),
            closes_at: zone.closes_at.clone(),
            reached_by: reach(&zone.reach),
        }
    }

    pub(super) fn point(&self, point: &Point) -> records::PointRecord {
        records::PointRecord {
            id: point.id.clone(),
            name: point.name.clone(),
            zone: maybe(&self.model.zones, point.zone),
            x_mm: point.x.map(Millimetres::value),
            y_mm: point.y.map(Millimetres::value),
            z_mm: point.z.map(Millimetres::value),
        }
    }

    pub(super) fn run(&self, run: &Run) -> records::RunRecord {
        records::RunRecord {
            id: run.id.clone(),
            from: id(&self.model.points, run.from),
            to: id(&self.model.points, run.to),
            length_m: run.stated_length.map(Metres::value),
            zone: maybe(&self.model.zones, run.stated_zone),
            fixing: run.fixing.map(|fixing| fixing.to_string()),
            bore_mm: run.bore.map(Millimetres::value),
            bends: run.bends,
            support_spacing_mm: run.support_spacing.map(Millimetres::value),
            hole: run.hole.as_ref().map(hole),
            board_angle_degrees: run.board_angle_degrees,
            closed_to_wires: run.closed_to_wires.then_some(true),
        }
    }

    pub(super) fn harness(&self, harness: &Harness) -> records::HarnessRecord {
        records::HarnessRecord {
            id: harness.id.clone(),
            name: harness.name.clone(),
            part_number: harness.part_number.clone(),
            revision: harness.revision.clone(),
            moulding: maybe(&self.model.mouldings, harness.moulding),
            datum: maybe(&self.model.points, harness.datum),
            covering: harness.covering.clone(),
        }
    }
}

fn hole(hole: &Hole) -> records::Hole {
    records::Hole {
        number: hole.number.clone(),
        diameter_mm: hole.diameter.map(Millimetres::value),
        edge_protection: hole.edge_protection.map(|kind| kind.to_string()),
        watertight: hole.watertight,
    }
}
