//! What can go wrong in the store.

use std::path::PathBuf;

/// A failure of the store. The first three happen at start only.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The data folder cannot be made or reached.
    #[error("the data folder {} cannot be made: {source}", path.display())]
    Folder {
        /// The folder asked for.
        path: PathBuf,
        /// What the system answered.
        source: std::io::Error,
    },
    /// The database file cannot be opened.
    #[error("the database {} cannot be opened: {source}", path.display())]
    Open {
        /// The database file.
        path: PathBuf,
        /// What the database answered.
        source: sqlx::Error,
    },
    /// The tables cannot be brought up to date.
    #[error("the tables cannot be brought up to date: {0}")]
    Migrate(#[from] sqlx::migrate::MigrateError),
    /// No boat model has this id.
    #[error("there is no boat model “{id}”")]
    NoModel {
        /// The id asked for.
        id: String,
    },
    /// The boat model has no such revision.
    #[error("boat model “{id}” has no revision {number}")]
    NoRevision {
        /// The boat model.
        id: String,
        /// The revision asked for.
        number: i64,
    },
    /// The id of a new boat model is in use.
    #[error("there is already a boat model “{id}”")]
    IdTaken {
        /// The id asked for.
        id: String,
    },
    /// Somebody else has changed the model since the caller read it.
    #[error("boat model “{id}” is at revision {latest}, not at revision {expected}")]
    Conflict {
        /// The boat model.
        id: String,
        /// The revision that the caller meant to replace.
        expected: i64,
        /// The revision that is there.
        latest: i64,
    },
    /// The parts list has no such revision.
    #[error("the parts list has no revision {number}")]
    NoPartsRevision {
        /// The revision asked for.
        number: i64,
    },
    /// Somebody else has changed the parts list since the caller read it.
    #[error("the parts list is at revision {latest}, not at revision {expected}")]
    PartsConflict {
        /// The revision that the caller meant to replace.
        expected: i64,
        /// The revision that is there.
        latest: i64,
    },
    /// The database failed: disk full, file damaged, waited too long.
    #[error("the database failed: {0}")]
    Database(#[from] sqlx::Error),
}
