//! The network solver held against ngspice and against exact arithmetic, as rows of a report.

use harness_core::network::{Network, Outcome, Prepared, Scratch};
use serde::Serialize;

use crate::exact;
use crate::network_facts::{Reference, Run};
use crate::networks::{Plan, Shape, generate};

/// Largest relative difference of a node voltage from ngspice.
pub const NGSPICE_TOLERANCE: f64 = 1e-8;
/// Fewest digits in common with the exact result.
pub const FEWEST_DIGITS: u32 = 12;

/// One comparison of one network.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Names the network for good.
    pub id: String,
    /// Shape of the network.
    pub kind: String,
    /// Conductors, sources and loads together.
    pub elements: usize,
    /// What it is held against.
    pub reference: String,
    /// What the reference says.
    pub expected: String,
    /// What the core says.
    pub found: String,
    /// Upper bound, a power of ten, of the largest difference of a node voltage from the
    /// reference in parts of it; none where there is no operating point.
    pub largest_relative_difference: Option<String>,
    /// Digits that all node voltages have in common with the reference.
    pub digits: Option<u32>,
    /// Largest difference allowed.
    pub tolerance: String,
    /// Why that much.
    pub why: String,
    /// "within" or "outside".
    pub verdict: String,
}

impl Row {
    /// Whether the core agrees.
    pub fn is_within(&self) -> bool {
        self.verdict == "within"
    }

    fn judged(mut self, within: bool) -> Self {
        self.verdict = if within { "within" } else { "outside" }.to_owned();
        self
    }
}

/// Largest difference of a node voltage in parts of the reference's, the zero node left out.
pub fn largest_relative_difference(network: &Network, ours: &[f64], reference: &[f64]) -> f64 {
    let pairs = ours.iter().zip(reference).enumerate();
    pairs
        .filter(|&(node, _)| node != network.reference)
        .map(|(_, (ours, reference))| (ours - reference).abs() / reference.abs())
        .fold(0.0, f64::max)
}

/// Node volts of a solved network.
fn node_volts(outcome: &Outcome) -> Option<Vec<f64>> {
    let Outcome::Solved(solution) = outcome else {
        return None;
    };
    Some(
        solution
            .node_volts
            .iter()
            .map(|volts| volts.value())
            .collect(),
    )
}

/// Digits in common, from a relative difference; doubles hold no more than 16.
fn digits(difference: f64) -> u32 {
    (1..=16)
        .take_while(|&digits| difference <= tenth_power(digits))
        .count() as u32
}

/// 10 to the minus `digits`, as the nearest double on every machine.
fn tenth_power(digits: u32) -> f64 {
    format!("1e-{digits}").parse().expect("a number")
}

/// One run of ngspice against the core.
pub fn against_ngspice(reference: &Reference, run: &Run) -> Row {
    let network = &reference.network;
    let prepared = Prepared::new(network).expect("committed networks have no fault");
    let outcome = prepared.solve_shares(&mut Scratch::default(), &reference.shares(run));
    let row = Row {
        id: format!("ngspice-{:03}-{}", reference.id, run.power_share),
        kind: reference.shape.clone(),
        elements: network.element_count(),
        reference: reference.program.clone(),
        expected: "operating point".to_owned(),
        found: describe(&outcome),
        largest_relative_difference: None,
        digits: None,
        tolerance: format!("{NGSPICE_TOLERANCE:e}"),
        why: "another method and another program, both stopping far below this".to_owned(),
        verdict: String::new(),
    };
    if let Some(load) = reference.collapsed_load(run) {
        let same = matches!(outcome, Outcome::NoOperatingPoint(ours) if ours.load == load);
        let expected = no_operating_point(load);
        let tolerance = "the same load".to_owned();
        let why = "where the volts collapse, the load named must be the one that ngspice finds \
                   lowest, below half of nominal"
            .to_owned();
        return Row {
            expected,
            tolerance,
            why,
            ..row
        }
        .judged(same);
    }
    let Some(ours) = node_volts(&outcome) else {
        return row.judged(false);
    };
    let difference = largest_relative_difference(network, &ours, &run.node_volts);
    let digits = digits(difference);
    Row {
        largest_relative_difference: Some(format!("<= 1e-{digits}")),
        digits: Some(digits),
        ..row
    }
    .judged(difference <= NGSPICE_TOLERANCE)
}

/// A linear random network against exact arithmetic.
pub fn against_exact(plan: Plan) -> Row {
    let network = generate(plan).network;
    let exact = exact::node_volts(&network);
    let prepared = Prepared::new(&network).expect("generated networks have no fault");
    let outcome = prepared.solve(&mut Scratch::default());
    let row = Row {
        id: format!(
            "exact-{}-{}",
            plan.shape.name().replace(' ', "-"),
            plan.seed
        ),
        kind: plan.shape.name().to_owned(),
        elements: network.element_count(),
        reference: "exact rational arithmetic".to_owned(),
        expected: "operating point".to_owned(),
        found: describe(&outcome),
        largest_relative_difference: None,
        digits: None,
        tolerance: format!("1e-{FEWEST_DIGITS}"),
        why: "a double holds 16 digits; four are left for sums along the longest path".to_owned(),
        verdict: String::new(),
    };
    let Some(ours) = node_volts(&outcome) else {
        return row.judged(false);
    };
    let fewest = ours
        .iter()
        .zip(&exact)
        .map(|(&ours, exact)| exact::agreeing_digits(ours, exact))
        .min()
        .unwrap_or(0);
    Row {
        largest_relative_difference: Some(format!("<= 1e-{fewest}")),
        digits: Some(fewest),
        ..row
    }
    .judged(fewest >= FEWEST_DIGITS)
}

/// Plans of the linear networks held against exact arithmetic.
pub fn exact_plans() -> Vec<Plan> {
    let plan = |shape, seed| Plan {
        shape,
        seed,
        loads: 3 + seed as usize % 8,
        constant_power: false,
        overload: 1.0,
    };
    Shape::ALL
        .into_iter()
        .flat_map(|shape| (0..20).map(move |seed| plan(shape, seed)))
        .collect()
}

fn describe(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Solved(_) => "operating point".to_owned(),
        Outcome::NoOperatingPoint(collapse) => no_operating_point(collapse.load),
        Outcome::NotEvaluated(reason) => reason.to_string(),
    }
}

fn no_operating_point(load: usize) -> String {
    format!("no operating point, load {load}")
}
