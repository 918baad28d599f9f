//! Options, their rules, operating states and hulls.

use crate::file_format::form::{Kind, Shape, record};
use crate::units::bounds;
use serde::{Deserialize, Serialize};

/// When a thing is fitted: an option's code, or `all` / `any` / `not` of such.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum ConditionRecord {
    /// With this option.
    Option(String),
    /// With each of these.
    All {
        /// The parts.
        all: Vec<ConditionRecord>,
    },
    /// With at least one of these.
    Any {
        /// The parts.
        any: Vec<ConditionRecord>,
    },
    /// Without this.
    Not {
        /// The part.
        not: Box<ConditionRecord>,
    },
}

record! {
    /// An orderable option.
    OptionRecord
    required {
        /// The builder's code.
        id: String = Shape::Id(&[Kind::Option]);
    }
    optional {
        /// Name on the price list.
        name: Option<String> = Shape::Text;
        /// Share of boats sold with it.
        take_rate: Option<f64> = Shape::Number(&bounds::SHARE);
        /// Options it contains, if it is a package.
        contains: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 1);
        /// First hull that can have it; hull numbers are held against it as whole numbers.
        from_hull: Option<u32> = Shape::Whole(1, 1_000_000);
        /// Last hull that can have it; hull numbers are held against it as whole numbers.
        to_hull: Option<u32> = Shape::Whole(1, 1_000_000);
    }
}

record! {
    /// One rule between options; state exactly one of its forms.
    OptionRuleRecord
    required {}
    optional {
        /// The first needs the second.
        requires: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 2);
        /// The first and the second never go together.
        excludes: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 2);
        /// The first is only fitted with at least one of the others.
        only_with: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 2);
        /// Each boat has exactly one of these.
        exactly_one_of: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 1);
        /// No boat has two of these.
        at_most_one_of: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 2);
        /// Each boat has it.
        always: Option<String> = Shape::Ref(Kind::Option);
        /// Why the rule is there.
        because: Option<String> = Shape::Text;
    }
}

record! {
    /// An operating state.
    StateRecord
    required {
        /// Short name.
        id: String = Shape::Id(&[Kind::State]);
    }
    optional {
        /// Full name.
        name: Option<String> = Shape::Text;
    }
}

record! {
    /// One boat of the series.
    HullRecord
    required {
        /// Hull number.
        id: String = Shape::Id(&[Kind::Hull]);
    }
    optional {
        /// Options ordered.
        options: Vec<String> = Shape::List(&Shape::Ref(Kind::Option), 0);
        /// Stations done.
        stations_done: Vec<String> = Shape::List(&Shape::Text, 0);
        /// Serial numbers of its harnesses.
        harness_serials: Vec<String> = Shape::List(&Shape::Text, 0);
    }
}
