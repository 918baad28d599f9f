//! The boat: mouldings, zones, points, runs, harness parts, and how the model is judged.

use crate::file_format::form::{Kind, Shape, record};
use crate::model::{
    AreaBasis, DcBundling, DropBasis, EdgeProtection, Fixing, RuleSet, SizeSeriesChoice,
};
use crate::units::bounds;

record! {
    /// How this model is judged and cut.
    Settings
    required {}
    optional {
        /// Rule sets that apply; left out, both US sets.
        rule_sets: Vec<String> = Shape::List(&Shape::Choice(RuleSet::WORDS), 1);
        /// Series the yard stocks; left out, AWG.
        size_series: Option<String> = Shape::Choice(SizeSeriesChoice::WORDS);
        /// How conductor resistance is found; left out, copper at temperature.
        drop_basis: Option<String> = Shape::Choice(DropBasis::WORDS);
        /// Area of a gauge number used by the trade constant; left out, AWG.
        area_basis: Option<String> = Shape::Choice(AreaBasis::WORDS);
        /// How ampacity falls in a bundle below 50 V; left out, by count (the strictest).
        dc_bundling: Option<String> = Shape::Choice(DcBundling::WORDS);
        /// Insulation class of a wire that states none.
        insulation_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Length added to each run for dressing, as a share.
        slack_share: Option<f64> = Shape::Number(&bounds::SHARE);
        /// Cut lengths are rounded up to this step.
        cut_step_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Resistance of one mated contact whose connector type states none.
        contact_resistance_mohm: Option<f64> = Shape::Number(&bounds::MILLIOHMS);
        /// Scrap added to wire in the parts list, as a share.
        scrap_share: Option<f64> = Shape::Number(&bounds::SHARE);
    }
}

record! {
    /// One moulding of the boat.
    Moulding
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Moulding]);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
    }
}

record! {
    /// One corner of a zone outline, seen from above: x forward from the transom, y to starboard.
    OutlineCorner
    required {
        /// Forward of the transom.
        x_mm: f64 = Shape::Number(&bounds::COORDINATE_MM);
        /// To starboard of the centerline.
        y_mm: f64 = Shape::Number(&bounds::COORDINATE_MM);
    }
    optional {}
}

record! {
    /// A named part of the boat.
    ZoneRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Zone]);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Moulding it belongs to.
        moulding: Option<String> = Shape::Ref(Kind::Moulding);
        /// Outline on the plan.
        outline: Vec<OutlineCorner> = Shape::List(&Shape::Record(OutlineCorner::FORM), 3);
        /// Highest ambient temperature.
        ambient_degc: Option<f64> = Shape::Number(&bounds::CELSIUS);
        /// Whether it is an engine space.
        engine_space: Option<bool> = Shape::Flag;
        /// Whether fuel vapor may gather.
        fuel_vapor: Option<bool> = Shape::Flag;
        /// Height of bilge water at rest, above the datum.
        bilge_water_z_mm: Option<f64> = Shape::Number(&bounds::COORDINATE_MM);
        /// Distance of its nearest part from the compass.
        compass_distance_mm: Option<f64> = Shape::Number(&bounds::MILLIMETRES);
        /// Station at which it is closed for good (deck on, sole down); left out, it stays open.
        closes_at: Option<String> = Shape::Text;
        /// Hatch or panel that reaches it after closing, or `none`.
        reached_by: Option<String> = Shape::Text;
    }
}

record! {
    /// A place where runs meet and equipment sits.
    PointRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Point]);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Zone it lies in.
        zone: Option<String> = Shape::Ref(Kind::Zone);
        /// Forward of the transom.
        x_mm: Option<f64> = Shape::Number(&bounds::COORDINATE_MM);
        /// To starboard of the centerline.
        y_mm: Option<f64> = Shape::Number(&bounds::COORDINATE_MM);
        /// Above the datum.
        z_mm: Option<f64> = Shape::Number(&bounds::COORDINATE_MM);
    }
}

record! {
    /// A hole that a run passes.
    Hole
    required {}
    optional {
        /// Number painted beside it and printed on the sheet.
        number: Option<String> = Shape::Text;
        /// Diameter.
        diameter_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// What keeps its edge off the wires.
        edge_protection: Option<String> = Shape::Choice(EdgeProtection::WORDS);
        /// Whether it pierces a watertight bulkhead.
        watertight: Option<bool> = Shape::Flag;
    }
}

record! {
    /// A stretch between two points that wires may follow.
    RunRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Run]);
        /// One end.
        from: String = Shape::Ref(Kind::Point);
        /// Other end.
        to: String = Shape::Ref(Kind::Point);
    }
    optional {
        /// Length along the path; left out, the straight distance of its points.
        length_m: Option<f64> = Shape::Number(&bounds::METRES);
        /// Zone it belongs to; left out, the zone of both its points.
        zone: Option<String> = Shape::Ref(Kind::Zone);
        /// How wires are held.
        fixing: Option<String> = Shape::Choice(Fixing::WORDS);
        /// Inside diameter of a conduit or leg.
        bore_mm: Option<f64> = Shape::Number(&bounds::DIAMETER_MM);
        /// Number of bends in a conduit or leg.
        bends: Option<u32> = Shape::Whole(0, 20);
        /// Greatest distance between supports.
        support_spacing_mm: Option<f64> = Shape::Number(&bounds::SUPPORT_MM);
        /// Hole it passes.
        hole: Option<Hole> = Shape::Record(Hole::FORM);
        /// Direction on the assembly board.
        board_angle_degrees: Option<f64> = Shape::Number(&bounds::DEGREES);
        /// No wire may follow it.
        closed_to_wires: Option<bool> = Shape::Flag;
    }
}

record! {
    /// One harness part.
    HarnessRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::Harness]);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
        /// Part number.
        part_number: Option<String> = Shape::Text;
        /// Revision of the part.
        revision: Option<String> = Shape::Text;
        /// Moulding it is laid in.
        moulding: Option<String> = Shape::Ref(Kind::Moulding);
        /// Point its dimensions start from.
        datum: Option<String> = Shape::Ref(Kind::Point);
        /// Covering over the bundle.
        covering: Option<String> = Shape::Text;
    }
}
