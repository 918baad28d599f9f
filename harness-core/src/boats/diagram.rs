//! The set of buildable boats as a decision diagram, and what one pass over it answers.

use std::fmt;

use num_bigint::BigUint;

use super::boat::Boat;
use super::condition::Condition;
use super::layers::{Layers, NONE, Overflow};
use super::order::decision_order;
use super::propagation::Propagation;
use super::rules::{OptionIndex, Options};

/// States looked at before the diagram is given up as too wide (our practice: well above any
/// boat model seen, well below what a small server holds).
const MOST_STATES: usize = 1_000_000;
/// The same limit in memory, for models with very many options: 64-bit words over all states.
const MOST_STATE_WORDS: usize = 16_000_000;

/// Every boat that can be ordered, or those of them that meet a condition: exact, and small even
/// when the boats are more than could ever be listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoatSet {
    /// Which option each layer decides.
    pub(super) order: Vec<OptionIndex>,
    pub(super) layers: Layers,
}

/// The options are tied together so far across that the diagram would grow past its limit, so
/// nothing exact can be said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TooWide {
    /// States looked at before giving up.
    pub limit: usize,
    /// Options decided up to there.
    pub decided: usize,
    /// Options in all.
    pub options: usize,
    /// What was too wide: the rules, or a condition asked of the boats.
    pub subject: TooWideSubject,
}

/// What made a diagram too wide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TooWideSubject {
    /// The rules between the options.
    Rules,
    /// A condition over the options.
    Condition,
    /// Many conditions that had to agree on one boat.
    Agreement,
}

impl fmt::Display for TooWide {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (subject, step) = match self.subject {
            TooWideSubject::Rules => (
                "the rules tie",
                "Split packages that join options of many areas, or leave out options that no \
                 wiring depends on.",
            ),
            TooWideSubject::Condition | TooWideSubject::Agreement => (
                "the condition ties",
                "Ask for fewer options at once, or in several questions.",
            ),
        };
        if self.subject == TooWideSubject::Agreement {
            return write!(
                f,
                "too many conditions tie the {} options together to prove one boat the worst: not \
                 settled after {} rounds. Fit things under fewer different conditions.",
                self.options, self.limit
            );
        }
        write!(
            f,
            "{subject} too many options together to count the boats exactly: more than {} cases \
             to keep apart after {} of {} options. {step}",
            self.limit, self.decided, self.options
        )
    }
}

impl std::error::Error for TooWide {}

/// What a half-stated boat leaves open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Completion {
    /// It can be completed.
    Possible {
        /// Options every completion has, beyond those stated.
        forced_on: Vec<OptionIndex>,
        /// Options no completion has, beyond those stated.
        forced_off: Vec<OptionIndex>,
    },
    /// No buildable boat is so;
    /// [`rules_against`](super::conflict::rules_against) says which rules forbid it.
    Impossible,
}

impl BoatSet {
    /// Every boat the rules allow.
    ///
    /// # Errors
    /// [`TooWide`] if the rules tie too many options together.
    pub fn of(options: &Options) -> Result<Self, TooWide> {
        Self::for_asking(options, &[])
    }

    /// The same boats, decided in an order in which options that these conditions ask for
    /// together lie close.
    ///
    /// # Errors
    /// [`TooWide`] if the rules tie too many options together.
    pub fn for_asking(options: &Options, asked: &[Condition]) -> Result<Self, TooWide> {
        let order = decision_order(options, asked);
        let rules = Propagation::new(options, &order);
        let most_states = MOST_STATES.min(MOST_STATE_WORDS / rules.state_words().max(1));
        let layers = Layers::expand(
            order.len(),
            rules.start(),
            most_states,
            |state, at, fitted| rules.decide(state, at, fitted),
        )
        .map_err(|Overflow { layer }| TooWide {
            limit: most_states,
            decided: layer + 1,
            options: order.len(),
            subject: TooWideSubject::Rules,
        })?;
        Ok(Self { order, layers })
    }

    /// How many options the boats are made of.
    pub fn option_count(&self) -> usize {
        self.order.len()
    }

    /// Number of nodes of the diagram; every pass costs time in proportion.
    pub fn node_count(&self) -> usize {
        self.layers.node_count()
    }

    /// Whether there is no boat at all.
    pub fn is_empty(&self) -> bool {
        !self.layers.any()
    }

    /// How many boats there are, exactly.
    pub fn count(&self) -> BigUint {
        if self.is_empty() {
            return BigUint::ZERO;
        }
        let mut after = vec![BigUint::from(1u8)];
        for layer in self.layers.layers().iter().rev() {
            let of = |arrow: u32| after.get(arrow as usize);
            after = layer
                .iter()
                .map(|node| match (of(node.left_out), of(node.fitted)) {
                    (Some(a), Some(b)) => a + b,
                    (Some(a), None) | (None, Some(a)) => a.clone(),
                    (None, None) => BigUint::ZERO,
                })
                .collect();
        }
        after.swap_remove(0)
    }

    /// Options no boat has, ascending. Where there are no boats: all of them.
    pub fn never(&self) -> Vec<OptionIndex> {
        self.options_where(|fitted, _| !fitted)
    }

    /// Options every boat has, ascending. Where there are no boats: none of them.
    pub fn always(&self) -> Vec<OptionIndex> {
        self.options_where(|fitted, left_out| fitted && !left_out)
    }

    /// Options by whether some boat has them and whether some boat is without.
    fn options_where(&self, wanted: impl Fn(bool, bool) -> bool) -> Vec<OptionIndex> {
        let mut found: Vec<OptionIndex> = self
            .order
            .iter()
            .zip(self.layers.layers())
            .filter(|(_, layer)| {
                wanted(
                    layer.iter().any(|node| node.fitted != NONE),
                    layer.iter().any(|node| node.left_out != NONE),
                )
            })
            .map(|(&option, _)| option)
            .collect();
        found.sort_unstable();
        found
    }

    /// Whether this boat is one of them. A boat with an option outside the list is not.
    pub fn contains(&self, boat: &Boat) -> bool {
        if self.is_empty() || boat.options().any(|option| option.0 >= self.order.len()) {
            return false;
        }
        let mut node = 0;
        for (layer, &option) in self.order.iter().enumerate() {
            node = self.layers.follow(layer, node, boat.has(option));
            if node == NONE {
                return false;
            }
        }
        true
    }

    /// How many of the boats meet a condition.
    ///
    /// # Errors
    /// [`TooWide`] if the condition ties too many options together.
    pub fn count_where(&self, condition: &Condition) -> Result<BigUint, TooWide> {
        Ok(self.narrowed(condition)?.count())
    }

    /// Whether any of the boats meets a condition.
    ///
    /// # Errors
    /// [`TooWide`] if the condition ties too many options together.
    pub fn is_ever(&self, condition: &Condition) -> Result<bool, TooWide> {
        Ok(!self.narrowed(condition)?.is_empty())
    }

    /// The boats among these that have every option in `on` and none in `off`: never wider than
    /// the set itself. An option outside the list is on no boat.
    pub fn having(&self, on: &[OptionIndex], off: &[OptionIndex]) -> Self {
        let listed = |option: &&OptionIndex| option.0 < self.order.len();
        let mut may_be_fitted = vec![true; self.order.len()];
        let mut may_be_left_out = may_be_fitted.clone();
        for option in on.iter().filter(listed) {
            may_be_left_out[option.0] = false;
        }
        for option in off.iter().filter(listed) {
            may_be_fitted[option.0] = false;
        }
        let layers = if on.iter().all(|option| listed(&option)) {
            self.layers.without_arrows(|layer, fitted| {
                let option = self.order[layer].0;
                if fitted {
                    may_be_fitted[option]
                } else {
                    may_be_left_out[option]
                }
            })
        } else {
            Layers::none(self.order.len())
        };
        Self {
            order: self.order.clone(),
            layers,
        }
    }

    /// What follows when some options are stated as fitted and some as left out.
    pub fn complete(&self, on: &[OptionIndex], off: &[OptionIndex]) -> Completion {
        let left = self.having(on, off);
        if left.is_empty() {
            return Completion::Impossible;
        }
        let beyond = |found: Vec<OptionIndex>, stated: &[OptionIndex]| {
            found
                .into_iter()
                .filter(|option| !stated.contains(option))
                .collect()
        };
        Completion::Possible {
            forced_on: beyond(left.always(), on),
            forced_off: beyond(left.never(), off),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::rules::OptionRule;
    use super::*;

    fn group(from: usize, to: usize) -> Vec<OptionIndex> {
        (from..to).map(OptionIndex).collect()
    }

    fn set(count: usize, rules: Vec<OptionRule>) -> BoatSet {
        BoatSet::of(&Options::new(count, rules).unwrap()).unwrap()
    }

    #[test]
    fn free_options_double_and_groups_multiply() {
        // 20 on/off options, 3 engines, 2 tops: 2^20 * 3 * 2 (counted by hand).
        let rules = vec![
            OptionRule::ExactlyOneOf(group(20, 23)),
            OptionRule::ExactlyOneOf(group(23, 25)),
        ];
        assert_eq!(set(25, rules).count(), BigUint::from(6_291_456u32));
    }

    #[test]
    fn counts_past_128_bits_are_exact() {
        assert_eq!(set(200, Vec::new()).count(), BigUint::from(1u8) << 200u8);
        assert_eq!(set(200, Vec::new()).node_count(), 200);
    }

    #[test]
    fn without_options_there_is_one_boat() {
        let none = set(0, Vec::new());
        assert_eq!(none.count(), BigUint::from(1u8));
        assert_eq!(none.fullest(), Some(Boat::bare()));
        assert!(none.contains(&Boat::bare()) && !none.is_empty());
        assert!(none.having(&[OptionIndex(0)], &[]).is_empty());
    }

    #[test]
    fn a_chain_of_requires_leaves_one_boat_more_than_options() {
        // 0 requires 1 requires 2 ...: the boats are the tails of the chain, n + 1 of them.
        let rules = (0..99)
            .map(|at| OptionRule::Requires(OptionIndex(at), OptionIndex(at + 1)))
            .collect();
        let chain = set(100, rules);
        assert_eq!(chain.count(), BigUint::from(101u8));
        let stated = chain.complete(&[OptionIndex(97)], &[OptionIndex(95)]);
        assert_eq!(
            stated,
            Completion::Possible {
                forced_on: group(98, 100),
                forced_off: group(0, 95),
            }
        );
    }

    #[test]
    fn rules_that_tie_everything_together_are_refused_with_a_reason() {
        // 400 exclusions drawn over 400 options: no order keeps what shares a rule together.
        let mut rng = fastrand::Rng::with_seed(1);
        let rules = (0..400)
            .map(|_| {
                OptionRule::Excludes(OptionIndex(rng.usize(..400)), OptionIndex(rng.usize(..400)))
            })
            .collect();
        let wide = BoatSet::of(&Options::new(400, rules).unwrap()).unwrap_err();
        assert_eq!(wide.subject, TooWideSubject::Rules);
        assert!(wide.to_string().contains("of 400 options"), "{wide}");
        // Counted, not derived: a worse order gets less far.
        assert_eq!((wide.decided, wide.limit), (81, 1_000_000));
    }
}
