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
    /// The two options are offered at no common hull number.
    HullNumbers,
}

/// Why a rule is there, by its place in the rules of [`options_of`](crate::study::options_of):
/// those stated, then those that follow from packages, then those from hull numbers.
pub fn because(model: &BoatModel, rule: usize) -> Because<'_> {
    match model.option_rules.get(rule) {
        Some(stated) => stated
            .because
            .as_deref()
            .map_or(Because::Unstated, Because::Stated),
        None => {
            let packages = model.options.iter();
            let contained: usize = packages.map(|(_, option)| option.contains.len()).sum();
            if rule < model.option_rules.len() + contained {
                Because::Package
            } else {
                Because::HullNumbers
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use crate::study::options_of;
    use serde_json::json;

    /// Every boat left can be ordered at some hull number, and no other is lost.
    #[test]
    fn options_offered_at_no_common_hull_number_are_on_no_boat_together() {
        let model = file_format::read_json(json!({
            "format_version": 1, "name": "A",
            "options": [{"id": "old", "to_hull": 11}, {"id": "new", "from_hull": 12},
                {"id": "middle", "from_hull": 8, "to_hull": 20}, {"id": "late", "from_hull": 21},
                {"id": "always"}],
            "option_rules": [{"always": "always"}],
        }))
        .unwrap();
        let options = options_of(&model);
        let told: Vec<_> = (0..options.rules().len())
            .map(|rule| because(&model, rule))
            .collect();
        assert_eq!(told[0], Because::Unstated);
        assert_eq!(told[1..], [Because::HullNumbers; 3]);
        for mask in 0..1_u32 << 5 {
            let boat: crate::boats::Boat = (0..5)
                .filter(|bit| mask >> bit & 1 == 1)
                .map(crate::boats::OptionIndex)
                .collect();
            let at_some_hull = (1..30).any(|hull| {
                let off = off_at(&model, hull);
                off.iter().all(|option| !boat.has(*option))
            });
            let expected = at_some_hull && boat.has(crate::boats::OptionIndex(4));
            assert_eq!(options.allow(&boat), expected, "{boat:?}");
        }
    }

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
