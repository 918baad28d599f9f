//! Terminals, connector types, connectors, couplers, splices.

use super::boat::reach;
use super::{From, id, maybe, milliohms};
use crate::file_format::records;
use crate::model::{
    Connector, ConnectorType, Coupler, EndTreatment, PlugsInto, Splice, TerminalPart,
};
use crate::units::{Amperes, Millimetres, SquareMillimetres};

pub(super) fn terminal_part(part: &TerminalPart) -> records::TerminalPartRecord {
    records::TerminalPartRecord {
        id: part.id.clone(),
        name: part.name.clone(),
        kind: part.kind.map(|kind| kind.to_string()),
        min_mm2: part.min_area.map(SquareMillimetres::value),
        max_mm2: part.max_area.map(SquareMillimetres::value),
        stud_mm: part.stud.map(Millimetres::value),
        strip_mm: part.strip.map(Millimetres::value),
        entry_mm: part.entry.map(Millimetres::value),
        figure_from: part.figure_from.map(|from| from.to_string()),
        figure_source: part.figure_source.clone(),
    }
}

impl From<'_> {
    pub(super) fn connector_type(&self, part: &ConnectorType) -> records::ConnectorTypeRecord {
        records::ConnectorTypeRecord {
            id: part.id.clone(),
            cavities: part.cavities,
            name: part.name.clone(),
            contact_resistance_mohm: milliohms(part.contact_resistance),
            contact_rating_a: part.contact_rating.map(Amperes::value),
            min_mm2: part.min_area.map(SquareMillimetres::value),
            max_mm2: part.max_area.map(SquareMillimetres::value),
            sealed: part.sealed,
            entry_mm: part.entry.map(Millimetres::value),
            contact: maybe(&self.model.terminal_parts, part.contact),
            wire_seal: part.wire_seal.clone(),
            cavity_plug: part.cavity_plug.clone(),
            view_face: part.view_face.map(|face| face.to_string()),
            figure_from: part.figure_from.map(|from| from.to_string()),
            figure_source: part.figure_source.clone(),
        }
    }

    pub(super) fn end_treatment(
        &self,
        treatment: &Option<EndTreatment>,
    ) -> Option<records::EndTreatment> {
        treatment.as_ref().map(|stated| records::EndTreatment {
            treatment: stated.kind.to_string(),
            part: stated.part.clone(),
            tie_point: maybe(&self.model.points, stated.tie_point),
        })
    }

    fn plugs_into(&self, stated: &PlugsInto) -> records::PlugsInto {
        records::PlugsInto {
            equipment: stated.equipment.id(self.model).to_owned(),
            pins: stated
                .pins
                .iter()
                .map(|(cavity, pin)| records::MatedPin {
                    cavity: *cavity,
                    pin: pin.name(),
                })
                .collect(),
        }
    }

    pub(super) fn connector(&self, connector: &Connector) -> records::ConnectorRecord {
        records::ConnectorRecord {
            id: connector.id.clone(),
            connector_type: id(&self.model.connector_types, connector.connector_type),
            name: connector.name.clone(),
            contacts: connector.contacts.map(|half| half.to_string()),
            harness: maybe(&self.model.harnesses, connector.harness),
            point: maybe(&self.model.points, connector.point),
            plugs_into: connector
                .plugs_into
                .as_ref()
                .map(|stated| self.plugs_into(stated)),
            cavities: connector
                .cavities
                .iter()
                .map(|(cavity, holds)| records::CavityRecord {
                    cavity: *cavity,
                    holds: holds.to_string(),
                })
                .collect(),
            when_unused: self.end_treatment(&connector.when_unused),
            fitted_when: self.condition(&connector.fitted_when),
        }
    }

    pub(super) fn coupler(&self, coupler: &Coupler) -> records::CouplerRecord {
        records::CouplerRecord {
            id: coupler.id.clone(),
            first: id(&self.model.connectors, coupler.first),
            second: id(&self.model.connectors, coupler.second),
            name: coupler.name.clone(),
            reached_by: reach(&coupler.reach),
        }
    }

    pub(super) fn splice(&self, splice: &Splice) -> records::SpliceRecord {
        records::SpliceRecord {
            id: splice.id.clone(),
            kind: splice.kind.map(|kind| kind.to_string()),
            point: maybe(&self.model.points, splice.point),
            harness: maybe(&self.model.harnesses, splice.harness),
            sealed: splice.sealed,
            resistance_mohm: milliohms(splice.resistance),
            fitted_when: self.condition(&splice.fitted_when),
        }
    }
}
