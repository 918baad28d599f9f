//! Fifty people change one boat model at once, beside one alone, while others read.
//!
//! `cargo bench -p server --bench editors`: 50 editors for two minutes on the service as a process
//! of its own. `EDITORS` and `EDIT_SECONDS` set other sizes; as one of the tests it is small. Nobody
//! pauses to think, so fifty here do what some hundreds would in a yard.
//!
//! In the end every revision is read: each holds exactly the one change whose author was told of
//! it, and there is none beside but of those who got no answer in time.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

#[path = "../tests/durability/client.rs"]
#[allow(dead_code, reason = "this bench asks less")]
mod client;
#[path = "../tests/durability/service.rs"]
#[allow(dead_code, reason = "nothing is killed here")]
mod service;
#[path = "../tests/web/form_fields.rs"]
mod form_fields;

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use client::{Answer, Client};
use form_fields::fields;
use harness_core::edits::{Key, What, Whole, difference};
use harness_core::file_format;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::{Value, json};
use service::{Service, shipped};

const MODEL: &str = "/models/launch-92";
const API: &str = "/api/models/launch-92";
/// One editor in so many is a program that sends the whole file.
const PROGRAMS: usize = 10;
/// One change in so many is of a thing that others change too.
const SHARED: usize = 5;
const SHARED_THINGS: usize = 3;
/// Pages that are read meanwhile: one made of the file alone, one that takes a study of every boat.
const READ: [&str; 2] = ["/edit/wires", "/failing"];
const READERS_PAUSE: Duration = Duration::from_millis(200);

/// A field of a thing, and what it was set to.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Place {
    list: &'static str,
    id: String,
    field: &'static str,
}

/// What one editor did.
#[derive(Default)]
struct Done {
    /// Where and what, by the number of the revision.
    saved: BTreeMap<i64, (Place, String)>,
    /// Sent, and no answer came in time: it may be saved or not.
    unanswered: Vec<(Place, String)>,
    sent: usize,
    refused: usize,
    saves_ms: Vec<f64>,
}

/// What all did in one phase.
#[derive(Default)]
struct Phase {
    done: Done,
    seconds: f64,
    read_ms: [Vec<f64>; READ.len()],
}

/// Who edits what.
struct Work {
    own: Vec<String>,
    shared: Vec<String>,
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let filter = arguments.find(|argument| !argument.starts_with("--"));
    if filter.is_some_and(|filter| !"editors".contains(&filter)) {
        return;
    }
    let full = std::env::args().any(|argument| argument == "--bench");
    let editors = size("EDITORS", if full { 50 } else { 12 });
    let seconds = size("EDIT_SECONDS", if full { 120 } else { 3 });
    let data = std::env::temp_dir().join(format!("harness-editors-{}", std::process::id()));
    let service = Service::start(&mut shipped(&data));
    let to = &service.address;

    let before = Client::new(to).get(API).unwrap().json()["model"].take();
    let work = work(&before, editors);
    let mut alone = phase(
        to,
        &work,
        1,
        Duration::from_secs((seconds / 6).max(1) as u64),
    );
    let mut together = phase(to, &work, editors, Duration::from_secs(seconds as u64));
    tell("one editor alone", &mut alone);
    tell(&format!("{editors} editors"), &mut together);
    println!(
        "together / alone: saves a second {:.2}, median of a save {:.1}, p99 {:.1}; p99 / median of \
         {editors}: {:.1}",
        per_second(&together) / per_second(&alone),
        share(&mut together.done.saves_ms, 50) / share(&mut alone.done.saves_ms, 50),
        share(&mut together.done.saves_ms, 99) / share(&mut alone.done.saves_ms, 99),
        share(&mut together.done.saves_ms, 99) / share(&mut together.done.saves_ms, 50),
    );

    let mut saved = alone.done.saved;
    let of_one = saved.len();
    let of_all = together.done.saved.len();
    saved.append(&mut together.done.saved);
    assert_eq!(
        saved.len(),
        of_one + of_all,
        "two were told of one revision"
    );
    let mut unanswered = alone.done.unanswered;
    unanswered.append(&mut together.done.unanswered);
    verify(to, &saved, unanswered);
    drop(service);
    let _ = std::fs::remove_dir_all(data);
}

fn size(name: &str, usual: usize) -> usize {
    std::env::var(name).map_or(usual, |text| text.parse().unwrap())
}

fn work(model: &Value, editors: usize) -> Work {
    let ids = |list: &str| -> Vec<String> {
        let things = model[list].as_array().unwrap().iter();
        things
            .map(|thing| thing["id"].as_str().unwrap().to_owned())
            .collect()
    };
    let own = ids("wires");
    assert!(own.len() >= editors, "the model has {} wires", own.len());
    Work {
        own,
        shared: ids("loads").into_iter().take(SHARED_THINGS).collect(),
    }
}

/// So many editors and the readers at work for a while.
fn phase(to: &str, work: &Work, editors: usize, lasts: Duration) -> Phase {
    let ends = AtomicBool::new(false);
    let start = Instant::now();
    let mut phase = Phase::default();
    thread::scope(|scope| {
        let ends = &ends;
        let editing: Vec<_> = (0..editors)
            .map(|number| scope.spawn(move || edit(&Client::new(to), work, number, editors, ends)))
            .collect();
        let reading = READ.map(|page| scope.spawn(move || read(&Client::new(to), page, ends)));
        thread::sleep(lasts);
        ends.store(true, Ordering::Relaxed);
        for editor in editing {
            let mut done = editor.join().unwrap();
            let known = phase.done.saved.len() + done.saved.len();
            phase.done.saved.append(&mut done.saved);
            assert_eq!(
                phase.done.saved.len(),
                known,
                "two were told of one revision"
            );
            phase.done.unanswered.append(&mut done.unanswered);
            phase.done.sent += done.sent;
            phase.done.refused += done.refused;
            phase.done.saves_ms.append(&mut done.saves_ms);
        }
        phase.seconds = start.elapsed().as_secs_f64();
        phase.read_ms = reading.map(|reader| reader.join().unwrap());
    });
    phase
}

/// Changes one thing after the other until it ends; the last change is seen through.
fn edit(client: &Client, work: &Work, number: usize, editors: usize, ends: &AtomicBool) -> Done {
    let mut done = Done::default();
    while !ends.load(Ordering::Relaxed) {
        let token = format!("{editors} {number} {}", done.sent);
        let place = match fastrand::usize(..SHARED) {
            0 => Place {
                list: "loads",
                id: fastrand::choice(&work.shared).unwrap().clone(),
                field: "name",
            },
            _ => Place {
                list: "wires",
                id: work.own[number].clone(),
                field: "color",
            },
        };
        let revision = match number % PROGRAMS == PROGRAMS - 1 {
            false => by_form(client, &place, &token, &mut done),
            true => by_file(client, &place, &token, &mut done, ends),
        };
        if let Some(revision) = revision {
            done.saved.insert(revision, (place, token));
        }
    }
    done
}

/// A change in the browser; refused, it is decided once more over what the page then shows.
fn by_form(client: &Client, place: &Place, token: &str, done: &mut Done) -> Option<i64> {
    let address = format!("{MODEL}/edit/{}/thing", place.list);
    let id = utf8_percent_encode(&place.id, NON_ALPHANUMERIC);
    let page = there(client, &format!("{address}?id={id}"));
    let mut form = fields(&page.text);
    form.insert(place.field.to_owned(), token.to_owned());
    form.insert("reason".to_owned(), token.to_owned());
    loop {
        let pairs = form
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()));
        let answer = timed(done, || client.form(&address, pairs).unwrap());
        if let Some(revision) = answer.saved() {
            return Some(revision);
        }
        if answer.status == 503 {
            done.unanswered.push((place.clone(), token.to_owned()));
            return None;
        }
        refused(&answer, done);
        form = fields(&answer.text);
        assert_eq!(form[place.field], token, "what was typed is kept");
    }
}

/// The whole file, on condition that nobody came first: among many this seldom succeeds.
fn by_file(
    client: &Client,
    place: &Place,
    token: &str,
    done: &mut Done,
    ends: &AtomicBool,
) -> Option<i64> {
    while !ends.load(Ordering::Relaxed) {
        let mut latest = there(client, API).json();
        let things = latest["model"][place.list].as_array_mut().unwrap();
        let thing = things.iter_mut().find(|thing| thing["id"] == *place.id);
        thing.unwrap()[place.field] = json!(token);
        let sent = json!({
            "model": latest["model"],
            "reason": token,
            "expected_revision": latest["revision"],
        });
        let sent = sent.to_string();
        let answer = timed(done, || client.put(API, &sent).unwrap());
        match answer.status {
            200 => return answer.json()["revision"].as_i64(),
            503 => {
                done.unanswered.push((place.clone(), token.to_owned()));
                return None;
            }
            _ => refused(&answer, done),
        }
    }
    None
}

/// A page; one that is still being worked out is asked for until it is there.
fn there(client: &Client, path: &str) -> Answer {
    loop {
        let answer = client.get(path).unwrap();
        if answer.status != 503 {
            assert_eq!(answer.status, 200, "{path}: {}", answer.text);
            return answer;
        }
    }
}

fn timed(done: &mut Done, send: impl FnOnce() -> Answer) -> Answer {
    let start = Instant::now();
    let answer = send();
    done.sent += 1;
    if answer.status != 409 {
        done.saves_ms.push(start.elapsed().as_secs_f64() * 1000.0);
    }
    answer
}

fn refused(answer: &Answer, done: &mut Done) {
    assert_eq!(answer.status, 409, "{}", answer.text);
    done.refused += 1;
}

/// Reads a page again and again.
fn read(client: &Client, page: &str, ends: &AtomicBool) -> Vec<f64> {
    let mut took = Vec::new();
    while !ends.load(Ordering::Relaxed) {
        let start = Instant::now();
        there(client, &format!("{MODEL}{page}"));
        took.push(start.elapsed().as_secs_f64() * 1000.0);
        thread::sleep(READERS_PAUSE);
    }
    took
}

/// Every revision is the one before it with exactly the change its author was told of, or that of
/// somebody who got no answer.
fn verify(to: &str, saved: &BTreeMap<i64, (Place, String)>, unanswered: Vec<(Place, String)>) {
    let client = Client::new(to);
    let state = |number: i64| {
        let path = format!("{MODEL}/revisions/{number}/file.json");
        let file = there(&client, &path);
        Whole::of(&file_format::read_record(&file.text).unwrap())
    };
    let mut heads = there(&client, &format!("{API}/revisions")).json();
    let mut heads = std::mem::take(heads["revisions"].as_array_mut().unwrap());
    heads.reverse();
    let (mut there, mut before, mut last) = (0, state(1), BTreeMap::new());
    for (head, number) in heads.iter().zip(1..).skip(1) {
        assert_eq!(head["revision"], number, "a gap between revisions");
        let of_nobody = || {
            unanswered
                .iter()
                .find(|(_, token)| head["reason"] == **token)
        };
        let (place, token) = match saved.get(&number) {
            Some(change) => change,
            None => of_nobody().unwrap_or_else(|| panic!("nobody sent {head}")),
        };
        there += usize::from(!saved.contains_key(&number));
        let now = state(number);
        let changes = difference(&before, &now);
        let [change] = &changes[..] else {
            panic!("revision {number} changes {} things", changes.len());
        };
        let key = Key {
            list: place.list,
            id: place.id.clone(),
        };
        let What::Changed(fields) = &change.what else {
            panic!("revision {number}: {change:?}");
        };
        assert_eq!(change.key, key, "revision {number}");
        assert_eq!(fields.len(), 1, "revision {number}: {fields:?}");
        assert_eq!(fields[0].field, place.field, "revision {number}");
        assert_eq!(fields[0].after, Some(json!(token)), "revision {number}");
        last.insert(place, (key, token));
        before = now;
    }
    assert_eq!(
        heads.len() - 1,
        saved.len() + there,
        "acknowledged and not there"
    );
    for (place, (key, token)) in last {
        let thing = before.get(&key).unwrap();
        assert_eq!(
            thing[place.field],
            **token,
            "the last change of {}",
            key.words()
        );
    }
    println!(
        "{} revisions read, each the one change its author was told of; of {} changes without an \
         answer in time {there} are there; no update lost",
        heads.len() - 1,
        unanswered.len(),
    );
}

fn per_second(phase: &Phase) -> f64 {
    phase.done.saved.len() as f64 / phase.seconds
}

/// The time that so many of a hundred do not exceed.
fn share(times: &mut [f64], of_hundred: usize) -> f64 {
    times.sort_by(f64::total_cmp);
    let at = (times.len() * of_hundred / 100).min(times.len().saturating_sub(1));
    times.get(at).copied().unwrap_or(f64::NAN)
}

fn tell(who: &str, phase: &mut Phase) {
    println!(
        "{who}, {:.0} s: {} changes sent, {} acknowledged, {} refused with 409 | {:.1} saves a \
         second, median {:.1} ms, p99 {:.1} ms",
        phase.seconds,
        phase.done.sent,
        phase.done.saved.len(),
        phase.done.refused,
        per_second(phase),
        share(&mut phase.done.saves_ms, 50),
        share(&mut phase.done.saves_ms, 99),
    );
    for (page, times) in READ.iter().zip(&mut phase.read_ms) {
        println!(
            "    meanwhile {page} read {} times: median {:.0} ms, p99 {:.0} ms",
            times.len(),
            share(times, 50),
            share(times, 99)
        );
    }
}
