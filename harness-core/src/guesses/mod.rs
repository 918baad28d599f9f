//! Which results rest on guesses: for each limit the figures it is made of that somebody assumed,
//! or of which nobody said where they come from.
//!
//! A drop rests on the draws of all loads whose current passes a part of its way, and on the
//! resistances of the contacts and devices there; what a conductor carries on the loads fed
//! through it; a fault current on the source. What changes only the volts of other loads, and by
//! that what they draw, is of second order and left out. Each limit is looked at on the boat and in the state
//! in which it is worst, so that nothing is named that is not on that boat.

mod ways;
#[cfg(test)]
mod tests;

use crate::boats::Boat;
use crate::model::{
    Behavior, BoatModel, Connector, ConnectorType, Device, FigureFrom, Index, Load, OperatingState,
    Source,
};
use crate::network::assembly::{Assembly, Part};
use crate::rules::{Finding, Outcome, Place};
use crate::study::Study;
use std::collections::BTreeMap;
use ways::Ways;

/// How far a figure is to be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trust {
    /// Somebody assumed it.
    Guess,
    /// Nobody said where it comes from.
    NotStated,
}

/// A figure of the model, or several of one thing that come from one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// What a load draws, and its least volts.
    Load(Index<Load>),
    /// Resistance and rating of the contacts of a connector type.
    Contacts(Index<ConnectorType>),
    /// Resistance and interrupting rating of a device.
    Device(Index<Device>),
    /// Internal resistance and greatest currents of a source.
    Source(Index<Source>),
    /// Resistance of a contact whose connector type states none.
    AnyContact,
}

impl Figure {
    /// The figure in words: `draw of bilge pump`.
    pub fn words(self, model: &BoatModel) -> String {
        match self {
            Self::Load(at) => format!("draw of {}", model.loads[at].title()),
            Self::Contacts(at) => {
                let part = &model.connector_types[at];
                format!("contacts of {}", part.name.as_deref().unwrap_or(&part.id))
            }
            Self::Device(at) => {
                let device = &model.devices[at];
                let name = device.name.as_deref().unwrap_or(&device.id);
                format!("resistance or rating of {name}")
            }
            Self::Source(at) => {
                let source = &model.sources[at];
                let name = source.name.as_deref().unwrap_or(&source.id);
                format!("internal resistance or currents of {name}")
            }
            Self::AnyContact => "contact resistance of the settings".to_owned(),
        }
    }

    /// List of the model file and short name of the thing that states it; the settings have none.
    pub fn stated_at(self, model: &BoatModel) -> Option<(&'static str, &str)> {
        match self {
            Self::Load(at) => Some(("loads", model.loads.id(at))),
            Self::Contacts(at) => Some(("connector_types", model.connector_types.id(at))),
            Self::Device(at) => Some(("devices", model.devices.id(at))),
            Self::Source(at) => Some(("sources", model.sources.id(at))),
            Self::AnyContact => None,
        }
    }

    /// Why it is not to be relied on; `None` for one that was read or measured.
    pub fn trust(self, model: &BoatModel) -> Option<Trust> {
        let from = match self {
            Self::Load(at) => model.loads[at].figure_from,
            Self::Contacts(at) => model.connector_types[at].figure_from,
            Self::Device(at) => model.devices[at].figure_from,
            Self::Source(at) => model.sources[at].figure_from,
            Self::AnyContact => None,
        };
        match from {
            Some(FigureFrom::Guess) => Some(Trust::Guess),
            Some(FigureFrom::Label | FigureFrom::Measured | FigureFrom::Published) => None,
            None => Some(Trust::NotStated),
        }
    }
}

/// A figure that a value rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rest {
    /// Which.
    pub figure: Figure,
    /// By how much of itself the value changes when the figure does: of a drop the share of the
    /// volts that is lost through it. Taken at nominal volts.
    pub share: f64,
}

/// A figure with the limits that rest on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubtful {
    /// Which.
    pub figure: Figure,
    /// Why it is doubtful.
    pub trust: Trust,
    /// Limits that rest on it and fail.
    pub failing: usize,
    /// Limits that rest on it and hold with less than a tenth to spare.
    pub close: usize,
    /// All limits that rest on it.
    pub limits: usize,
}

/// What the findings of a study rest on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Guesses {
    of_finding: BTreeMap<usize, Vec<Rest>>,
    /// Every doubtful figure that a limit rests on: guesses before those of unknown source, and of
    /// each what decides about failing and close limits first.
    pub figures: Vec<Doubtful>,
}

/// Share of its limit from which a value is close to it.
const CLOSE: f64 = 0.9;
/// Share of a value below which nobody measures a figure for its sake.
const LEAST_SHARE: f64 = 0.01;
/// Volts at which a power is taken where its source states none.
const NOMINAL_V: f64 = 12.0;

impl Guesses {
    /// What each finding of a study rests on.
    pub fn of(study: &Study) -> Self {
        Self::of_those(study, 0..study.findings.len())
    }

    /// What the findings at these positions rest on.
    pub fn of_those(study: &Study, numbers: impl IntoIterator<Item = usize>) -> Self {
        let mut looking = Looking::of(study);
        let each = numbers.into_iter().map(|number| {
            let finding = &study.findings[number];
            (number, looking.figures(finding, study.boat_of(number)))
        });
        let of_finding: BTreeMap<usize, Vec<Rest>> = each.collect();
        let mut all: BTreeMap<Figure, Doubtful> = BTreeMap::new();
        for (number, figures) in &of_finding {
            let finding = &study.findings[*number];
            if matches!(finding.outcome, Outcome::NotEvaluated(_)) {
                continue;
            }
            for &Rest { figure, .. } in figures {
                let Some(trust) = figure.trust(&study.model) else {
                    continue;
                };
                let entry = all.entry(figure).or_insert(Doubtful {
                    figure,
                    trust,
                    failing: 0,
                    close: 0,
                    limits: 0,
                });
                entry.limits += 1;
                entry.failing += usize::from(finding.fails());
                entry.close += usize::from(is_close(finding));
            }
        }
        let mut figures: Vec<Doubtful> = all.into_values().collect();
        figures.sort_by_key(|one| {
            let least = |count: usize| usize::MAX - count;
            (
                one.trust,
                least(one.failing),
                least(one.close),
                least(one.limits),
                one.figure,
            )
        });
        Self {
            of_finding,
            figures,
        }
    }

    /// The figures that the finding at a position rests on, by kind.
    pub fn rests(&self, number: usize) -> &[Rest] {
        self.of_finding.get(&number).map_or(&[], Vec::as_slice)
    }

    /// Those of them that are doubtful, guesses first, and of each what weighs most.
    pub fn doubtful(&self, number: usize, model: &BoatModel) -> Vec<(Rest, Trust)> {
        let rests = self.rests(number).iter();
        let doubtful = rests.filter_map(|rest| Some((*rest, rest.figure.trust(model)?)));
        let mut doubtful: Vec<_> = doubtful.collect();
        doubtful.sort_by(|(one, trust), (other, less)| {
            let by_share = other.share.total_cmp(&one.share);
            trust.cmp(less).then(by_share)
        });
        doubtful
    }
}

fn is_close(finding: &Finding) -> bool {
    let (Some(value), Some(limit)) = (finding.value, finding.limit) else {
        return false;
    };
    // A least value is held from above: 11 V where 10.5 V are needed.
    let ratio = value.value / limit.value;
    let ratio = if ratio > 1.0 { 1.0 / ratio } else { ratio };
    !finding.fails() && ratio.is_finite() && ratio >= CLOSE
}

/// Finds the figures of findings; ways are kept for the findings of one boat and state.
struct Looking<'s> {
    study: &'s Study,
    assembly: Assembly,
    known: BTreeMap<(Boat, Option<Index<OperatingState>>), Ways>,
}

impl<'s> Looking<'s> {
    fn of(study: &'s Study) -> Self {
        Self {
            study,
            assembly: Assembly::of_every_boat(&study.model, &study.routing),
            known: BTreeMap::new(),
        }
    }

    fn figures(&mut self, finding: &Finding, boat: &Boat) -> Vec<Rest> {
        let (model, assembly) = (&self.study.model, &self.assembly);
        if !rests_on_figures(finding.rule) {
            return Vec::new();
        }
        let key = (boat.clone(), finding.state);
        let ways = self
            .known
            .entry(key)
            .or_insert_with(|| Ways::of(model, assembly, boat, finding.state));
        let on_ways = OnWays {
            model,
            assembly,
            ways,
        };
        let shares = on_ways.shares(finding);
        let all = whole(&shares);
        let divided = shares.into_iter().map(|(figure, share)| Rest {
            figure,
            // Without loads nothing is shared out: all of it rests on each.
            share: if all > 0.0 { share / all } else { share },
        });
        divided.filter(|rest| rest.share >= LEAST_SHARE).collect()
    }
}

/// Whether findings of a rule come from figures that somebody states, rather than from how things
/// are joined and placed.
fn rests_on_figures(rule: &str) -> bool {
    matches!(
        rule,
        "drop_over_limit"
            | "supply_below_minimum"
            | "no_operating_point"
            | "conductor_overloaded"
            | "contact_overloaded"
            | "source_overloaded"
            | "device_below_load"
            | "interrupting_rating_too_small"
    )
}

/// Figures with their shares of a value, not yet divided by the whole.
type Shares = BTreeMap<Figure, f64>;

struct OnWays<'w> {
    model: &'w BoatModel,
    assembly: &'w Assembly,
    ways: &'w Ways,
}

impl OnWays<'_> {
    fn shares(&self, finding: &Finding) -> Shares {
        match (finding.rule, finding.place) {
            ("drop_over_limit", Place::Load(load)) => self.of_drop(load),
            ("supply_below_minimum" | "no_operating_point", Place::Load(load)) => {
                let mut shares = self.of_drop(load);
                self.add_inside(load, &mut shares);
                shares
            }
            ("interrupting_rating_too_small", Place::Device(device)) => {
                let sources = self.ways.active().map(Figure::Source);
                let all = sources.chain([Figure::Device(device)]);
                all.map(|figure| (figure, 1.0)).collect()
            }
            ("source_overloaded", Place::Source(source)) => {
                let mut shares = self.of_currents(self.ways.fed_by(source));
                put_whole(&mut shares, Figure::Source(source));
                shares
            }
            ("contact_overloaded", Place::Connector(at)) => self.of_contacts(&[at]),
            ("contact_overloaded", Place::Coupler(at)) => {
                let coupler = &self.model.couplers[at];
                self.of_contacts(&[coupler.first, coupler.second])
            }
            // What is too much for a conductor is the current that its loads draw.
            ("conductor_overloaded", Place::Wire(wire)) => self.of_part(Part::Wire(wire)),
            ("device_below_load", Place::Device(device)) => self.of_part(Part::Device(device)),
            _ => Shares::new(),
        }
    }

    /// What a load draws at nominal volts.
    fn amperes(&self, load: Index<Load>) -> f64 {
        let source = self.ways.source(load).map(|at| &self.model.sources[at]);
        let nominal = source.and_then(|source| source.nominal);
        let nominal = nominal.map_or(NOMINAL_V, |volts| volts.value());
        match self.model.loads[load].behavior {
            Some(Behavior::Current(amperes)) => amperes.value(),
            Some(Behavior::Power(watts)) => watts.value() / nominal,
            Some(Behavior::Resistance(ohms)) => nominal / ohms.value(),
            None => 0.0,
        }
    }

    /// Volts lost on the way: of each load whose current passes there, and of each part that
    /// resists there. Both make the loss, so both have it as their share.
    fn of_drop(&self, load: Index<Load>) -> Shares {
        let mut shares = Shares::new();
        for &number in self.ways.way(load) {
            let branch = &self.assembly.branches[number];
            let Ok(ohms) = &branch.resistance else {
                continue;
            };
            let mut whole = 0.0;
            for through in self.ways.through(number) {
                let lost = ohms.value() * self.amperes(through);
                *shares.entry(Figure::Load(through)).or_default() += lost;
                whole += lost;
            }
            if let Some(figure) = self.resistance(branch.part) {
                *shares.entry(figure).or_default() += whole;
            }
        }
        shares
    }

    /// Volts that the source of a load loses inside.
    fn add_inside(&self, load: Index<Load>, shares: &mut Shares) {
        let Some(source) = self.ways.source(load) else {
            return;
        };
        let inside = self.model.sources[source].internal;
        let ohms = inside.map_or(0.0, |ohms| ohms.value());
        let mut whole = 0.0;
        for fed in self.ways.fed_by(source) {
            let lost = ohms * self.amperes(fed);
            *shares.entry(Figure::Load(fed)).or_default() += lost;
            whole += lost;
        }
        *shares.entry(Figure::Source(source)).or_default() += whole;
    }

    fn resistance(&self, part: Part) -> Option<Figure> {
        match part {
            Part::Device(device) => Some(Figure::Device(device)),
            Part::Coupler(coupler, _) => Some(self.contact(self.model.couplers[coupler].first)),
            Part::Contact(connector, _) => Some(self.contact(connector)),
            Part::Wire(_) | Part::Splice(_) => None,
        }
    }

    fn contact(&self, connector: Index<Connector>) -> Figure {
        let part = self.model.connectors[connector].connector_type;
        match self.model.connector_types[part].contact_resistance {
            Some(_) => Figure::Contacts(part),
            None => Figure::AnyContact,
        }
    }

    fn of_currents(&self, loads: impl Iterator<Item = Index<Load>>) -> Shares {
        let each = loads.map(|load| (Figure::Load(load), self.amperes(load)));
        each.collect()
    }

    fn of_part(&self, part: Part) -> Shares {
        match self.assembly.branch(part) {
            Some(branch) => self.of_currents(self.ways.through(branch)),
            None => Shares::new(),
        }
    }

    /// The contact that carries most, beside its rating.
    fn of_contacts(&self, connectors: &[Index<Connector>]) -> Shares {
        let parts = self.assembly.branches.iter().map(|branch| branch.part);
        let contacts = parts.filter(|part| match *part {
            Part::Contact(at, _) => connectors.contains(&at),
            Part::Coupler(at, _) => connectors.contains(&self.model.couplers[at].first),
            _ => false,
        });
        let each = contacts.map(|part| self.of_part(part));
        let most = each.max_by(|one, other| whole(one).total_cmp(&whole(other)));
        let mut shares = most.unwrap_or_default();
        for at in connectors {
            let part = self.model.connectors[*at].connector_type;
            put_whole(&mut shares, Figure::Contacts(part));
        }
        shares
    }
}

/// The sum over the loads: each current is that of a load.
fn whole(shares: &Shares) -> f64 {
    let of_loads = shares
        .iter()
        .filter(|(figure, _)| matches!(figure, Figure::Load(_)));
    of_loads.map(|(_, share)| share).sum()
}

/// A figure on which all of a value rests.
fn put_whole(shares: &mut Shares, figure: Figure) {
    let all = whole(shares);
    shares.insert(figure, if all > 0.0 { all } else { 1.0 });
}
