//! Questions about harness contents of any size, and what a general solver found for them, as
//! committed in `tests/facts/contents`.

use std::path::{Path, PathBuf};

use fastrand::Rng;
use harness_core::contents::{ContentsQuestion, ModuleByName, OrderByName, SharedByName};
use serde::{Deserialize, Serialize};

/// Numbers of modules of the committed questions.
pub const MODULES: [usize; 2] = [16, 24];
/// Numbers of distinct orders of the committed questions.
pub const ORDERS: [usize; 4] = [30, 60, 120, 200];

/// Modules that share one feeder or connector.
const SHARING: usize = 3;
/// Exponent of the demand: few orders make most of the boats.
const PARETO: f64 = 1.2;
/// Most boats of one order.
const MOST_BOATS: f64 = 200.0;

/// Exactly `orders` distinct orders, drawn module by module with a take rate of its own for each
/// module, with demands after Pareto. Same arguments, same question.
pub fn question(modules: usize, orders: usize, seed: u64) -> ContentsQuestion {
    let mut rng = Rng::with_seed(seed);
    let amount = |rng: &mut Rng, from: u32, to: u32| f64::from(rng.u32(from..to)) / 100.0;
    let name = |module: usize| format!("m{module}");
    let take_rates: Vec<f64> = (0..modules).map(|_| 0.05 + 0.6 * rng.f64()).collect();
    let modules: Vec<ModuleByName> = (0..modules)
        .map(|module| ModuleByName {
            name: name(module),
            cost: amount(&mut rng, 500, 12_000),
            add_on_extra_cost: None,
        })
        .collect();
    let shared = (0..modules.len() / 4)
        .map(|_| {
            let mut needed_by: Vec<usize> = (0..modules.len()).collect();
            rng.shuffle(&mut needed_by);
            needed_by.truncate(SHARING);
            needed_by.sort_unstable();
            SharedByName {
                needed_by: needed_by.into_iter().map(name).collect(),
                cost: amount(&mut rng, 500, 6_000),
            }
        })
        .collect();
    let mut drawn: Vec<OrderByName> = Vec::new();
    while drawn.len() < orders {
        let has = take_rates
            .iter()
            .map(|rate| rng.f64() < *rate)
            .collect::<Vec<_>>();
        let named = modules.iter().zip(has).filter(|(_, has)| *has);
        let named: Vec<String> = named.map(|(module, _)| module.name.clone()).collect();
        if drawn.iter().any(|order| order.modules == named) {
            continue;
        }
        let boats = libm::pow(1.0 - rng.f64(), -1.0 / PARETO).min(MOST_BOATS);
        drawn.push(OrderByName {
            modules: named,
            boats_per_year: boats as u32,
        });
    }
    ContentsQuestion {
        modules,
        shared,
        orders: drawn,
        base_cost: 100.0,
        part_number_cost_per_year: 1_500.0,
        boats_per_year: None,
        most_contents: None,
    }
}

/// A committed question.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct Instance {
    /// Name, as results call it.
    pub name: String,
    /// The question.
    pub question: ContentsQuestion,
}

/// The questions as they are committed.
pub fn instances() -> Vec<Instance> {
    let sizes = MODULES
        .iter()
        .flat_map(|modules| ORDERS.map(|orders| (*modules, orders)));
    sizes
        .map(|(modules, orders)| Instance {
            name: format!("m{modules}-k{orders}"),
            question: question(modules, orders, 1),
        })
        .collect()
}

/// What the general solver found.
#[derive(Clone, Debug, Deserialize)]
pub struct Results {
    /// The solver, its version, that of the language it was called from, and how it was asked.
    pub made_with: MadeWith,
    /// One row for each question and number of contents.
    pub rows: Vec<Row>,
}

/// With what results were made.
#[derive(Clone, Debug, Deserialize)]
pub struct MadeWith {
    /// Version of OR-Tools.
    pub ortools: String,
    /// Version of Python.
    pub python: String,
    /// Seconds allowed for a row.
    pub limit_s: f64,
    /// Threads.
    pub workers: u32,
}

/// One question with so many contents.
#[derive(Clone, Debug, Deserialize)]
pub struct Row {
    /// Name of the question.
    pub instance: String,
    /// Most contents.
    pub contents: usize,
    /// `OPTIMAL`, `FEASIBLE`, or that nothing was found.
    pub status: String,
    /// Wiring a year of the best plan found, in cents; nothing if none was found.
    pub objective: Option<i64>,
    /// No plan costs less, in cents.
    pub bound: i64,
    /// Time taken.
    pub seconds: f64,
}

/// Where the facts stand.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("facts/contents")
}

/// The text of the committed questions: one a line.
pub fn written(instances: &[Instance]) -> String {
    let lines: Vec<String> = instances
        .iter()
        .map(|instance| serde_json::to_string(instance).expect("records are JSON"))
        .collect();
    format!("[\n{}\n]\n", lines.join(",\n"))
}
