//! Sources, buses, devices and loads.

use super::{From, each, id, maybe, milliohms, thousandths};
use crate::file_format::records;
use crate::model::{Behavior, Bus, Device, Load, Source};
use crate::units::{Amperes, Millimetres, Ohms, Volts};

impl From<'_> {
    pub(super) fn source(&self, source: &Source) -> records::SourceRecord {
        records::SourceRecord {
            id: source.id.clone(),
            name: source.name.clone(),
            kind: source.kind.map(|kind| kind.to_string()),
            point: maybe(&self.model.points, source.point),
            nominal_v: source.nominal.map(Volts::value),
            running_v: source.running.map(Volts::value),
            rested_v: source.rested.map(Volts::value),
            low_v: source.low.map(Volts::value),
            internal_ohm: source.internal.map(Ohms::value),
            cranking_a: source.cranking.map(Amperes::value),
            capacity_ah: source.capacity_ah,
            max_a: source.max_current.map(Amperes::value),
            figure_from: source.figure_from.map(|from| from.to_string()),
            figure_source: source.figure_source.clone(),
            active_in: each(&self.model.states, &source.active_in),
            self_limiting: source.self_limiting,
            fitted_when: self.condition(&source.fitted_when),
        }
    }

    pub(super) fn bus(&self, bus: &Bus) -> records::BusRecord {
        records::BusRecord {
            id: bus.id.clone(),
            kind: bus.kind.to_string(),
            name: bus.name.clone(),
            point: maybe(&self.model.points, bus.point),
            positions: Some(bus.positions),
            rating_a: bus.rating.map(Amperes::value),
            stud_mm: bus.stud.map(Millimetres::value),
            stack: each(&self.model.wires, &bus.stack),
            covered: bus.covered,
            ignition_protected: bus.ignition_protected,
            fitted_when: self.condition(&bus.fitted_when),
        }
    }

    pub(super) fn device(&self, device: &Device) -> records::DeviceRecord {
        records::DeviceRecord {
            id: device.id.clone(),
            kind: device.kind.to_string(),
            name: device.name.clone(),
            family: device.family.map(|family| family.to_string()),
            point: maybe(&self.model.points, device.point),
            fitted_in: device.fitted_in.map(|(block, position)| records::FittedIn {
                block: id(&self.model.buses, block),
                position,
            }),
            rating_a: device.rating.map(Amperes::value),
            interrupting_a: device.interrupting.map(Amperes::value),
            rated_v: device.rated_volts.map(Volts::value),
            resistance_mohm: milliohms(device.resistance),
            figure_from: device.figure_from.map(|from| from.to_string()),
            figure_source: device.figure_source.clone(),
            part: device.part.clone(),
            ignition_protected: device.ignition_protected,
            open_in: each(&self.model.states, &device.open_in),
            fitted_when: self.condition(&device.fitted_when),
        }
    }

    pub(super) fn load(&self, load: &Load) -> records::LoadRecord {
        let (current_a, power_w, resistance_ohm) = match load.behavior {
            Some(Behavior::Current(current)) => (Some(current.value()), None, None),
            Some(Behavior::Power(power)) => (None, Some(power.value()), None),
            Some(Behavior::Resistance(resistance)) => (None, None, Some(resistance.value())),
            None => (None, None, None),
        };
        let standby = load.standby.map(|current| thousandths(current.value()));
        records::LoadRecord {
            id: load.id.clone(),
            name: load.name.clone(),
            point: maybe(&self.model.points, load.point),
            circuit: maybe(&self.model.circuits, load.circuit),
            current_a,
            power_w,
            resistance_ohm,
            stated_at_v: load.stated_at.map(Volts::value),
            inrush_a: load.inrush.map(Amperes::value),
            inrush_ms: load.inrush_ms,
            locked_rotor_a: load.locked_rotor.map(Amperes::value),
            standby_ma: standby,
            min_v: load.min_volts.map(Volts::value),
            max_v: load.max_volts.map(Volts::value),
            drop_class: load.drop_class.map(|class| class.to_string()),
            drop_limit_percent: load.own_drop_limit_percent,
            figure_from: load.figure_from.map(|from| from.to_string()),
            figure_source: load.figure_source.clone(),
            part: load.part.clone(),
            ignition_protected: load.ignition_protected,
            runs_in: load
                .runs_in
                .iter()
                .map(|used| records::Use {
                    state: id(&self.model.states, used.state),
                    share: used.share,
                })
                .collect(),
            fitted_when: self.condition(&load.fitted_when),
        }
    }
}
