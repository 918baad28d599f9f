//! Where a component can be fed from and return to: free positions, what is left of a feeder on
//! the boat on which it carries most, how far away.

use crate::boats::{BoatSet, Condition, OptionIndex};
use crate::model::{
    BoatModel, Bus, BusKind, BusPin, Identified, Index, Pin, Point, Pole, Port, Side, Source,
    SourceKind,
};
use crate::network::assembly::Part;
use crate::routing::RunGraph;
use crate::study::Study;
use crate::worst::Quantity;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Shortest distances along open runs, searched once a point.
pub(super) struct Distances<'m> {
    model: &'m BoatModel,
    graph: RunGraph,
    known: BTreeMap<Index<Point>, Vec<f64>>,
}

impl<'m> Distances<'m> {
    pub(super) fn of(model: &'m BoatModel) -> Self {
        Self {
            model,
            graph: RunGraph::of(model),
            known: BTreeMap::new(),
        }
    }

    /// Meters from one point to another; `None` where no run leads there.
    pub(super) fn between(&mut self, from: Index<Point>, to: Index<Point>) -> Option<f64> {
        let graph = &self.graph;
        let distances = self
            .known
            .entry(from)
            .or_insert_with(|| graph.distances(from));
        debug_assert_eq!(distances.len(), self.model.points.len());
        distances
            .get(to.number())
            .copied()
            .filter(|one| one.is_finite())
    }
}

/// What feeds a block: its source, and the least rating on the way.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Upstream {
    pub source: Index<Source>,
    /// Amperes and what they are the rating of.
    pub limit: Option<(f64, String)>,
}

/// The way from a block to its battery, along wires, devices and couplers.
pub(super) fn upstream(model: &BoatModel, bus: Index<Bus>) -> Option<Upstream> {
    let own = &model.buses[bus];
    let rated = own
        .rating
        .map(|rating| (rating.value(), format!("{} {}", own.kind, own.id())));
    let mut seen = BTreeSet::new();
    let mut queue = VecDeque::from([(Pin::Bus(bus, BusPin::Feed), rated)]);
    while let Some((pin, limit)) = queue.pop_front() {
        if !seen.insert(pin) {
            continue;
        }
        for (_, wire) in model.wires.iter() {
            let far = match pin {
                _ if wire.from == pin => wire.to,
                _ if wire.to == pin => wire.from,
                _ => continue,
            };
            if seen.contains(&far) {
                continue;
            }
            let mut limit = limit.clone();
            let mut passed = |device: Index<crate::model::Device>| {
                let stated = &model.devices[device];
                let rating = stated.rating.map(|rating| rating.value());
                if let Some(rating) = rating
                    && limit.as_ref().is_none_or(|(known, _)| rating < *known)
                {
                    limit = Some((rating, format!("{} {}", stated.kind, stated.id())));
                }
            };
            let next: Vec<Pin> = match far {
                Pin::Source(source, Pole::Plus) => {
                    if model.sources[source].kind == Some(SourceKind::Battery) {
                        return Some(Upstream { source, limit });
                    }
                    Vec::new()
                }
                Pin::Device(device, port) => {
                    passed(device);
                    let other = if port == Port::In {
                        Port::Out
                    } else {
                        Port::In
                    };
                    vec![Pin::Device(device, other)]
                }
                Pin::Bus(block, BusPin::Position(position))
                    if model.buses[block].kind == BusKind::FuseBlock =>
                {
                    let fitted =
                        |device: &crate::model::Device| device.fitted_in == Some((block, position));
                    let devices = model.devices.iter();
                    devices
                        .filter(|(_, one)| fitted(one))
                        .for_each(|(at, _)| passed(at));
                    vec![Pin::Bus(block, BusPin::Feed)]
                }
                Pin::Bus(stud, BusPin::Position(_)) => (1..=model.buses[stud].positions)
                    .map(|position| Pin::Bus(stud, BusPin::Position(position)))
                    .collect(),
                Pin::Cavity(connector, cavity) => other_half(model, connector)
                    .map(|half| Pin::Cavity(half, cavity))
                    .into_iter()
                    .collect(),
                Pin::Splice(splice, _) => [Side::A, Side::B]
                    .map(|side| Pin::Splice(splice, side))
                    .to_vec(),
                _ => Vec::new(),
            };
            queue.extend(next.into_iter().map(|pin| (pin, limit.clone())));
        }
    }
    None
}

fn other_half(
    model: &BoatModel,
    connector: Index<crate::model::Connector>,
) -> Option<Index<crate::model::Connector>> {
    model
        .couplers
        .iter()
        .find_map(|(_, coupler)| match connector {
            _ if coupler.first == connector => Some(coupler.second),
            _ if coupler.second == connector => Some(coupler.first),
            _ => None,
        })
}

/// A block that could feed the component, with its numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Feed {
    pub bus: Index<Bus>,
    pub position: u32,
    /// What feeds the block; `None` where no way to a battery is found.
    pub upstream: Option<Upstream>,
    /// Amperes through its feed on the boat on which they are most.
    pub carries: Option<f64>,
}

impl Feed {
    /// Amperes left on the worst boat; `None` where a figure is not stated.
    pub(super) fn reserve(&self) -> Option<f64> {
        let (limit, _) = self.upstream.as_ref()?.limit.as_ref()?;
        Some(limit - self.carries?)
    }

    /// Its numbers in words.
    pub(super) fn words(&self) -> String {
        let limit = self
            .upstream
            .as_ref()
            .and_then(|upstream| upstream.limit.as_ref());
        match (limit, self.carries) {
            (Some((limit, of)), Some(carries)) => format!(
                "{:.1} A left of the {limit} A of {of} on the boat on which its feed carries most \
                 ({carries:.1} A)",
                limit - carries
            ),
            (None, _) => "reserve not evaluated, because no rating is stated on the way from the \
                          battery"
                .to_owned(),
            (_, None) => "reserve not evaluated, because the most its feed carries on any boat is \
                          not known"
                .to_owned(),
        }
    }
}

/// Why a block is no candidate.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Refused {
    pub bus: Index<Bus>,
    pub why: String,
}

/// Blocks with a free position that are on every boat with the option, fed at its volts; and why
/// each other block is none.
pub(super) fn feeds(
    study: &Study,
    boats: &BoatSet,
    option: OptionIndex,
    stated_at: Option<f64>,
) -> (Vec<Feed>, Vec<Refused>) {
    let model = &study.model;
    let (mut feeds, mut refused) = (Vec::new(), Vec::new());
    let blocks = model
        .buses
        .iter()
        .filter(|(_, bus)| bus.kind == BusKind::FuseBlock);
    for (bus, stated) in blocks {
        let mut refuse = |why: String| refused.push(Refused { bus, why });
        let Some(position) = model.free_positions(bus).first().copied() else {
            refuse(format!(
                "all {} positions are taken on some boat",
                stated.positions
            ));
            continue;
        };
        if stated.point.is_none() {
            refuse("the model does not state where it sits".to_owned());
            continue;
        }
        if !comes_with(boats, option, &stated.fitted_when) {
            refuse("it is not on every boat that has the new option".to_owned());
            continue;
        }
        let upstream = upstream(model, bus);
        let nominal = upstream
            .as_ref()
            .and_then(|upstream| model.sources[upstream.source].nominal);
        if let (Some(nominal), Some(stated_at)) = (nominal, stated_at)
            && (nominal.value() - stated_at).abs() > 0.25 * nominal.value()
        {
            refuse(format!(
                "it is fed at {nominal}, the component is for {stated_at} V"
            ));
            continue;
        }
        feeds.push(Feed {
            bus,
            position,
            upstream,
            carries: carries(study, bus),
        });
    }
    (feeds, refused)
}

/// Whether each boat with the option meets the condition.
pub(super) fn comes_with(boats: &BoatSet, option: OptionIndex, condition: &Condition) -> bool {
    let without = Condition::Option(option).and(&condition.negated());
    *condition == Condition::Always || boats.is_ever(&without) == Ok(false)
}

/// The most that the feed wires of a block carry on any boat.
fn carries(study: &Study, bus: Index<Bus>) -> Option<f64> {
    let worst = &study.every.as_ref()?.candidates.worst;
    let feed = Pin::Bus(bus, BusPin::Feed);
    let wires = study.model.wires.iter();
    let most = wires
        .filter(|(_, wire)| wire.from == feed || wire.to == feed)
        .filter_map(|(at, _)| {
            let both = [
                Quantity::Current(Part::Wire(at)),
                Quantity::CurrentBack(Part::Wire(at)),
            ];
            let each = both.iter().filter_map(|asked| worst.get(asked));
            each.map(|(worst, _)| worst.value).max_by(f64::total_cmp)
        });
    most.max_by(f64::total_cmp).map(|most| most.max(0.0))
}

/// Bars to which returns go, with a free position: those to which circuits of the block return
/// come first, then the nearest.
pub(super) fn returns(
    model: &BoatModel,
    distances: &mut Distances<'_>,
    block: Index<Bus>,
) -> Vec<(Index<Bus>, u32, usize)> {
    let mut used: BTreeMap<Index<Bus>, usize> = BTreeMap::new();
    let mut any: BTreeSet<Index<Bus>> = BTreeSet::new();
    for (_, wire) in model.wires.iter() {
        if wire.role != Some(crate::model::Role::Return) {
            continue;
        }
        let of_block = wire
            .circuit
            .and_then(|circuit| model.circuits[circuit].device)
            .and_then(|device| model.devices[device].fitted_in)
            .is_some_and(|(at, _)| at == block);
        for pin in [wire.from, wire.to] {
            if let Pin::Bus(bus, BusPin::Position(_)) = pin
                && model.buses[bus].kind == BusKind::Busbar
            {
                any.insert(bus);
                *used.entry(bus).or_default() += usize::from(of_block);
            }
        }
    }
    let mut bars: Vec<_> = any
        .into_iter()
        .filter_map(|bus| {
            let position = *model.free_positions(bus).first()?;
            let from = model.buses[block].point?;
            let far = distances.between(from, model.buses[bus].point?)?;
            Some((bus, position, used.get(&bus).copied().unwrap_or(0), far))
        })
        .collect();
    bars.sort_by(|a, b| b.2.cmp(&a.2).then(a.3.total_cmp(&b.3)).then(a.0.cmp(&b.0)));
    bars.into_iter()
        .map(|(bus, position, used, _)| (bus, position, used))
        .collect()
}
