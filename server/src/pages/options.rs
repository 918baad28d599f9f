//! The options of a boat model with their rules.

use askama::Template;
use harness_core::boats::contradicting_rules;
use harness_core::model::{BoatOption, OptionIndex};
use harness_core::orders::{
    Because, Hangs, Mention, because, impossible_take_rates, mentions, options_of_a_mean_boat,
};
use harness_core::rules::Place;
use num_bigint::BigUint;

use super::Frame;
use super::findings::Linked;
use super::ordering::{OptionLink, RuleWords, Share, counted, frame, hull_link};
use crate::orders::Orders;
use crate::studies::AskedBoat;

/// Whether some boats have an option, or all, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// On no buildable boat.
    Never,
    /// On every buildable boat.
    Always,
    /// On some.
    Some,
}

impl Presence {
    /// Of an option that `with` of `all` boats have.
    pub fn of(with: &BigUint, all: &BigUint) -> Self {
        match *with == BigUint::ZERO {
            true => Self::Never,
            false if with == all => Self::Always,
            false => Self::Some,
        }
    }

    /// Class in the style sheet, which adds the shape.
    pub fn class(self) -> &'static str {
        match self {
            Self::Never => "never",
            Self::Always => "always",
            Self::Some => "sometimes",
        }
    }

    /// The word; empty for what needs none.
    pub fn word(self) -> &'static str {
        match self {
            Self::Never => "on no boat",
            Self::Always => "on every boat",
            Self::Some => "",
        }
    }
}

/// One option in the list.
#[derive(Clone, Debug)]
pub struct OptionRow {
    option: OptionLink,
    contains: Vec<OptionLink>,
    part_of: Vec<OptionLink>,
    range: String,
    rules: Vec<RuleWords>,
    take_rate: String,
    boats: Option<(Share, Presence)>,
    brings: String,
    hulls: Vec<Linked>,
}

/// Rules that leave no boat.
#[derive(Clone, Debug)]
pub struct Contradiction {
    /// The rules.
    pub rules: Vec<RuleWords>,
    /// Whether none of them is spare.
    pub minimal: bool,
}

impl Contradiction {
    /// The contradiction of a model without any buildable boat.
    pub fn of(orders: &Orders) -> Option<Self> {
        let found = contradicting_rules(&orders.options).ok().flatten()?;
        Some(Self {
            rules: RuleWords::all(orders, found.rules),
            minimal: found.minimal,
        })
    }
}

/// The list of options.
#[derive(Debug, Template)]
#[template(path = "options/list.html")]
pub struct OptionsPage {
    frame: Frame,
    buildable: Option<String>,
    not_counted: String,
    contradiction: Option<Contradiction>,
    never: Vec<OptionLink>,
    always: Vec<OptionLink>,
    mean_options: Option<String>,
    rates: Vec<(RuleWords, String)>,
    rows: Vec<OptionRow>,
    rules: Vec<RuleWords>,
    stated_rules: usize,
    packages: usize,
    boats_href: String,
    add_href: String,
}

impl OptionsPage {
    /// Every option of the model.
    pub fn new(orders: &Orders) -> Self {
        let (model, options) = (&orders.model, &orders.options);
        let counts = orders.boats.as_ref().ok().map(|boats| {
            let with_each = boats.counts_with_each();
            (with_each, boats.count())
        });
        let any = counts.as_ref().is_some_and(|(_, all)| *all > BigUint::ZERO);
        let of_option = mentions(model);
        let rows: Vec<_> = (0..model.options.len())
            .map(|at| {
                let boats = counts.as_ref().map(|(with, all)| {
                    let presence = Presence::of(&with[at], all);
                    (Share::of(&with[at], all), presence)
                });
                OptionRow::of(
                    orders,
                    OptionIndex(at),
                    boats.filter(|_| any),
                    &of_option[at],
                )
            })
            .collect();
        let of_presence = |wanted: Presence| -> Vec<OptionLink> {
            rows.iter()
                .filter(|row| matches!(row.boats, Some((_, presence)) if presence == wanted))
                .map(|row| row.option.clone())
                .collect()
        };
        let stated = |place: &usize| because(model, *place) != Because::Package;
        Self {
            frame: frame("Options", orders, "options"),
            buildable: counts
                .as_ref()
                .map(|(_, all)| counted(all, "buildable boat", "buildable boats")),
            not_counted: orders
                .boats
                .as_ref()
                .map_or_else(ToString::to_string, |_| String::new()),
            contradiction: match any || orders.boats.is_err() {
                true => None,
                false => Contradiction::of(orders),
            },
            never: of_presence(Presence::Never),
            always: of_presence(Presence::Always),
            mean_options: options_of_a_mean_boat(model)
                .filter(|_| !model.options.is_empty())
                .map(|mean| format!("{mean:.1}")),
            rates: impossible_take_rates(model, options)
                .into_iter()
                .map(|found| (RuleWords::of(orders, found.rule), found.says))
                .collect(),
            rows,
            rules: RuleWords::all(orders, 0..options.rules().len()),
            stated_rules: (0..options.rules().len()).filter(stated).count(),
            packages: model
                .options
                .iter()
                .filter(|(_, option)| !option.contains.is_empty())
                .count(),
            add_href: orders
                .addresses
                .of_boat(AskedBoat::Every)
                .to(&["options", "add"]),
            boats_href: orders.addresses.to(&["boats"]),
        }
    }
}

impl OptionRow {
    fn of(
        orders: &Orders,
        option: OptionIndex,
        boats: Option<(Share, Presence)>,
        hanging: &[Mention<'_>],
    ) -> Self {
        let model = &orders.model;
        let stated = &model.options[harness_core::model::Index::new(option.0)];
        let rules = orders.options.rules().iter().enumerate();
        let own = rules
            .filter(|(place, rule)| {
                because(model, *place) != Because::Package && rule.options().contains(&option)
            })
            .map(|(place, _)| place);
        Self {
            option: OptionLink::of(orders, option),
            contains: OptionLink::all(orders, &stated.contains),
            part_of: part_of(orders, option),
            range: hull_range(stated),
            rules: RuleWords::all(orders, own),
            take_rate: take_rate(stated),
            boats,
            brings: brings(hanging),
            hulls: hulls_with(orders, option),
        }
    }
}

/// Which hulls can have the option, in words; empty where any can.
pub fn hull_range(option: &BoatOption) -> String {
    match (option.from_hull, option.to_hull) {
        (Some(from), Some(to)) => format!("hulls {from} to {to}"),
        (Some(from), None) => format!("from hull {from} on"),
        (None, Some(to)) => format!("up to hull {to}"),
        (None, None) => String::new(),
    }
}

/// Share of boats sold with it, in words.
pub fn take_rate(option: &BoatOption) -> String {
    match option.take_rate {
        Some(rate) => format!("{} %", (rate * 1000.0).round() / 10.0),
        None => "not stated".to_owned(),
    }
}

/// Packages that contain the option.
pub fn part_of(orders: &Orders, option: OptionIndex) -> Vec<OptionLink> {
    let options = orders.model.options.iter();
    options
        .filter(|(_, package)| package.contains.contains(&option))
        .map(|(at, _)| OptionLink::of(orders, OptionIndex(at.number())))
        .collect()
}

/// Hulls ordered with it.
pub fn hulls_with(orders: &Orders, option: OptionIndex) -> Vec<Linked> {
    let hulls = orders.model.hulls.iter();
    hulls
        .filter(|(_, hull)| hull.options.contains(&option))
        .map(|(_, hull)| hull_link(orders, hull))
        .collect()
}

/// What comes with an option, in words: *2 loads, 5 wires*.
pub fn brings(hanging: &[Mention<'_>]) -> String {
    let count = |wanted: fn(Place) -> bool| {
        let comes = hanging
            .iter()
            .filter(|mention| mention.hangs == Hangs::ComesWithIt && wanted(mention.place));
        comes.count()
    };
    let loads = count(|place| matches!(place, Place::Load(_)));
    let wires = count(|place| matches!(place, Place::Wire(_)));
    let others = count(|place| !matches!(place, Place::Load(_) | Place::Wire(_)));
    let words = |count: usize, one: &str, many: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        _ => Some(format!("{count} {many}")),
    };
    let told: Vec<_> = [
        words(loads, "load", "loads"),
        words(wires, "wire", "wires"),
        words(others, "other part", "other parts"),
    ]
    .into_iter()
    .flatten()
    .collect();
    match told.is_empty() {
        true => "nothing of its own".to_owned(),
        false => told.join(", "),
    }
}
