//! Terminals, connector types, connectors, couplers, splices.

use super::boat::{milliohms, reach, word};
use super::{Into, at, maybe};
use crate::file_format::records;
use crate::model::{
    CavityUse, Connector, ConnectorType, Contacts, Coupler, EndTreatment, EndTreatmentKind,
    FigureFrom, PlugsInto, Splice, SpliceKind, Table, TerminalKind, TerminalPart, ViewFace,
};
use crate::units::{Amperes, Millimetres, SquareMillimetres};
use std::collections::{BTreeMap, BTreeSet};

impl Into<'_> {
    pub(super) fn terminal_parts(&mut self) -> Table<TerminalPart> {
        for (number, part) in self.record.terminal_parts.iter().enumerate() {
            let pointer = format!("/terminal_parts/{number}/min_mm2");
            self.areas(pointer, &part.id, part.min_mm2, part.max_mm2);
        }
        let part = |record: &records::TerminalPartRecord| TerminalPart {
            id: record.id.clone(),
            name: record.name.clone(),
            kind: word(&record.kind, TerminalKind::from_word),
            min_area: record.min_mm2.map(SquareMillimetres::new),
            max_area: record.max_mm2.map(SquareMillimetres::new),
            stud: record.stud_mm.map(Millimetres::new),
            strip: record.strip_mm.map(Millimetres::new),
            entry: record.entry_mm.map(Millimetres::new),
            figure_from: word(&record.figure_from, FigureFrom::from_word),
            figure_source: record.figure_source.clone(),
        };
        Table::new(self.record.terminal_parts.iter().map(part).collect())
    }

    /// A fault if no conductor fits between the thinnest and the thickest.
    fn areas(&mut self, pointer: String, id: &str, min: Option<f64>, max: Option<f64>) {
        if let (Some(min), Some(max)) = (min, max)
            && min > max
        {
            let detail = format!(
                "Part \"{id}\" states min_mm2 {min} above its max_mm2 {max}. Correct one of them."
            );
            self.fault(pointer, detail, &min.to_string(), &format!("at most {max}"));
        }
    }

    pub(super) fn connector_types(&mut self) -> Table<ConnectorType> {
        for (number, part) in self.record.connector_types.iter().enumerate() {
            let pointer = format!("/connector_types/{number}/min_mm2");
            self.areas(pointer, &part.id, part.min_mm2, part.max_mm2);
        }
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
            figure_from: word(&record.figure_from, FigureFrom::from_word),
            figure_source: record.figure_source.clone(),
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

    /// `None` if the connector type is not known, which is a fault already.
    pub(super) fn cavity_count(&self, connector: &records::ConnectorRecord) -> Option<u32> {
        let types = &self.positions.connector_types;
        let number = *types.get(&connector.connector_type)?;
        Some(self.record.connector_types[number].cavities)
    }

    fn cavities(
        &mut self,
        number: usize,
        record: &records::ConnectorRecord,
    ) -> BTreeMap<u32, CavityUse> {
        let mut decided = BTreeMap::new();
        let Some(count) = self.cavity_count(record) else {
            return decided;
        };
        for (place, cavity) in record.cavities.iter().enumerate() {
            let pointer = format!("/connectors/{number}/cavities/{place}/cavity");
            let given = cavity.cavity.to_string();
            if cavity.cavity > count {
                let detail = format!(
                    "Connector \"{}\" is a \"{}\" with {count} cavities; there is no cavity {given}. \
                     Choose one it has, or another connector type.",
                    record.id, record.connector_type
                );
                self.fault(pointer, detail, &given, &format!("1 to {count}"));
                continue;
            }
            let Some(holds) = CavityUse::from_word(&cavity.holds) else {
                continue;
            };
            if decided.insert(cavity.cavity, holds).is_some() {
                let detail = format!(
                    "Cavity {given} of \"{}\" is decided on twice. Keep one.",
                    record.id
                );
                self.fault(pointer, detail, &given, "one decision a cavity");
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
        let count = self.cavity_count(record)?;
        let equipment = self.equipment(&stated.equipment)?;
        if stated.equipment == record.id {
            let detail = format!(
                "Connector \"{}\" plugs into itself. Name the equipment it plugs into.",
                record.id
            );
            let pointer = format!("/connectors/{number}/plugs_into/equipment");
            self.fault(pointer, detail, &stated.equipment, "other equipment");
            return None;
        }
        let mut met = BTreeSet::new();
        let mut pins = Vec::with_capacity(stated.pins.len());
        for (place, mated) in stated.pins.iter().enumerate() {
            let pointer = format!("/connectors/{number}/plugs_into/pins/{place}");
            if mated.cavity > count {
                let detail = format!(
                    "Connector \"{}\" has {count} cavities; there is no cavity {}. Choose one it has.",
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
            if !met.insert(mated.cavity) {
                let detail = format!(
                    "Cavity {} of \"{}\" meets two pins. Keep one.",
                    mated.cavity, record.id
                );
                let given = mated.cavity.to_string();
                self.fault(
                    format!("{pointer}/cavity"),
                    detail,
                    &given,
                    "one pin a cavity",
                );
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
        let mut mated: BTreeMap<&str, &str> = BTreeMap::new();
        let mut couplers = Vec::with_capacity(record.couplers.len());
        for (number, record) in record.couplers.iter().enumerate() {
            self.halves(number, record);
            for (field, half) in [("first", &record.first), ("second", &record.second)] {
                let coupler = record.id.as_str();
                // A connector mated with itself is told by `halves`.
                if let Some(other) = mated.insert(half, coupler)
                    && other != coupler
                {
                    let detail = format!(
                        "Connector \"{half}\" is a half of coupler \"{other}\" already. Name \
                         another connector."
                    );
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

    fn halves(&mut self, number: usize, record: &records::CouplerRecord) {
        let pointer = format!("/couplers/{number}/second");
        if record.first == record.second {
            let detail = format!(
                "Both halves of coupler \"{}\" are connector \"{}\". Name its other half.",
                record.id, record.first
            );
            return self.fault(pointer, detail, &record.second, "another connector");
        }
        let count = |id: &String| {
            let connector = *self.positions.connectors.get(id)?;
            self.cavity_count(&self.record.connectors[connector])
        };
        if let (Some(one), Some(other)) = (count(&record.first), count(&record.second))
            && one != other
        {
            let detail = format!(
                "The halves of coupler \"{}\" do not fit: \"{}\" has {one} cavities, \"{}\" has \
                 {other}. Choose connector types with as many.",
                record.id, record.first, record.second
            );
            let limit = format!("a half with {one} cavities");
            self.fault(pointer, detail, &record.second, &limit);
        }
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
