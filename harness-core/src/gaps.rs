//! What the model does not state yet: each kind of gap with the things that have it, the place
//! in the file that fills it, and the results that wait for it.

use crate::model::{BoatModel, DeviceKind, Fixing, SourceKind};
use serde::Serialize;
use std::collections::BTreeSet;

/// One kind of missing figure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Gap {
    /// What is missing, as a sentence that begins with a count: *14 loads state no inrush
    /// current*.
    pub what: String,
    /// Results that are not evaluated, or taken at their strictest, because of it.
    pub needed_for: &'static str,
    /// Field that fills it.
    pub field: &'static str,
    /// Each thing with the gap: its short name and the JSON pointer of the field.
    pub at: Vec<GapPlace>,
}

/// One thing with a gap.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GapPlace {
    /// Short name of the thing.
    pub id: String,
    /// JSON pointer of the field in the model file.
    pub pointer: String,
}

/// Gathers gaps of one list of the file.
struct List {
    name: &'static str,
    one: &'static str,
    many: &'static str,
    gaps: Vec<Gap>,
}

impl List {
    const fn new(name: &'static str, one: &'static str, many: &'static str) -> Self {
        Self {
            name,
            one,
            many,
            gaps: Vec::new(),
        }
    }

    fn add<'a>(
        &mut self,
        field: &'static str,
        words: &str,
        needed_for: &'static str,
        missing: impl Iterator<Item = (usize, &'a str)>,
    ) {
        let at: Vec<GapPlace> = missing
            .map(|(number, id)| GapPlace {
                id: id.to_owned(),
                pointer: format!("/{}/{number}/{field}", self.name),
            })
            .collect();
        let what = match at.len() {
            0 => return,
            1 => format!("1 {} states no {words}", self.one),
            count => format!("{count} {} state no {words}", self.many),
        };
        self.gaps.push(Gap {
            what,
            needed_for,
            field,
            at,
        });
    }
}

/// `(number, id)` of the things of a table for which a field is missing.
macro_rules! missing {
    ($table:expr, |$item:ident| $is_missing:expr) => {
        $table
            .iter()
            .filter(|(_, $item)| $is_missing)
            .map(|(index, item)| (index.number(), item.id.as_str()))
    };
}

/// Every gap of a model, in the order of the file.
pub fn gaps(model: &BoatModel) -> Vec<Gap> {
    [
        zones(model),
        points(model),
        runs(model),
        parts(model),
        sources(model),
        devices(model),
        loads(model),
        circuits(model),
        wires(model),
    ]
    .concat()
}

fn zones(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("zones", "zone", "zones");
    let zones = &model.zones;
    list.add(
        "moulding",
        "moulding",
        "plan drawing",
        missing!(zones, |z| z.moulding.is_none()),
    );
    list.add(
        "outline",
        "outline",
        "plan drawing",
        missing!(zones, |z| z.outline.is_empty()),
    );
    list.add(
        "ambient_degc",
        "ambient temperature",
        "resistance of wires: 30 °C is taken, 50 °C in an engine space",
        missing!(zones, |z| z.ambient.is_none()),
    );
    list.add(
        "engine_space",
        "whether it is an engine space",
        "ampacity of wires that pass it",
        missing!(zones, |z| z.engine_space.is_none()),
    );
    list.add(
        "fuel_vapor",
        "whether fuel vapor may gather",
        "ignition protection of what sits there",
        missing!(zones, |z| z.fuel_vapor.is_none()),
    );
    list.add(
        "reached_by",
        "hatch that reaches it after closing",
        "reach of couplers",
        missing!(zones, |z| z.closes_at.is_some() && z.reach.is_none()),
    );
    list.gaps
}

fn points(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("points", "point", "points");
    let points = &model.points;
    let ends = model.runs.iter().flat_map(|(_, run)| [run.from, run.to]);
    let reached: BTreeSet<&str> = ends.map(|point| points.id(point)).collect();
    list.add(
        "id",
        "run that reaches it",
        "routes and lengths of wires that end there",
        missing!(points, |p| points.len() > 1
            && !reached.contains(p.id.as_str())),
    );
    list.add(
        "zone",
        "zone",
        "zone sheets, temperature",
        missing!(points, |p| p.zone.is_none()),
    );
    list.add(
        "z_mm",
        "height",
        "connections below bilge water",
        missing!(points, |p| p.z.is_none()),
    );
    list.gaps
}

fn runs(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("runs", "run", "runs");
    let runs = &model.runs;
    list.add(
        "fixing",
        "way of fixing",
        "supports, fill",
        missing!(runs, |r| r.fixing.is_none()),
    );
    list.add(
        "support_spacing_mm",
        "distance between supports",
        "support spacing",
        missing!(runs, |r| r.fixing == Some(Fixing::Clipped)
            && r.support_spacing.is_none()),
    );
    list.add(
        "bore_mm",
        "bore",
        "conduit fill",
        missing!(runs, |r| matches!(
            r.fixing,
            Some(Fixing::Conduit | Fixing::Leg)
        ) && r.bore.is_none()),
    );
    list.gaps
}

fn parts(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("connector_types", "connector type", "connector types");
    let types = &model.connector_types;
    let default = model.settings.contact_resistance.is_some();
    list.add(
        "contact_resistance_mohm",
        "contact resistance",
        "drop through its contacts",
        missing!(types, |t| !default && t.contact_resistance.is_none()),
    );
    list.add(
        "contact_rating_a",
        "contact rating",
        "contact load",
        missing!(types, |t| t.contact_rating.is_none()),
    );
    list.gaps
}

fn sources(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("sources", "source", "sources");
    // A source that states no kind may be a battery.
    let is_battery = |kind| matches!(kind, None | Some(SourceKind::Battery));
    let sources = &model.sources;
    list.add(
        "nominal_v",
        "nominal voltage",
        "every drop",
        missing!(sources, |s| s.nominal.is_none()),
    );
    list.add(
        "low_v",
        "lowest voltage",
        "supply of the equipment",
        missing!(sources, |s| s.low.is_none()),
    );
    list.add(
        "internal_ohm",
        "internal resistance",
        "volts at its terminals: none is taken",
        missing!(sources, |s| s.internal.is_none()),
    );
    list.add(
        "cranking_a",
        "cold cranking current",
        "interrupting rating of the first device",
        missing!(sources, |s| is_battery(s.kind) && s.cranking.is_none()),
    );
    list.gaps
}

fn devices(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("devices", "device", "devices");
    let devices = &model.devices;
    let protects = |kind| matches!(kind, DeviceKind::Fuse | DeviceKind::Breaker);
    list.add(
        "resistance_mohm",
        "resistance",
        "drop through it",
        missing!(devices, |d| d.resistance.is_none()),
    );
    list.add(
        "rating_a",
        "rating",
        "protection",
        missing!(devices, |d| d.rating.is_none()),
    );
    list.add(
        "interrupting_a",
        "interrupting rating",
        "interrupting rating",
        missing!(devices, |d| protects(d.kind) && d.interrupting.is_none()),
    );
    list.gaps
}

fn loads(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("loads", "load", "loads");
    let loads = &model.loads;
    list.add(
        "point",
        "place",
        "routes",
        missing!(loads, |l| l.point.is_none()),
    );
    list.add(
        "circuit",
        "circuit",
        "circuit list",
        missing!(loads, |l| l.circuit.is_none()),
    );
    list.add(
        "current_a",
        "current, power or resistance",
        "every result on its way",
        missing!(loads, |l| l.behavior.is_none()),
    );
    list.add(
        "drop_class",
        "drop class",
        "its drop",
        missing!(loads, |l| l.drop_limit_percent().is_none()),
    );
    list.add(
        "min_v",
        "least voltage",
        "its supply",
        missing!(loads, |l| l.min_volts.is_none()),
    );
    list.add(
        "inrush_a",
        "inrush current",
        "opening of its device at start",
        missing!(loads, |l| l.inrush.is_none()),
    );
    list.add(
        "runs_in",
        "use in the operating states",
        "currents: it is taken as running in each state",
        missing!(loads, |l| !model.states.is_empty() && l.runs_in.is_empty()),
    );
    list.add(
        "figure_from",
        "where its figures come from",
        "trust in its results",
        missing!(loads, |l| l.figure_from.is_none()),
    );
    list.gaps
}

fn circuits(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("circuits", "circuit", "circuits");
    let circuits = &model.circuits;
    list.add(
        "name",
        "name",
        "circuit list",
        missing!(circuits, |c| c.name.is_none()),
    );
    list.add(
        "function",
        "function",
        "colors",
        missing!(circuits, |c| c.function.is_none()),
    );
    list.gaps
}

fn wires(model: &BoatModel) -> Vec<Gap> {
    let mut list = List::new("wires", "wire", "wires");
    let wires = &model.wires;
    list.add(
        "size",
        "size",
        "drop, ampacity, cut list",
        missing!(wires, |w| w.size.is_none()),
    );
    list.add(
        "circuit",
        "circuit",
        "circuit list",
        missing!(wires, |w| w.circuit.is_none()),
    );
    list.add(
        "role",
        "role",
        "colors, returns",
        missing!(wires, |w| w.role.is_none()),
    );
    list.add(
        "color",
        "color",
        "colors, cut list",
        missing!(wires, |w| w.color.is_none()),
    );
    list.add(
        "harness",
        "harness",
        "cut list",
        missing!(wires, |w| w.harness.is_none()),
    );
    let class = model.settings.insulation.is_some();
    list.add(
        "insulation_degc",
        "insulation class",
        "ampacity",
        missing!(wires, |w| !class && w.stated_insulation.is_none()),
    );
    list.gaps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;

    #[test]
    fn a_point_that_no_run_reaches_is_a_gap_of_its_own() {
        let text = include_str!("../../server/samples/tender-56.json");
        let unreached = |text: &str| {
            let gaps = gaps(&file_format::read(text).unwrap());
            let gap = gaps.into_iter().find(|gap| gap.field == "id");
            gap.map_or_else(Vec::new, |gap| gap.at)
        };
        assert!(unreached(text).is_empty());
        let with = text.replacen("\"points\": [", "\"points\": [{\"id\": \"locker\"},", 1);
        let found = unreached(&with);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].id, "locker");
        assert_eq!(found[0].pointer, "/points/0/id");
    }
}
