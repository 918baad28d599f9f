//! Where boat models are kept: the only place with SQL.
//!
//! One connection writes, several read. Every committed change is on the disk before it is
//! acknowledged (write-ahead log, synchronous = FULL), so that a power cut loses nothing that
//! somebody was told is saved. What is particular to SQLite is in this file; the statements in
//! [`models`] use only what SQLite and PostgreSQL share.

mod error;
mod migrations;
mod models;
mod parts;

pub use error::StoreError;
pub use models::{NewRevision, Revision, RevisionHead};
pub use parts::PARTS;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use sqlx::pool::PoolOptions;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};

/// The database behind the store.
type Db = sqlx::Sqlite;

/// Takes the write lock at once: a transaction that reads first and writes later could otherwise
/// be refused half-way.
const BEGIN_WRITE: &str = "BEGIN IMMEDIATE";

const FILE_NAME: &str = "harness.db";
const READERS: u32 = 4;
/// Longest wait for another process that holds the file.
const WAIT: Duration = Duration::from_secs(5);
/// Longest wait for a connection: longer than any request may take, so that many at once wait for
/// each other and none is refused.
const QUEUE: Duration = Duration::from_secs(60);

/// Handle to the store; cheap to clone, all clones share the same connections.
#[derive(Clone, Debug)]
pub struct Store {
    writer: sqlx::Pool<Db>,
    readers: sqlx::Pool<Db>,
    /// How often anything was changed since the store was opened.
    changes: Arc<AtomicU64>,
}

impl Store {
    /// How often anything was changed since the store was opened: what was made of the store at
    /// one count is right as long as the count stands. Other processes must not write.
    pub fn changes(&self) -> u64 {
        self.changes.load(Ordering::Acquire)
    }

    /// Ends a change: committed or not, what was made before it is not trusted any more.
    async fn commit(&self, change: sqlx::Transaction<'_, Db>) -> Result<(), StoreError> {
        let ended = change.commit().await;
        self.changes.fetch_add(1, Ordering::Release);
        Ok(ended?)
    }

    /// Opens the store in `folder`, making both when they are missing, and brings its tables up
    /// to date.
    ///
    /// # Errors
    /// [`StoreError::Folder`] when the folder cannot be made, [`StoreError::Open`] when the file
    /// is not a usable database, [`StoreError::Migrate`] when its tables cannot be brought up to
    /// date (for one, because a newer version of this service has written it).
    pub async fn open(folder: &Path) -> Result<Self, StoreError> {
        Self::open_synced(folder, SqliteSynchronous::Full).await
    }

    /// Opens the store with synchronous = NORMAL: a power cut loses what was acknowledged. Only the
    /// test of power cuts does it, to show that it would notice.
    ///
    /// # Errors
    /// As [`Store::open`].
    #[doc(hidden)]
    pub async fn open_and_lose_on_power_cuts(folder: &Path) -> Result<Self, StoreError> {
        Self::open_synced(folder, SqliteSynchronous::Normal).await
    }

    async fn open_synced(folder: &Path, synced: SqliteSynchronous) -> Result<Self, StoreError> {
        make_folder(folder).map_err(|source| StoreError::Folder {
            path: folder.to_owned(),
            source,
        })?;
        let path = folder.join(FILE_NAME);
        let broken = |source| StoreError::Open {
            path: path.clone(),
            source,
        };

        let writing = SqliteConnectOptions::new()
            .filename(&path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(synced)
            .foreign_keys(true)
            .busy_timeout(WAIT);
        let writer = PoolOptions::new()
            .max_connections(1)
            .acquire_timeout(QUEUE)
            .connect_with(writing)
            .await
            .map_err(broken)?;
        migrations::run(&writer).await?;

        let reading = SqliteConnectOptions::new()
            .filename(&path)
            .read_only(true)
            .foreign_keys(true)
            .busy_timeout(WAIT);
        let readers = PoolOptions::new()
            .max_connections(READERS)
            .acquire_timeout(QUEUE)
            .connect_with(reading)
            .await
            .map_err(broken)?;
        Ok(Self {
            writer,
            readers,
            changes: Arc::default(),
        })
    }

    /// Reads a row and takes the write lock: what every page and every change needs.
    ///
    /// # Errors
    /// [`StoreError::Database`] with the first of the two that failed.
    pub async fn check(&self) -> Result<(), StoreError> {
        self.count().await?;
        self.writer
            .begin_with(BEGIN_WRITE)
            .await?
            .rollback()
            .await?;
        Ok(())
    }

    /// Finishes what is being written and closes every connection.
    pub async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

/// Makes a folder with those above it. Each is on the disk by its name before anything is saved in
/// it: SQLite sees to its own files, and a power cut could take the whole folder with them.
fn make_folder(folder: &Path) -> std::io::Result<()> {
    let missing = folder.ancestors().take_while(|above| !above.exists());
    let missing = missing
        .filter(|above| !above.as_os_str().is_empty())
        .count();
    std::fs::create_dir_all(folder)?;
    #[cfg(unix)]
    for new in folder.ancestors().take(missing) {
        let above = new.parent().filter(|above| !above.as_os_str().is_empty());
        std::fs::File::open(above.unwrap_or(Path::new(".")))?.sync_all()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use sqlx::Row;

    use super::*;

    /// What the promise "a power cut loses nothing that was acknowledged" rests on: sqlite.org,
    /// pragma synchronous, FULL (2) in WAL mode syncs each commit.
    #[tokio::test]
    async fn each_commit_is_synced_and_readers_cannot_write() {
        let folder = std::env::temp_dir().join(format!("harness-store-{}", std::process::id()));
        let store = Store::open(&folder).await.unwrap();
        for (pragma, wanted) in [("PRAGMA synchronous", 2), ("PRAGMA foreign_keys", 1)] {
            let row = sqlx::query(pragma).fetch_one(&store.writer).await.unwrap();
            assert_eq!(row.get::<i64, _>(0), wanted, "{pragma}");
        }
        let row = sqlx::query("PRAGMA journal_mode")
            .fetch_one(&store.writer)
            .await
            .unwrap();
        assert_eq!(row.get::<String, _>(0), "wal");
        let written = sqlx::query("DELETE FROM models")
            .execute(&store.readers)
            .await;
        assert!(written.unwrap_err().to_string().contains("readonly"));
        store.close().await;
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
