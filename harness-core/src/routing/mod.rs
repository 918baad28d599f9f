//! Where each wire goes: zones and runs as a graph, the path of each wire, its cut length term
//! by term, and the bundle in each run.
//!
//! Geometry only: no volts, no limits.

mod run_graph;
mod path;
mod cut_length;
mod bundle;

pub(crate) use bundle::diameters;
pub use bundle::{Bundle, bundles};
pub use cut_length::{CutLength, EndTerms, Term};
pub use path::{Leg, Path, Unroutable};
pub use run_graph::RunGraph;

use crate::model::{BoatModel, Index, Run, Wire, Zone};
use crate::units::Metres;
use crate::working::NotEvaluated;

/// The route of every wire of a model, whether or not a boat has the wire.
#[derive(Clone, Debug)]
pub struct Routing {
    /// Length of each run, or why there is none.
    pub run_lengths: Vec<Result<Metres, NotEvaluated>>,
    /// Zone of each run; `None` where neither it nor its points tell.
    pub run_zones: Vec<Option<Index<Zone>>>,
    /// Path of each wire.
    pub paths: Vec<Result<Path, Unroutable>>,
    /// Cut length of each wire.
    pub cut_lengths: Vec<Result<CutLength, NotEvaluated>>,
}

impl Routing {
    /// Routes every wire: along the shortest path of open runs, through its given points in
    /// order, past the runs it must avoid.
    pub fn of(model: &BoatModel) -> Self {
        let graph = RunGraph::of(model);
        let paths = graph.paths(model);
        let cut_lengths = model
            .wires
            .iter()
            .map(|(wire, _)| cut_length::of(model, wire, &paths[wire.number()]))
            .collect();
        let run_zones = model
            .runs
            .iter()
            .map(|(_, run)| zone_of(model, run))
            .collect();
        Self {
            run_lengths: graph.into_lengths(),
            run_zones,
            paths,
            cut_lengths,
        }
    }

    /// Path of one wire.
    pub fn path(&self, wire: Index<Wire>) -> Result<&Path, &Unroutable> {
        self.paths[wire.number()].as_ref()
    }

    /// Cut length of one wire.
    pub fn cut_length(&self, wire: Index<Wire>) -> Result<&CutLength, &NotEvaluated> {
        self.cut_lengths[wire.number()].as_ref()
    }

    /// Length of conductor the current passes: the cut length; where an end is not stated, the
    /// routed length with its slack.
    pub fn electrical_length(
        &self,
        model: &BoatModel,
        wire: Index<Wire>,
    ) -> Result<Metres, NotEvaluated> {
        if let Ok(cut) = self.cut_length(wire) {
            return Ok(cut.total.metres());
        }
        match self.path(wire) {
            Ok(path) => Ok(path.length * (1.0 + model.settings.slack_share)),
            Err(unroutable) => Err(NotEvaluated::because(unroutable.to_string())),
        }
    }

    /// Zone of a run.
    pub fn zone(&self, run: Index<Run>) -> Option<Index<Zone>> {
        self.run_zones[run.number()]
    }
}

fn zone_of(model: &BoatModel, run: &Run) -> Option<Index<Zone>> {
    let (from, to) = (model.points[run.from].zone, model.points[run.to].zone);
    run.stated_zone.or(if from == to { from } else { None })
}
