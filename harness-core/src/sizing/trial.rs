//! A copy of the boat on which sizes are tried.

use super::scope::{Scope, sized_by};
use crate::model::{BoatModel, Index, Wire};
use crate::network::assembly::branches::wire_resistance;
use crate::network::assembly::{Assembly, Operating, Part};
use crate::routing::{Bundle, bundles};
use crate::rules::{self, Facts, Finding, Judged, Loaded, RULES, Walks};
use crate::units::WireSize;
use std::collections::BTreeMap;

/// Sizes by wire.
pub(super) type Sizes = BTreeMap<Index<Wire>, WireSize>;

/// The boat with other sizes of some wires. Routes do not hang on sizes and stay.
pub(super) struct Trial<'f, 'm> {
    facts: &'f Facts<'m>,
    scope: &'f Scope,
    model: BoatModel,
    assembly: Assembly,
    operating: Vec<Operating>,
}

impl<'f, 'm> Trial<'f, 'm> {
    pub(super) fn of(facts: &'f Facts<'m>, scope: &'f Scope) -> Self {
        Self {
            facts,
            scope,
            model: facts.model.clone(),
            assembly: facts.assembly.clone(),
            operating: facts.operating.to_vec(),
        }
    }

    /// Gives wires these sizes; currents stay as solved before.
    pub(super) fn resize(&mut self, sizes: &Sizes) {
        for (&wire, &size) in sizes {
            if self.model.wires[wire].size == Some(size) {
                continue;
            }
            self.model.wires.change(wire, |wire| wire.size = Some(size));
            if let Some(branch) = self.assembly.branch(Part::Wire(wire)) {
                let resistance = wire_resistance(&self.model, self.facts.routing, wire);
                self.assembly.branches[branch].resistance = resistance;
            }
        }
    }

    /// Solves again the states in which the circuit runs; the others hardly depend on its sizes.
    pub(super) fn solve(&mut self) {
        let loads = &self.scope.loads;
        for operating in &mut self.operating {
            let runs = |state| loads.iter().any(|load| self.model.loads[*load].runs(state));
            if loads.is_empty() || operating.state.is_none_or(runs) {
                *operating =
                    self.assembly
                        .operate(&self.model, operating.state, operating.condition);
            }
        }
    }

    /// What the rules that sizes have to do with say of the circuit.
    pub(super) fn judge(&self) -> Vec<Finding> {
        let facts = self.facts_with(self.facts.bundles);
        RULES
            .iter()
            .filter(|rule| sized_by(rule.subject))
            .flat_map(|rule| (rule.judge)(&facts))
            .filter(|finding| self.scope.holds(finding))
            .collect()
    }

    /// What every rule says of the whole boat.
    pub(super) fn judge_everything(&self) -> Vec<Finding> {
        let bundles = bundles(&self.model, self.facts.routing, |wire| {
            self.model.wires[wire].fitted_when.holds(self.facts.boat)
        });
        rules::judge(&self.facts_with(&bundles))
    }

    fn facts_with<'a>(&'a self, bundles: &'a [Bundle]) -> Facts<'a> {
        Facts {
            model: &self.model,
            boats: self.facts.boats,
            boat: self.facts.boat,
            routing: self.facts.routing,
            assembly: &self.assembly,
            operating: &self.operating,
            bundles,
            known: None,
            judged: Judged::All,
            walks: Walks::default(),
            loaded: Loaded::default(),
        }
    }
}
