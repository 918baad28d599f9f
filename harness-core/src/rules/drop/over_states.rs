//! A load over all its operating states at one condition of the sources.

use super::{LOAD_NOT_SUPPLIED, NO_OPERATING_POINT};
use crate::model::{Index, Load, OperatingState};
use crate::network::assembly::{LoadPoint, SourceCondition, Supplied};
use crate::rules::{Facts, settled};
use crate::working::NotEvaluated;

/// An operating point of a load, and the state it is in.
pub(super) type InState<'f> = (Option<Index<OperatingState>>, &'f Supplied);

/// The worst operating point of a load at `condition`, and whether it holds. `worse` tells whether
/// one point is worse than another, `holds` whether one is within the limit.
///
/// # Errors
/// The load runs in no state; or what is known holds, and the load has no operating point, or
/// none that could be evaluated, in some state.
pub(super) fn worst<'f>(
    facts: &'f Facts<'_>,
    load: Index<Load>,
    condition: SourceCondition,
    worse: impl Fn(&Supplied, &Supplied) -> bool,
    holds: impl Fn(&Supplied) -> bool,
) -> Result<(InState<'f>, bool), NotEvaluated> {
    let mut worst: Option<InState<'f>> = None;
    let mut unknown = None;
    for operating in facts.at(condition) {
        let state = operating.state;
        let Some(point) = operating.loads.get(&load) else {
            continue;
        };
        let (why, rule) = match point {
            LoadPoint::NotRunning => continue,
            LoadPoint::Supplied(supplied) => {
                if worst.is_none_or(|(_, known)| worse(supplied, known)) {
                    worst = Some((state, supplied));
                }
                if let Some(why) = operating.at_least.loads.get(&load) {
                    unknown = Some(why.clone());
                }
                continue;
            }
            LoadPoint::NotEvaluated(why) => {
                unknown = Some(why.clone());
                continue;
            }
            LoadPoint::Unsupplied(_) => ("no closed circuit leads to it", LOAD_NOT_SUPPLIED),
            LoadPoint::NoOperatingPoint { .. } => {
                ("its system has no operating point", NO_OPERATING_POINT)
            }
        };
        unknown = Some(NotEvaluated::because(format!(
            "{why} {} (see \"{}\")",
            facts.state_words(state),
            rule.title
        )));
    }
    let holds = settled(
        worst.is_none_or(|(_, supplied)| holds(supplied)),
        unknown.as_ref(),
    )?;
    worst
        .map(|worst| (worst, holds))
        .ok_or_else(|| NotEvaluated::because("the load runs in no stated operating state"))
}
