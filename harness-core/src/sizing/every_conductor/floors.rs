//! What each wire needs by itself: the least place in its list of sizes, and why.

use super::wires::{NO_CURRENT, NO_CURRENT_A, Sized};
use super::{AllSizes, Governor};
use crate::model::{BoatModel, Device, Index, Pin, Port, Wire};
use crate::network::assembly::{Assembly, Part, SourceCondition};
use crate::routing::bundles;
use crate::rules::{
    CURRENT_CODE, Facts, Finding, Judged, Loaded, Outcome, Place, RULES, Subject, Walks,
};
use crate::tables::conductors;
use std::collections::BTreeMap;

/// The least place of each sized wire, and the rule and sentence that ask for it.
#[derive(Clone, Debug)]
pub(super) struct Floors {
    pub at: Vec<usize>,
    because: Vec<Option<(Governor, String)>>,
}

impl Floors {
    pub fn none(count: usize) -> Self {
        Self {
            at: vec![0; count],
            because: vec![None; count],
        }
    }

    /// Raises wires as far as failures ask. Whether any was raised.
    pub fn raise(
        &mut self,
        sized: &[Sized],
        place: &BTreeMap<Index<Wire>, usize>,
        findings: &[Finding],
    ) -> bool {
        let mut raised = false;
        for finding in findings {
            let Some((wire, size)) = finding.cured_by.filter(|_| finding.fails()) else {
                continue;
            };
            let Some(&number) = place.get(&wire) else {
                continue;
            };
            let Some(needed) = conductors::row(size) else {
                continue;
            };
            let list = &sized[number].sizes;
            let enough = |row: &&conductors::ConductorRow| row.area.value >= needed.area.value;
            // Thicker than its contacts take: as thick as they do.
            let at = list.iter().position(enough).unwrap_or(list.len() - 1);
            if at > self.at[number] {
                self.at[number] = at;
                self.because[number] =
                    Some((Governor::Rule(finding.rule), finding.message.clone()));
                raised = true;
            }
        }
        raised
    }

    /// Raises wires to devices to the thinnest behind them: a device lets its rating flow in both.
    /// No rule asks for it, as the wire before a device is short; our practice.
    pub fn raise_before_devices(&mut self, model: &BoatModel, sized: &[Sized]) {
        let mut sides: BTreeMap<Index<Device>, [Vec<usize>; 2]> = BTreeMap::new();
        for (number, one) in sized.iter().enumerate() {
            let wire = &model.wires[one.wire];
            for pin in [wire.from, wire.to] {
                if let Pin::Device(device, port) = pin {
                    sides.entry(device).or_default()[usize::from(port == Port::Out)].push(number);
                }
            }
        }
        for (device, [before, behind]) in sides {
            let area = |number: &usize| sized[*number].sizes[self.at[*number]].area.value;
            let thinnest = behind
                .iter()
                .min_by(|a, b| area(a).value().total_cmp(&area(b).value()));
            let Some((needed, behind)) = thinnest.map(|number| (area(number), *number)) else {
                continue;
            };
            for number in before {
                let list = &sized[number].sizes;
                let at = list.iter().position(|row| row.area.value >= needed);
                let at = at.unwrap_or(list.len() - 1);
                if at > self.at[number] {
                    self.at[number] = at;
                    let why = format!(
                        "behind {} lies wire {} ({})",
                        model.devices.id(device),
                        model.wires.id(sized[behind].wire),
                        sized[behind].sizes[self.at[behind]].size
                    );
                    self.because[number] = Some((Governor::BehindDevice, why));
                }
            }
        }
    }

    /// What a wire at its floor follows from.
    pub fn governor(&self, number: usize, one: &Sized) -> (Governor, String) {
        match (&self.because[number], &one.contacts.too_thin) {
            (Some((governor, message)), _) => (*governor, message.clone()),
            (None, Some(contacts)) => (Governor::Contacts, contacts.clone()),
            (None, None) => (Governor::SmallestStocked, String::new()),
        }
    }
}

impl AllSizes<'_> {
    /// Raises the floors by the rules about wires themselves, on every boat that is worst for
    /// something, at the currents that flow through the thickest wires. Returns the wires whose
    /// currents are not known even so, or that cannot be held to them.
    pub(super) fn raise_floors(&mut self) -> BTreeMap<Index<Wire>, String> {
        let mut unknown = BTreeMap::new();
        let mut greatest: BTreeMap<Index<Wire>, f64> = BTreeMap::new();
        let Some(every) = &self.study.every else {
            return unknown;
        };
        let thick = self.with_sizes(|number| self.sized[number].sizes.len() - 1);
        let (routing, boats) = (&self.study.routing, &self.study.boats);
        for boat in &every.candidates.boats {
            let assembly = Assembly::of(&thick, routing, boat);
            let operating =
                assembly.operate_all(&thick, &[SourceCondition::Nominal, SourceCondition::Low]);
            let bundles = bundles(&thick, routing, |wire| {
                thick.wires[wire].fitted_when.holds(boat)
            });
            for one in &operating {
                let nominal = one.condition == SourceCondition::Nominal;
                let branches = assembly.branches.iter().zip(&one.branch_currents);
                for (branch, current) in branches.filter(|_| nominal) {
                    let Part::Wire(wire) = branch.part else {
                        continue;
                    };
                    match current {
                        Ok(amps) => {
                            let known = greatest.entry(wire).or_default();
                            *known = known.max(amps.abs().value());
                        }
                        Err(why) => drop(unknown.insert(wire, why.because.to_string())),
                    }
                }
            }
            loop {
                let model = self.with_sizes(|number| self.floors.at[number]);
                let facts = Facts {
                    model: &model,
                    boats: Some(boats),
                    boat,
                    routing,
                    assembly: &assembly,
                    operating: &operating,
                    bundles: &bundles,
                    known: None,
                    judged: Judged::All,
                    walks: Walks::default(),
                    loaded: Loaded::default(),
                };
                let about_wires = RULES.iter().filter(|rule| {
                    matches!(
                        rule.subject,
                        Subject::Ampacity | Subject::Protection | Subject::Conductors
                    )
                });
                let mut findings: Vec<Finding> =
                    about_wires.flat_map(|rule| (rule.judge)(&facts)).collect();
                for finding in &findings {
                    if let (CURRENT_CODE, Place::Wire(wire), Outcome::NotEvaluated(why)) =
                        (finding.rule, finding.place, &finding.outcome)
                    {
                        unknown.insert(wire, why.because.to_string());
                    }
                }
                findings.retain(Finding::fails);
                if !self.floors.raise(&self.sized, &self.place, &findings) {
                    break;
                }
            }
        }
        let dead = greatest
            .into_iter()
            .filter(|(_, amps)| *amps <= NO_CURRENT_A);
        for (wire, _) in dead {
            unknown.entry(wire).or_insert_with(|| NO_CURRENT.to_owned());
        }
        unknown.retain(|wire, _| self.place.contains_key(wire));
        unknown
    }
}
