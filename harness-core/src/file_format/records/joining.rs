//! Connectors, couplers, splices, terminals, and how an unused end is treated.

use super::{ConditionRecord, equipment_id};
use crate::file_format::form::{Kind, Shape, record};
use crate::model::{
    CavityUse, Contacts, EndTreatmentKind, FigureFrom, SpliceKind, TerminalKind, ViewFace,
};
use crate::units::bounds;

record! {
    /// A terminal or contact part.
    TerminalPartRecord
    required {
        /// Part number.
        id: String = Shape::Id(&[Kind::TerminalPart]);
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// What it is.
        kind: Option<String> = Shape::Choice(TerminalKind::WORDS);
        /// Thinnest conductor it takes.
        min_mm2: Option<f64> = Shape::Number(&bounds::AREA_MM2);
        /// Thickest conductor it takes.
        max_mm2: Option<f64> = Shape::Number(&bounds::AREA_MM2);
        /// Stud it fits.
        stud_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Insulation removed.
        strip_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// From the dimensioned reference face to the conductor tip.
        entry_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
    }
}

record! {
    /// A connector part.
    ConnectorTypeRecord
    required {
        /// Part number.
        id: String = Shape::Id(&[Kind::ConnectorType]);
        /// Number of cavities, numbered from 1.
        cavities: u32 = Shape::Whole(1, 200);
    }
    optional {
        /// Description.
        name: Option<String> = Shape::Text;
        /// Resistance of one mated contact.
        contact_resistance_mohm: Option<f64> = Shape::Number(&bounds::MILLIOHMS);
        /// Greatest current of one contact.
        contact_rating_a: Option<f64> = Shape::Number(&bounds::AMPERES);
        /// Thinnest conductor its contacts take.
        min_mm2: Option<f64> = Shape::Number(&bounds::AREA_MM2);
        /// Thickest conductor its contacts take.
        max_mm2: Option<f64> = Shape::Number(&bounds::AREA_MM2);
        /// Whether it is sealed.
        sealed: Option<bool> = Shape::Flag;
        /// From the mating face to the conductor tip.
        entry_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Contact part crimped on a wire.
        contact: Option<String> = Shape::Ref(Kind::TerminalPart);
        /// Seal part of a wire.
        wire_seal: Option<String> = Shape::Text;
        /// Part that closes an unused cavity.
        cavity_plug: Option<String> = Shape::Text;
        /// Face from which cavities are numbered.
        view_face: Option<String> = Shape::Choice(ViewFace::WORDS);
        /// Where the figures come from.
        figure_from: Option<String> = Shape::Choice(FigureFrom::WORDS);
        /// Where exactly: data sheet and page, who measured it, when.
        figure_source: Option<String> = Shape::Text;
    }
}

record! {
    /// A decision on a cavity that holds no wire.
    CavityRecord
    required {
        /// Cavity number.
        cavity: u32 = Shape::Whole(1, 200);
        /// The decision.
        holds: String = Shape::Choice(CavityUse::WORDS);
    }
    optional {}
}

record! {
    /// Which pin of the equipment a cavity meets.
    MatedPin
    required {
        /// Cavity number.
        cavity: u32 = Shape::Whole(1, 200);
        /// Pin of the equipment.
        pin: String = Shape::Text;
    }
    optional {}
}

record! {
    /// The equipment a connector plugs into.
    PlugsInto
    required {
        /// The equipment.
        equipment: String = Shape::Ref(Kind::Equipment);
        /// Which cavity meets which pin.
        pins: Vec<MatedPin> = Shape::List(&Shape::Record(MatedPin::FORM), 1);
    }
    optional {}
}

record! {
    /// What is done with an end on boats where it serves nothing.
    EndTreatment
    required {
        /// The treatment.
        treatment: String = Shape::Choice(EndTreatmentKind::WORDS);
    }
    optional {
        /// Part used.
        part: Option<String> = Shape::Text;
        /// Point it is tied to.
        tie_point: Option<String> = Shape::Ref(Kind::Point);
    }
}

record! {
    /// A connector on a harness. Its pins are its cavity numbers.
    ConnectorRecord
    required {
        /// Short name.
        id: String = equipment_id!(Connector);
        /// Its part.
        connector_type: String = Shape::Ref(Kind::ConnectorType);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Which half it is, by its contacts.
        contacts: Option<String> = Shape::Choice(Contacts::WORDS);
        /// Harness it belongs to.
        harness: Option<String> = Shape::Ref(Kind::Harness);
        /// Where it sits.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Equipment it plugs into.
        plugs_into: Option<PlugsInto> = Shape::Record(PlugsInto::FORM);
        /// Decisions on cavities that hold no wire.
        cavities: Vec<CavityRecord> = Shape::List(&Shape::Record(CavityRecord::FORM), 1);
        /// What is done with it on boats where it serves nothing.
        when_unused: Option<EndTreatment> = Shape::Record(EndTreatment::FORM);
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}

record! {
    /// A mated pair of connectors that joins two harnesses: equal cavity numbers meet.
    CouplerRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Coupler]);
        /// One half.
        first: String = Shape::Ref(Kind::Connector);
        /// Other half.
        second: String = Shape::Ref(Kind::Connector);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Hatch that reaches it after closing, or `none`; left out, that of its zone.
        reached_by: Option<String> = Shape::Text;
    }
}

record! {
    /// A permanent joint. Its pins are `a` and `b`, its two sides.
    SpliceRecord
    required {
        /// Short name.
        id: String = equipment_id!(Splice);
    }
    optional {
        /// How the ends meet.
        kind: Option<String> = Shape::Choice(SpliceKind::WORDS);
        /// Where it sits.
        point: Option<String> = Shape::Ref(Kind::Point);
        /// Harness it belongs to.
        harness: Option<String> = Shape::Ref(Kind::Harness);
        /// Whether it is sealed against water.
        sealed: Option<bool> = Shape::Flag;
        /// Resistance between its sides.
        resistance_mohm: Option<f64> = Shape::Number(&bounds::MILLIOHMS);
        /// When it is fitted.
        fitted_when: Option<ConditionRecord> = Shape::Condition;
    }
}
