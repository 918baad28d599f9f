//! From sending one change to the page of everything that fails, all limits judged again on all
//! boats; beside a study of the same model from scratch in the same run.
//!
//! `cargo bench -p tests --bench edits`: 500 changes of the demo model, then a few of a generated
//! one of 10 000 wires. `EDITS`, `LARGE_EDITS`, `LARGE_WIRES` and `LARGE_OPTIONS` set other sizes;
//! 0 edits leave a model out. Every change goes through the form of a wire, a load or a device, and
//! what the page says is compared with the study from scratch. Half of them change currents (sizes
//! and draws), half do not (ratings and colors); both are told apart.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

#[path = "../../server/tests/durability/client.rs"]
#[allow(dead_code, reason = "this bench asks less")]
mod client;

use client::Client;
use harness_core::file_format;
use harness_core::model::BoatModel;
use harness_core::report::Counts;
use harness_core::study::{BoatChoice, Study};
use harness_core::tables::conductors;
use harness_core::units::WireSize;
use serde_json::{Value, json};
use server::intake;
use server::router::{AppState, app};
use server::samples::SAMPLES;
use server::store::Store;
use std::time::Instant;

/// Studies from scratch beside the changes of a model, and of the large one.
const FROM_SCRATCH: usize = 20;
const LARGE_FROM_SCRATCH: usize = 3;
/// How far a load's current moves at once.
const STEP: f64 = 1.1;
/// Ratings of devices that are changed, and colors of wires.
const RATINGS: [f64; 6] = [5.0, 7.5, 10.0, 15.0, 20.0, 25.0];
const COLORS: [&str; 4] = ["red", "yellow", "brown", "orange"];

/// The kind of a thing, its place in the list, a field of it and its new value.
type Change = (&'static str, usize, &'static str, Value);

/// A boat model as the bench knows it, and its pages.
struct Boat<'c> {
    client: &'c Client,
    pages: String,
    model: Value,
    revision: i64,
    rng: fastrand::Rng,
}

/// What one change took, s.
struct Took {
    /// Whether currents hang on what was changed.
    is_of_currents: bool,
    saving: f64,
    whole: f64,
    /// Answers on the way that said that it is still being worked out.
    unfinished: usize,
}

impl Boat<'_> {
    /// Changes one thing and waits for the page.
    fn change(&mut self) -> Took {
        let is_of_currents = self.rng.bool();
        let (list, at, field, value) = match (is_of_currents, self.rng.bool()) {
            (true, true) => self.wire(),
            (true, false) => self.load(),
            (false, true) => self.rating(),
            (false, false) => self.color(),
        };
        let thing = &mut self.model[list][at];
        thing[field] = value.clone();
        let key = thing["id"].as_str().unwrap();
        let text = value
            .as_str()
            .map_or_else(|| value.to_string(), str::to_owned);
        let start = Instant::now();
        let answer = self.client.form(
            &format!("{}/edit/{list}/thing", self.pages),
            [
                ("expected_revision", self.revision.to_string().as_str()),
                ("key", key),
                (field, &text),
            ],
        );
        let answer = answer.unwrap();
        let saved = answer.saved();
        self.revision = saved.unwrap_or_else(|| panic!("{key} {field} {text}: {}", answer.text));
        let saving = start.elapsed().as_secs_f64();
        let unfinished = self.failing().1;
        Took {
            is_of_currents,
            saving,
            whole: start.elapsed().as_secs_f64(),
            unfinished,
        }
    }

    /// A wire, one size up or down.
    fn wire(&mut self) -> Change {
        let wires = self.model["wires"].as_array().unwrap();
        loop {
            let at = self.rng.usize(..wires.len());
            let Some(size) = wires[at]["size"].as_str() else {
                continue;
            };
            let size: WireSize = size.parse().unwrap();
            let sizes: Vec<_> = conductors::stocked(size.series())
                .map(|row| row.size)
                .collect();
            let Some(now) = sizes.iter().position(|one| *one == size) else {
                continue;
            };
            let next = if self.rng.bool() {
                now + 1
            } else {
                now.wrapping_sub(1)
            };
            if let Some(next) = sizes.get(next) {
                return ("wires", at, "size", json!(next.to_string()));
            }
        }
    }

    /// A load that draws a tenth more or less.
    fn load(&mut self) -> Change {
        let loads = self.model["loads"].as_array().unwrap();
        loop {
            let at = self.rng.usize(..loads.len());
            if let Some(now) = loads[at]["current_a"].as_f64() {
                let next = if self.rng.bool() {
                    now * STEP
                } else {
                    now / STEP
                };
                return (
                    "loads",
                    at,
                    "current_a",
                    json!((next * 1000.0).round() / 1000.0),
                );
            }
        }
    }

    /// A device of another rating.
    fn rating(&mut self) -> Change {
        let devices = self.model["devices"].as_array().unwrap();
        loop {
            let at = self.rng.usize(..devices.len());
            let now = devices[at]["rating_a"].as_f64();
            let next = RATINGS[self.rng.usize(..RATINGS.len())];
            if now.is_some_and(|now| RATINGS.contains(&now) && now != next) {
                return ("devices", at, "rating_a", json!(next));
            }
        }
    }

    /// A wire of another color.
    fn color(&mut self) -> Change {
        let wires = self.model["wires"].as_array().unwrap();
        loop {
            let at = self.rng.usize(..wires.len());
            let next = COLORS[self.rng.usize(..COLORS.len())];
            if wires[at]["color"] != next {
                return ("wires", at, "color", json!(next));
            }
        }
    }

    /// How many limits fail, are not evaluated, and are met, as the page says, and how often it had
    /// to be asked again.
    fn failing(&self) -> ([usize; 3], usize) {
        let mut unfinished = 0;
        loop {
            let page = self.client.get(&format!("{}/failing", self.pages)).unwrap();
            if page.status == 503 {
                unfinished += 1;
                continue;
            }
            assert_eq!(page.status, 200, "{}", page.text);
            let lead = page
                .text
                .split("<p class=\"lead\"><strong>")
                .nth(1)
                .unwrap();
            let lead = lead.split("</strong>").next().unwrap();
            let counts: Vec<usize> = lead
                .split(';')
                .map(|part| {
                    part.chars()
                        .filter(char::is_ascii_digit)
                        .collect::<String>()
                })
                .map(|digits| digits.parse().unwrap_or(0))
                .collect();
            return (counts.try_into().unwrap(), unfinished);
        }
    }

    /// The study of the model as it stands, s; the page must say the same.
    fn studied_anew(&self) -> f64 {
        let record = serde_json::from_value(self.model.clone()).unwrap();
        let model: BoatModel = file_format::model(&record).unwrap();
        let start = Instant::now();
        let study = Study::of(model, BoatChoice::Every).unwrap();
        let took = start.elapsed().as_secs_f64();
        let counts = Counts::of(study.findings.iter());
        let counted = [counts.fails, counts.not_evaluated, counts.met];
        assert_eq!(self.failing().0, counted, "revision {}", self.revision);
        took
    }
}

fn size(name: &str, usual: usize) -> usize {
    std::env::var(name).map_or(usual, |text| text.parse().unwrap())
}

/// The time that so many of a hundred do not exceed.
fn share(times: &mut [f64], of_hundred: usize) -> f64 {
    times.sort_by(f64::total_cmp);
    times[(times.len() * of_hundred / 100).min(times.len() - 1)]
}

fn report(name: &str, boat: &mut Boat, edits: usize, studies: usize) {
    if edits == 0 {
        return;
    }
    boat.failing();
    let (mut took, mut scratch) = (Vec::new(), Vec::new());
    for number in 0..edits {
        took.push(boat.change());
        if number % 50 == 49 {
            println!("{name}, after {} changes:", number + 1);
            both_kinds(name, &took, None);
        }
        if number % edits.div_ceil(studies) == 0 {
            scratch.push(boat.studied_anew());
        }
    }
    let middle = share(&mut scratch, 50);
    let wires = boat.model["wires"].as_array().unwrap().len();
    println!(
        "{name}, {wires} wires | study from scratch, {} times, median {middle:.3} s",
        scratch.len()
    );
    both_kinds(name, &took, Some(middle));
}

/// What changes of either kind took, beside a study from scratch.
fn both_kinds(name: &str, took: &[Took], scratch: Option<f64>) {
    for (kind, is_of_currents) in [("sizes and draws", true), ("ratings and colors", false)] {
        let here = took
            .iter()
            .filter(|one| one.is_of_currents == is_of_currents);
        let (mut whole, mut saving): (Vec<f64>, Vec<f64>) =
            here.clone().map(|one| (one.whole, one.saving)).unzip();
        if whole.is_empty() {
            continue;
        }
        let unfinished: usize = here.map(|one| one.unfinished).sum();
        let (median, p99) = (share(&mut whole, 50), share(&mut whole, 99));
        println!(
            "{name}, {} changes of {kind} | until the page: median {median:.3} s, p99 {p99:.3} s, \
             longest {:.3} s; of it saving, median {:.3} s; told {unfinished} times to wait",
            whole.len(),
            share(&mut whole, 100),
            share(&mut saving, 50),
        );
        if let Some(scratch) = scratch {
            println!(
                "{name}, {kind} | scratch / median {:.2}, scratch / p99 {:.2}",
                scratch / median,
                scratch / p99
            );
        }
    }
}

fn main() {
    let edits = size("EDITS", 500);
    let large_edits = size("LARGE_EDITS", 3);
    let folder = std::env::temp_dir().join(format!("harness-edits-{}", std::process::id()));
    let mut models = vec![("launch-92", SAMPLES[0].1.to_owned(), edits, FROM_SCRATCH)];
    if large_edits > 0 {
        let (wires, options) = (size("LARGE_WIRES", 10_000), size("LARGE_OPTIONS", 40));
        let record = tests::generated::model(wires, options, 1);
        let body = file_format::write_record(&record);
        models.push(("generated", body, large_edits, LARGE_FROM_SCRATCH));
    }
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let (store, address) = runtime.block_on(async {
        let store = Store::open(&folder).await.unwrap();
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let router = app(AppState::new(store.clone()));
        tokio::spawn(async move { axum::serve(listener, router).await });
        (store, address)
    });
    let client = Client::new(&format!("http://{address}"));
    for (id, body, edits, studies) in models {
        let accepted = intake::read(&body).unwrap();
        let made = store.create(id, accepted.revision("the bench", "as it starts"));
        runtime.block_on(made).unwrap();
        let mut boat = Boat {
            client: &client,
            pages: format!("/models/{id}"),
            model: serde_json::from_str(&body).unwrap(),
            revision: 1,
            rng: fastrand::Rng::with_seed(1),
        };
        report(id, &mut boat, edits, studies);
    }
    runtime.shutdown_background();
    let _ = std::fs::remove_dir_all(folder);
}
