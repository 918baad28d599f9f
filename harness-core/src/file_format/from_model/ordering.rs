//! Options, their rules, operating states and hulls.

use super::From;
use crate::file_format::records;
use crate::model::{BoatOption, Hull, OperatingState, OptionRule, StatedRule};

pub(super) fn state(state: &OperatingState) -> records::StateRecord {
    records::StateRecord {
        id: state.id.clone(),
        name: state.name.clone(),
    }
}

impl From<'_> {
    pub(super) fn option(&self, option: &BoatOption) -> records::OptionRecord {
        records::OptionRecord {
            id: option.id.clone(),
            name: option.name.clone(),
            take_rate: option.take_rate,
            contains: self.option_ids(&option.contains),
            from_hull: option.from_hull,
            to_hull: option.to_hull,
        }
    }

    pub(super) fn option_rule(&self, stated: &StatedRule) -> records::OptionRuleRecord {
        let mut record = records::OptionRuleRecord {
            requires: Vec::new(),
            excludes: Vec::new(),
            only_with: Vec::new(),
            exactly_one_of: Vec::new(),
            at_most_one_of: Vec::new(),
            always: None,
            because: stated.because.clone(),
        };
        match &stated.rule {
            OptionRule::Requires(needing, needed) => {
                record.requires = self.option_ids(&[*needing, *needed]);
            }
            OptionRule::Excludes(one, other) => record.excludes = self.option_ids(&[*one, *other]),
            OptionRule::OnlyWithAnyOf(needing, others) => {
                record.only_with = self.option_ids(&[&[*needing], &others[..]].concat());
            }
            OptionRule::ExactlyOneOf(group) => record.exactly_one_of = self.option_ids(group),
            OptionRule::AtMostOneOf(group) => record.at_most_one_of = self.option_ids(group),
            OptionRule::Always(option) => record.always = Some(self.option_id(*option)),
        }
        record
    }

    pub(super) fn hull(&self, hull: &Hull) -> records::HullRecord {
        records::HullRecord {
            id: hull.id.clone(),
            options: self.option_ids(&hull.options),
            stations_done: hull.stations_done.clone(),
            harness_serials: hull.harness_serials.clone(),
        }
    }
}
