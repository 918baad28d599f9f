//! Sources, devices, buses and loads.

use super::{ConditionRecord, equipment_id};
use crate::file_format::form::{Kind, Shape, record};
use crate::model::{BusKind, DeviceKind, DropClass, Family, FigureFrom, SourceKind};
use crate::units::bounds;

record! {
    /// A battery bank, alternator or charger. Its pins are `plus` and `minus`.
    SourceRecord
    required {
        /// Short name.
        id: String = equipment_id!(Source);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// What it is.
        kind: Option<String> = Shape::Choice(SourceKind::WORDS);
        /// Where it sits.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Nominal voltage.
        nominal_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Voltage with the engine running.
        running_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Voltage at rest.
        rested_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Lowest voltage at which equipment still has to work.
        low_v: Option<f64> = Shape::Number(&bounds::VOLTS);
        /// Internal resistance.
        internal_ohm: Option<f64> = Shape::Number(&bounds::OHMS);
        /// Cold cranking current of the whole bank.
        cranking_a: Option<f64> = Shape::Number(&bounds::CRANKING_AMPERES);
        /// Capacity.
        capacity_ah: Option<f64> = Shape::Number(&bounds::AMPERE_HOURS);
        /// Greatest current it can deliver without harm.
        max_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
        /// Operating states in which it delivers; left out, in each.
        active_in: Vec<String> = Shape::List(&Shape::Ref(Kind::State), 1);
        /// Whether it is self-limiting.
        self_limiting: Option<bool> = Shape::Flag;
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}

record! {
    /// The place of a device on a fuse block.
    FittedIn
    required {
        /// The block.
        block: String = Shape::Ref(Kind::Bus);
        /// Its position on the block, from 1.
        position: u32 = Shape::Whole(1, 200);
    }
    optional {}
}

record! {
    /// A fuse, breaker, switch, relay contact, battery switch or diode. Its pins are `in` and
    /// `out`; fitted in a block, it joins the block's feed to the position and has no pins.
    DeviceRecord
    required {
        /// Short name.
        id: String = equipment_id!(Device);
        /// What it is.
        kind: String = Shape::Choice(DeviceKind::WORDS);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Family of a fuse, as in the table of protective devices.
        family: Option<String> = Shape::Choice(Family::WORDS);
        /// Where it sits; left out for a device fitted in a block.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Place on a fuse block.
        fitted_in: Option<FittedIn> = Shape::Record(FittedIn::FORM);
        /// Rated current.
        rating_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Greatest current it can interrupt.
        interrupting_a: Option<f64> = Shape::Number(&bounds::FAULT_AMPERES);
        /// Rated voltage.
        rated_v: Option<f64> = Shape::Number(&bounds::RATED_VOLTS);
        /// Resistance when closed.
        resistance_mohm: Option<f64> = Shape::Number(&bounds::MILLIOHMS);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
        /// Part of the parts list that the figures were taken from.
        part: Option<String> = Shape::Text;
        /// Whether it will not light fuel vapor around it.
        ignition_protected: Option<bool> = Shape::Flag;
        /// Operating states in which it is open; left out, closed in each.
        open_in: Vec<String> = Shape::List(&Shape::Ref(Kind::State), 1);
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}

record! {
    /// A busbar, fuse block or stud. Pins: `1`, `2` ... for each position; a fuse block has
    /// `feed` besides, and its positions are live only through the device fitted there.
    BusRecord
    required {
        /// Short name.
        id: String = equipment_id!(Bus);
        /// What it is.
        kind: String = Shape::Choice(BusKind::WORDS);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Where it sits.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Number of positions; a stud has one.
        positions: Option<u32> = Shape::Whole(1, 200);
        /// Rated current.
        rating_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Stud or screw diameter.
        stud_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Order of the wires on a stud, largest first at the bottom.
        stack: Vec<String> = Shape::List(&Shape::Ref(Kind::Wire), 1);
        /// Whether it carries a cover or boot.
        covered: Option<bool> = Shape::Flag;
        /// Whether it will not light fuel vapor around it.
        ignition_protected: Option<bool> = Shape::Flag;
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}

record! {
    /// Use of a load in one operating state.
    Use
    required {
        /// The state.
        state: String = Shape::Ref(Kind::State);
        /// Share of the time it runs; 0 is off. Limits are judged with it running.
        share: f64 = Shape::Number(&bounds::SHARE);
    }
    optional {}
}

record! {
    /// A consumer. Its pins are `plus` and `minus`.
    LoadRecord
    required {
        /// Short name.
        id: String = equipment_id!(Load);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Where it sits.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Circuit it belongs to.
        circuit: Option<String> = Shape::Ref(Kind::Circuit);
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
        /// A drop limit of its own, instead of the class.
        drop_limit_percent: Option<f64> = Shape::Number(&bounds::PERCENT);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
        /// Part of the parts list that the figures were taken from.
        part: Option<String> = Shape::Text;
        /// Whether it will not light fuel vapor around it.
        ignition_protected: Option<bool> = Shape::Flag;
        /// Use in each operating state; left out, taken as running in each.
        runs_in: Vec<Use> = Shape::List(&Shape::Record(Use::FORM), 1);
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}
