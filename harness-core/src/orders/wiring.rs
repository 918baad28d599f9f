//! What of the wiring hangs on an option: everything whose condition names it.

use crate::boats::{Condition, OptionIndex};
use crate::model::{BoatModel, Equipment};
use crate::rules::Place;

/// How a thing hangs on one option.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hangs {
    /// No boat without the option has the thing: the option brings it.
    ComesWithIt,
    /// No boat with the option has the thing: the option takes its place.
    GoesWithIt,
    /// The condition names the option beside others that may decide.
    Depends,
}

/// A thing whose condition names an option.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mention<'m> {
    /// The thing.
    pub place: Place,
    /// When it is fitted.
    pub condition: &'m Condition,
    /// How it hangs on the option.
    pub hangs: Hangs,
}

/// What of the wiring hangs on each option, by position of the option; loads first, then sources,
/// devices, buses, connectors, splices and wires. Told by the conditions alone: that an option
/// brings another by a rule is not looked at.
pub fn mentions(model: &BoatModel) -> Vec<Vec<Mention<'_>>> {
    let mut found = vec![Vec::new(); model.options.len()];
    for (place, condition) in conditions(model) {
        for option in condition.options() {
            if let Some(of_option) = found.get_mut(option.0) {
                of_option.push(Mention {
                    place,
                    condition,
                    hangs: hangs(condition, option),
                });
            }
        }
    }
    found
}

fn hangs(condition: &Condition, option: OptionIndex) -> Hangs {
    let never = Condition::never();
    if condition.given(option, false) == never {
        Hangs::ComesWithIt
    } else if condition.given(option, true) == never {
        Hangs::GoesWithIt
    } else {
        Hangs::Depends
    }
}

fn conditions(model: &BoatModel) -> Vec<(Place, &Condition)> {
    let equipment = |place: Place, at: Equipment| (place, at.fitted_when(model));
    let loads = model.loads.indices();
    let sources = model.sources.indices();
    let devices = model.devices.indices();
    let buses = model.buses.indices();
    let connectors = model.connectors.indices();
    let splices = model.splices.indices();
    let wires = model.wires.iter();
    loads
        .map(|at| equipment(Place::Load(at), Equipment::Load(at)))
        .chain(sources.map(|at| equipment(Place::Source(at), Equipment::Source(at))))
        .chain(devices.map(|at| equipment(Place::Device(at), Equipment::Device(at))))
        .chain(buses.map(|at| equipment(Place::Bus(at), Equipment::Bus(at))))
        .chain(connectors.map(|at| equipment(Place::Connector(at), Equipment::Connector(at))))
        .chain(splices.map(|at| equipment(Place::Splice(at), Equipment::Splice(at))))
        .chain(wires.map(|(at, wire)| (Place::Wire(at), &wire.fitted_when)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format;
    use serde_json::json;

    #[test]
    fn what_an_option_brings_replaces_and_touches() {
        let model = file_format::read_json(json!({
            "format_version": 1, "name": "A",
            "points": [{"id": "p"}, {"id": "q"}],
            "runs": [{"id": "p--q", "from": "p", "to": "q"}],
            "options": [{"id": "x"}, {"id": "y"}],
            "sources": [{"id": "bank", "point": "p", "nominal_v": 12}],
            "loads": [
                {"id": "lamp", "point": "q", "fitted_when": "x"},
                {"id": "plain", "point": "q", "fitted_when": {"not": "x"}},
                {"id": "either", "point": "q", "fitted_when": {"any": ["x", "y"]}},
                {"id": "both", "point": "q", "fitted_when": {"all": ["x", "y"]}},
                {"id": "always", "point": "q"},
            ],
            "wires": [{"id": "w", "from": "bank.plus", "to": "lamp.plus",
                       "fitted_when": {"all": ["x", {"not": "y"}]}}],
        }))
        .unwrap();
        let found = mentions(&model);
        let told = |option: usize| -> Vec<(String, Hangs)> {
            found[option]
                .iter()
                .map(|mention| (mention.place.label(&model), mention.hangs))
                .collect()
        };
        let named = |place: &str, hangs| (place.to_owned(), hangs);
        assert_eq!(
            told(0),
            [
                named("load lamp", Hangs::ComesWithIt),
                named("load plain", Hangs::GoesWithIt),
                named("load either", Hangs::Depends),
                named("load both", Hangs::ComesWithIt),
                named("wire w", Hangs::ComesWithIt),
            ]
        );
        assert_eq!(
            told(1),
            [
                named("load either", Hangs::Depends),
                named("load both", Hangs::ComesWithIt),
                named("wire w", Hangs::GoesWithIt),
            ]
        );
    }
}
