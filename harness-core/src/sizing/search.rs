//! The search for the smallest sizes: together for the loads, each by itself for the wire.

use super::proposal::{CircuitSizing, Governor, NoSize, SizingProposal};
use super::scope::Scope;
use super::trial::{Sizes, Trial};
use crate::model::{BoatModel, Index, Pin, SizeSeriesChoice, Wire};
use crate::rules::{
    self, CURRENT_CODE, DROP_CODE, Facts, Finding, LimitKey, Outcome, Place, Quantity,
    misfits_in_cavities,
};
use crate::tables::conductors;
use crate::units::{Kilograms, SizeSeries, WireSize};
use crate::working::{NotEvaluated, Working};
use std::collections::{BTreeMap, BTreeSet};

/// The smallest sizes of these wires; if their contacts stand in the way, also those that would
/// do in other contacts.
pub(super) fn smallest(facts: &Facts<'_>, wires: &[Index<Wire>]) -> Result<CircuitSizing, NoSize> {
    let in_cavity = |wire: &Index<Wire>| {
        let stated = &facts.model.wires[*wire];
        [stated.from, stated.to]
            .iter()
            .any(|pin| matches!(pin, Pin::Cavity(..)))
    };
    match search(facts, wires, true) {
        Err(NoSize::NoneEnough {
            reason, findings, ..
        }) if wires.iter().any(in_cavity) => Err(NoSize::NoneEnough {
            reason,
            findings,
            with_other_contacts: search(facts, wires, false).ok().map(Box::new),
        }),
        found => found,
    }
}

fn search(
    facts: &Facts<'_>,
    wires: &[Index<Wire>],
    heed_contacts: bool,
) -> Result<CircuitSizing, NoSize> {
    if wires.is_empty() {
        let why = "no wire to be sized is on this boat";
        return Err(NoSize::NotEvaluated(NotEvaluated::because(why)));
    }
    let series = stocked(facts.model);
    let choice = |wire: &Index<Wire>| {
        let choice = if heed_contacts {
            Choice::within_contacts(facts.model, &series, *wire)?
        } else {
            Choice::free(series.len())
        };
        Ok((*wire, choice))
    };
    let choices = wires.iter().map(choice).collect::<Result<_, NoSize>>()?;
    let scope = Scope::of(facts, wires);
    let mut search = Search {
        choices,
        trial: Trial::of(facts, &scope),
        series,
        tried: BTreeMap::new(),
        left: Vec::new(),
    };
    search.set_aside_what_no_size_cures();
    let floor = search.floor_for_loads()?;
    let (sizes, findings) = search.sizes_for_wires(floor)?;
    refuse_unknown(&findings)?;
    Ok(search.report(facts, floor, &sizes))
}

/// The stocked sizes of the yard's series, thin to thick.
pub(super) fn stocked(model: &BoatModel) -> Vec<WireSize> {
    let series = match model.settings.size_series {
        SizeSeriesChoice::Awg => SizeSeries::Awg,
        SizeSeriesChoice::Mm2 => SizeSeries::Metric,
    };
    conductors::stocked(series).map(|row| row.size).collect()
}

/// The sizes one wire may have, by position in the series, and how far it has been raised.
pub(super) struct Choice {
    pub fits: Vec<usize>,
    /// What keeps the next thinner and the next thicker size out of its contacts.
    pub too_thin: Option<String>,
    too_thick: Option<String>,
    /// Least position for the wire itself, and what broke below it.
    need: usize,
    broke: Option<(&'static str, String)>,
}

impl Choice {
    /// Any size of the series.
    fn free(count: usize) -> Self {
        Self {
            fits: (0..count).collect(),
            too_thin: None,
            too_thick: None,
            need: 0,
            broke: None,
        }
    }

    /// The sizes that the contacts at both ends take.
    pub fn within_contacts(
        model: &BoatModel,
        series: &[WireSize],
        wire: Index<Wire>,
    ) -> Result<Self, NoSize> {
        let mut stated = model.wires[wire].clone();
        let mut misfit = |size| {
            stated.size = Some(size);
            misfits_in_cavities(model, &stated).into_iter().next()
        };
        let misfits: Vec<_> = series.iter().map(|size| misfit(*size)).collect();
        let fits: Vec<_> = (0..misfits.len())
            .filter(|at| misfits[*at].is_none())
            .collect();
        let (Some(first), Some(last)) = (fits.first(), fits.last()) else {
            return Err(NoSize::NoneEnough {
                reason: format!(
                    "no stocked size of wire {} fits the contacts at both its ends: {}",
                    model.wires.id(wire),
                    misfits.into_iter().flatten().next().unwrap_or_default()
                ),
                findings: Vec::new(),
                with_other_contacts: None,
            });
        };
        Ok(Self {
            too_thin: first.checked_sub(1).and_then(|at| misfits[at].clone()),
            too_thick: misfits.get(last + 1).cloned().flatten(),
            fits,
            need: 0,
            broke: None,
        })
    }

    /// The position it gets where all should have at least `floor`.
    fn at(&self, floor: usize) -> usize {
        let least = floor.max(self.need);
        let reached = self.fits.iter().copied().find(|at| *at >= least);
        reached.or(self.fits.last().copied()).unwrap_or(least)
    }
}

struct Search<'f, 'm> {
    series: Vec<WireSize>,
    choices: BTreeMap<Index<Wire>, Choice>,
    trial: Trial<'f, 'm>,
    /// What broke with all wires at least at a position of the series.
    tried: BTreeMap<usize, Vec<Finding>>,
    /// What fails alike at every size.
    left: Vec<Finding>,
}

impl Search<'_, '_> {
    fn sizes(&self, floor: usize) -> Sizes {
        let size = |choice: &Choice| self.series[choice.at(floor)];
        self.choices
            .iter()
            .map(|(wire, choice)| (*wire, size(choice)))
            .collect()
    }

    /// What the circuit breaks with all wires at least at this position, of what sizes can cure.
    fn broken_at(&mut self, floor: usize) -> Vec<Finding> {
        self.trial.resize(&self.sizes(floor));
        self.trial.solve();
        let broken = self.broken();
        self.tried.insert(floor, broken.clone());
        broken
    }

    fn broken(&self) -> Vec<Finding> {
        let left: BTreeSet<_> = self.left.iter().map(Finding::limit_key).collect();
        let mut found = self.trial.judge();
        found.retain(|finding| finding.fails() && !left.contains(&finding.limit_key()));
        found
    }

    /// A finding that fails with the same numbers at the thinnest and the thickest sizes, such
    /// as a missing fuse, is no matter of sizes.
    fn set_aside_what_no_size_cures(&mut self) {
        type Numbers = (Option<Quantity>, Option<Quantity>);
        let numbers = |finding: &Finding| -> (LimitKey, Numbers) {
            (finding.limit_key(), (finding.value, finding.limit))
        };
        let thinnest: BTreeMap<_, _> = self.broken_at(0).iter().map(numbers).collect();
        let mut left = self.broken_at(self.series.len() - 1);
        left.retain(|finding| thinnest.get(&finding.limit_key()) == Some(&numbers(finding).1));
        self.left = left;
        let left: BTreeSet<_> = self.left.iter().map(Finding::limit_key).collect();
        for broken in self.tried.values_mut() {
            broken.retain(|finding| !left.contains(&finding.limit_key()));
        }
    }

    /// The least position at which loads and devices break nothing, by halving: a thicker
    /// conductor never loses more.
    fn floor_for_loads(&mut self) -> Result<usize, NoSize> {
        let of_loads = |broken: &[Finding]| {
            let other = |finding: &&Finding| !matches!(finding.place, Place::Wire(_));
            broken.iter().filter(other).cloned().collect::<Vec<_>>()
        };
        let (mut low, mut high) = (0, self.series.len());
        while low < high {
            let middle = low + (high - low) / 2;
            let broken = match self.tried.get(&middle) {
                Some(known) => known.clone(),
                None => self.broken_at(middle),
            };
            if of_loads(&broken).is_empty() {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        if low < self.series.len() {
            return Ok(low);
        }
        let thickest = self.tried.get(&(low - 1)).map(|broken| of_loads(broken));
        Err(self.none_enough(thickest.unwrap_or_default()))
    }

    fn none_enough(&self, findings: Vec<Finding>) -> NoSize {
        let first = findings.first();
        let mut reason = first.map_or_else(String::new, |finding| {
            format!("{} {}", finding.message, finding.next_step)
        });
        let contacts: Vec<_> = self
            .choices
            .values()
            .filter_map(|choice| choice.too_thick.as_deref())
            .collect();
        if let Some(contact) = contacts.first() {
            reason.push_str(&format!(" A thicker wire does not fit: {contact}."));
        }
        NoSize::NoneEnough {
            reason,
            findings,
            with_other_contacts: None,
        }
    }

    /// Raises each wire that breaks something by itself until none does.
    fn sizes_for_wires(&mut self, floor: usize) -> Result<(Sizes, Vec<Finding>), NoSize> {
        loop {
            let sizes = self.sizes(floor);
            self.trial.resize(&sizes);
            self.trial.solve();
            // Currents hardly change with the size of one wire: solve again when all are raised.
            let mut raised = false;
            loop {
                let broken = self.broken();
                if broken.is_empty() {
                    break;
                }
                self.raise(floor, &broken)?;
                raised = true;
                self.trial.resize(&self.sizes(floor));
            }
            if !raised {
                return Ok((sizes, self.trial.judge()));
            }
        }
    }

    /// Raises each wire a finding is about by one size.
    fn raise(&mut self, floor: usize, broken: &[Finding]) -> Result<(), NoSize> {
        let mut moved = BTreeSet::new();
        for finding in broken {
            let Place::Wire(wire) = finding.place else {
                continue;
            };
            let Some(choice) = self.choices.get_mut(&wire) else {
                continue;
            };
            if !moved.insert(wire) {
                continue;
            }
            let now = choice.at(floor);
            choice.need = now + 1;
            choice.broke = Some((finding.rule, finding.message.clone()));
            if choice.at(floor) == now {
                return Err(self.none_enough(vec![finding.clone()]));
            }
        }
        if moved.is_empty() {
            return Err(self.none_enough(broken.to_vec()));
        }
        Ok(())
    }

    fn report(self, facts: &Facts<'_>, floor: usize, sizes: &Sizes) -> CircuitSizing {
        let below = floor
            .checked_sub(1)
            .and_then(|below| self.tried.get(&below));
        let for_loads = below.and_then(|broken| {
            broken
                .iter()
                .find(|finding| !matches!(finding.place, Place::Wire(_)))
        });
        let wires: Vec<_> = sizes
            .iter()
            .map(|(&wire, &proposed)| {
                let choice = &self.choices[&wire];
                let (governed_by, because) = governor(choice, floor, for_loads);
                SizingProposal {
                    wire,
                    size_now: facts.model.wires[wire].size,
                    proposed,
                    governed_by,
                    because,
                    mass_change: mass_change(facts, wire, proposed),
                }
            })
            .collect();
        let before: BTreeSet<_> = failing(rules::judge(facts))
            .iter()
            .map(Finding::limit_key)
            .collect();
        let left: BTreeSet<_> = self.left.iter().map(Finding::limit_key).collect();
        let mut then_fails = failing(self.trial.judge_everything());
        then_fails.retain(|finding| {
            let of_these = matches!(finding.place, Place::Wire(at) if sizes.contains_key(&at));
            (of_these && !left.contains(&finding.limit_key()))
                || !before.contains(&finding.limit_key())
        });
        CircuitSizing {
            mass_change: wires.iter().map(|wire| wire.mass_change).sum(),
            working: self.working(facts.model, &wires),
            wires,
            left: self.left,
            then_fails,
        }
    }

    fn working(&self, model: &BoatModel, wires: &[SizingProposal]) -> Working {
        let mut working = Working::new();
        for (floor, broken) in &self.tried {
            let (numbers, result) = match broken.first() {
                Some(finding) => (finding.message.clone(), "not enough"),
                None => ("every limit is kept".to_owned(), "enough"),
            };
            working.step(
                format!("no wire thinner than {}", self.series[*floor]),
                "",
                numbers,
                result,
                None,
            );
        }
        for wire in wires {
            working.step(
                format!("wire {}", model.wires.id(wire.wire)),
                wire.governed_by.words(),
                wire.because.clone(),
                wire.proposed.to_string(),
                None,
            );
        }
        working
    }
}

fn failing(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.retain(Finding::fails);
    findings
}

/// What the size of a wire follows from: what it needs itself, what the loads need, or what its
/// contacts take.
fn governor(choice: &Choice, floor: usize, for_loads: Option<&Finding>) -> (Governor, String) {
    let at = choice.at(floor);
    if let Some((code, message)) = choice.broke.as_ref().filter(|_| choice.need > floor) {
        return (Governor::Rule(code), message.clone());
    }
    if at < floor
        && let Some(contacts) = &choice.too_thick
    {
        return (Governor::Contacts, contacts.clone());
    }
    if at > floor
        && let Some(contacts) = &choice.too_thin
    {
        return (Governor::Contacts, contacts.clone());
    }
    match for_loads {
        Some(finding) => (Governor::Rule(finding.rule), finding.message.clone()),
        None => (Governor::SmallestStocked, String::new()),
    }
}

fn mass_change(facts: &Facts<'_>, wire: Index<Wire>, proposed: WireSize) -> Option<Kilograms> {
    let length = facts.routing.electrical_length(facts.model, wire).ok()?;
    let per_km = |size| conductors::row(size).map(|row| row.mass_kg_per_km.value);
    let difference = per_km(proposed)? - per_km(facts.model.wires[wire].size?)?;
    Some(Kilograms::new(difference * length.value() / 1000.0))
}

/// A proposal is only given where drop and current were judged.
fn refuse_unknown(findings: &[Finding]) -> Result<(), NoSize> {
    let needed = [DROP_CODE, CURRENT_CODE];
    let reasons: BTreeSet<_> = findings
        .iter()
        .filter(|finding| needed.contains(&finding.rule))
        .filter_map(|finding| match &finding.outcome {
            Outcome::NotEvaluated(why) => Some(why.because.as_ref()),
            Outcome::Met | Outcome::Fails => None,
        })
        .collect();
    if reasons.is_empty() {
        return Ok(());
    }
    let reasons = reasons.into_iter().collect::<Vec<_>>().join("; ");
    Err(NoSize::NotEvaluated(NotEvaluated::because(reasons)))
}
