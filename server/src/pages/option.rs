//! One option: what follows from it, what hangs on it, who ordered it.

use askama::Template;
use harness_core::model::{Index, OptionIndex};
use harness_core::orders::{
    Answer, Because, Follows, Forced, Hangs, Mention, Question, because, mentions,
};

use super::Frame;
use super::findings::{Linked, circuit_link};
use super::options::{Presence, brings, hull_range, hulls_with, part_of, take_rate};
use super::ordering::{BoatLink, OptionLink, RuleWords, Share, counted, frame};
use crate::orders::Orders;

/// Boats with the option, or without it.
#[derive(Clone, Debug)]
pub enum Side {
    /// There are such boats.
    Boats(Box<SideBoats>),
    /// These rules leave none.
    None(Vec<RuleWords>),
}

/// What follows from having the option, or from not having it.
#[derive(Clone, Debug)]
pub struct SideBoats {
    /// The boats that are so.
    share: Share,
    /// Options they all have because of it.
    on: Vec<OptionLink>,
    /// Options none of them has because of it.
    off: Vec<OptionLink>,
    /// The boat of them with the fewest options, and the one with the most.
    fewest: BoatLink,
    fullest: BoatLink,
    /// The question that these boats answer.
    ask_href: String,
}

/// A thing of the wiring that hangs on the option.
#[derive(Clone, Debug)]
pub struct Hanging {
    thing: String,
    label: String,
    circuit: Linked,
    hangs: &'static str,
    when: String,
}

/// The page of one option.
#[derive(Debug, Template)]
#[template(path = "options/option.html")]
pub struct OptionPage {
    frame: Frame,
    facts: Vec<(&'static str, String)>,
    contains: Vec<OptionLink>,
    part_of: Vec<OptionLink>,
    presence: Option<Presence>,
    buildable: String,
    not_counted: String,
    with: Option<Side>,
    without: Option<Side>,
    rules: Vec<RuleWords>,
    hanging: Vec<Hanging>,
    hulls: Vec<Linked>,
    hull_count: usize,
    failing_href: String,
    options_href: String,
}

impl OptionPage {
    /// The option at a position.
    pub fn new(orders: &Orders, option: OptionIndex) -> Self {
        let model = &orders.model;
        let stated = &model.options[Index::new(option.0)];
        let hanging = mentions(model).swap_remove(option.0);
        let link = OptionLink::of(orders, option);
        let rules = orders.options.rules().iter().enumerate();
        let naming = rules
            .filter(|(place, rule)| {
                because(model, *place) != Because::Package && rule.options().contains(&option)
            })
            .map(|(place, _)| place);
        let range = hull_range(stated);
        let mut facts = vec![
            ("Code", link.code.clone()),
            ("Take rate", take_rate(stated)),
            ("Brings", brings(&hanging)),
        ];
        if !range.is_empty() {
            facts.push(("Offered", range));
        }
        let title = match link.name.as_str() {
            "" => link.code.clone(),
            name => name.to_owned(),
        };
        let options_href = orders.addresses.to(&["options"]);
        let (mut presence, mut buildable, mut with, mut without) = (None, None, None, None);
        if let Ok(boats) = &orders.boats {
            let all = boats.count();
            buildable = Some(counted(&all, "buildable boat", "buildable boats"));
            with = Side::of(orders, option, true);
            without = Side::of(orders, option, false);
            presence = match (&with, &without) {
                (Some(Side::None(_)), Some(Side::Boats(_))) => Some(Presence::Never),
                (Some(Side::Boats(_)), Some(Side::None(_))) => Some(Presence::Always),
                (Some(Side::Boats(_)), Some(Side::Boats(_))) => Some(Presence::Some),
                _ => None,
            };
        }
        Self {
            frame: frame(title, orders, "options").under("Options", options_href.clone()),
            facts,
            contains: OptionLink::all(orders, &stated.contains),
            part_of: part_of(orders, option),
            presence,
            buildable: buildable.unwrap_or_default(),
            not_counted: orders
                .boats
                .as_ref()
                .map_or_else(ToString::to_string, |_| String::new()),
            with,
            without,
            rules: RuleWords::all(orders, naming),
            hanging: hanging
                .iter()
                .map(|mention| Hanging::of(orders, mention))
                .collect(),
            hulls: hulls_with(orders, option),
            hull_count: model.hulls.len(),
            failing_href: orders
                .addresses
                .with(&["failing"], &[("option", &link.code)]),
            options_href,
        }
    }
}

impl Side {
    fn of(orders: &Orders, option: OptionIndex, is_with: bool) -> Option<Self> {
        let boats = orders.boats.as_ref().ok()?;
        let code = &orders.codes[option.0];
        let (on, off, field) = match is_with {
            true => (vec![option], Vec::new(), "with"),
            false => (Vec::new(), vec![option], "without"),
        };
        let found = match (Question { on, off }).answer(&orders.options, boats) {
            Answer::Boats(found) => found,
            Answer::None(blame) => {
                let rules = blame.conflicts.into_iter().flat_map(|found| found.rules);
                return Some(Self::None(RuleWords::all(orders, rules)));
            }
        };
        let Follows {
            count,
            on,
            off,
            fewest,
            fullest,
            ..
        } = *found;
        let new = |forced: Vec<Forced>| {
            let new = forced.iter().filter(|forced| !forced.anyway);
            let new: Vec<_> = new.map(|forced| forced.option).collect();
            OptionLink::all(orders, &new)
        };
        Some(Self::Boats(Box::new(SideBoats {
            share: Share::of(&count, &boats.count()),
            on: new(on),
            off: new(off),
            fewest: BoatLink::of(orders, &fewest),
            fullest: BoatLink::of(orders, &fullest),
            ask_href: orders.addresses.with(&["boats"], &[(field, code)]),
        })))
    }
}

impl Hanging {
    fn of(orders: &Orders, mention: &Mention<'_>) -> Self {
        let model = &orders.model;
        let (title, label) = (mention.place.title(model), mention.place.label(model));
        Self {
            label: match title == label {
                true => String::new(),
                false => label,
            },
            thing: title,
            circuit: circuit_link(model, &orders.addresses, mention.place),
            hangs: match mention.hangs {
                Hangs::ComesWithIt => "comes with it",
                Hangs::GoesWithIt => "is left out with it",
                Hangs::Depends => "depends on others too",
            },
            when: mention.condition.words(&orders.codes),
        }
    }
}
