//! What the pages of options and boats are made of.

use harness_core::boats::{Boat, OptionRule};
use harness_core::model::{BoatModel, Hull, OptionIndex};
use harness_core::orders::{Because, because};
use num_bigint::BigUint;

use super::Frame;
use super::findings::Linked;
use super::frame::InView;
use crate::orders::Orders;
use crate::shown::grouped;
use crate::studies::AskedBoat;

/// An option with its page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionLink {
    /// The builder's code.
    pub code: String,
    /// Name on the price list; may be empty.
    pub name: String,
    /// Its page.
    pub href: String,
}

impl OptionLink {
    /// The option at a position.
    pub fn of(orders: &Orders, option: OptionIndex) -> Self {
        let code = orders.codes.get(option.0).cloned().unwrap_or_default();
        let stated = orders.model.options.get(&code);
        Self {
            name: stated.and_then(|o| o.name.clone()).unwrap_or_default(),
            href: orders.addresses.to(&["options", &code]),
            code,
        }
    }

    /// Several of them.
    pub fn all<'o>(
        orders: &Orders,
        options: impl IntoIterator<Item = &'o OptionIndex>,
    ) -> Vec<Self> {
        let options = options.into_iter();
        options.map(|option| Self::of(orders, *option)).collect()
    }
}

/// A rule between options in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleWords {
    /// Its number in the list of the page, from 1.
    pub number: usize,
    /// What it demands.
    pub says: String,
    /// Why it is there.
    pub because: String,
    /// The options it joins.
    pub options: Vec<OptionLink>,
}

impl RuleWords {
    /// The rule at a place in the list.
    pub fn of(orders: &Orders, place: usize) -> Self {
        let rule = &orders.options.rules()[place];
        Self {
            number: place + 1,
            says: match (rule, because(&orders.model, place)) {
                (OptionRule::Requires(..), Because::Package) => {
                    rule.says(&orders.codes)
                        .replacen(" requires ", " contains ", 1)
                }
                _ => rule.says(&orders.codes),
            },
            because: match because(&orders.model, place) {
                Because::Stated(reason) => reason.to_owned(),
                Because::Unstated => "no reason stated".to_owned(),
                Because::Package => "contents of a package".to_owned(),
                Because::HullNumbers => "offered at no common hull number".to_owned(),
            },
            options: OptionLink::all(orders, &rule.options()),
        }
    }

    /// Several of them, by place.
    pub fn all(orders: &Orders, places: impl IntoIterator<Item = usize>) -> Vec<Self> {
        let places = places.into_iter();
        places.map(|place| Self::of(orders, place)).collect()
    }
}

/// A number of boats beside all of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// How many, grouped for reading.
    pub count: String,
    /// Percent of all, in words.
    pub percent: String,
    /// Tenths of a percent, rounded: for bars and sorting.
    pub per_mille: u32,
}

impl Share {
    /// `part` of `whole`; the part is never more.
    pub fn of(part: &BigUint, whole: &BigUint) -> Self {
        let per_mille = match *whole == BigUint::ZERO {
            true => 0,
            false => {
                let doubled = (part * 2000u32 + whole) / (whole * 2u32);
                u32::try_from(doubled).unwrap_or(1000)
            }
        };
        let percent = match per_mille {
            0 if *part > BigUint::ZERO => "under 0.1 %".to_owned(),
            1000 if part < whole => "over 99.9 %".to_owned(),
            _ if per_mille.is_multiple_of(10) => format!("{} %", per_mille / 10),
            _ => format!("{}.{} %", per_mille / 10, per_mille % 10),
        };
        Self {
            count: grouped(part),
            percent,
            per_mille,
        }
    }

    /// Width of a bar of 100 units.
    pub fn width(&self) -> f64 {
        f64::from(self.per_mille) / 10.0
    }
}

/// *1 boat*, *2 boats*.
pub fn counted(count: &BigUint, one: &str, many: &str) -> String {
    let word = if *count == BigUint::from(1u8) {
        one
    } else {
        many
    };
    format!("{} {word}", grouped(count))
}

/// One boat, with the page that shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoatLink {
    /// Its options, by code.
    pub codes: Vec<String>,
    /// The overview with it in view; empty for the boat without options, which no address names.
    pub href: String,
}

impl BoatLink {
    /// A boat of the model.
    pub fn of(orders: &Orders, boat: &Boat) -> Self {
        let codes = boat.names(&orders.codes);
        let href = match codes.is_empty() {
            true => String::new(),
            false => {
                let asked = AskedBoat::Options(codes.clone());
                orders.addresses.of_boat(asked).to(&[])
            }
        };
        Self { codes, href }
    }
}

/// A hull, with the page that shows it: the overview, or the list of hulls where its order breaks
/// a rule, as no other page can show such a boat.
pub fn hull_link(orders: &Orders, hull: &Hull) -> Linked {
    let boat: Boat = hull.options.iter().copied().collect();
    let page: &[&str] = match orders.options.allow(&boat) {
        true => &[],
        false => &["boats"],
    };
    let asked = AskedBoat::Hull(hull.id.clone());
    Linked {
        text: hull.id.clone(),
        href: orders.addresses.of_boat(asked).to(page),
    }
}

/// Frame of a page of a boat model on which no boat is judged.
pub fn frame(title: impl Into<String>, orders: &Orders, here: &'static str) -> Frame {
    let mut frame = Frame::new(title).of_model(InView::from(orders), here);
    frame.rests_on = vec![format!("stamp {}", orders.head.stamp)];
    frame
}

impl From<&Orders> for InView {
    fn from(orders: &Orders) -> Self {
        let model: &BoatModel = &orders.model;
        let options = match &orders.in_view {
            None => vec!["whichever the rules allow".to_owned()],
            Some(options) => OptionLink::all(orders, options)
                .into_iter()
                .map(|option| match option.name.as_str() {
                    "" => format!("{}: no name stated", option.code),
                    name => format!("{}: {name}", option.code),
                })
                .collect(),
        };
        Self {
            boat: orders.boat_words(),
            addresses: orders.addresses.clone(),
            options,
            hulls: model
                .hulls
                .iter()
                .map(|(_, hull)| hull.id.clone())
                .collect(),
            ..Self::from(&orders.head)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_never_says_all_or_none_where_it_is_not() {
        let share = |part: u32, whole: u32| {
            let share = Share::of(&BigUint::from(part), &BigUint::from(whole));
            (share.percent, share.per_mille)
        };
        let words = |words: &str, per_mille| (words.to_owned(), per_mille);
        assert_eq!(share(0, 7), words("0 %", 0));
        assert_eq!(share(1, 4000), words("under 0.1 %", 0));
        assert_eq!(share(1, 3), words("33.3 %", 333));
        assert_eq!(share(1, 2), words("50 %", 500));
        assert_eq!(share(3999, 4000), words("over 99.9 %", 1000));
        assert_eq!(share(7, 7), words("100 %", 1000));
        assert_eq!(share(0, 0), words("0 %", 0));
    }
}
