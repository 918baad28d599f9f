//! The builder's parts list as it is kept: revision 0 is the empty list before anything was saved.

use harness_core::edits::Whole;
use harness_core::file_format::{self, PartsRecord};

use crate::error::{Error, Fault};
use crate::store::{PARTS, Revision, RevisionHead, Store, StoreError};

/// The list before its first revision.
fn nothing() -> Revision {
    Revision {
        head: RevisionHead {
            model_id: PARTS.to_owned(),
            number: 0,
            name: "Parts list".to_owned(),
            recorded_at: String::new(),
            who: String::new(),
            reason: String::new(),
            stamp: String::new(),
            restores: None,
        },
        body: "{\"format_version\": 1}".to_owned(),
    }
}

/// The list at its latest revision.
///
/// # Errors
/// Those of the store.
pub async fn latest(store: &Store) -> Result<Revision, StoreError> {
    Ok(store.latest_parts().await?.unwrap_or_else(nothing))
}

/// The list as it stood at revision `number`.
///
/// # Errors
/// Those of the store.
pub async fn revision(store: &Store, number: i64) -> Result<Revision, StoreError> {
    match number {
        0 => Ok(nothing()),
        number => store.parts_revision(number).await,
    }
}

/// The parts of a saved list.
///
/// # Errors
/// [`Error::Faults`] when what is stored cannot be read.
pub fn parts(body: &str) -> Result<PartsRecord, Error> {
    file_format::read_parts(body).map_err(|found| {
        let faults = found.into_iter().map(Fault::from);
        Error::Faults(faults.collect())
    })
}

/// The parts of the latest list.
///
/// # Errors
/// Those of the store; [`Error::Faults`] when what is stored cannot be read.
pub async fn own(store: &Store) -> Result<PartsRecord, Error> {
    parts(&latest(store).await?.body)
}

/// A saved list as lists of things.
///
/// # Errors
/// [`Error::Faults`] when what is stored cannot be read.
pub fn whole(body: &str) -> Result<Whole, Error> {
    Ok(Whole::of(&parts(body)?))
}
