//! Stored states of boat models as lists of things, kept for the next change of them.
//!
//! Whoever changes a model has looked at it before, and reading a large file takes as long as
//! changing it.

use std::collections::VecDeque;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use harness_core::edits::Whole;
use harness_core::file_format;

use crate::error::{Error, Fault};
use crate::store::Revision;

/// A model file as lists.
///
/// # Errors
/// Every fault, with pointers under `place`.
pub fn whole(body: &str, place: &str) -> Result<Whole, Vec<Fault>> {
    let record = file_format::read_record(body).map_err(|found| {
        let faults = found.into_iter().map(Fault::from);
        faults.map(|fault| fault.under(place)).collect::<Vec<_>>()
    })?;
    Ok(Whole::of(&record))
}

/// A saved state as lists.
///
/// # Errors
/// [`Error::Faults`] when what is stored cannot be read.
pub fn saved(body: &str) -> Result<Whole, Error> {
    whole(body, "").map_err(Error::Faults)
}

/// Most states kept: those used last.
const KEPT: usize = 4;

/// The file's stamp and what it holds, those used last at the end.
type Shelf = VecDeque<(String, Arc<Whole>)>;

/// The states kept, each under the stamp of its file; all clones share them.
#[derive(Clone, Default)]
pub struct Lists(Arc<Mutex<Shelf>>);

impl fmt::Debug for Lists {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Lists({} kept)", self.kept().len())
    }
}

impl Lists {
    /// A stored state as lists, read when it is not kept.
    ///
    /// # Errors
    /// [`Error::Faults`] when what is stored cannot be read.
    pub fn of(&self, stored: &Revision) -> Result<Arc<Whole>, Error> {
        let stamp = &stored.head.stamp;
        let known = {
            let kept = self.kept();
            let found = kept.iter().find(|(known, _)| known == stamp);
            found.map(|(_, whole)| whole.clone())
        };
        let whole = match known {
            Some(whole) => whole,
            None => Arc::new(saved(&stored.body)?),
        };
        self.keep(stamp, whole.clone());
        Ok(whole)
    }

    /// Keeps a state under the stamp of its file.
    pub fn keep(&self, stamp: &str, whole: Arc<Whole>) {
        let mut kept = self.kept();
        kept.retain(|(known, _)| known != stamp);
        kept.push_back((stamp.to_owned(), whole));
        if kept.len() > KEPT {
            kept.pop_front();
        }
    }

    fn kept(&self) -> MutexGuard<'_, Shelf> {
        // Whole after every statement, so a panic elsewhere does not spoil it.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::RevisionHead;

    fn stored(name: &str) -> Revision {
        Revision {
            head: RevisionHead {
                restores: None,
                model_id: "a".to_owned(),
                number: 1,
                name: name.to_owned(),
                recorded_at: "2026-01-02T03:04:05Z".to_owned(),
                who: "b".to_owned(),
                reason: "c".to_owned(),
                stamp: name.to_owned(),
            },
            body: format!(r#"{{"format_version": 1, "name": "{name}"}}"#),
        }
    }

    #[test]
    fn a_state_is_read_once_and_only_those_used_last_are_kept() {
        let lists = Lists::default();
        let one = lists.of(&stored("one")).unwrap();
        assert_eq!(*one, saved(&stored("one").body).unwrap());
        for name in ["two", "three", "four"] {
            assert!(*lists.of(&stored(name)).unwrap() != *one);
        }
        assert!(Arc::ptr_eq(&one, &lists.of(&stored("one")).unwrap()));
        lists.of(&stored("five")).unwrap();
        let stamps: Vec<String> = lists
            .kept()
            .iter()
            .map(|(stamp, _)| stamp.clone())
            .collect();
        assert_eq!(stamps, ["three", "four", "one", "five"]);
        assert!(
            lists
                .of(&Revision {
                    body: "{".to_owned(),
                    ..stored("six")
                })
                .is_err()
        );
        assert_eq!(lists.kept().len(), KEPT);
    }
}
