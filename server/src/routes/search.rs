//! Search: any number, name or short name; words of the United States and of the United Kingdom
//! both find.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::response::Response;
use harness_core::model::{BoatModel, Equipment};
use harness_core::sheets::SHEETS;
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::{Found, Linked, SearchPage, first_page};
use crate::router::AppState;
use crate::shown::one_spelling;
use crate::studies::AskedBoat;
use crate::view::View;

/// Words that somebody uses for one another, besides those of the two countries: each is searched
/// as the first of its row.
const SAME: &[&[&str]] = &[
    &["negative", "ground", "earth"],
    &["harness", "loom"],
    &["bonding", "bond"],
    &["molding", "moulding"],
    &["terminal", "lug"],
    &["flashlight", "torch"],
];

/// Query of a search.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    q: String,
}

/// A text as it is compared: small letters, one word of each meaning.
fn plain(text: &str) -> String {
    let mut plain = one_spelling(&text.to_lowercase()).into_owned();
    for row in SAME {
        if let [first, others @ ..] = row {
            for other in others {
                plain = plain.replace(other, first);
            }
        }
    }
    plain
}

fn words(asked: &str) -> Vec<String> {
    plain(asked).split_whitespace().map(str::to_owned).collect()
}

fn holds(words: &[String], text: &str) -> bool {
    let text = plain(text);
    !words.is_empty() && words.iter().all(|word| text.contains(word.as_str()))
}

/// `GET /search?q=`: boat models whose name or short name holds every word asked for.
pub async fn search(
    State(state): State<AppState>,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(Asked { q }) = query?;
    let words = words(&q);
    let models = state.store.models().await?;
    let found = models
        .into_iter()
        .filter(|model| holds(&words, &format!("{} {}", model.name, model.model_id)))
        .map(|model| Found {
            thing: Linked {
                href: first_page(&model.model_id),
                text: model.name,
            },
            kind: "boat model",
            about: format!("revision {}", model.number),
        })
        .collect();
    answer::page(&SearchPage::of_models(&q, found))
}

/// `GET /models/{id}/search?q=`: things of one boat model.
pub async fn in_model(
    view: View,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(Asked { q }) = query?;
    let words = words(&q);
    let mut things = things(&view);
    things.retain(|thing| {
        let text = format!("{} {} {}", thing.kind, thing.thing.text, thing.about);
        holds(&words, &text)
    });
    // What is named exactly so comes first: 14 is circuit 14 before wire 114.
    let exact = |thing: &Found| {
        let named = plain(&thing.thing.text);
        !words
            .iter()
            .all(|word| named.split([' ', ':', ',']).any(|part| part == word))
    };
    things.sort_by_key(exact);
    answer::page(&SearchPage::in_model(&view, &q, things))
}

fn named(id: &str, name: Option<&String>) -> String {
    match name {
        Some(name) => format!("{id}: {name}"),
        None => id.to_owned(),
    }
}

/// Everything that can be found, with the page that shows it.
fn things(view: &View) -> Vec<Found> {
    let model = &view.study.model;
    let to = &view.addresses;
    let mut things = Vec::new();
    let mut add = |kind, text, about: String, href| {
        things.push(Found {
            thing: Linked { text, href },
            kind,
            about,
        });
    };
    for (_, circuit) in model.circuits.iter() {
        let about = circuit.function.map_or_else(String::new, |f| f.to_string());
        let href = to.to(&["circuits", &circuit.id]);
        add(
            "circuit",
            named(&circuit.id, circuit.name.as_ref()),
            about,
            href,
        );
    }
    for (_, zone) in model.zones.iter() {
        let href = to.to(&["zones", &zone.id]);
        add(
            "zone",
            named(&zone.id, zone.name.as_ref()),
            String::new(),
            href,
        );
    }
    for (_, wire) in model.wires.iter() {
        let about = [
            wire.size.map(|size| size.to_string()),
            wire.color.clone(),
            wire.role.map(|role| role.to_string()),
            Some(format!(
                "{} to {}",
                wire.from.label(model),
                wire.to.label(model)
            )),
        ];
        let about: Vec<_> = about.into_iter().flatten().collect();
        let href = wire.circuit.map_or_else(
            || to.to(&["sheets", "wire-list"]),
            |at| format!("{}#wires", to.to(&["circuits", model.circuits.id(at)])),
        );
        add("wire", wire.id.clone(), about.join(", "), href);
    }
    let at_zone = |equipment: Equipment| {
        let zone = equipment
            .point(model)
            .and_then(|point| model.points[point].zone);
        zone.map(|zone| to.to(&["zones", model.zones.id(zone)]))
            .unwrap_or_else(|| to.to(&["zones"]))
    };
    for (_, load) in model.loads.iter() {
        let href = load.circuit.map_or_else(
            || to.to(&["circuits"]),
            |at| {
                let segments = ["circuits", model.circuits.id(at)];
                to.with(&segments, &[("load", &load.id)])
            },
        );
        add(
            "load",
            named(&load.id, load.name.as_ref()),
            String::new(),
            href,
        );
    }
    for (at, device) in model.devices.iter() {
        let text = named(&device.id, device.name.as_ref());
        add(
            device.kind.word(),
            text,
            String::new(),
            at_zone(Equipment::Device(at)),
        );
    }
    for (at, bus) in model.buses.iter() {
        let text = named(&bus.id, bus.name.as_ref());
        add(
            bus.kind.word(),
            text,
            String::new(),
            at_zone(Equipment::Bus(at)),
        );
    }
    for (at, source) in model.sources.iter() {
        let text = named(&source.id, source.name.as_ref());
        add(
            "source",
            text,
            String::new(),
            at_zone(Equipment::Source(at)),
        );
    }
    for (at, connector) in model.connectors.iter() {
        let text = named(&connector.id, connector.name.as_ref());
        let about = model
            .connector_types
            .id(connector.connector_type)
            .to_owned();
        add("connector", text, about, at_zone(Equipment::Connector(at)));
    }
    for (_, coupler) in model.couplers.iter() {
        let text = named(&coupler.id, coupler.name.as_ref());
        let half = Equipment::Connector(coupler.first);
        add("coupler", text, String::new(), at_zone(half));
    }
    for (_, run) in model.runs.iter() {
        let hole = run.hole.as_ref().and_then(|hole| hole.number.as_ref());
        let about = hole.map_or_else(String::new, |hole| format!("hole {hole}"));
        add("run", run.id.clone(), about, to.to(&["runs", &run.id]));
    }
    ordered(model, view, &mut add);
    for kind in SHEETS {
        add(
            "sheet",
            kind.title.to_owned(),
            String::new(),
            to.to(&["sheets", kind.id]),
        );
    }
    things
}

/// Options with their pages, and hulls: their page is the overview with them in view.
fn ordered(
    model: &BoatModel,
    view: &View,
    add: &mut impl FnMut(&'static str, String, String, String),
) {
    for (_, option) in model.options.iter() {
        let text = named(&option.id, option.name.as_ref());
        let href = view.addresses.to(&["options", &option.id]);
        add("option", text, String::new(), href);
    }
    for (_, hull) in model.hulls.iter() {
        let boat = AskedBoat::Hull(hull.id.clone());
        let href = view.addresses.of_boat(boat).to(&[]);
        add("hull", format!("hull {}", hull.id), String::new(), href);
    }
    for (_, harness) in model.harnesses.iter() {
        let text = named(&harness.id, harness.name.as_ref());
        let about = harness.part_number.clone().unwrap_or_default();
        let segments = ["sheets", "wire-list"];
        let href = view.addresses.with(&segments, &[("harness", &harness.id)]);
        add("harness", text, about, href);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_both_countries_find() {
        for (asked, text) in [
            ("grey", "wire 5, gray"),
            ("gray", "wire 5, grey"),
            ("ground bar", "DC negative bar"),
            ("Colour", "color code"),
            ("circuit breaker", "breaker 5"),
            ("fuse box", "fuse block aft"),
            ("windscreen wiper", "windshield wiper"),
        ] {
            assert!(holds(&words(asked), text), "{asked}: {text}");
        }
        assert!(!holds(&words(" "), "anything"));
        assert!(!holds(&words("bow light"), "bow pump"));
    }
}
