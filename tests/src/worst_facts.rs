//! Abstract boat models and their worst boats by two general solvers, as committed in
//! `tests/facts/worst`.

use crate::worst_instances::{Instance, Kinds, Plan, Stretch, Wiring};
use harness_core::boats::OptionRule;
use harness_core::network::Behavior;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// The instances given to the solvers: number of options and seed.
pub fn plans() -> Vec<Plan> {
    let sizes = [20, 40, 80].into_iter();
    sizes
        .flat_map(|options| {
            (1..=3).map(move |seed| Plan {
                options,
                kinds: Kinds::Current,
                wiring: Wiring::Tree,
                unusual: false,
                seed,
            })
        })
        .collect()
}

/// Name of an instance in both files.
pub fn name(plan: &Plan) -> String {
    format!("{} options, seed {}", plan.options, plan.seed)
}

/// An instance as the solvers read it. Its factors are left for them to work out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct InstanceRecord {
    /// Its name.
    pub name: String,
    /// Number of options.
    pub options: usize,
    /// Rules between them.
    pub rules: Vec<RuleRecord>,
    /// Stretches to the junctions of feeds.
    pub feeds: Vec<StretchRecord>,
    /// Stretches from the junctions of returns.
    pub returns: Vec<StretchRecord>,
    /// The loads.
    pub loads: Vec<LoadRecord>,
}

/// A rule between options, by their numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RuleRecord {
    /// The first requires the second.
    Requires([usize; 2]),
    /// Not both.
    Excludes([usize; 2]),
    /// One and only one.
    ExactlyOneOf(Vec<usize>),
}

/// A stretch to a junction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StretchRecord {
    /// The junction nearer to the source; nothing at the source itself.
    pub from: Option<usize>,
    /// Resistance.
    pub resistance_ohm: f64,
}

/// A load of constant current.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoadRecord {
    /// Its junction of feeds.
    pub feed: usize,
    /// Its junction of returns.
    pub back: usize,
    /// Resistance of its own two wires.
    pub own_ohm: f64,
    /// What it draws.
    pub current_a: f64,
    /// It is on boats that have all of these.
    pub options: Vec<usize>,
}

impl InstanceRecord {
    /// The record of an instance of constant currents under conditions of whole options.
    ///
    /// # Panics
    /// If it holds anything else.
    pub fn of(instance: &Instance) -> Self {
        let rule = |rule: &OptionRule| match rule {
            OptionRule::Requires(a, b) => RuleRecord::Requires([a.0, b.0]),
            OptionRule::Excludes(a, b) => RuleRecord::Excludes([a.0, b.0]),
            OptionRule::ExactlyOneOf(group) => {
                RuleRecord::ExactlyOneOf(group.iter().map(|option| option.0).collect())
            }
            other => panic!("the solvers know no rule {other:?}"),
        };
        let stretch = |stretch: &Stretch| StretchRecord {
            from: stretch.from,
            resistance_ohm: stretch.ohm,
        };
        let loads = instance.loads.iter().map(|load| {
            let Behavior::Current(amps) = load.behavior else {
                panic!("the solvers know constant current only");
            };
            LoadRecord {
                feed: load.feed,
                back: load.back,
                own_ohm: load.feed_ohm + load.back_ohm,
                current_a: amps.value(),
                options: load.when.options().iter().map(|option| option.0).collect(),
            }
        });
        Self {
            name: name(&instance.plan),
            options: instance.plan.options,
            rules: instance.options.rules().iter().map(rule).collect(),
            feeds: instance.feeds.iter().map(stretch).collect(),
            returns: instance.returns.iter().map(stretch).collect(),
            loads: loads.collect(),
        }
    }
}

/// What the solvers found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Solved {
    /// The command that made the file.
    pub made_by: String,
    /// Versions of the programs.
    pub programs: Programs,
    /// CP-SAT counts whole parts of a volt; so many make one.
    pub cp_sat_parts_of_a_volt: f64,
    /// The instances.
    pub instances: Vec<SolvedInstance>,
}

/// Versions of the programs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Programs {
    /// Python.
    pub python: String,
    /// HiGHS through its Python package.
    pub highspy: String,
    /// OR-tools, of which CP-SAT is a part.
    pub ortools: String,
}

/// One instance, load by load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SolvedInstance {
    /// Its name.
    pub name: String,
    /// By HiGHS.
    pub highs: BySolver,
    /// By CP-SAT.
    pub cp_sat: BySolver,
}

/// What one solver found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BySolver {
    /// The greatest drop of each load, V; nothing for one that no buildable boat has.
    pub worst_v: Vec<Option<f64>>,
    /// Time of all solves, s.
    pub all_s: f64,
    /// Median time of a solve, s.
    pub median_s: f64,
    /// Longest time of a solve, s.
    pub longest_s: f64,
}

/// The folder of both files and of the script.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("facts/worst")
}

/// The text of the file of instances: one a line.
pub fn instances_text() -> String {
    let lines: Vec<String> = plans()
        .into_iter()
        .map(|plan| {
            let record = InstanceRecord::of(&Instance::of(plan));
            serde_json::to_string(&record).expect("plain values")
        })
        .collect();
    format!("[\n{}\n]\n", lines.join(",\n"))
}

/// What the solvers found, from a file the script wrote.
///
/// # Panics
/// If it cannot be read.
pub fn read_solved(path: &Path) -> Solved {
    let text = std::fs::read_to_string(path)
        .unwrap_or_else(|error| panic!("{} cannot be read: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
