//! Every limit judged on the boat on which it is worst.

use super::candidates::{self, Candidates, Gathering};
use super::systems::Systems;
use crate::boats::{Boat, BoatSet, Options, TooWide};
use crate::model::{BoatModel, RuleSet};
use crate::network::assembly::{Assembly, SourceCondition};
use crate::routing::{Routing, bundles};
use crate::rules::{Depends, Facts, Finding, Outcome, Place, RULES};
use crate::study::operating;
use std::collections::BTreeMap;

/// All limits over all boats.
#[derive(Debug)]
pub struct EveryBoat {
    /// The boats judged, and what was proven.
    pub candidates: Candidates,
    /// The worst finding of each limit, in the order of the rules and of the model.
    pub findings: Vec<Finding>,
    /// For each finding the boat on which it is so: a place in the list of boats judged.
    pub worst: Vec<usize>,
}

/// What is judged: a rule, a place, a rule set, and which of several of one boat.
type Limit = (usize, Place, Option<RuleSet>, usize);

impl EveryBoat {
    /// Finds the boats, judges each, and keeps the worst finding of each limit.
    ///
    /// # Errors
    /// [`TooWide`] where rules and conditions tie too many options together.
    pub fn of(
        model: &BoatModel,
        routing: &Routing,
        options: &Options,
        boats: &BoatSet,
        first: &Boat,
    ) -> Result<Self, TooWide> {
        let assembly = Assembly::of_every_boat(model, routing);
        let systems = Systems::of(model, &assembly, boats)?;
        let conditions = candidates::conditions(model, &assembly, &systems);
        let firings = candidates::firings(options, &conditions)?;
        let gathering = Gathering::new(model, routing, &assembly, &systems, &firings);
        let candidates = gathering.gather(first);
        let judged = judge_each(&candidates, |number, boat| {
            // What hangs on nothing else is the same on each boat that has it.
            let all = number < candidates.with_everything;
            judged(model, routing, boats, boat, all)
        });
        let mut limits: BTreeMap<Limit, (Finding, usize)> = BTreeMap::new();
        for (number, findings) in judged.into_iter().enumerate() {
            let mut met: BTreeMap<(usize, Place, Option<RuleSet>), usize> = BTreeMap::new();
            for (rule, finding) in findings {
                let key = (rule, finding.place, finding.rule_set);
                let occurrence = met.entry(key).or_default();
                let limit = (key.0, key.1, key.2, *occurrence);
                *occurrence += 1;
                match limits.get(&limit) {
                    Some((known, _)) if !is_worse(&finding, known) => {}
                    _ => {
                        limits.insert(limit, (finding, number));
                    }
                }
            }
        }
        let (findings, worst) = limits.into_values().unzip();
        Ok(Self {
            candidates,
            findings,
            worst,
        })
    }

    /// The boat on which a finding is worst.
    pub fn boat(&self, finding: usize) -> &Boat {
        &self.candidates.boats[self.worst[finding]]
    }
}

/// Judges the boats on as many threads as there are processors, in the order of the boats.
fn judge_each<T: Send>(
    candidates: &Candidates,
    judge: impl Fn(usize, &Boat) -> T + Sync,
) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let share = candidates.boats.len().div_ceil(threads).max(1);
    std::thread::scope(|scope| {
        let judge = &judge;
        let parts: Vec<_> = candidates
            .boats
            .chunks(share)
            .enumerate()
            .map(|(part, boats)| {
                scope.spawn(move || {
                    let numbered = boats.iter().enumerate();
                    numbered
                        .map(|(at, boat)| judge(part * share + at, boat))
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        parts
            .into_iter()
            .flat_map(|part| {
                part.join()
                    .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            })
            .collect()
    })
}

/// The findings on one boat with the place of each rule: of all rules, or of those that hang on
/// what else is fitted.
fn judged(
    model: &BoatModel,
    routing: &Routing,
    boats: &BoatSet,
    boat: &Boat,
    all: bool,
) -> Vec<(usize, Finding)> {
    let assembly = Assembly::of(model, routing, boat);
    let operating = operating(
        model,
        &assembly,
        &[SourceCondition::Nominal, SourceCondition::Low],
    );
    let bundles = bundles(model, routing, |wire| {
        model.wires[wire].fitted_when.holds(boat)
    });
    let facts = Facts {
        model,
        boats: Some(boats),
        boat,
        routing,
        assembly: &assembly,
        operating: &operating,
        bundles: &bundles,
    };
    RULES
        .iter()
        .enumerate()
        .filter(|(_, rule)| all || rule.depends == Depends::Company)
        .flat_map(|(number, rule)| {
            (rule.judge)(&facts)
                .into_iter()
                .map(move |finding| (number, finding))
        })
        .collect()
}

/// A failure is worse than what could not be judged, and that worse than what holds; of two alike
/// the one nearer to its limit, or further over it.
fn is_worse(finding: &Finding, known: &Finding) -> bool {
    let rank = |finding: &Finding| match finding.outcome {
        Outcome::Fails => 2,
        Outcome::NotEvaluated(_) => 1,
        Outcome::Met => 0,
    };
    match rank(finding).cmp(&rank(known)) {
        std::cmp::Ordering::Equal => used(finding) > used(known) * (1.0 + 1e-12),
        order => order.is_gt(),
    }
}

/// How much of a limit is used up: 1 is at the limit, more is over it. A value that holds above
/// its limit, or fails below, is held to a least value.
fn used(finding: &Finding) -> f64 {
    let (Some(value), Some(limit)) = (finding.value, finding.limit) else {
        return 1.0;
    };
    let ratio = value.value / limit.value;
    let least =
        (finding.outcome == Outcome::Met && ratio > 1.0) || (finding.fails() && ratio < 1.0);
    if least { 1.0 / ratio } else { ratio }
}
