//! Circuits, cables and wires.

use super::{ConditionRecord, EndTreatment};
use crate::file_format::form::{Kind, Shape, record};
use crate::model::{Function, Role};
use crate::units::bounds;

record! {
    /// Everything from one protective device to its loads and back.
    CircuitRecord
    required {
        /// Circuit number.
        id: String = Shape::Id(&[Kind::Circuit]);
    }
    optional {
        /// Name.
        name: Option<String> = Shape::Text;
        /// What it does; the color of its feed follows from it.
        function: Option<String> = Shape::Choice(Function::WORDS);
        /// Device that protects it.
        device: Option<String> = Shape::Ref(Kind::Device);
        /// Switch that turns it on.
        switch: Option<String> = Shape::Ref(Kind::Device);
    }
}

record! {
    /// A jacket round several wires, or wires twisted together.
    CableRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Cable]);
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// Whether it has a jacket.
        sheathed: Option<bool> = Shape::Flag;
        /// Diameter over the jacket.
        outside_diameter_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Length of one full turn, where the wires are twisted.
        lay_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
    }
}

record! {
    /// How one end of a wire is made.
    WireEndRecord
    required {}
    optional {
        /// Terminal or contact; left out in a cavity, the contact of the connector type.
        terminal: Option<String> = Shape::Ref(Kind::TerminalPart);
        /// From the dimensioned reference face to the conductor tip; left out, that of the part.
        entry_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Service or drip loop.
        loop_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Length kept for making the end again.
        rework_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Length that leaves its jacket.
        outside_sheath_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Boot or sleeve over the terminal.
        sleeve: Option<String> = Shape::Text;
        /// What is done with it on boats where it serves nothing.
        when_unused: Option<EndTreatment> = Shape::Record(EndTreatment::FORM);
    }
}

record! {
    /// One insulated conductor from pin to pin.
    WireRecord
    required {
        /// Wire number.
        id: String = Shape::Id(&[Kind::Wire]);
        /// Pin it starts at.
        from: String = Shape::End;
        /// Pin it ends at.
        to: String = Shape::End;
    }
    optional {
        /// Circuit it belongs to.
        circuit: Option<String> = Shape::Ref(Kind::Circuit);
        /// What it carries.
        role: Option<String> = Shape::Choice(Role::WORDS);
        /// Conductor size.
        size: Option<String> = Shape::Size;
        /// Insulation class; left out, that of the settings.
        insulation_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Color in words, base first: `red`, `green/yellow`.
        color: Option<String> = Shape::Text;
        /// Jacket or twisted group it lies in.
        cable: Option<String> = Shape::Ref(Kind::Cable);
        /// Harness it is part of.
        harness: Option<String> = Shape::Ref(Kind::Harness);
        /// Whether it is sheathed or enclosed over its whole length.
        enclosed: Option<bool> = Shape::Flag;
        /// Points it must pass, in order.
        through: Vec<String> = Shape::List(&Shape::Ref(Kind::Point), 1);
        /// Runs it must not follow.
        avoid: Vec<String> = Shape::List(&Shape::Ref(Kind::Run), 1);
        /// How its first end is made.
        from_end: Option<WireEndRecord> = Shape::Record(WireEndRecord::FORM);
        /// How its second end is made.
        to_end: Option<WireEndRecord> = Shape::Record(WireEndRecord::FORM);
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}
