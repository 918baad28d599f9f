//! Which boats can be built: how many, which have what, what an order still needs, ordered hulls.

mod asked;
mod answered;
mod hulls;

use askama::Template;
use harness_core::boats::{BoatSet, Family};
use harness_core::orders::{OrderedHull, ranges};
use num_bigint::BigUint;

use self::answered::AnsweredBoats;
pub use self::asked::AskedBoats;
use self::asked::{FormRow, form_rows};
use self::hulls::{HullRow, RangeRow, range_rows};
use super::options::Contradiction;
use super::ordering::{OptionLink, RuleWords, counted, frame};
use super::{FieldFault, Frame};
use crate::error::Fault;
use crate::orders::Orders;
use crate::shown::grouped;
use crate::studies::AskedBoat;

/// A family of options in the account of the number.
#[derive(Clone, Debug)]
pub struct FamilyRow {
    options: Vec<OptionLink>,
    rules: Vec<RuleWords>,
    ways: String,
}

/// The page.
#[derive(Debug, Template)]
#[template(path = "boats/boats.html")]
pub struct BoatsPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    buildable: String,
    not_counted: String,
    contradiction: Option<Contradiction>,
    product: String,
    families: Vec<FamilyRow>,
    free: Vec<OptionLink>,
    free_ways: String,
    answered: Option<AnsweredBoats>,
    can_ask: bool,
    rows: Vec<FormRow>,
    boat_field: Option<(&'static str, String)>,
    action: String,
    hulls: Vec<HullRow>,
    ranges: Vec<RangeRow>,
    options_href: String,
    most_href: String,
}

impl BoatsPage {
    /// All boats of the model, and the answer to the question asked.
    pub fn new(orders: &Orders, asked: &AskedBoats) -> Self {
        let boats = orders.boats.as_ref().ok();
        let all = boats.map(BoatSet::count);
        let families = boats.and_then(|_| Family::all(&orders.options).ok());
        let families = families.unwrap_or_default();
        let is_free = |family: &&Family| family.rules.is_empty();
        let free: Vec<_> = families.iter().filter(is_free).collect();
        let free_ways: BigUint = free.iter().map(|family| &family.ways).product();
        let is_asked = asked.faults.is_empty() && !asked.question.is_empty();
        let mut frame = frame("Boats", orders, "boats");
        frame.is_form_again = !asked.faults.is_empty();
        Self {
            frame,
            faults: at_fields(&asked.faults),
            buildable: all.as_ref().map_or_else(String::new, |all| {
                counted(all, "buildable boat", "buildable boats")
            }),
            not_counted: orders
                .boats
                .as_ref()
                .map_or_else(ToString::to_string, |_| String::new()),
            contradiction: boats
                .filter(|boats| boats.is_empty())
                .and_then(|_| Contradiction::of(orders)),
            product: product(&families, &free_ways),
            families: families
                .iter()
                .filter(|family| !is_free(family))
                .map(|family| FamilyRow {
                    options: OptionLink::all(orders, &family.options),
                    rules: RuleWords::all(orders, family.rules.iter().copied()),
                    ways: grouped(&family.ways),
                })
                .collect(),
            free: OptionLink::all(orders, free.iter().flat_map(|family| &family.options)),
            free_ways: grouped(&free_ways),
            answered: boats
                .filter(|boats| is_asked && !boats.is_empty())
                .map(|_| AnsweredBoats::of(orders, &asked.question)),
            can_ask: boats.is_some_and(|boats| !boats.is_empty() && boats.option_count() > 0),
            rows: form_rows(orders, &asked.question),
            boat_field: orders.addresses.boat_field(),
            action: orders.addresses.of_boat(AskedBoat::Every).to(&["boats"]),
            hulls: boats.map_or_else(Vec::new, |boats| {
                OrderedHull::all(&orders.model, &orders.options, boats)
                    .iter()
                    .map(|hull| HullRow::of(orders, hull))
                    .collect()
            }),
            ranges: match (boats, &all) {
                (Some(boats), Some(all)) => range_rows(orders, ranges(&orders.model, boats), all),
                _ => Vec::new(),
            },
            options_href: orders.addresses.to(&["options"]),
            most_href: orders.addresses.to(&["most"]),
        }
    }
}

/// Faults at the fields of the form; what a list of the address names has none of its own.
fn at_fields(faults: &[Fault]) -> Vec<FieldFault> {
    let mut faults = FieldFault::of(faults);
    for fault in &mut faults {
        if fault.field == "with" || fault.field == "without" {
            fault.field = "ask".to_owned();
        }
    }
    faults
}

/// How the families multiply: *2 × 2 × 5 × 512*.
fn product(families: &[Family], free_ways: &BigUint) -> String {
    let one = BigUint::from(1u8);
    let joined = families.iter().filter(|family| !family.rules.is_empty());
    let factors: Vec<String> = joined
        .map(|family| &family.ways)
        .chain([free_ways])
        .filter(|ways| **ways != one)
        .map(grouped)
        .collect();
    match factors.len() {
        0 | 1 => String::new(),
        _ => factors.join(" × "),
    }
}
