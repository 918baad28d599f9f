//! Question: which harnesses to make for the boats that are ordered?

use super::Request;
use crate::contents::levels::{MOST_BOATS, MOST_CONTENTS};
use crate::contents::{ContentsAnswer, ContentsQuestion, ModuleByName, OrderByName, SharedByName};
use crate::file_format::fault::{Fault, shown};
use crate::file_format::form::{Form, Shape, record};
use crate::units::bounds;

record! {
    /// An option, or options that are wired together.
    ModuleRequest
    required {
        /// Name, used by orders.
        name: String = Shape::Text;
        /// Cost of its wiring in one harness, without what it shares.
        cost: f64 = Shape::Number(&bounds::MONEY);
    }
    optional {
        /// What it costs more as an add-on: coupler, handling, minutes, stock.
        add_on_extra_cost: Option<f64> = Shape::Number(&bounds::MONEY);
    }
}

record! {
    /// Something that is built in once if any of some modules is: a feeder, a connector.
    SharedRequest
    required {
        /// Modules, any one of which needs it.
        needed_by: Vec<String> = Shape::List(&Shape::Text, 1);
        /// Its cost in one harness.
        cost: f64 = Shape::Number(&bounds::MONEY);
    }
    optional {}
}

record! {
    /// A set of modules that boats are ordered with.
    OrderRequest
    required {
        /// Its modules; none for a boat without any.
        modules: Vec<String> = Shape::List(&Shape::Text, 0);
        /// How many a year; 0 if it can be ordered but is not expected.
        boats_per_year: u32 = Shape::Whole(0, MOST_BOATS);
    }
    optional {}
}

record! {
    /// Question: with one harness content, two, three ... which are cheapest, and who gets which?
    ContentsRequest
    required {
        /// The modules, each named once.
        modules: Vec<ModuleRequest> = Shape::List(&Shape::Record(ModuleRequest::FORM), 1);
        /// What boats are ordered with; equal orders are taken together.
        orders: Vec<OrderRequest> = Shape::List(&Shape::Record(OrderRequest::FORM), 1);
        /// Yearly cost of one more part number.
        part_number_cost_per_year: f64 = Shape::Number(&bounds::MONEY);
    }
    optional {
        /// What modules share.
        shared: Vec<SharedRequest> = Shape::List(&Shape::Record(SharedRequest::FORM), 0);
        /// Cost of what every harness has; left out, none.
        base_cost: Option<f64> = Shape::Number(&bounds::MONEY);
        /// Boats of all orders together, if they are to be checked against a total.
        boats_per_year: Option<u32> = Shape::Whole(0, MOST_BOATS);
        /// Up to how many contents to look; left out, five.
        most_contents: Option<u32> = Shape::Whole(1, MOST_CONTENTS as u32);
    }
}

impl Request for ContentsRequest {
    type Answer = ContentsAnswer;
    const FORM: &'static Form = ContentsRequest::FORM;

    fn answer(self) -> Result<ContentsAnswer, Vec<Fault>> {
        ContentsQuestion::from(self).answer().map_err(|faults| {
            let fault = |fault: crate::boats::question::QuestionFault| Fault {
                pointer: fault.pointer,
                detail: fault.detail,
                given: shown(&fault.given),
                limit: fault.limit.unwrap_or_default(),
            };
            faults.into_iter().map(fault).collect()
        })
    }
}

impl From<ContentsRequest> for ContentsQuestion {
    fn from(asked: ContentsRequest) -> Self {
        let module = |module: ModuleRequest| ModuleByName {
            name: module.name,
            cost: module.cost,
            add_on_extra_cost: module.add_on_extra_cost,
        };
        let shared = |part: SharedRequest| SharedByName {
            needed_by: part.needed_by,
            cost: part.cost,
        };
        let order = |order: OrderRequest| OrderByName {
            modules: order.modules,
            boats_per_year: order.boats_per_year,
        };
        Self {
            modules: asked.modules.into_iter().map(module).collect(),
            shared: asked.shared.into_iter().map(shared).collect(),
            orders: asked.orders.into_iter().map(order).collect(),
            base_cost: asked.base_cost.unwrap_or_default(),
            part_number_cost_per_year: asked.part_number_cost_per_year,
            boats_per_year: asked.boats_per_year,
            most_contents: asked.most_contents,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::requests::{ContentsRequest, answer};
    use serde_json::json;

    #[test]
    fn a_question_in_json_is_answered() {
        let found = answer::<ContentsRequest>(json!({
            "modules": [{"name": "lights", "cost": 10}, {"name": "windlass", "cost": 90}],
            "orders": [{"modules": ["lights"], "boats_per_year": 90},
                       {"modules": ["lights", "windlass"], "boats_per_year": 10}],
            "part_number_cost_per_year": 1000,
            "most_contents": 2,
        }))
        .unwrap();
        // 100 boats at 100 and one part number; 90 at 10, 10 at 100 and two.
        let costs: Vec<f64> = found
            .levels
            .iter()
            .map(|level| level.cost_per_year)
            .collect();
        assert_eq!(costs, [11_000.0, 3_900.0]);
        assert_eq!(found.cheapest, 2);
    }

    #[test]
    fn faults_of_form_and_of_meaning_have_their_places() {
        let places = |question| -> Vec<String> {
            let faults = answer::<ContentsRequest>(question).unwrap_err();
            faults.into_iter().map(|fault| fault.pointer).collect()
        };
        assert_eq!(
            places(json!({
                "modules": [], "orders": [{"modules": ["a"], "boats_per_year": 1.5}],
                "part_number_cost_per_year": -1, "boats": 3,
            })),
            [
                "/boats",
                "/modules",
                "/orders/0/boats_per_year",
                "/part_number_cost_per_year"
            ]
        );
        assert_eq!(
            places(json!({
                "modules": [{"name": "a", "cost": 1.005}],
                "orders": [{"modules": ["b"], "boats_per_year": 1}],
                "part_number_cost_per_year": 1,
            })),
            ["/modules/0/cost", "/orders/0/modules/0"]
        );
    }
}
