//! What the store has to hold, kept beside it, and the comparison after each restart.

use std::collections::BTreeMap;
use std::fmt;
use std::path::Path;

use harness_core::edits::{Key, Whole};
use harness_core::file_format;
use serde::Deserialize;
use serde_json::json;
use server::intake;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions, Row};

use crate::client::Client;
use crate::editing::{self, RACED, SHARED, Sent, Told, What};

/// Counts over all restarts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Changes whose authors were told that they are saved.
    pub acknowledged: usize,
    /// Of those, not there after a restart, or a revision known before and gone.
    pub lost: usize,
    /// Restarts after which something was lost.
    pub losing: usize,
    /// Changes that nobody was told of and that are there, whole.
    pub unanswered_there: usize,
    /// Changes that nobody was told of and that are not there.
    pub unanswered_gone: usize,
    /// Changes refused because somebody came first; none may be there.
    pub refused: usize,
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} changes acknowledged, {} lost (after {} restarts); unanswered: {} there and whole, \
             {} not there; {} refused and not there",
            self.acknowledged,
            self.lost,
            self.losing,
            self.unanswered_there,
            self.unanswered_gone,
            self.refused
        )
    }
}

/// The revisions of one model as they have to be.
#[derive(Default)]
struct Book {
    /// Stamp of each, from the first.
    stamps: Vec<String>,
    /// File of the last.
    body: String,
}

/// The books of one store.
#[derive(Default)]
pub struct Books {
    models: BTreeMap<&'static str, Book>,
    /// Sent since the last comparison.
    sent: Vec<Sent>,
}

#[derive(Deserialize)]
struct Head {
    revision: i64,
    reason: String,
    stamp: String,
}

#[derive(Deserialize)]
struct Heads {
    revisions: Vec<Head>,
}

impl Books {
    /// Makes the models that are not there and gives the latest revisions.
    pub fn set_up(&mut self, client: &Client, tally: &mut Tally) -> [i64; 2] {
        [SHARED, RACED].map(|model| {
            let book = self.models.entry(model).or_default();
            if book.stamps.is_empty() {
                let first = editing::first(model);
                let asked = json!({ "id": model, "model": first });
                let answer = client.post("/api/models", &asked).expect("it answers");
                assert_eq!(answer.status, 201, "{}", answer.text);
                book.body = first.to_string();
                book.stamps = vec![stamp(&book.body)];
                tally.acknowledged += 1;
            }
            book.stamps.len().try_into().expect("few revisions")
        })
    }

    /// Takes down what was sent.
    pub fn note(&mut self, sent: Vec<Sent>) {
        self.sent.extend(sent);
    }

    /// Compares the store behind `client`, restarted, with the books, and takes down what was found.
    ///
    /// # Panics
    /// When anything is there that nobody sent, or not whole, or not as it was sent. What is
    /// missing is counted.
    pub fn compare(&mut self, client: &Client, tally: &mut Tally) {
        let lost_before = tally.lost;
        let mut sent: BTreeMap<String, Sent> = BTreeMap::new();
        for one in std::mem::take(&mut self.sent) {
            match one.told {
                Told::Saved(_) => tally.acknowledged += 1,
                Told::Refused => tally.refused += 1,
                Told::Nothing => {}
            }
            sent.insert(one.token.clone(), one);
        }
        for (model, book) in &mut self.models {
            let heads = heads(client, model);
            for (head, number) in heads.iter().zip(1..) {
                assert_eq!(head.revision, number, "{model}: a gap between revisions");
            }
            for (head, stamp) in heads.iter().zip(&book.stamps) {
                assert_eq!(head.stamp, *stamp, "{model} {}: changed", head.revision);
            }
            if heads.len() < book.stamps.len() {
                tally.lost += book.stamps.len() - heads.len();
                book.stamps.truncate(heads.len());
                book.body = match heads.last() {
                    Some(head) => body(client, model, head),
                    None => String::new(),
                };
            }
            for head in &heads[book.stamps.len()..] {
                let found = body(client, model, head);
                let one = sent.remove(&head.reason);
                let one = one.unwrap_or_else(|| panic!("{model}: nobody sent {}", head.reason));
                assert_eq!(one.model, *model, "{one:?}");
                assert_eq!(found, after(&one, &book.body), "{model} {}", head.revision);
                match one.told {
                    Told::Saved(number) => assert_eq!(number, head.revision, "{one:?}"),
                    Told::Refused => panic!("refused, and it is there: {one:?}"),
                    Told::Nothing => tally.unanswered_there += 1,
                }
                book.stamps.push(head.stamp.clone());
                book.body = found;
            }
        }
        for gone in sent.values() {
            match gone.told {
                Told::Saved(_) => tally.lost += 1,
                Told::Nothing => tally.unanswered_gone += 1,
                Told::Refused => {}
            }
        }
        tally.losing += usize::from(tally.lost > lost_before);
    }

    /// Reads every revision once more, byte by byte.
    pub fn read_all(&self, client: &Client) {
        for (model, book) in &self.models {
            let heads = heads(client, model);
            assert_eq!(heads.len(), book.stamps.len(), "{model}");
            for head in &heads {
                body(client, model, head);
            }
        }
    }
}

/// What a change makes of the state before it, byte by byte.
fn after(sent: &Sent, before: &str) -> String {
    match &sent.what {
        What::Replaces(body) => body.clone(),
        What::Renames(option) => {
            let mut whole =
                Whole::of(&file_format::read_record(before).expect("it was read before"));
            let key = Key {
                list: "options",
                id: option.clone(),
            };
            whole.put(&key, json!({ "id": option, "name": sent.token }));
            file_format::write_record(&whole.record().expect("a name is a name"))
        }
    }
}

fn stamp(body: &str) -> String {
    let read = intake::read(body);
    read.unwrap_or_else(|faults| panic!("half a model: {faults:?}: {body}"))
        .stamp
}

/// Revisions from the first; none when there is no such model.
fn heads(client: &Client, model: &str) -> Vec<Head> {
    let answer = client.get(&format!("/api/models/{model}/revisions"));
    let answer = answer.expect("it answers");
    if answer.status == 404 {
        return Vec::new();
    }
    let Heads { mut revisions } = serde_json::from_str(&answer.text).expect(&answer.text);
    revisions.reverse();
    revisions
}

/// The file of a revision, whole and of the stamp it is listed with.
fn body(client: &Client, model: &str, head: &Head) -> String {
    let path = format!("/models/{model}/revisions/{}/file.json", head.revision);
    let answer = client.get(&path).expect("it answers");
    assert_eq!(answer.status, 200, "{path}: {}", answer.text);
    assert_eq!(
        stamp(&answer.text),
        head.stamp,
        "{path}: the file is another"
    );
    answer.text
}

/// What SQLite itself says of the file.
pub fn assert_sound(data: &Path) {
    let options = SqliteConnectOptions::new()
        .filename(data.join("harness.db"))
        .read_only(true);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build();
    runtime.expect("a runtime").block_on(async {
        let mut connection: SqliteConnection = options.connect().await.expect("it opens");
        let sound = sqlx::query("PRAGMA integrity_check")
            .fetch_all(&mut connection)
            .await;
        let sound: Vec<String> = sound
            .expect("it can be asked")
            .iter()
            .map(|row| row.get(0))
            .collect();
        assert_eq!(sound, ["ok"]);
        let strays = sqlx::query("PRAGMA foreign_key_check")
            .fetch_all(&mut connection)
            .await;
        assert_eq!(
            strays.expect("it can be asked").len(),
            0,
            "rows that belong to nothing"
        );
    });
}
