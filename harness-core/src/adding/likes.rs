//! How the model does the like already: terminals, allowances, caps, colors, harnesses, devices.

use crate::choices::{Family, Function, Role, TerminalKind};
use crate::model::{BoatModel, Bus, BusPin, Device, Harness, Identified, Index, Pin, WireEnd};
use crate::tables::{colors, conductors, protection};
use crate::units::{Amperes, WireSize};
use std::collections::BTreeMap;

/// What is usual in one model.
#[derive(Clone, Copy, Debug)]
pub(super) struct Likes<'m> {
    model: &'m BoatModel,
}

/// The entry met most often, of equals the least.
fn most_common<T: Ord + Clone>(all: impl Iterator<Item = T>) -> Option<T> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_default() += 1;
    }
    let most = counts.values().max().copied()?;
    counts
        .into_iter()
        .find(|(_, count)| *count == most)
        .map(|(one, _)| one)
}

/// Tenths of a millimeter, so that lengths can be counted.
fn tenths(millimetres: f64) -> i64 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "lengths of a wire end are small"
    )]
    let rounded = (millimetres * 10.0).round() as i64;
    rounded
}

#[expect(
    clippy::cast_precision_loss,
    reason = "lengths of a wire end are small"
)]
fn millimetres(tenths: i64) -> f64 {
    tenths as f64 / 10.0
}

impl<'m> Likes<'m> {
    pub(super) fn of(model: &'m BoatModel) -> Self {
        Self { model }
    }

    fn ends(self) -> impl Iterator<Item = (Pin, &'m WireEnd, Option<WireSize>)> {
        let wires = self.model.wires.iter();
        wires.flat_map(|(_, wire)| {
            [
                (wire.from, &wire.from_end, wire.size),
                (wire.to, &wire.to_end, wire.size),
            ]
        })
    }

    fn fits(self, part: &crate::model::TerminalPart, size: WireSize) -> bool {
        let Some(row) = conductors::row(size) else {
            return false;
        };
        let area = row.area.value;
        part.min_area.is_some_and(|least| area >= least)
            && part.max_area.is_some_and(|most| area <= most)
            && matches!(part.kind, Some(TerminalKind::Ring | TerminalKind::Lug))
    }

    /// A ring or lug for this stud and size.
    pub(super) fn bus_terminal(self, bus: Index<Bus>, size: WireSize) -> Option<String> {
        let stud = self.model.buses[bus].stud?;
        let parts = self.model.terminal_parts.iter();
        let mut fitting =
            parts.filter(|(_, part)| part.stud == Some(stud) && self.fits(part, size));
        fitting.next().map(|(_, part)| part.id.clone())
    }

    /// The ring or lug most often used on components at this size.
    pub(super) fn load_terminal(self, size: WireSize) -> Option<String> {
        let parts = &self.model.terminal_parts;
        let used = self
            .ends()
            .filter(|(pin, ..)| matches!(pin, Pin::Load(..)))
            .filter_map(|(_, end, _)| end.terminal)
            .filter(|part| self.fits(&parts[*part], size));
        let any = || {
            parts
                .iter()
                .find(|(_, part)| self.fits(part, size))
                .map(|(at, _)| at)
        };
        most_common(used)
            .or_else(any)
            .map(|at| parts.id(at).to_owned())
    }

    /// Service loop at components.
    pub(super) fn load_loop(self) -> Option<f64> {
        let loops = self
            .ends()
            .filter(|(pin, ..)| matches!(pin, Pin::Load(..)))
            .filter_map(|(_, end, _)| end.service_loop);
        most_common(loops.map(|length| tenths(length.value()))).map(millimetres)
    }

    /// Length kept for making ends of a kind again.
    pub(super) fn rework(self, of: impl Fn(&Pin) -> bool) -> Option<f64> {
        let kept = self
            .ends()
            .filter(|(pin, ..)| of(pin))
            .filter_map(|(_, end, _)| end.rework);
        most_common(kept.map(|length| tenths(length.value()))).map(millimetres)
    }

    /// The cap used on ends of this size.
    pub(super) fn cap(self, size: WireSize) -> Option<String> {
        let caps = self
            .ends()
            .filter(|(.., stated)| *stated == Some(size))
            .filter_map(|(_, end, _)| end.when_unused.as_ref()?.part.clone());
        most_common(caps)
    }

    /// The harness in which most wires at the positions of a block are.
    pub(super) fn harness_at(self, bus: Index<Bus>) -> Option<Index<Harness>> {
        let wires = self.model.wires.iter().filter(|(_, wire)| {
            let at = |pin| matches!(pin, Pin::Bus(block, BusPin::Position(_)) if block == bus);
            at(wire.from) || at(wire.to)
        });
        most_common(wires.filter_map(|(_, wire)| wire.harness))
    }

    /// The family of most devices in a block; else of most blocks.
    pub(super) fn family(self, bus: Index<Bus>) -> Option<Family> {
        let devices = || {
            self.model
                .devices
                .iter()
                .filter(|(_, one)| one.fitted_in.is_some())
        };
        let here = devices().filter(|(_, one)| one.fitted_in.map(|(block, _)| block) == Some(bus));
        most_common(here.filter_map(|(_, one)| one.family))
            .or_else(|| most_common(devices().filter_map(|(_, one)| one.family)))
    }

    /// A device of this family, if possible of this rating.
    pub(super) fn device(self, family: Option<Family>, rating: f64) -> Option<&'m Device> {
        let devices = || self.model.devices.iter().map(|(_, one)| one);
        let same = |one: &&Device| one.protects() && one.family == family;
        let rated = |one: &&Device| one.rating == Some(Amperes::new(rating));
        devices()
            .filter(same)
            .find(rated)
            .or_else(|| devices().find(same))
    }

    /// The smallest rating of this family that the model uses and that is at least this.
    pub(super) fn rating_in_use(self, family: Family, amperes: f64) -> Option<f64> {
        let devices = self.model.devices.iter().map(|(_, one)| one);
        devices
            .filter(|one| one.protects() && one.family == Some(family))
            .filter_map(|one| Some(one.rating?.value()))
            .filter(|rating| *rating >= amperes)
            .min_by(f64::total_cmp)
    }

    /// Resistance of a device of this family and rating, from the model or the table.
    pub(super) fn milliohms(self, family: Option<Family>, rating: f64) -> Option<f64> {
        let rating = Amperes::new(rating);
        let mut devices = self.model.devices.iter().map(|(_, one)| one);
        let like = devices.find(|one| {
            one.protects()
                && one.family == family
                && one.rating == Some(rating)
                && one.resistance.is_some()
        });
        let table = || protection::cold_resistance(family?, rating).map(|one| one.value);
        let ohms = like.and_then(|one| one.resistance).or_else(table)?;
        // As the file states it, without the rounding noise of the unit.
        Some((ohms.value() * 1e9).round() / 1e6)
    }

    /// Color of most feeds of circuits that do this; else the one of the table, with where it is
    /// from.
    pub(super) fn feed_color(self, function: Function) -> (String, String) {
        let does = |circuit: Option<Index<crate::model::Circuit>>| {
            circuit.and_then(|at| self.model.circuits[at].function) == Some(function)
        };
        let feeds = self.model.wires.iter().map(|(_, wire)| wire);
        let feeds = feeds.filter(|wire| wire.role == Some(Role::Feed) && does(wire.circuit));
        let usual = most_common(feeds.filter_map(|wire| wire.color.clone()));
        if let Some(color) = usual {
            return (
                color,
                format!("most feeds of the function {function} have it in this model"),
            );
        }
        let wanted = match function {
            Function::NavigationLights => "navigation lights",
            Function::BilgeBlower => "bilge blowers",
            Function::Pump => "pumps",
            Function::CabinLights => "cabin and instrument lights",
            Function::IgnitionFeed => "ignition",
            Function::MainFeed => "positive mains",
            _ => "accessory feed",
        };
        let row = colors::functions()
            .iter()
            .find(|row| row.function == wanted);
        let color = row.map_or("red", |row| row.color.value.as_str());
        (
            color.to_owned(),
            format!("the color table gives it to {wanted}"),
        )
    }

    /// Color of most returns.
    pub(super) fn return_color(self) -> String {
        let wires = self.model.wires.iter().map(|(_, wire)| wire);
        let returns = wires.filter(|wire| wire.role == Some(Role::Return));
        most_common(returns.filter_map(|wire| wire.color.clone()))
            .unwrap_or_else(|| "black".to_owned())
    }

    /// How many optional components have their wires on more boats than themselves, and how many
    /// have them only where they are.
    pub(super) fn wired_ahead(self) -> (usize, usize) {
        let model = self.model;
        let (mut ahead, mut with) = (0, 0);
        for (at, load) in model.loads.iter() {
            if load.fitted_when == crate::boats::Condition::Always {
                continue;
            }
            let own = model.wires.iter().map(|(_, wire)| wire).find(|wire| {
                [wire.from, wire.to]
                    .iter()
                    .any(|pin| matches!(pin, Pin::Load(load, _) if *load == at))
            });
            match own {
                Some(wire) if wire.fitted_when == load.fitted_when => with += 1,
                Some(_) => ahead += 1,
                None => {}
            }
        }
        (ahead, with)
    }

    /// The thinnest conductor that feeds something in this model.
    pub(super) fn thinnest_feed(self) -> Option<WireSize> {
        let feeds = self.model.wires.iter().map(|(_, wire)| wire);
        let sizes = feeds
            .filter(|wire| wire.role == Some(Role::Feed))
            .filter_map(|wire| Some((wire.size?, conductors::row(wire.size?)?.area.value)));
        sizes
            .min_by(|a, b| a.1.value().total_cmp(&b.1.value()))
            .map(|(size, _)| size)
    }

    /// Name of a bus for people.
    pub(super) fn bus(self, bus: Index<Bus>) -> &'m str {
        let stated = &self.model.buses[bus];
        stated.name.as_deref().unwrap_or(stated.id())
    }
}
