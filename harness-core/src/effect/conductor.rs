//! Conductor that a change of a model adds or saves: meters and copper.

use crate::model::{BoatModel, Index, Wire};
use crate::routing::Routing;
use crate::tables::conductors;
use crate::units::{Celsius, WireSize};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Conductor of a model before and after: cut lengths, or routed lengths with slack where an end is
/// not stated; without scrap.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ConductorChange {
    /// Kilograms of copper added, of the wires whose size and length are known.
    pub copper_kg: f64,
    /// Meters of conductor added, of the wires whose length is known.
    pub length_m: f64,
    /// Wires that are new, gone or changed and of which size or length is not known.
    pub unknown: Vec<String>,
    /// Meters of each conductor added, of the wires whose size and length are known.
    pub by_conductor: Vec<ConductorLength>,
}

/// Meters of one conductor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConductorLength {
    /// Conductor size.
    #[serde(serialize_with = "in_words")]
    pub size: WireSize,
    /// Insulation class, where wire or model states one.
    pub insulation_degc: Option<f64>,
    /// Meters added.
    pub length_m: f64,
}

fn in_words<S: serde::Serializer>(size: &WireSize, into: S) -> Result<S::Ok, S::Error> {
    into.collect_str(size)
}

/// What counts of a wire here.
#[derive(Clone, Copy, Default, PartialEq)]
struct Piece {
    meters: Option<f64>,
    size: Option<WireSize>,
    insulation: Option<Celsius>,
}

impl Piece {
    fn of(model: &BoatModel, routing: &Routing, at: Index<Wire>) -> Self {
        let wire = &model.wires[at];
        let meters = routing.electrical_length(model, at).ok();
        Self {
            meters: meters.map(|meters| meters.value()),
            size: wire.size,
            insulation: wire.stated_insulation.or(model.settings.insulation),
        }
    }

    /// Meters, size and kilograms, where both are known.
    fn known(self) -> Option<(f64, WireSize, f64)> {
        let (meters, size) = self.meters.zip(self.size)?;
        let row = conductors::row(size)?;
        Some((meters, size, meters / 1000.0 * row.mass_kg_per_km.value))
    }
}

impl ConductorChange {
    /// Compares the wires of two models by their short names.
    pub fn between(
        (before, routed_before): (&BoatModel, &Routing),
        (after, routed_after): (&BoatModel, &Routing),
    ) -> Self {
        let (old, new) = (pieces(before, routed_before), pieces(after, routed_after));
        let wires: BTreeSet<&str> = old.keys().chain(new.keys()).copied().collect();
        let mut change = Self::default();
        for wire in wires {
            let (was, is) = (old.get(wire), new.get(wire));
            if was == is {
                continue;
            }
            let sides = [(was, -1.0), (is, 1.0)];
            let sides = sides.map(|(piece, sign)| piece.map(|piece| (*piece, sign)));
            let sides: Vec<(Piece, f64)> = sides.into_iter().flatten().collect();
            let meters = sides.iter().map(|(piece, sign)| Some(piece.meters? * sign));
            change.length_m += meters.sum::<Option<f64>>().unwrap_or(0.0);
            let known = sides.iter().map(|(piece, _)| piece.known());
            match known.collect::<Option<Vec<_>>>() {
                None => change.unknown.push(wire.to_owned()),
                Some(known) => {
                    for ((meters, size, kilograms), (piece, sign)) in known.iter().zip(&sides) {
                        change.copper_kg += sign * kilograms;
                        change.add(*size, piece.insulation, sign * meters);
                    }
                }
            }
        }
        let order = |one: &ConductorLength| (one.size, one.insulation_degc.map(f64::to_bits));
        change.by_conductor.sort_by_key(order);
        change
    }

    fn add(&mut self, size: WireSize, insulation: Option<Celsius>, meters: f64) {
        let degrees = insulation.map(|degrees| degrees.value());
        let is_same =
            |one: &&mut ConductorLength| one.size == size && one.insulation_degc == degrees;
        match self.by_conductor.iter_mut().find(is_same) {
            Some(known) => known.length_m += meters,
            None => self.by_conductor.push(ConductorLength {
                size,
                insulation_degc: degrees,
                length_m: meters,
            }),
        }
    }

    /// Kilograms of copper added; `None` where a wire has no size or length.
    pub fn whole_copper_kg(&self) -> Option<f64> {
        self.unknown.is_empty().then_some(self.copper_kg)
    }
}

fn pieces<'a>(model: &'a BoatModel, routing: &Routing) -> BTreeMap<&'a str, Piece> {
    let wires = model.wires.iter();
    let each = wires.map(|(at, wire)| (wire.id.as_str(), Piece::of(model, routing, at)));
    each.collect()
}
