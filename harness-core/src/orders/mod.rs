//! What can be ordered of a boat model: the answers about its options and boats that need neither
//! volts nor lengths.
//!
//! `boats/` knows options by position and no model; here its answers meet what the model states
//! beside the rules: hull numbers, reasons, take rates, and the wiring that hangs on an option.

mod ask;
mod hulls;
mod take_rates;
mod wiring;

pub use ask::{Answer, Blame, Conflict, Follows, Forced, Question, Wish};
pub use hulls::{HullRange, OrderedHull, Standing, hull_number, off_at, ranges};
pub use take_rates::{Impossible, impossible_take_rates, options_of_a_mean_boat};
pub use wiring::{Hangs, Mention, mentions};

use crate::model::BoatModel;

/// Why a rule between options is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Because<'m> {
    /// The builder's reason.
    Stated(&'m str),
    /// The builder states the rule without a reason.
    Unstated,
    /// A package needs what it contains.
    Package,
}

/// Why a rule is there, by its place in the rules of [`options_of`](crate::study::options_of):
/// those stated, then those that follow from packages.
pub fn because(model: &BoatModel, rule: usize) -> Because<'_> {
    match model.option_rules.get(rule) {
        Some(stated) => stated
            .because
            .as_deref()
            .map_or(Because::Unstated, Because::Stated),
        None => Because::Package,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::study::options_of;
    use serde_json::json;

    #[test]
    fn rules_of_packages_follow_the_stated_ones() {
        let model = file_format::read_json(json!({
            "format_version": 1, "name": "A",
            "options": [{"id": "p", "contains": ["x"]}, {"id": "x"}, {"id": "y"}],
            "option_rules": [
                {"excludes": ["x", "y"], "because": "one locker"}, {"always": "y"},
            ],
        }))
        .unwrap();
        let told: Vec<_> = (0..options_of(&model).rules().len())
            .map(|rule| because(&model, rule))
            .collect();
        let expected = [
            Because::Stated("one locker"),
            Because::Unstated,
            Because::Package,
        ];
        assert_eq!(told, expected);
    }
}
