//! A circuit fed from another block, or returned to another bar, nearer to the source.

use super::Change;
use crate::model::{
    BoatModel, Bus, BusKind, BusPin, Circuit, Device, Index, Load, OperatingState, Pin, Wire,
};
use crate::network::assembly::{Assembly, LoadPoint, Part, PathShare, SourceCondition, Supplied};
use crate::study::Study;
use std::collections::BTreeMap;

/// A position of a block or bar.
pub type Position = (Index<Bus>, u32);

/// Blocks and bars tried, those with the least volts lost before them first.
const MOST_PLACES: usize = 2;

/// The device of a circuit with the wires behind it, taken to a free position of another block.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OtherFeed {
    /// The fuse or breaker.
    pub device: Index<Device>,
    /// Where it sits now.
    pub from: Position,
    /// Where it would sit.
    pub to: Position,
}

/// The return of a circuit taken to another bar.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OtherReturn {
    /// The wire that ends there.
    pub wire: Index<Wire>,
    /// Where it ends now.
    pub from: Position,
    /// Where it would end.
    pub to: Position,
}

impl OtherFeed {
    pub(super) fn on(&self, model: &mut BoatModel) {
        let at = |(bus, position)| Pin::Bus(bus, BusPin::Position(position));
        let (from, to) = (at(self.from), at(self.to));
        model
            .devices
            .change(self.device, |device| device.fitted_in = Some(self.to));
        for wire in model.wires.indices().collect::<Vec<_>>() {
            let stated = &model.wires[wire];
            if stated.from == from || stated.to == from {
                model.wires.change(wire, |wire| {
                    for end in [&mut wire.from, &mut wire.to] {
                        if *end == from {
                            *end = to;
                        }
                    }
                });
            }
        }
    }

    pub(super) fn words(&self, model: &BoatModel) -> String {
        format!(
            "feed from position {} of {} instead of position {} of {}, {} with it",
            self.to.1,
            model.buses.id(self.to.0),
            self.from.1,
            model.buses.id(self.from.0),
            model.devices.id(self.device)
        )
    }
}

impl OtherReturn {
    pub(super) fn on(&self, model: &mut BoatModel) {
        let at = |(bus, position)| Pin::Bus(bus, BusPin::Position(position));
        let (from, to) = (at(self.from), at(self.to));
        model.wires.change(self.wire, |wire| {
            for end in [&mut wire.from, &mut wire.to] {
                if *end == from {
                    *end = to;
                }
            }
        });
    }

    pub(super) fn words(&self, model: &BoatModel) -> String {
        format!(
            "return wire {} to position {} of {} instead of {}",
            model.wires.id(self.wire),
            self.to.1,
            model.buses.id(self.to.0),
            model.buses.id(self.from.0)
        )
    }
}

/// Other feeds and returns for a load, and both together: a way of its own past the feeder that
/// it shares.
pub(super) fn moves(worst: &Study, load: Index<Load>) -> Vec<Change> {
    let Some((state, supplied)) = worst.worst_supply(load) else {
        return Vec::new();
    };
    let model = &worst.model;
    let lost = Lost::of(worst, state, supplied);
    let feed = supplied.feed.iter().rev().find_map(|share| {
        let Part::Device(device) = worst.assembly.branches[share.branch].part else {
            return None;
        };
        Some((device, model.devices[device].fitted_in?))
    });
    let feeds = feed.into_iter().flat_map(|(device, from)| {
        let places = lost.less_than(model, from.0, BusKind::FuseBlock);
        places.map(move |to| OtherFeed { device, from, to })
    });
    let feeds: Vec<OtherFeed> = feeds.collect();
    let circuit = model.loads[load].circuit;
    let back = own_return(worst, &supplied.back, circuit);
    let returns = back.into_iter().flat_map(|(wire, from)| {
        let places = lost.less_than(model, from.0, BusKind::Busbar);
        places.map(move |to| OtherReturn { wire, from, to })
    });
    let returns: Vec<OtherReturn> = returns.collect();
    let both = feeds.first().zip(returns.first());
    let both = both.map(|(feed, back)| Change::Moved(Some(feed.clone()), Some(back.clone())));
    let feeds = feeds
        .iter()
        .map(|feed| Change::Moved(Some(feed.clone()), None));
    let returns = returns
        .iter()
        .map(|back| Change::Moved(None, Some(back.clone())));
    both.into_iter().chain(feeds).chain(returns).collect()
}

/// The wire of the circuit by which its return reaches a bar.
fn own_return(
    worst: &Study,
    back: &[PathShare],
    circuit: Option<Index<Circuit>>,
) -> Option<(Index<Wire>, Position)> {
    let model = &worst.model;
    let bar = |pin: Pin| match pin {
        Pin::Bus(bus, BusPin::Position(position)) if model.buses[bus].kind == BusKind::Busbar => {
            Some((bus, position))
        }
        _ => None,
    };
    back.iter().find_map(|share| {
        let Part::Wire(wire) = worst.assembly.branches[share.branch].part else {
            return None;
        };
        let stated = &model.wires[wire];
        let place = bar(stated.to).or_else(|| bar(stated.from))?;
        (stated.circuit == circuit).then_some((wire, place))
    })
}

/// Volts lost between the source of a load and each block and bar, on the boat and in the state
/// in which the load loses most.
struct Lost(BTreeMap<Index<Bus>, f64>);

impl Lost {
    fn of(worst: &Study, state: Option<Index<OperatingState>>, asked: &Supplied) -> Self {
        let mut lost: BTreeMap<Index<Bus>, f64> = BTreeMap::new();
        let nominal = worst
            .operating
            .iter()
            .filter(|one| one.condition == SourceCondition::Nominal && one.state == state);
        for point in nominal.flat_map(|one| one.loads.values()) {
            let LoadPoint::Supplied(supplied) = point else {
                continue;
            };
            if supplied.source != asked.source {
                continue;
            }
            // From the source on, out and, the other way round, back.
            for way in [
                supplied.feed.iter().collect::<Vec<_>>(),
                supplied.back.iter().rev().collect(),
            ] {
                let mut sum = 0.0;
                for share in way {
                    sum += share.lost.value();
                    for bus in ends(&worst.model, &worst.assembly, share.branch) {
                        let known = lost.entry(bus).or_insert(sum);
                        // A wire that leaves a block has lost more at its other end.
                        *known = known.min(sum);
                    }
                }
            }
        }
        Self(lost)
    }

    /// A free position of each place of this kind before which less is lost than before another,
    /// on every boat that has that other.
    fn less_than(
        &self,
        model: &BoatModel,
        than: Index<Bus>,
        kind: BusKind,
    ) -> impl Iterator<Item = Position> {
        let now = self.0.get(&than).copied().unwrap_or(f64::INFINITY);
        let there = |bus: &Index<Bus>| {
            let when = model.buses[*bus].fitted_when.simplified();
            when == crate::boats::Condition::Always
                || when == model.buses[than].fitted_when.simplified()
        };
        let mut places: Vec<(f64, Index<Bus>)> = self
            .0
            .iter()
            .filter(|(bus, lost)| **bus != than && model.buses[**bus].kind == kind && **lost < now)
            .filter(|(bus, _)| there(bus))
            .map(|(bus, lost)| (*lost, *bus))
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let free: Vec<_> = places
            .into_iter()
            .filter_map(|(_, bus)| Some((bus, *model.free_positions(bus).first()?)))
            .collect();
        free.into_iter().take(MOST_PLACES)
    }
}

/// Blocks and bars at the ends of a branch.
fn ends(model: &BoatModel, assembly: &Assembly, branch: usize) -> Vec<Index<Bus>> {
    let pins = match assembly.branches[branch].part {
        Part::Wire(wire) => vec![model.wires[wire].from, model.wires[wire].to],
        _ => Vec::new(),
    };
    let bus = |pin: &Pin| match pin {
        Pin::Bus(bus, _) => Some(*bus),
        _ => None,
    };
    pins.iter().filter_map(bus).collect()
}
