//! What is known of limits from boats judged before: only what is worse need be told.

use super::{Finding, LimitKey, Outcome};
use std::collections::BTreeMap;

/// How bad a finding is: a failure is worse than what could not be judged, and that worse than
/// what holds; of two alike the one nearer to its limit, or further over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitUse {
    rank: u8,
    /// How much of the limit is used up.
    used: f64,
}

impl LimitUse {
    /// Of a finding.
    pub fn of(finding: &Finding) -> Self {
        let rank = match finding.outcome {
            Outcome::Fails => 2,
            Outcome::NotEvaluated(_) => 1,
            Outcome::Met => 0,
        };
        let used = match (finding.value, finding.limit) {
            (Some(value), Some(limit)) => used(
                finding.outcome == Outcome::Met,
                finding.fails(),
                (value.value, limit.value),
            ),
            _ => 1.0,
        };
        Self { rank, used }
    }

    /// Of a value that holds to its limit or does not.
    fn judged(holds: bool, value: f64, limit: f64) -> Self {
        Self {
            rank: if holds { 0 } else { 2 },
            used: used(holds, !holds, (value, limit)),
        }
    }

    /// Whether it is worse; rounding of the solver does not count.
    pub fn is_worse_than(self, known: Self) -> bool {
        match self.rank.cmp(&known.rank) {
            std::cmp::Ordering::Equal => self.used > known.used * (1.0 + 1e-12),
            order => order.is_gt(),
        }
    }

    /// How much of the limit is used up: 1 is at the limit, more is over it.
    pub fn used(self) -> f64 {
        self.used
    }
}

/// A value that holds above its limit, or fails below, is held to a least value.
fn used(met: bool, fails: bool, (value, limit): (f64, f64)) -> f64 {
    // None where none is allowed is at the limit.
    let ratio = if value == limit { 1.0 } else { value / limit };
    let least = (met && ratio > 1.0) || (fails && ratio < 1.0);
    if least { 1.0 / ratio } else { ratio }
}

/// The worst known of each limit: by what it is about, the rule and the rule set.
#[derive(Clone, Debug, Default)]
pub struct Known(BTreeMap<LimitKey, LimitUse>);

impl Known {
    /// Takes in a finding.
    pub fn learn(&mut self, finding: &Finding) {
        let shown = LimitUse::of(finding);
        let known = self.0.entry(finding.limit_key()).or_insert(shown);
        if shown.is_worse_than(*known) {
            *known = shown;
        }
    }

    /// Whether anything is known of a limit.
    pub fn has(&self, limit_key: LimitKey) -> bool {
        self.0.contains_key(&limit_key)
    }

    /// Whether a value that holds to its limit or does not is worse than what is known.
    pub fn is_outdone_by(&self, limit_key: LimitKey, holds: bool, value: f64, limit: f64) -> bool {
        let known = self.0.get(&limit_key);
        known.is_none_or(|known| LimitUse::judged(holds, value, limit).is_worse_than(*known))
    }
}
