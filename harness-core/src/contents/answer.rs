//! The answer to a question about harness contents, as plain records.

use serde::Serialize;

use super::levels::{Content, Demand, Level, Levels};
use super::money::Cents;
use super::question::ModuleByName;
use super::wiring::ModuleSet;
use super::worth::WorthQuestion;
use crate::working::{Working, significant};

/// Which harnesses to make. Amounts are in the currency of the question.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContentsAnswer {
    /// Boats of all orders.
    pub boats_per_year: u32,
    /// The distinct orders, in the order of their first mention.
    pub orders: Vec<OrderAnswer>,
    /// The cheapest way with one content, with two, and so on.
    pub levels: Vec<LevelAnswer>,
    /// How many contents are cheapest; the fewest among equals.
    pub cheapest: usize,
    /// A harness of its own for each distinct order.
    pub per_order: PerOrderAnswer,
    /// Cost over the number of contents; the last point is that of a harness for each order.
    pub curve: Vec<CurvePoint>,
    /// For each module, whether its wiring belongs in the full harness or in an add-on: one at a
    /// time, all others as they are.
    pub main_or_add_on: Vec<WorthAnswer>,
}

/// A distinct order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OrderAnswer {
    /// Its modules, in the order stated.
    pub modules: Vec<String>,
    /// Boats a year.
    pub boats_per_year: u32,
}

/// The cheapest way with so many contents.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelAnswer {
    /// How many contents were allowed.
    pub most_contents: usize,
    /// The contents, cheapest harness first.
    pub contents: Vec<ContentAnswer>,
    /// Wiring of all boats.
    pub wiring_per_year: f64,
    /// Of that, wiring on boats that have not ordered it.
    pub given_away_per_year: f64,
    /// Part numbers.
    pub part_numbers_per_year: f64,
    /// All together.
    pub cost_per_year: f64,
    /// No plan with as many contents costs less.
    pub lower_bound_per_year: f64,
    /// Whether it is proven that none is cheaper.
    pub proven: bool,
    /// Why it is not proven, or why there are fewer contents than allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// Unions of orders that the bounds left to the search; `null` if there were too many.
    pub unions_searched: Option<usize>,
    /// Nodes of the search.
    pub nodes: usize,
}

/// One harness to make.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContentAnswer {
    /// A letter.
    pub name: String,
    /// Its modules, in the order stated.
    pub modules: Vec<String>,
    /// Cost of one.
    pub cost: f64,
    /// How many a year.
    pub boats_per_year: u32,
    /// The orders that get it, by their place in `orders`.
    pub orders: Vec<usize>,
}

/// A harness for each distinct order: nothing is given away.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PerOrderAnswer {
    /// How many there are.
    pub contents: usize,
    /// Wiring of all boats.
    pub wiring_per_year: f64,
    /// Part numbers.
    pub part_numbers_per_year: f64,
    /// All together.
    pub cost_per_year: f64,
}

/// A point of the cost curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Number of contents.
    pub contents: usize,
    /// Cost of the best plan found.
    pub cost_per_year: f64,
    /// No plan costs less.
    pub lower_bound_per_year: f64,
}

/// Main harness or add-on, for one module.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WorthAnswer {
    /// The module.
    pub module: String,
    /// Share of boats ordered with it; `null` without boats.
    pub take_rate: Option<f64>,
    /// What it adds to the full harness, with what only it needs.
    pub in_main: f64,
    /// `main harness` or `add-on`; `null` if not evaluated.
    pub place: Option<&'static str>,
    /// Take rate from which the main harness costs no more.
    pub threshold: Option<f64>,
    /// Its wiring on boats without it, if it is in the main harness.
    pub given_away_per_year: Option<f64>,
    /// Its extra cost as an add-on, with one more part number.
    pub as_add_on_per_year: Option<f64>,
    /// Why it is not evaluated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// How the verdict came about.
    pub working: Working,
}

impl ContentsAnswer {
    /// What was found, in names.
    pub(super) fn of(
        demand: &Demand,
        found: &Levels,
        modules: &[ModuleByName],
        extra: &[Option<Cents>],
    ) -> Self {
        let names = |set: ModuleSet| -> Vec<String> {
            let named = set.modules().filter_map(|module| modules.get(module));
            named.map(|module| module.name.clone()).collect()
        };
        let count = found.orders.len();
        let part_numbers = demand.part_number.times(count as i64);
        let own_wiring = found.per_order - part_numbers;
        let levels: Vec<LevelAnswer> = found
            .levels
            .iter()
            .map(|level| LevelAnswer::of(level, own_wiring, &names))
            .collect();
        Self {
            boats_per_year: found.orders.iter().map(|order| order.boats).sum(),
            orders: found
                .orders
                .iter()
                .map(|order| OrderAnswer {
                    modules: names(order.set),
                    boats_per_year: order.boats,
                })
                .collect(),
            cheapest: found.cheapest().map_or(0, |level| level.contents.len()),
            per_order: PerOrderAnswer {
                contents: count,
                wiring_per_year: own_wiring.amount(),
                part_numbers_per_year: part_numbers.amount(),
                cost_per_year: found.per_order.amount(),
            },
            curve: curve(&levels, count, found.per_order.amount()),
            levels,
            main_or_add_on: (0..modules.len())
                .map(|module| worth(demand, found, module, &modules[module].name, extra[module]))
                .collect(),
        }
    }
}

impl LevelAnswer {
    fn of(level: &Level, own_wiring: Cents, names: &impl Fn(ModuleSet) -> Vec<String>) -> Self {
        let content = |(letter, content): (char, &Content)| ContentAnswer {
            name: letter.to_string(),
            modules: names(content.set),
            cost: content.each.amount(),
            boats_per_year: content.boats,
            orders: content.serves.clone(),
        };
        let because = if !level.is_proven() {
            let gap = level.cost() - level.lower_bound;
            let share = 100.0 * gap.amount() / level.cost().amount().max(0.01);
            Some(format!(
                "the search ended at its limit: the best plan found may cost up to {gap} a year \
                 ({} %) more than the best there is",
                significant(share, 2)
            ))
        } else if level.contents.len() < level.most {
            Some("one content more saves no wiring".to_owned())
        } else {
            None
        };
        Self {
            most_contents: level.most,
            contents: ('A'..='Z').zip(&level.contents).map(content).collect(),
            wiring_per_year: level.wiring.amount(),
            given_away_per_year: (level.wiring - own_wiring).amount(),
            part_numbers_per_year: level.part_numbers.amount(),
            cost_per_year: level.cost().amount(),
            lower_bound_per_year: level.lower_bound.amount(),
            proven: level.is_proven(),
            because,
            unions_searched: level.left,
            nodes: level.nodes,
        }
    }
}

/// One point for each number of contents that is made, and that of a harness for each order.
fn curve(levels: &[LevelAnswer], orders: usize, per_order: f64) -> Vec<CurvePoint> {
    let mut points: Vec<CurvePoint> = levels
        .iter()
        .filter(|level| level.contents.len() == level.most_contents)
        .map(|level| CurvePoint {
            contents: level.most_contents,
            cost_per_year: level.cost_per_year,
            lower_bound_per_year: level.lower_bound_per_year,
        })
        .collect();
    if points.iter().all(|point| point.contents < orders) && orders > 0 {
        points.push(CurvePoint {
            contents: orders,
            cost_per_year: per_order,
            lower_bound_per_year: per_order,
        });
    }
    points
}

fn worth(
    demand: &Demand,
    found: &Levels,
    module: usize,
    name: &str,
    extra: Option<Cents>,
) -> WorthAnswer {
    let one = ModuleSet::of([module]);
    let orders = || found.orders.iter();
    let boats: u32 = orders().map(|order| order.boats).sum();
    let with: u32 = orders()
        .filter(|order| order.set.holds(one))
        .map(|order| order.boats)
        .sum();
    let take_rate = (boats > 0).then(|| f64::from(with) / f64::from(boats));
    let full = orders().fold(ModuleSet::EMPTY, |full, order| full.union(order.set));
    let in_main = demand.wiring.marginal(full, module);
    let question = WorthQuestion {
        take_rate,
        in_main: Some(in_main),
        extra_as_add_on: extra,
        part_number: Some(demand.part_number),
        boats: Some(boats),
    };
    let weighed = if full.holds(one) {
        question
            .weigh()
            .map_err(|reason| reason.because.into_owned())
    } else {
        Err("no boat is ordered with it".to_owned())
    };
    let value = weighed.as_ref().ok().map(|worked| worked.value);
    WorthAnswer {
        module: name.to_owned(),
        take_rate,
        in_main: in_main.amount(),
        place: value.map(|value| value.place.word()),
        threshold: value.map(|value| value.threshold),
        given_away_per_year: value.map(|value| value.given_away),
        as_add_on_per_year: value.map(|value| value.as_add_on),
        because: weighed.as_ref().err().cloned(),
        working: weighed.map(|worked| worked.working).unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use crate::contents::ContentsQuestion;
    use serde_json::{Value, json};

    fn answer(question: Value) -> Value {
        let question: ContentsQuestion = serde_json::from_value(question).unwrap();
        serde_json::to_value(question.answer().unwrap()).unwrap()
    }

    /// 300 boats: half with lights, a tenth with lights and windlass, the others with nothing.
    fn small() -> Value {
        json!({
            "modules": [
                { "name": "lights", "cost": 10.0 },
                { "name": "windlass", "cost": 90.5, "add_on_extra_cost": 20.0 },
                { "name": "horn", "cost": 3.0, "add_on_extra_cost": 1.0 },
            ],
            "shared": [{ "needed_by": ["lights", "windlass"], "cost": 5.0 }],
            "orders": [
                { "modules": ["lights"], "boats_per_year": 100 },
                { "modules": ["windlass", "lights"], "boats_per_year": 30 },
                { "modules": [], "boats_per_year": 120 },
                { "modules": ["lights"], "boats_per_year": 50 },
            ],
            "base_cost": 100.0,
            "part_number_cost_per_year": 1_500.0,
            "boats_per_year": 300,
        })
    }

    #[test]
    fn a_small_price_list() {
        let found = answer(small());
        assert_eq!(
            found["orders"][0],
            json!({"modules": ["lights"], "boats_per_year": 150})
        );
        // By hand: 205.5 for 300 boats; 115 for 270 and 205.5 for 30; 100, 115 and 205.5.
        let costs: Vec<f64> = found["levels"]
            .as_array()
            .unwrap()
            .iter()
            .map(|level| level["cost_per_year"].as_f64().unwrap())
            .collect();
        assert_eq!(
            costs,
            [61_650.0 + 1_500.0, 37_215.0 + 3_000.0, 35_415.0 + 4_500.0]
        );
        assert_eq!(found["cheapest"], 3);
        assert_eq!(found["per_order"]["cost_per_year"], 39_915.0);
        assert_eq!(
            found["levels"][1]["contents"],
            json!([
                { "name": "A", "modules": ["lights"], "cost": 115.0, "boats_per_year": 270,
                  "orders": [0, 2] },
                { "name": "B", "modules": ["lights", "windlass"], "cost": 205.5,
                  "boats_per_year": 30, "orders": [1] },
            ])
        );
        assert_eq!(found["levels"][1]["given_away_per_year"], 120.0 * 15.0);
        assert_eq!(found["levels"][1]["proven"], true);
        assert_eq!(found["curve"].as_array().unwrap().len(), 3);
    }

    #[test]
    fn each_module_is_weighed_by_its_take_rate() {
        let found = answer(small());
        let of = |at: usize| &found["main_or_add_on"][at];
        assert_eq!(
            of(0)["because"],
            "the extra cost as an add-on is not stated"
        );
        assert_eq!(of(0)["place"], Value::Null);
        // The feeder stays for the lights: m = 90.5, so (90.5 - 5) / (90.5 + 20).
        assert_eq!(of(1)["place"], "add-on");
        assert_eq!(of(1)["in_main"], 90.5);
        assert_eq!(of(1)["take_rate"], 0.1);
        assert!((of(1)["threshold"].as_f64().unwrap() - 85.5 / 110.5).abs() < 1e-12);
        assert_eq!(of(2)["because"], "no boat is ordered with it");
    }

    #[test]
    fn one_more_content_that_saves_nothing_is_told() {
        let found = answer(json!({
            "modules": [{ "name": "a", "cost": 0.0 }, { "name": "b", "cost": 4.0 }],
            "orders": [
                { "modules": [], "boats_per_year": 1 },
                { "modules": ["a"], "boats_per_year": 1 },
                { "modules": ["b"], "boats_per_year": 1 },
            ],
            "part_number_cost_per_year": 1.0,
        }));
        let last = &found["levels"][2];
        assert_eq!(last["contents"].as_array().unwrap().len(), 2);
        assert_eq!(last["because"], "one content more saves no wiring");
        let curve = found["curve"].as_array().unwrap();
        assert_eq!(curve.len(), 3);
        assert_eq!(
            curve[2],
            json!({"contents": 3, "cost_per_year": 7.0, "lower_bound_per_year": 7.0})
        );
        assert_eq!(found["cheapest"], 2);
    }
}
