//! People who change boat models until the service is gone, and what they were told.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::client::{Answer, Client};
use crate::service::Service;

/// All change it by forms, each a thing of his own: their changes are brought together.
pub const SHARED: &str = "shared";
/// All replace it whole, on condition that nobody came first.
pub const RACED: &str = "raced";

const BY_FORM: usize = 4;
const BY_FILE: usize = 2;
/// Most bytes a file has beside the rest: a revision spans several pages of the database.
const MOST_TEXT: usize = 9_000;

/// Longer than any of it takes on the slowest machine.
const STUCK: Duration = Duration::from_secs(120);

/// A change as it was sent; its token is the reason it gives.
#[derive(Clone, Debug)]
pub struct Sent {
    pub model: &'static str,
    pub token: String,
    pub what: What,
    pub told: Told,
}

#[derive(Clone, Debug)]
pub enum What {
    /// This option of the model is called by the token now.
    Renames(String),
    /// This is the model now.
    Replaces(String),
}

/// What the author was told of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// It is this revision.
    Saved(i64),
    /// Somebody came first.
    Refused,
    /// Nothing: the service was gone.
    Nothing,
}

/// The first state of a model.
pub fn first(model: &str) -> Value {
    let options: Vec<_> = (0..BY_FORM).map(|n| json!({ "id": option(n) })).collect();
    json!({ "format_version": 1, "name": model, "options": options })
}

/// Everybody at work on the two models at their latest revisions, until so many changes are
/// acknowledged; a random part of a change later the service is killed. Counting changes, not
/// time, gives a slow machine as much to lose as a fast one.
pub fn until_killed(
    service: &mut Service,
    seen: [i64; 2],
    round: usize,
    acknowledged: usize,
) -> Vec<Sent> {
    let address = service.address.clone();
    let [shared, raced] = seen;
    let saved = AtomicUsize::new(0);
    let start = Instant::now();
    thread::scope(|scope| {
        let mut editors = Vec::new();
        for number in 0..BY_FORM + BY_FILE {
            let client = Client::new(&address);
            let named = format!("{round}.{number}");
            let saved = &saved;
            editors.push(scope.spawn(move || match number < BY_FORM {
                true => by_form(&client, number, &named, shared, saved),
                false => by_file(&client, &named, raced, saved),
            }));
        }
        while saved.load(Ordering::Relaxed) < acknowledged {
            assert!(start.elapsed() < STUCK, "nothing is saved any more");
            thread::sleep(Duration::from_micros(100));
        }
        let of_one = start.elapsed() / u32::try_from(acknowledged.max(1)).unwrap_or(u32::MAX);
        thread::sleep(of_one.mul_f64(2.0 * fastrand::f64()));
        service.kill();
        let sent = editors.into_iter().map(|editor| editor.join());
        sent.flat_map(|sent| sent.expect("an editor broke"))
            .collect()
    })
}

fn option(number: usize) -> String {
    format!("option-{number}")
}

fn by_form(
    client: &Client,
    number: usize,
    named: &str,
    mut seen: i64,
    saved: &AtomicUsize,
) -> Vec<Sent> {
    let mut all = Vec::new();
    let option = option(number);
    loop {
        let token = format!("{named}.{}", all.len());
        let answer = client.form(
            &format!("/models/{SHARED}/edit/options/thing"),
            [
                ("expected_revision", seen.to_string().as_str()),
                ("key", &option),
                ("name", &token),
                ("who", named),
                ("reason", &token),
            ],
        );
        let told = match answer {
            Ok(answer) => Told::Saved(answer.saved().unwrap_or_else(|| unexpected(&answer))),
            Err(_) => Told::Nothing,
        };
        all.push(Sent {
            model: SHARED,
            token,
            what: What::Renames(option.clone()),
            told,
        });
        match told {
            Told::Saved(revision) => {
                saved.fetch_add(1, Ordering::Relaxed);
                seen = revision;
            }
            _ => return all,
        }
    }
}

fn by_file(client: &Client, named: &str, mut seen: i64, saved: &AtomicUsize) -> Vec<Sent> {
    let mut all = Vec::new();
    loop {
        let token = format!("{named}.{}", all.len());
        let about = token.repeat(fastrand::usize(1..MOST_TEXT / token.len()));
        let body = json!({ "format_version": 1, "name": RACED, "about": about }).to_string();
        let sent = format!(
            r#"{{"model": {body}, "who": "{named}", "reason": "{token}", "expected_revision": {seen}}}"#
        );
        let told = match client.put(&format!("/api/models/{RACED}"), &sent) {
            Ok(answer) if answer.status == 200 => Told::Saved(revision(&answer)),
            Ok(answer) if answer.status == 409 => Told::Refused,
            Ok(answer) => unexpected(&answer),
            Err(_) => Told::Nothing,
        };
        all.push(Sent {
            model: RACED,
            token,
            what: What::Replaces(body),
            told,
        });
        match told {
            Told::Saved(revision) => {
                saved.fetch_add(1, Ordering::Relaxed);
                seen = revision;
            }
            Told::Refused => match client.get(&format!("/api/models/{RACED}")) {
                Ok(latest) => seen = revision(&latest),
                Err(_) => return all,
            },
            Told::Nothing => return all,
        }
    }
}

fn revision(answer: &Answer) -> i64 {
    let number = answer.json()["revision"].as_i64();
    number.unwrap_or_else(|| unexpected(answer))
}

fn unexpected(answer: &Answer) -> ! {
    panic!("the service answers {}: {}", answer.status, answer.text)
}
