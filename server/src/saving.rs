//! A change to a boat model or the parts list becomes one revision, whole or not at all.
//!
//! The change was made on the state its author saw. If somebody saved meanwhile, both are brought
//! together; what both changed is told with both versions, and nothing is stored.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

use harness_core::edits::{Clash, Whole, difference, merge};
use harness_core::file_format;
use harness_core::model::BoatModel;

use crate::error::{Error, Fault};
use crate::intake::{self, Accepted};
use crate::lists::Lists;
use crate::parts_list;
use crate::router::AppState;
use crate::store::{NewRevision, PARTS, Revision, RevisionHead, StoreError};

/// For each boat model those who change it, one after the other: whoever brings a change together
/// with what was saved meanwhile finds nothing newer when it is done.
#[derive(Clone, Debug, Default)]
pub struct Queues(Arc<Mutex<BTreeMap<String, Arc<tokio::sync::Mutex<()>>>>>);

impl Queues {
    /// Waits for one's turn; it ends with what is given back.
    async fn turn(&self, id: &str) -> tokio::sync::OwnedMutexGuard<()> {
        let queue = {
            let mut queues = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            queues.entry(id.to_owned()).or_default().clone()
        };
        queue.lock_owned().await
    }
}

/// Adds a revision of a boat model as it is, when it is one's turn.
///
/// # Errors
/// Those of the store; a conflict when `expected` is given and no longer the latest.
pub async fn replace(
    state: &AppState,
    id: &str,
    expected: Option<i64>,
    new: NewRevision<'_>,
) -> Result<RevisionHead, Error> {
    let _turn = state.queues.turn(id).await;
    Ok(state.store.replace(id, expected, new).await?)
}

/// Which document is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// The boat model of the intent.
    Model,
    /// The parts list.
    Parts,
}

impl Target {
    async fn revision(
        self,
        state: &AppState,
        id: &str,
        number: i64,
    ) -> Result<Revision, StoreError> {
        match self {
            Self::Model => state.store.revision(id, number).await,
            Self::Parts => parts_list::revision(&state.store, number).await,
        }
    }

    async fn latest(self, state: &AppState, id: &str) -> Result<Revision, StoreError> {
        match self {
            Self::Model => state.store.latest(id).await,
            Self::Parts => parts_list::latest(&state.store).await,
        }
    }

    async fn replace(
        self,
        state: &AppState,
        id: &str,
        expected: i64,
        new: NewRevision<'_>,
    ) -> Result<RevisionHead, StoreError> {
        match self {
            Self::Model => state.store.replace(id, Some(expected), new).await,
            Self::Parts => state.store.replace_parts(expected, new).await,
        }
    }

    fn saved(self, lists: &Lists, stored: &Revision) -> Result<Arc<Whole>, Error> {
        match self {
            Self::Model => lists.of(stored),
            Self::Parts => Ok(Arc::new(parts_list::whole(&stored.body)?)),
        }
    }

    fn written(self, whole: &Whole) -> Result<Written, Vec<Fault>> {
        let told = |found: Vec<file_format::Fault>| -> Vec<Fault> {
            found.into_iter().map(Fault::from).collect()
        };
        Ok(match self {
            Self::Model => {
                let record = whole.record().map_err(told)?;
                Written {
                    read_again: Arc::new(Whole::of(&record)),
                    text: file_format::write_record(&record),
                }
            }
            Self::Parts => {
                let list = whole.parts().map_err(told)?;
                Written {
                    read_again: Arc::new(Whole::of(&list)),
                    text: file_format::write_parts(&list),
                }
            }
        })
    }

    fn accepted(self, text: &str) -> Result<(Accepted, Option<BoatModel>), Vec<Fault>> {
        match self {
            Self::Model => intake::read_model(text).map(|(file, model)| (file, Some(model))),
            Self::Parts => intake::read_parts(text).map(|file| (file, None)),
        }
    }
}

/// A document as it would be saved.
struct Written {
    /// As it would be read again: 12 and 12.0 are one number.
    read_again: Arc<Whole>,
    text: String,
}

/// A change as its author sent it.
#[derive(Clone, Debug)]
pub struct Intent {
    /// The boat model; of the parts list [`PARTS`].
    pub id: String,
    /// The revision its author saw.
    pub seen: i64,
    /// Who.
    pub who: String,
    /// Why.
    pub reason: String,
}

impl Intent {
    /// That somebody else saved what this would change too.
    pub fn late(&self, latest: &RevisionHead) -> Error {
        let (expected, latest) = (self.seen, latest.number);
        let conflict = match self.id.as_str() {
            PARTS => StoreError::PartsConflict { expected, latest },
            id => StoreError::Conflict {
                id: id.to_owned(),
                expected,
                latest,
            },
        };
        conflict.into()
    }
}

/// What came of it.
#[derive(Debug)]
pub enum Outcome {
    /// It is this revision.
    Saved(RevisionHead),
    /// It changes nothing.
    Nothing,
    /// The model would not be one: every fault, with pointers into the whole of it.
    Faults(Vec<Fault>, Box<Whole>),
    /// Somebody changed the same things meanwhile.
    Clashes(RevisionHead, Vec<Clash>),
}

/// What a change makes of the state its author saw.
type Make = dyn Fn(&Whole) -> Whole + Send + Sync;

/// What can be saved, and what was read of it on the way.
#[derive(Debug)]
pub struct Ready {
    /// The file.
    pub file: Accepted,
    whole: Arc<Whole>,
    /// Of a parts list none.
    model: Option<BoatModel>,
}

impl Ready {
    /// Spares those who ask for it next from reading it again.
    fn hand_on(self, state: &AppState) {
        if let Some(model) = self.model {
            state.lists.keep(&self.file.stamp, self.whole);
            state.studies.expect(self.file.stamp, model);
        }
    }
}

/// A change brought together with what was saved meanwhile.
#[derive(Debug)]
pub enum Prepared {
    /// It can be saved.
    Ready(Box<Ready>),
    /// It changes nothing.
    Nothing,
    /// The model would not be one.
    Faults(Vec<Fault>, Box<Whole>),
    /// Somebody changed the same things meanwhile.
    Clashes(Vec<Clash>),
}

/// What would be saved, brought together with what was saved meanwhile; nothing is stored.
///
/// # Errors
/// Those of the store; [`Error::Panicked`] when the core broke.
pub async fn prepared(
    state: &AppState,
    intent: &Intent,
    make: impl Fn(&Whole) -> Whole + Send + Sync + 'static,
) -> Result<(RevisionHead, Prepared), Error> {
    let base = state.store.revision(&intent.id, intent.seen).await?;
    let latest = state.store.latest(&intent.id).await?;
    let (head, lists) = (latest.head.clone(), state.lists.clone());
    let brought =
        tokio::task::spawn_blocking(move || bring(Target::Model, &lists, &base, &latest, &make));
    let brought = brought.await;
    let brought = brought.map_err(|broken| Error::Panicked(broken.to_string()))??;
    Ok((head, brought))
}

/// Saves what `make` turns the seen state of a boat model into.
///
/// # Errors
/// Those of the store; [`Error::Panicked`] when the core broke.
pub async fn save(
    state: &AppState,
    intent: &Intent,
    make: impl Fn(&Whole) -> Whole + Send + Sync + 'static,
) -> Result<Outcome, Error> {
    save_in(Target::Model, state, intent, make).await
}

/// Saves what `make` turns the seen state into.
///
/// # Errors
/// Those of the store; [`Error::Panicked`] when the core broke.
pub async fn save_in(
    target: Target,
    state: &AppState,
    intent: &Intent,
    make: impl Fn(&Whole) -> Whole + Send + Sync + 'static,
) -> Result<Outcome, Error> {
    let make: Arc<Make> = Arc::new(make);
    let base = target.revision(state, &intent.id, intent.seen).await?;
    let _turn = state.queues.turn(&intent.id).await;
    let latest = target.latest(state, &intent.id).await?;
    let (head, lists) = (latest.head.clone(), state.lists.clone());
    let brought =
        tokio::task::spawn_blocking(move || bring(target, &lists, &base, &latest, &*make)).await;
    let brought = brought.map_err(|broken| Error::Panicked(broken.to_string()))??;
    let ready = match brought {
        Prepared::Ready(ready) => ready,
        Prepared::Nothing => return Ok(Outcome::Nothing),
        Prepared::Faults(faults, whole) => return Ok(Outcome::Faults(faults, whole)),
        Prepared::Clashes(clashes) => return Ok(Outcome::Clashes(head, clashes)),
    };
    let new = ready.file.revision(&intent.who, &intent.reason);
    let saved = target.replace(state, &intent.id, head.number, new).await?;
    ready.hand_on(state);
    Ok(Outcome::Saved(saved))
}

/// Makes the state of an earlier revision of a boat model, byte by byte, the latest one.
///
/// # Errors
/// Those of the store.
pub async fn bring_back(
    state: &AppState,
    intent: &Intent,
    number: i64,
) -> Result<RevisionHead, Error> {
    bring_back_in(Target::Model, state, intent, number).await
}

/// Makes the state of an earlier revision, byte by byte, the latest one. Nobody else may have saved
/// since its author looked: going back would silently undo that too.
///
/// # Errors
/// Those of the store.
pub async fn bring_back_in(
    target: Target,
    state: &AppState,
    intent: &Intent,
    number: i64,
) -> Result<RevisionHead, Error> {
    let earlier = target.revision(state, &intent.id, number).await?;
    let new = NewRevision {
        name: &earlier.head.name,
        body: &earlier.body,
        stamp: &earlier.head.stamp,
        who: &intent.who,
        reason: &intent.reason,
        at: SystemTime::now(),
        restores: Some(earlier.head.restores.unwrap_or(number)),
    };
    let _turn = state.queues.turn(&intent.id).await;
    Ok(target.replace(state, &intent.id, intent.seen, new).await?)
}

fn bring(
    target: Target,
    lists: &Lists,
    seen: &Revision,
    now: &Revision,
    make: &Make,
) -> Result<Prepared, Error> {
    let base = target.saved(lists, seen)?;
    let made = make(&base);
    let mut mine = match target.written(&made) {
        Ok(mine) => mine,
        Err(faults) => return Ok(Prepared::Faults(faults, Box::new(made))),
    };
    if seen.body != now.body {
        let theirs = target.saved(lists, now)?;
        let merged = match merge(&base, &mine.read_again, &theirs) {
            Ok(merged) => merged,
            Err(clashes) => return Ok(Prepared::Clashes(clashes)),
        };
        if difference(&theirs, &merged).is_empty() {
            return Ok(Prepared::Nothing);
        }
        mine = match target.written(&merged) {
            Ok(both) => both,
            Err(faults) => return Ok(Prepared::Faults(faults, Box::new(merged))),
        };
    } else if difference(&base, &mine.read_again).is_empty() {
        return Ok(Prepared::Nothing);
    }
    let whole = mine.read_again;
    Ok(match target.accepted(&mine.text) {
        Ok((file, model)) => Prepared::Ready(Box::new(Ready { file, whole, model })),
        Err(faults) => Prepared::Faults(faults, Box::new(Whole::clone(&whole))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lists;
    use crate::samples::SAMPLES;
    use crate::store::Store;
    use crate::studies::stored_model;
    use harness_core::edits::Key;
    use serde_json::json;

    #[tokio::test]
    async fn what_is_handed_on_is_what_would_be_read() {
        let folder = std::env::temp_dir().join(format!("harness-saving-{}", std::process::id()));
        let state = AppState::new(Store::open(&folder).await.unwrap());
        for (number, (_, text)) in SAMPLES.iter().enumerate() {
            let id = format!("m{number}");
            let accepted = intake::read(text).unwrap();
            let made = state.store.create(&id, accepted.revision("a", "b"));
            made.await.unwrap();
            let mut key = None;
            for (seen, size) in [(1, "8 AWG"), (2, "10 AWG")] {
                let before = state.lists.of(&state.store.latest(&id).await.unwrap());
                let wires = before.unwrap().things("wires").to_vec();
                let chosen = key.get_or_insert_with(|| wires[0].0.clone()).clone();
                let make = move |whole: &Whole| {
                    let mut now = whole.clone();
                    let list = "wires";
                    let key = Key {
                        list,
                        id: chosen.clone(),
                    };
                    let mut wire = whole.get(&key).unwrap().clone();
                    wire["size"] = json!(size);
                    now.put(&key, wire);
                    now
                };
                let (who, reason) = ("a".to_owned(), "b".to_owned());
                let intent = Intent {
                    id: id.clone(),
                    seen,
                    who,
                    reason,
                };
                let outcome = save(&state, &intent, make).await.unwrap();
                let Outcome::Saved(head) = outcome else {
                    panic!("{outcome:?}");
                };
                let latest = state.store.latest(&id).await.unwrap();
                assert_eq!(latest.head.stamp, head.stamp);
                assert_eq!(
                    *state.lists.of(&latest).unwrap(),
                    lists::saved(&latest.body).unwrap()
                );
                let model = state.studies.expected(&head.stamp);
                assert_eq!(model.unwrap(), stored_model(&latest.body).unwrap());
            }
        }
        state.store.close().await;
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
