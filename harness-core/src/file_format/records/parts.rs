//! A list of parts that a builder buys: loads, connectors, terminals, devices, conductors.
//!
//! Fields that a boat model has too are named alike: taking a part is copying them.

use super::{ConnectorTypeRecord, TerminalPartRecord};
use crate::file_format::form::{Kind, Shape, record};
use crate::model::{DeviceKind, DropClass, Family, FigureFrom};
use crate::units::bounds;

record! {
    /// A consumer as it is bought, and what it draws.
    LoadPartRecord
    required {
        /// Part number, or a short name.
        id: String = Shape::Id(&[Kind::Load]);
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// Constant current it draws. State one of current, power, resistance.
        current_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Constant power it draws.
        power_w: Option<f64> = Shape::Number(&bounds::WATTS);
        /// Resistance it acts as.
        resistance_ohm: Option<f64> = Shape::Number(&bounds::OHMS_ABOVE_NONE);
        /// Volts at which the figure was stated.
        stated_at_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Inrush current.
        inrush_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Duration of the inrush.
        inrush_ms: Option<f64> = Shape::Number(&bounds::MILLISECONDS);
        /// Current with the rotor locked.
        locked_rotor_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Current with everything off.
        standby_ma: Option<f64> = Shape::Number(&bounds::MILLIAMPERES);
        /// Least volts at which it works.
        min_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Greatest volts it stands.
        max_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Drop class: critical is held to 3 %, other to 10 %.
        drop_class: Option<String> = Shape::Choice(DropClass::WORDS);
        /// Whether it will not light fuel vapor around it.
        ignition_protected: Option<bool> = Shape::Flag;
        /// Fuse or breaker that is usual or asked for by its maker.
        device_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
    }
}

record! {
    /// A fuse, breaker, switch, relay or battery switch as it is bought.
    DevicePartRecord
    required {
        /// Part number, or a short name.
        id: String = Shape::Id(&[Kind::Device]);
        /// What it is.
        kind: String = Shape::Choice(DeviceKind::WORDS);
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// Family of a fuse, as in the table of protective devices.
        family: Option<String> = Shape::Choice(Family::WORDS);
        /// Rated current.
        rating_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Greatest current it can interrupt.
        interrupting_a: Option<f64> = Shape::Number(&bounds::FAULT_AMPERES);
        /// Rated voltage.
        rated_v: Option<f64> = Shape::Number(&bounds::RATED_VOLTS);
        /// Resistance when closed.
        resistance_mohm: Option<f64> = Shape::Number(&bounds::MILLIOHMS);
        /// Whether it will not light fuel vapor around it.
        ignition_protected: Option<bool> = Shape::Flag;
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
    }
}

record! {
    /// An insulated conductor as it is bought.
    ConductorPartRecord
    required {
        /// Part number, or a short name.
        id: String = Shape::Id(&[Kind::ConductorPart]);
        /// Conductor size.
        size: String = Shape::Size;
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// Insulation class.
        insulation_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Number of strands.
        strands: Option<u32> = Shape::Whole(1, 100_000);
        /// Resistance at 20 °C of one kilometer; left out, as in the table of its size.
        resistance_ohm_per_km: Option<f64> = Shape::Number(&bounds::OHMS_PER_KM);
        /// Diameter over the insulation.
        outside_diameter_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Mass of one kilometer.
        mass_kg_per_km: Option<f64> = Shape::Number(&bounds::KILOGRAMS_PER_KM);
        /// Price of one meter, in the builder's currency.
        price_per_m: Option<f64> = Shape::Number(&bounds::MONEY);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
    }
}

record! {
    /// A whole parts list as saved.
    PartsRecord
    required {
        /// Version of this format; this is version 1.
        format_version: u32 = Shape::Whole(1, 1);
    }
    optional {
        /// Consumers.
        loads: Vec<LoadPartRecord> = Shape::List(&Shape::Record(LoadPartRecord::FORM), 0);
        /// Connector parts.
        connector_types: Vec<ConnectorTypeRecord> = Shape::List(&Shape::Record(ConnectorTypeRecord::FORM), 0);
        /// Terminal and contact parts.
        terminal_parts: Vec<TerminalPartRecord> = Shape::List(&Shape::Record(TerminalPartRecord::FORM), 0);
        /// Fuses, breakers, switches, relays.
        devices: Vec<DevicePartRecord> = Shape::List(&Shape::Record(DevicePartRecord::FORM), 0);
        /// Insulated conductors.
        conductors: Vec<ConductorPartRecord> = Shape::List(&Shape::Record(ConductorPartRecord::FORM), 0);
    }
}

impl Default for PartsRecord {
    fn default() -> Self {
        Self {
            format_version: 1,
            loads: Vec::new(),
            connector_types: Vec::new(),
            terminal_parts: Vec::new(),
            devices: Vec::new(),
            conductors: Vec::new(),
        }
    }
}
