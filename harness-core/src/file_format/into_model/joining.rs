//! Terminals, connector types, connectors, couplers, splices.

use super::boat::{milliohms, reach, word};
use super::{Into, at, maybe};
use crate::file_format::records;
use crate::model::{
    CavityUse, Connector, ConnectorType, Contacts, Coupler, EndTreatment, EndTreatmentKind,
    PlugsInto, Splice, SpliceKind, Table, TerminalKind, TerminalPart, ViewFace,
};
use crate::units::{Amperes, Millimetres, SquareMillimetres};
use std::collections::BTreeMap;

impl Into<'_> {
    pub(super) fn terminal_parts(&self) -> Table<TerminalPart> {
        let part = |record: &records::TerminalPartRecord| TerminalPart {
            id: record.id.clone(),
            name: record.name.clone(),
            kind: word(&record.kind, TerminalKind::from_word),
            min_area: record.min_mm2.map(SquareMillimetres::new),
            max_area: record.max_mm2.map(SquareMillimetres::new),
            stud: record.stud_mm.map(Millimetres::new),
            strip: record.strip_mm.map(Millimetres::new),
            entry: record.entry_mm.map(Millimetres::new),
        };
        Table::new(self.record.terminal_parts.iter().map(part).collect())
    }

    pub(super) fn connector_types(&self) -> Table<ConnectorType> {
        let connector_type = |record: &records::ConnectorTypeRecord| ConnectorType {
            id: record.id.clone(),
            name: record.name.clone(),
            cavities: record.cavities,
            contact_resistance: record.contact_resistance_mohm.map(milliohms),
            contact_rating: record.contact_rating_a.map(Amperes::new),
            min_area: record.min_mm2.map(SquareMillimetres::new),
            max_area: record.max_mm2.map(SquareMillimetres::new),
            sealed: record.sealed,
            entry: record.entry_mm.map(Millimetres::new),
            contact: maybe(&self.positions.terminal_parts, &record.contact),
            wire_seal: record.wire_seal.clone(),
            cavity_plug: record.cavity_plug.clone(),
            view_face: word(&record.view_face, ViewFace::from_word),
        };
        Table::new(
            self.record
                .connector_types
                .iter()
                .map(connector_type)
                .collect(),
        )
    }

    pub(super) fn end_treatment(
        &self,
        record: &Option<records::EndTreatment>,
    ) -> Option<EndTreatment> {
        let record = record.as_ref()?;
        Some(EndTreatment {
            kind: EndTreatmentKind::from_word(&record.treatment)?,
            part: record.part.clone(),
            tie_point: maybe(&self.positions.points, &record.tie_point),
        })
    }

    pub(super) fn connectors(&mut self) -> Table<Connector> {
        let record = self.record;
        let mut connectors = Vec::with_capacity(record.connectors.len());
        for (number, record) in record.connectors.iter().enumerate() {
            let cavities = self.cavities(number, record);
            let plugs_into = self.plugs_into(number, record);
            connectors.push(Connector {
                id: record.id.clone(),
                name: record.name.clone(),
                connector_type: at(&self.positions.connector_types, &record.connector_type),
                contacts: word(&record.contacts, Contacts::from_word),
                harness: maybe(&self.positions.harnesses, &record.harness),
                point: maybe(&self.positions.points, &record.point),
                plugs_into,
                cavities,
                when_unused: self.end_treatment(&record.when_unused),
                fitted_when: self.condition(&record.fitted_when),
            });
        }
        Table::new(connectors)
    }

    pub(super) fn cavity_count(&self, connector: &records::ConnectorRecord) -> u32 {
        let position = self
            .positions
            .connector_types
            .get(&connector.connector_type);
        position.map_or(0, |&number| self.record.connector_types[number].cavities)
    }

    fn cavities(
        &mut self,
        number: usize,
        record: &records::ConnectorRecord,
    ) -> BTreeMap<u32, CavityUse> {
        let count = self.cavity_count(record);
        let mut decided = BTreeMap::new();
        for (place, cavity) in record.cavities.iter().enumerate() {
            let pointer = format!("/connectors/{number}/cavities/{place}/cavity");
            let given = cavity.cavity.to_string();
            if cavity.cavity > count {
                let detail = format!(
                    "Connector \"{}\" is a \"{}\" with {count} cavities; there is no cavity {given}.",
                    record.id, record.connector_type
                );
                self.fault(pointer, detail, &given, &format!("1 to {count}"));
            } else if decided.contains_key(&cavity.cavity) {
                let detail = format!(
                    "Cavity {given} of \"{}\" is decided on twice. Keep one.",
                    record.id
                );
                self.fault(pointer, detail, &given, "one decision a cavity");
            } else if let Some(holds) = CavityUse::from_word(&cavity.holds) {
                decided.insert(cavity.cavity, holds);
            }
        }
        decided
    }

    fn plugs_into(
        &mut self,
        number: usize,
        record: &records::ConnectorRecord,
    ) -> Option<PlugsInto> {
        let stated = record.plugs_into.as_ref()?;
        let count = self.cavity_count(record);
        let equipment = self.equipment(&stated.equipment)?;
        let mut pins = Vec::with_capacity(stated.pins.len());
        for (place, mated) in stated.pins.iter().enumerate() {
            let pointer = format!("/connectors/{number}/plugs_into/pins/{place}");
            if mated.cavity > count {
                let detail = format!(
                    "Connector \"{}\" has {count} cavities; there is no cavity {}.",
                    record.id, mated.cavity
                );
                let given = mated.cavity.to_string();
                self.fault(
                    format!("{pointer}/cavity"),
                    detail,
                    &given,
                    &format!("1 to {count}"),
                );
                continue;
            }
            let end = format!("{}.{}", stated.equipment, mated.pin);
            if let Some(pin) = self.pin(&end, format!("{pointer}/pin")) {
                pins.push((mated.cavity, pin));
            }
        }
        Some(PlugsInto { equipment, pins })
    }

    pub(super) fn couplers(&mut self) -> Table<Coupler> {
        let record = self.record;
        let connector = |id: &String| record.connectors.iter().find(|half| half.id == *id);
        let mut mated: BTreeMap<&str, &str> = BTreeMap::new();
        let mut couplers = Vec::with_capacity(record.couplers.len());
        for (number, record) in record.couplers.iter().enumerate() {
            if let (Some(first), Some(second)) =
                (connector(&record.first), connector(&record.second))
            {
                let (one, other) = (self.cavity_count(first), self.cavity_count(second));
                if one != other {
                    let detail = format!(
                        "The halves of coupler \"{}\" do not fit: \"{}\" has {one} cavities, \"{}\" \
                         has {other}.",
                        record.id, first.id, second.id
                    );
                    let pointer = format!("/couplers/{number}/second");
                    self.fault(
                        pointer,
                        detail,
                        &record.second,
                        "a half with as many cavities",
                    );
                }
            }
            for (field, half) in [("first", &record.first), ("second", &record.second)] {
                let coupler = record.id.as_str();
                if let Some(other) = mated.insert(half, coupler) {
                    let detail =
                        format!("Connector \"{half}\" is a half of coupler \"{other}\" already.");
                    let pointer = format!("/couplers/{number}/{field}");
                    self.fault(pointer, detail, half, "a connector mated once");
                }
            }
            couplers.push(Coupler {
                id: record.id.clone(),
                name: record.name.clone(),
                first: at(&self.positions.connectors, &record.first),
                second: at(&self.positions.connectors, &record.second),
                reach: reach(&record.reached_by),
            });
        }
        Table::new(couplers)
    }

    pub(super) fn splices(&self) -> Table<Splice> {
        let splice = |record: &records::SpliceRecord| Splice {
            id: record.id.clone(),
            kind: word(&record.kind, SpliceKind::from_word),
            point: maybe(&self.positions.points, &record.point),
            harness: maybe(&self.positions.harnesses, &record.harness),
            sealed: record.sealed,
            resistance: record.resistance_mohm.map(milliohms),
            fitted_when: self.condition(&record.fitted_when),
        };
        Table::new(self.record.splices.iter().map(splice).collect())
    }
}
