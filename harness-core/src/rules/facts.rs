//! What rules judge: one boat of a model, routed and solved in each operating state.

use super::ampacity::Loaded;
use super::protection::Walks;
use super::{Known, LimitKey, Place, within};
use crate::boats::{Boat, BoatSet};
use crate::model::{BoatModel, Index, Load, OperatingState, RuleSet, Wire};
use crate::network::assembly::{Assembly, LoadPoint, More, Operating, Part, SourceCondition};
use crate::routing::{Bundle, Routing};
use crate::units::Amperes;
use crate::working::NotEvaluated;
use std::collections::BTreeSet;

/// Which things of a boat are judged. Whatever lies beside them counts all the same.
#[derive(Clone, Copy, Debug, Default)]
pub enum Judged<'b> {
    /// All of them.
    #[default]
    All,
    /// Only these.
    These(&'b BTreeSet<Place>),
    /// Of the wires only those that none of these boats has.
    NotOn(&'b [Boat]),
}

/// A boat ready to be judged.
#[derive(Debug)]
pub struct Facts<'m> {
    /// The model.
    pub model: &'m BoatModel,
    /// Every buildable boat; `None` where the rules between options are too tangled to count.
    pub boats: Option<&'m BoatSet>,
    /// The boat judged.
    pub boat: &'m Boat,
    /// Where the wires go.
    pub routing: &'m Routing,
    /// What is joined to what on this boat.
    pub assembly: &'m Assembly,
    /// This boat in each state and condition of the sources.
    pub operating: &'m [Operating],
    /// The bundle of each run on this boat.
    pub bundles: &'m [Bundle],
    /// What other boats showed: rules need not tell what is no worse. `None` where all is wanted.
    pub known: Option<&'m Known>,
    /// What is judged, where it is one by one.
    pub judged: Judged<'m>,
    /// The plus side of each source on this boat.
    pub walks: Walks,
    /// How many loaded conductors lie together on this boat.
    pub loaded: Loaded,
}

/// The greatest known current of something, the state in which it flows, and why it may be more.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Greatest {
    /// Magnitude of the current.
    pub current: Amperes,
    /// The state; `None` for a model without states.
    pub state: Option<Index<OperatingState>>,
    /// Why the current of some state is unknown.
    pub unknown: Option<NotEvaluated>,
    /// What the current of some state is at most where it may be more than what is known of it, and
    /// why; without an amount where that is unknown.
    pub more: Option<(Option<Amperes>, NotEvaluated)>,
}

impl Greatest {
    /// Takes in the current of one more state.
    pub fn include(
        &mut self,
        state: Option<Index<OperatingState>>,
        current: &Result<Amperes, NotEvaluated>,
    ) {
        match current {
            Ok(current) if *current > self.current => {
                self.current = *current;
                self.state = state;
            }
            Ok(_) => {}
            Err(why) => self.unknown = Some(why.clone()),
        }
    }

    /// Takes in by how much the current of one state may be more.
    pub fn may_be_more(&mut self, current: Amperes, more: Option<&More>) {
        if let Some(more) = more {
            let at_most = more.at_most.map(|more| current + more);
            self.doubts(&(at_most, more.why.clone()));
        }
    }

    /// Takes in what another current is at most.
    fn doubts(&mut self, (at_most, why): &(Option<Amperes>, NotEvaluated)) {
        let known = self.more.take();
        let known = known.unwrap_or_else(|| (Some(Amperes::ZERO), why.clone()));
        let both = known.0.zip(*at_most);
        self.more = Some((both.map(|(known, own)| known.max(own)), known.1));
    }

    /// Takes in what is unknown of another current that is held to the same limit.
    pub fn doubts_of(&mut self, other: &Self) {
        self.unknown = self.unknown.take().or_else(|| other.unknown.clone());
        if let Some(more) = &other.more {
            self.doubts(more);
        }
    }

    /// Why a current within a limit may be over it.
    pub fn may_exceed(&self, limit: Amperes) -> Option<&NotEvaluated> {
        let more = self.more.as_ref().filter(|(at_most, _)| {
            at_most.is_none_or(|at_most| !within(at_most.value(), limit.value()))
        });
        self.unknown.as_ref().or(more.map(|(_, why)| why))
    }
}

impl Facts<'_> {
    /// Each state, at one condition of the sources.
    pub fn at(&self, condition: SourceCondition) -> impl Iterator<Item = &Operating> {
        self.operating
            .iter()
            .filter(move |operating| operating.condition == condition)
    }

    /// Whether a rule set applies to the model.
    pub fn applies(&self, rule_set: RuleSet) -> bool {
        self.model.settings.rule_sets.contains(&rule_set)
    }

    /// Whether a value that holds to its limit or does not is wanted: it is unless other boats
    /// showed one as bad. For rules that give one finding for each place and rule set.
    pub fn wants(&self, limit: LimitKey, holds: bool, value: f64, allowed: f64) -> bool {
        let known = self.known;
        known.is_none_or(|known| known.is_outdone_by(limit, holds, value, allowed))
    }

    /// Whether it is wanted that a limit is met where nothing is measured: it is unless another boat
    /// showed anything of it.
    pub fn wants_met(&self, limit: LimitKey) -> bool {
        self.known.is_none_or(|known| !known.has(limit))
    }

    /// The wires this boat has.
    pub fn wires(&self) -> impl Iterator<Item = (Index<Wire>, &Wire)> {
        self.model
            .wires
            .iter()
            .filter(|(_, wire)| wire.fitted_when.holds(self.boat))
    }

    /// Whether a thing is among those judged.
    pub fn judges(&self, place: Place) -> bool {
        match self.judged {
            Judged::These(places) => places.contains(&place),
            Judged::All | Judged::NotOn(_) => true,
        }
    }

    /// The wires this boat has that are judged.
    pub fn judged_wires(&self) -> impl Iterator<Item = (Index<Wire>, &Wire)> {
        let asked: Vec<Index<Wire>> = match self.judged {
            Judged::These(places) => {
                let wires = places.iter().filter_map(|place| match place {
                    Place::Wire(at) => Some(*at),
                    _ => None,
                });
                wires.collect()
            }
            Judged::All | Judged::NotOn(_) => self.model.wires.indices().collect(),
        };
        let wires = asked.into_iter().map(|at| (at, &self.model.wires[at]));
        let fitted = wires.filter(|(_, wire)| wire.fitted_when.holds(self.boat));
        fitted.filter(|(_, wire)| match self.judged {
            Judged::NotOn(boats) => !boats.iter().any(|boat| wire.fitted_when.holds(boat)),
            Judged::All | Judged::These(_) => true,
        })
    }

    /// The bundles of the runs that are judged.
    pub fn judged_bundles(&self) -> impl Iterator<Item = &Bundle> {
        let bundles = self.bundles.iter();
        bundles.filter(|bundle| self.judges(Place::Run(bundle.run)))
    }

    /// The loads this boat has that are judged.
    pub fn judged_loads(&self) -> impl Iterator<Item = (Index<Load>, &Load)> {
        let loads = self.loads();
        loads.filter(|(at, _)| self.judges(Place::Load(*at)))
    }

    /// The loads this boat has.
    pub fn loads(&self) -> impl Iterator<Item = (Index<Load>, &Load)> {
        self.model
            .loads
            .iter()
            .filter(|(_, load)| load.fitted_when.holds(self.boat))
    }

    /// The greatest current of a part over all states at nominal volts; none for a part that this
    /// boat has not.
    pub fn greatest_current(&self, part: Part) -> Greatest {
        let mut greatest = Greatest::default();
        if let Some(branch) = self.assembly.branch(part) {
            for operating in self.at(SourceCondition::Nominal) {
                let current = operating.branch_currents[branch].clone();
                let current = current.map(Amperes::abs);
                greatest.include(operating.state, &current);
                let more = operating.at_least.branches.get(&branch);
                greatest.may_be_more(current.unwrap_or_default(), more);
            }
        }
        greatest
    }

    /// Whether a part is closed in some stated state. Only devices open; a model that states no
    /// states has them closed.
    pub fn closes(&self, part: Part) -> bool {
        match part {
            Part::Device(device) => self.model.devices[device].ever_closes(&self.model.states),
            _ => true,
        }
    }

    /// What becomes of a load in each state at one condition.
    pub fn load_points(
        &self,
        load: Index<Load>,
        condition: SourceCondition,
    ) -> impl Iterator<Item = (Option<Index<OperatingState>>, &LoadPoint)> {
        self.at(condition)
            .filter_map(move |operating| Some((operating.state, operating.loads.get(&load)?)))
    }

    /// Name of a state for a sentence.
    pub fn state_words(&self, state: Option<Index<OperatingState>>) -> String {
        state.map_or_else(
            || "with every load running".to_owned(),
            |state| format!("in state \"{}\"", self.model.states[state].title()),
        )
    }
}
