//! The least copper for all conductors of a model at once, so that no buildable boat breaks a
//! limit that sizes can mend: shared feeders and returns count for every load behind them.
//!
//! What each wire needs by itself (current, smallest size, its device, its feed) is found first,
//! by the rules on every boat that is worst for something, at the currents of thick wires. Above
//! that the drops decide together: each drop on the boat where it is worst is a row of
//! [`super::least_copper`], and new rows come from studies of every boat until none fails. The rules
//! have the last word: the sizes handed out were judged on every boat.

mod wires;
mod floors;
mod rows;

use super::least_copper::{
    GovernedBy, Instance, LeastCopper, NotSized, Row, Segment, solve, solve_with,
};
use super::proposal::{Governor, NoSize, SizingProposal};
use crate::model::{BoatModel, Index, Wire};
use crate::rules::Finding;
use crate::study::Study;
use crate::tables::conductors::{self, ConductorRow};
use crate::units::Kilograms;
use crate::working::NotEvaluated;
use floors::Floors;
use std::collections::{BTreeMap, BTreeSet};
use wires::{Sized, copper, which};

/// Times the needs of single wires are raised again after the drops were met.
const MOST_RAISED: usize = 8;

/// Sizes for all conductors of a model.
#[derive(Clone, Debug, PartialEq)]
pub struct EverySizing {
    /// Each wire that was sized, in stated order.
    pub wires: Vec<SizingProposal>,
    /// Wires that stay as they are, with the reason.
    pub kept: Vec<(Index<Wire>, String)>,
    /// Copper of the wires sized.
    pub copper: Kilograms,
    /// Copper of the same wires as stated; `None` where one states no size.
    pub copper_now: Option<Kilograms>,
    /// The same with each load drawing the least it may with other sizes: constant power with all
    /// its volts, a resistance with those its limit leaves of its source as solved. The needs of
    /// single wires are taken at the currents through thick ones.
    pub at_least: Kilograms,
    /// No sizes that break nothing have less copper, at the currents of these boats with these
    /// sizes.
    pub at_least_so: Kilograms,
    /// What fails with these sizes: no size mends it, or it needs other changes besides.
    pub left: Vec<Finding>,
    /// What fails now, and no more.
    pub cleared: usize,
    /// Boats' drops that were held within their limits.
    pub rows: usize,
    /// Studies of every boat.
    pub studies: usize,
}

impl EverySizing {
    /// The model with these sizes.
    pub fn applied(&self, model: &BoatModel) -> BoatModel {
        let mut sized = model.clone();
        for one in &self.wires {
            sized
                .wires
                .change(one.wire, |wire| wire.size = Some(one.proposed));
        }
        sized
    }

    /// The part of the copper that is not shown to be needed at these currents.
    pub fn gap(&self) -> f64 {
        (1.0 - self.at_least_so / self.copper).max(0.0)
    }
}

/// Sizes all conductors of a model for every buildable boat.
///
/// # Errors
/// When not every boat can be judged, or no wire can be sized.
pub fn size_every_conductor(study: &Study) -> Result<EverySizing, NoSize> {
    if study.every.is_none() {
        let why = "not every boat was judged, and sizes are for every boat";
        return Err(NoSize::NotEvaluated(NotEvaluated::because(why)));
    }
    // What cannot be held to its current shows only with all sizes given: then it stays as it is.
    let mut unknown = BTreeMap::new();
    let (mut all, kept) = loop {
        let (sized, kept) = which(study, &unknown);
        if sized.is_empty() {
            let why = "no wire of the model can be sized";
            return Err(NoSize::NotEvaluated(NotEvaluated::because(why)));
        }
        let mut all = AllSizes::of(study, sized);
        let found = all.raise_floors();
        if found.is_empty() {
            break (all, kept);
        }
        unknown.extend(found);
    };
    all.floors.raise_before_devices(&study.model, &all.sized);
    let first = all.floors.clone();
    let (answer, instance, findings) = all.settle()?;
    Ok(all.report(kept, &first, &answer, &instance, findings))
}

struct AllSizes<'a> {
    study: &'a Study,
    sized: Vec<Sized>,
    /// Place of each sized wire.
    place: BTreeMap<Index<Wire>, usize>,
    floors: Floors,
    /// Drops on boats, as known so far.
    rows: Vec<Row>,
    /// Each row ever known with the least currents; rows tell their place here as their boat.
    least: Vec<Row>,
    /// Loads whose limit no size keeps.
    hopeless: BTreeSet<usize>,
    studies: usize,
}

impl<'a> AllSizes<'a> {
    fn of(study: &'a Study, sized: Vec<Sized>) -> Self {
        let numbered = sized.iter().enumerate();
        Self {
            study,
            place: numbered.map(|(at, one)| (one.wire, at)).collect(),
            floors: Floors::none(sized.len()),
            sized,
            rows: Vec::new(),
            least: Vec::new(),
            hopeless: BTreeSet::new(),
            studies: 0,
        }
    }

    /// The model with the size of each sized wire at a place of its list.
    fn with_sizes(&self, at: impl Fn(usize) -> usize) -> BoatModel {
        let mut model = self.study.model.clone();
        for (number, one) in self.sized.iter().enumerate() {
            let size = one.sizes[at(number)].size;
            model.wires.change(one.wire, |wire| wire.size = Some(size));
        }
        model
    }

    /// Sizes from these floors up, held to these rows.
    fn instance(&self, floors: &Floors, rows: Vec<Row>) -> Instance {
        let segment = |(one, floor): (&Sized, &usize)| Segment {
            choices: one.areas[*floor..].to_vec(),
        };
        Instance {
            segments: self.sized.iter().zip(&floors.at).map(segment).collect(),
            rows,
            ..Instance::default()
        }
    }

    /// Sizes for the drops above the floors, until nothing that sizes mend fails on any boat.
    fn settle(&mut self) -> Result<(LeastCopper, Instance, Vec<Finding>), NoSize> {
        for _ in 0..MOST_RAISED {
            let mut instance = self.instance(&self.floors, self.rows.clone());
            let mut last = None;
            let found = {
                let all = &mut *self;
                let mut judge = |choices: &[usize]| {
                    let floors = all.floors.at.clone();
                    let (rows, findings) = all.broken(&|number| floors[number] + choices[number]);
                    last = Some(findings);
                    rows
                };
                solve_with(&mut instance, |sizes| judge(&sizes.choices))
            };
            match found {
                Ok(answer) => {
                    self.rows = instance.rows.clone();
                    let findings = last.unwrap_or_default();
                    if !self.floors.raise(&self.sized, &self.place, &findings) {
                        return Ok((answer, instance, findings));
                    }
                }
                Err(NotSized::OutOfReach(rows)) => {
                    let loads: BTreeSet<usize> =
                        rows.iter().map(|one| instance.rows[one.row].load).collect();
                    self.rows = instance.rows;
                    self.rows.retain(|row| !loads.contains(&row.load));
                    self.hopeless.extend(loads);
                }
                Err(why) => {
                    return Err(NoSize::NotEvaluated(NotEvaluated::because(why.to_string())));
                }
            }
        }
        let why = "needs of single wires kept rising with the drops";
        Err(NoSize::NotEvaluated(NotEvaluated::because(why)))
    }

    /// No sizes below the floors of single wires and the least currents of loads meet the rows.
    fn at_least(&self, first: &Floors) -> Kilograms {
        let least = self.rows.iter().map(|row| self.least[row.boat].clone());
        let instance = self.instance(first, least.collect());
        Kilograms::new(solve(&instance).map_or(0.0, |answer| answer.at_least_kg))
    }

    fn report(
        &self,
        kept: Vec<(Index<Wire>, String)>,
        first: &Floors,
        answer: &LeastCopper,
        instance: &Instance,
        findings: Vec<Finding>,
    ) -> EverySizing {
        let model = &self.study.model;
        let mut copper_now = Some(0.0);
        let wires = self.sized.iter().enumerate().map(|(number, one)| {
            let at = self.floors.at[number] + answer.sizes.choices[number];
            let proposed = one.sizes[at];
            let now = model.wires[one.wire].size.and_then(conductors::row);
            let length = one.areas[at].mass_kg / copper(proposed);
            let kilograms = |row: &ConductorRow| row.mass_kg_per_km.value * length / 1000.0;
            copper_now = copper_now
                .zip(now)
                .map(|(sum, row)| sum + copper(row) * length);
            let (governed_by, because) = match answer.governed_by[number] {
                GovernedBy::Row(row) => {
                    let smaller = one.areas[at - 1].area_mm2;
                    self.drop_governs(number, &instance.rows[row], answer, smaller)
                }
                GovernedBy::LeastSize => self.floors.governor(number, one),
            };
            SizingProposal {
                wire: one.wire,
                size_now: model.wires[one.wire].size,
                proposed: proposed.size,
                governed_by,
                because,
                mass_change: now.map(|now| Kilograms::new(kilograms(proposed) - kilograms(now))),
            }
        });
        let wires = wires.collect();
        let left: Vec<Finding> = findings.into_iter().filter(Finding::fails).collect();
        let still: BTreeSet<_> = left.iter().map(Finding::limit_key).collect();
        let before = self.study.findings.iter().filter(|finding| finding.fails());
        EverySizing {
            wires,
            kept,
            copper: Kilograms::new(answer.sizes.mass_kg),
            copper_now: copper_now.map(Kilograms::new),
            at_least: self.at_least(first),
            at_least_so: Kilograms::new(answer.at_least_kg),
            cleared: before
                .filter(|finding| !still.contains(&finding.limit_key()))
                .count(),
            left,
            rows: instance.rows.len(),
            studies: self.studies,
        }
    }

    /// What the drop would be with one wire a size smaller.
    fn drop_governs(
        &self,
        number: usize,
        row: &Row,
        answer: &LeastCopper,
        smaller_mm2: f64,
    ) -> (Governor, String) {
        let mut areas = answer.sizes.areas_mm2.clone();
        let reached_v = row.drop_v(&areas);
        areas[number] = smaller_mm2;
        let load = &self.study.model.loads[Index::new(row.load)];
        let because = format!(
            "{} would lose {:.3} V instead of {reached_v:.3} V on its worst boat; allowed are {:.3} V",
            load.title(),
            row.drop_v(&areas),
            row.limit_v
        );
        (Governor::Rule(rows::rule_of(row)), because)
    }
}
