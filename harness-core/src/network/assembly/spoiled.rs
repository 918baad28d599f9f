//! What is not known of one boat in one state, since a draw or a resistance is not stated.

use super::apart::Fed;
use super::operated::{More, SourceCondition};
use super::operating::Solving;
use super::shared::Shared;
use crate::model::{Behavior, BoatModel, Index, Load, Source};
use crate::units::{Amperes, Ohms, Volts, Watts};
use crate::working::NotEvaluated;
use std::collections::{BTreeMap, BTreeSet};

/// Blocks of branches and sources of which something is not known, with the reason.
#[derive(Default)]
pub(super) struct Spoiled<'a> {
    shared: Option<&'a Shared>,
    /// Nothing is known of their currents.
    blocks: BTreeMap<usize, NotEvaluated>,
    /// Their currents may be more than those known: a load of unknown draw lowers the volts of a load
    /// of constant power.
    more: BTreeMap<usize, More>,
}

impl Spoiled<'_> {
    pub fn branch(&self, number: usize) -> Option<&NotEvaluated> {
        self.blocks.get(&self.shared?.of_branch(number)?)
    }

    /// A source, by its place among those that give.
    pub fn source(&self, place: usize) -> Option<&NotEvaluated> {
        self.blocks.get(&self.shared?.of_source(place))
    }

    /// Why a branch may carry more than what is known.
    pub fn more_in_branch(&self, number: usize) -> Option<&More> {
        self.more.get(&self.shared?.of_branch(number)?)
    }

    /// Why a source, by its place among those that give, may give more than what is known.
    pub fn more_of_source(&self, place: usize) -> Option<&More> {
        self.more.get(&self.shared?.of_source(place))
    }

    /// Why fewer volts may be left for a load than what is known.
    pub fn less_at(&self, fed: &Fed<'_>, sags: bool) -> Option<&NotEvaluated> {
        if self.more.is_empty() {
            return None;
        }
        let source = sags.then_some(fed.source);
        let blocks = self.shared?.hangs_on(fed.way.branches(), source);
        let more = blocks.iter().find_map(|block| self.more.get(block));
        more.map(|more| &more.why)
    }
}

impl<'a> Solving<'a> {
    /// What shares the unknown draw of a running load, or a loop of unknown resistance in which a
    /// current flows.
    pub(super) fn spoiled(&self, fed: &[Fed<'_>]) -> Spoiled<'a> {
        let Some(shared) = &self.joined.shared else {
            return Spoiled::default();
        };
        let mut blocks = BTreeMap::new();
        let mut carrying = BTreeSet::new();
        for fed in fed {
            let passed = shared.passed(fed.way.branches(), fed.source);
            if self.model.loads[fed.load].behavior.is_none() {
                for block in &passed {
                    let why = || states_no_draw(self.model, fed.load);
                    blocks.entry(*block).or_insert_with(why);
                }
            }
            carrying.extend(passed);
        }
        let mut more = self.more(fed, shared, &blocks);
        for (block, why) in shared.unsure() {
            if carrying.contains(block) || shared.is_driven(*block) {
                blocks.entry(*block).or_insert_with(|| why.clone());
            }
        }
        more.retain(|block, _| !blocks.contains_key(block));
        Spoiled {
            shared: Some(shared),
            blocks,
            more,
        }
    }

    /// What loads of constant power pass whose volts are lowered by loads of unknown draw, which
    /// pass the blocks given, or by other loads of constant power that draw more so.
    fn more(
        &self,
        fed: &[Fed<'_>],
        shared: &Shared,
        undrawn: &BTreeMap<usize, NotEvaluated>,
    ) -> BTreeMap<usize, More> {
        let mut more: BTreeMap<usize, More> = BTreeMap::new();
        if undrawn.is_empty() {
            return more;
        }
        // By block the load of unknown draw that all comes from.
        let mut reached = undrawn.clone();
        let of_power = |fed: &&Fed<'_>| {
            matches!(
                self.model.loads[fed.load].behavior,
                Some(Behavior::Power(_))
            )
        };
        let mut waiting: Vec<&Fed<'_>> = fed.iter().filter(of_power).collect();
        loop {
            let before = waiting.len();
            waiting.retain(|fed| {
                let source = self.sags(fed.source).then_some(fed.source);
                let volts = shared.hangs_on(fed.way.branches(), source);
                let Some(why) = volts.iter().find_map(|block| reached.get(block).cloned()) else {
                    return true;
                };
                let draws_more = NotEvaluated::because(format!(
                    "{}, and load {} draws more the more it takes",
                    why.because,
                    self.model.loads.id(fed.load)
                ));
                let at_most = self.most_more(fed);
                for block in shared.passed(fed.way.branches(), fed.source) {
                    reached.entry(block).or_insert_with(|| why.clone());
                    let known = more.entry(block).or_insert_with(|| More {
                        at_most: Some(Amperes::ZERO),
                        why: draws_more.clone(),
                    });
                    let both = known.at_most.zip(at_most);
                    known.at_most = both.map(|(known, own)| known + own);
                }
                false
            });
            if waiting.len() == before {
                return more;
            }
        }
    }

    /// By how much a load of constant power draws at most more than what is known.
    fn most_more(&self, fed: &Fed<'_>) -> Option<Amperes> {
        let stated = &self.model.loads[fed.load];
        let Some(Behavior::Power(power)) = stated.behavior else {
            return None;
        };
        let each = self.joined.active.iter().map(|(source, ..)| *source);
        most_more(stated, power, most_volts(self.model, self.condition, each)?)
    }

    /// Whether the volts of a source, by its place among those that give, fall with its current.
    pub(super) fn sags(&self, place: usize) -> bool {
        let source: Index<Source> = self.joined.active[place].0;
        self.model.sources[source].internal > Some(Ohms::ZERO)
    }
}

/// Why nothing is known of what a load draws.
pub(crate) fn states_no_draw(model: &BoatModel, load: Index<Load>) -> NotEvaluated {
    NotEvaluated::because(format!(
        "load {} states neither current, power nor resistance",
        model.loads.id(load)
    ))
}

/// The greatest volts of any of these sources; `None` where one states none.
pub(crate) fn most_volts(
    model: &BoatModel,
    condition: SourceCondition,
    sources: impl Iterator<Item = Index<Source>>,
) -> Option<Volts> {
    let each = sources.map(|source| condition.volts(&model.sources[source]));
    let each: Vec<Volts> = each.collect::<Option<_>>()?;
    Some(each.into_iter().fold(Volts::ZERO, Volts::max))
}

/// By how much a load of constant power draws at most more at fewer volts, as long as it has the least
/// it needs, than at those it has, which are no more than the most of any source. `None` where it
/// states no least volts.
pub(crate) fn most_more(load: &Load, power: Watts, most: Volts) -> Option<Amperes> {
    let least = load.min_volts.filter(|least| *least > Volts::ZERO)?;
    (least < most).then(|| power / least - power / most)
}
