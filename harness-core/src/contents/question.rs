//! One question about harness contents by names, read with all its faults.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::answer::ContentsAnswer;
use super::levels::{Demand, Effort, MOST_BOATS, MOST_CONTENTS, MOST_ORDERS, Order};
use super::money::Cents;
use super::wiring::{MOST_MODULES, ModuleSet, Shared, Wiring};
use crate::boats::question::QuestionFault;
use crate::units::bounds;

/// Effort of an answer that somebody waits for: a few seconds for each number of contents.
pub const EFFORT: Effort = Effort { looks: 400_000_000 };

/// Modules with their wiring, what they share, and who orders what. All amounts in one currency,
/// to the cent.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ContentsQuestion {
    /// The modules, each named once.
    pub modules: Vec<ModuleByName>,
    /// What is built in once if any of some modules is.
    #[serde(default)]
    pub shared: Vec<SharedByName>,
    /// What boats are ordered with; equal orders are taken together.
    pub orders: Vec<OrderByName>,
    /// Cost of what every harness has.
    #[serde(default)]
    pub base_cost: f64,
    /// Yearly cost of one more part number.
    pub part_number_cost_per_year: f64,
    /// Boats of all orders together, if they are to be checked against a total.
    #[serde(default)]
    pub boats_per_year: Option<u32>,
    /// Up to how many contents to look; five if left out.
    #[serde(default)]
    pub most_contents: Option<u32>,
}

/// An option, or options that are wired together.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ModuleByName {
    /// Name, used by orders.
    pub name: String,
    /// Cost of its wiring in one harness, without what it shares.
    pub cost: f64,
    /// What it costs more as an add-on: coupler, handling, minutes, stock.
    #[serde(default)]
    pub add_on_extra_cost: Option<f64>,
}

/// A feeder, a conduit, a connector.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SharedByName {
    /// Modules, any one of which needs it.
    pub needed_by: Vec<String>,
    /// Its cost in one harness.
    pub cost: f64,
}

/// A set of modules that boats are ordered with.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct OrderByName {
    /// Its modules; none for a boat without any.
    pub modules: Vec<String>,
    /// How many a year; 0 if it can be ordered but is not expected.
    pub boats_per_year: u32,
}

impl ContentsQuestion {
    /// Answers the question.
    ///
    /// # Errors
    /// As [`Self::demand`]; or the single fault that amounts are too large to be added.
    pub fn answer(&self) -> Result<ContentsAnswer, Vec<QuestionFault>> {
        let (demand, extra) = self.read()?;
        let most = self
            .most_contents
            .map_or(MOST_CONTENTS, |most| most as usize);
        match demand.levels(most, EFFORT) {
            Ok(levels) => Ok(ContentsAnswer::of(&demand, &levels, &self.modules, &extra)),
            Err(reason) => Err(vec![QuestionFault {
                pointer: String::new(),
                detail: reason.to_string(),
                given: Value::Null,
                limit: None,
            }]),
        }
    }

    /// The question in numbers instead of names.
    ///
    /// # Errors
    /// Every fault of the question at once: too much or too little of something, a name twice,
    /// empty or unknown, an amount out of bounds or not to the cent, a total that does not add
    /// up.
    pub fn demand(&self) -> Result<Demand, Vec<QuestionFault>> {
        self.read().map(|(demand, _)| demand)
    }

    /// The demand, and the extra cost of each module as an add-on.
    fn read(&self) -> Result<(Demand, Vec<Option<Cents>>), Vec<QuestionFault>> {
        let mut reading = Reading::default();
        reading.read_modules(&self.modules);
        let shared = reading.read_shared(&self.shared);
        let orders = reading.read_orders(&self.orders);
        let base = reading.read_amount("/base_cost".to_owned(), self.base_cost);
        let part_number = reading.read_amount(
            "/part_number_cost_per_year".to_owned(),
            self.part_number_cost_per_year,
        );
        reading.check_total(self.boats_per_year, &self.orders);
        reading.check_most(self.most_contents);
        let (Some(base), Some(part_number), true) = (base, part_number, reading.faults.is_empty())
        else {
            return Err(reading.faults);
        };
        let demand = Demand {
            wiring: Wiring {
                base,
                modules: reading.costs,
                shared,
            },
            orders,
            part_number,
        };
        Ok((demand, reading.extra))
    }
}

/// Names looked up and faults gathered while a question is read.
#[derive(Default)]
struct Reading<'a> {
    index: BTreeMap<&'a str, usize>,
    costs: Vec<Cents>,
    /// Extra cost of each module as an add-on, where stated.
    extra: Vec<Option<Cents>>,
    faults: Vec<QuestionFault>,
}

impl<'a> Reading<'a> {
    fn fault(&mut self, pointer: String, given: Value, limit: Option<String>, detail: String) {
        self.faults.push(QuestionFault {
            pointer,
            detail,
            given,
            limit,
        });
    }

    fn count(&mut self, pointer: &str, count: usize, most: usize, of: &str) {
        let limit = Some(format!("1 to {most} {of}"));
        if count == 0 {
            let detail = format!("there are no {of}; state what the harness is made for");
            self.fault(pointer.to_owned(), json!(count), limit, detail);
        } else if count > most {
            let detail = format!(
                "{count} {of} are more than one question may have; take together what is always \
                 ordered together"
            );
            self.fault(pointer.to_owned(), json!(count), limit, detail);
        }
    }

    fn read_modules(&mut self, modules: &'a [ModuleByName]) {
        self.count("/modules", modules.len(), MOST_MODULES, "modules");
        for (at, module) in modules.iter().enumerate() {
            let pointer = format!("/modules/{at}/name");
            let name = module.name.as_str();
            if name.trim().is_empty() {
                let detail = "the module has no name; give it the name orders use".to_owned();
                self.fault(pointer, json!(name), None, detail);
            } else if let Some(first) = self.index.get(name) {
                let detail = format!(
                    "{name} is module {} of the list already; state it once",
                    first + 1
                );
                self.fault(pointer, json!(name), None, detail);
            } else {
                self.index.insert(name, at);
            }
            let cost = self.read_amount(format!("/modules/{at}/cost"), module.cost);
            self.costs.push(cost.unwrap_or_default());
            let extra = module.add_on_extra_cost;
            let place = format!("/modules/{at}/add_on_extra_cost");
            let extra = extra.and_then(|extra| self.read_amount(place, extra));
            self.extra.push(extra);
        }
    }

    fn read_amount(&mut self, pointer: String, given: f64) -> Option<Cents> {
        let amount = Cents::from_amount(given).filter(|_| bounds::MONEY.contains(given));
        if amount.is_none() {
            let detail = if bounds::MONEY.contains(given) {
                "costs are compared to the cent; write this one to the cent"
            } else {
                "the cost is out of bounds"
            };
            let limit = format!("{}, two decimals at most", bounds::MONEY.text());
            self.fault(pointer, json!(given), Some(limit), detail.to_owned());
        }
        amount
    }

    fn read_shared(&mut self, shared: &'a [SharedByName]) -> Vec<Shared> {
        if shared.len() > MOST_MODULES {
            let detail = format!("{} shared parts are too many", shared.len());
            let limit = Some(format!("at most {MOST_MODULES}"));
            self.fault("/shared".to_owned(), json!(shared.len()), limit, detail);
        }
        let read = |(at, part): (usize, &'a SharedByName)| {
            let pointer = format!("/shared/{at}/needed_by");
            if part.needed_by.is_empty() {
                let detail = "no module needs this; name those that do, or drop it".to_owned();
                self.fault(pointer.clone(), json!([]), None, detail);
            }
            Shared {
                needed_by: self.read_set(&pointer, &part.needed_by),
                cost: self
                    .read_amount(format!("/shared/{at}/cost"), part.cost)
                    .unwrap_or_default(),
            }
        };
        shared.iter().enumerate().map(read).collect()
    }

    fn read_orders(&mut self, orders: &'a [OrderByName]) -> Vec<Order> {
        self.count("/orders", orders.len(), MOST_ORDERS, "orders");
        let read = |(at, order): (usize, &'a OrderByName)| {
            if order.boats_per_year > MOST_BOATS {
                self.fault(
                    format!("/orders/{at}/boats_per_year"),
                    json!(order.boats_per_year),
                    Some(format!("0 to {MOST_BOATS}")),
                    "these are more boats than are built anywhere".to_owned(),
                );
            }
            Order {
                set: self.read_set(&format!("/orders/{at}/modules"), &order.modules),
                boats: order.boats_per_year,
            }
        };
        orders.iter().enumerate().map(read).collect()
    }

    fn read_set(&mut self, at: &str, names: &'a [String]) -> ModuleSet {
        let mut found = Vec::new();
        for (place, name) in names.iter().enumerate() {
            let pointer = format!("{at}/{place}");
            if names[..place].contains(name) {
                let detail = format!("{name} is named twice here; name it once");
                self.fault(pointer, json!(name), None, detail);
                continue;
            }
            match self.index.get(name.as_str()) {
                Some(module) => found.push(*module),
                None => {
                    let detail = format!(
                        "{name:?} is not in the list of modules; add it there or correct it"
                    );
                    self.fault(pointer, json!(name), None, detail);
                }
            }
        }
        ModuleSet::of(found)
    }

    fn check_total(&mut self, stated: Option<u32>, orders: &[OrderByName]) {
        let sum: u64 = orders
            .iter()
            .map(|order| u64::from(order.boats_per_year))
            .sum();
        if let Some(stated) = stated
            && u64::from(stated) != sum
        {
            let detail = format!(
                "the orders add up to {sum} boats a year; add the orders that are missing, \
                 correct the total, or leave it out"
            );
            self.fault(
                "/boats_per_year".to_owned(),
                json!(stated),
                Some(sum.to_string()),
                detail,
            );
        }
    }

    fn check_most(&mut self, stated: Option<u32>) {
        let most = stated.map_or(1, |stated| stated as usize);
        if !(1..=MOST_CONTENTS).contains(&most) {
            self.fault(
                "/most_contents".to_owned(),
                json!(stated),
                Some(format!("1 to {MOST_CONTENTS}")),
                "so many contents are not looked for".to_owned(),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(json: Value) -> ContentsQuestion {
        serde_json::from_value(json).unwrap()
    }

    fn places(faults: &[QuestionFault]) -> Vec<&str> {
        faults.iter().map(|fault| fault.pointer.as_str()).collect()
    }

    #[test]
    fn every_fault_is_reported_at_once() {
        let faults = question(json!({
            "modules": [
                { "name": "radar", "cost": 10.0 },
                { "name": "radar", "cost": 10.005 },
                { "name": " ", "cost": -1.0, "add_on_extra_cost": 2e7 },
            ],
            "shared": [
                { "needed_by": [], "cost": 1.0 },
                { "needed_by": ["radar", "horn"], "cost": 1.001 },
            ],
            "orders": [
                { "modules": ["radar", "radar", "sonar"], "boats_per_year": 10 },
                { "modules": [], "boats_per_year": 2_000_000 },
            ],
            "base_cost": 0.001,
            "part_number_cost_per_year": -5.0,
            "boats_per_year": 300,
            "most_contents": 9,
        }))
        .answer()
        .unwrap_err();
        assert_eq!(
            places(&faults),
            [
                "/modules/1/name",
                "/modules/1/cost",
                "/modules/2/name",
                "/modules/2/cost",
                "/modules/2/add_on_extra_cost",
                "/shared/0/needed_by",
                "/shared/1/needed_by/1",
                "/shared/1/cost",
                "/orders/0/modules/1",
                "/orders/0/modules/2",
                "/orders/1/boats_per_year",
                "/base_cost",
                "/part_number_cost_per_year",
                "/boats_per_year",
                "/most_contents",
            ]
        );
        assert!(faults[1].detail.contains("to the cent"), "{:?}", faults[1]);
        assert!(
            faults[3].detail.contains("out of bounds"),
            "{:?}",
            faults[3]
        );
        assert!(faults[13].detail.contains("2000010"), "{:?}", faults[13]);
    }

    #[test]
    fn nothing_to_make_and_too_much_are_faults() {
        let ask = |modules: usize, orders: usize| ContentsQuestion {
            modules: (0..modules)
                .map(|at| ModuleByName {
                    name: format!("m{at}"),
                    ..ModuleByName::default()
                })
                .collect(),
            orders: vec![OrderByName::default(); orders],
            ..ContentsQuestion::default()
        };
        assert!(ask(MOST_MODULES, MOST_ORDERS).answer().is_ok());
        for (modules, orders, place) in [
            (0, 1, "/modules"),
            (MOST_MODULES + 1, 1, "/modules"),
            (1, 0, "/orders"),
            (1, MOST_ORDERS + 1, "/orders"),
        ] {
            assert_eq!(places(&ask(modules, orders).answer().unwrap_err()), [place]);
        }
    }

    #[test]
    fn amounts_too_large_to_be_added_are_one_fault() {
        let faults = question(json!({
            "modules": [{ "name": "gold", "cost": 1e6 }],
            "orders": [{ "modules": ["gold"], "boats_per_year": 1_000_000 }],
            "part_number_cost_per_year": 0.0,
        }))
        .answer()
        .unwrap_err();
        assert_eq!(places(&faults), [""]);
        assert!(faults[0].detail.contains("not evaluated, because"));
    }

    #[test]
    fn an_unknown_field_is_refused() {
        let misspelled = json!({ "modules": [], "order": [], "part_number_cost_per_year": 1.0 });
        assert!(serde_json::from_value::<ContentsQuestion>(misspelled).is_err());
    }
}
