//! Boat models and their revisions.

use std::time::SystemTime;

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row};

use super::{BEGIN_WRITE, Db, Store, StoreError};

/// A revision to be recorded.
#[derive(Clone, Copy, Debug)]
pub struct NewRevision<'a> {
    /// Name of the boat model.
    pub name: &'a str,
    /// The model file, JSON.
    pub body: &'a str,
    /// Identifies the content of `body`.
    pub stamp: &'a str,
    /// Who records it.
    pub who: &'a str,
    /// Why.
    pub reason: &'a str,
    /// When; kept to the second.
    pub at: SystemTime,
    /// The earlier revision whose state it brings back, if it does.
    pub restores: Option<i64>,
}

/// All about a revision but the model file itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RevisionHead {
    /// Id of the boat model, as in addresses.
    pub model_id: String,
    /// Counts from 1 without gaps.
    pub number: i64,
    /// Name of the boat model, as this revision states it.
    pub name: String,
    /// When it was recorded: RFC 3339, UTC, to the second.
    pub recorded_at: String,
    /// Who recorded it.
    pub who: String,
    /// Why.
    pub reason: String,
    /// Identifies the content.
    pub stamp: String,
    /// The earlier revision whose state it brings back, if it does.
    pub restores: Option<i64>,
}

/// A revision with its model file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Revision {
    /// All but the file.
    pub head: RevisionHead,
    /// The model file, JSON.
    pub body: String,
}

impl<'r> FromRow<'r, SqliteRow> for RevisionHead {
    fn from_row(row: &'r SqliteRow) -> sqlx::Result<Self> {
        Ok(Self {
            model_id: row.try_get("model_id")?,
            number: row.try_get("number")?,
            name: row.try_get("name")?,
            recorded_at: row.try_get("recorded_at")?,
            who: row.try_get("who")?,
            reason: row.try_get("reason")?,
            stamp: row.try_get("stamp")?,
            restores: row.try_get("restores")?,
        })
    }
}

impl<'r> FromRow<'r, SqliteRow> for Revision {
    fn from_row(row: &'r SqliteRow) -> sqlx::Result<Self> {
        Ok(Self {
            head: RevisionHead::from_row(row)?,
            body: row.try_get("body")?,
        })
    }
}

impl Store {
    /// Every boat model at its latest revision, by name.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn models(&self) -> Result<Vec<RevisionHead>, StoreError> {
        let sql = "SELECT r.model_id, r.number, r.name, r.recorded_at, r.who, r.reason, r.stamp, r.restores
            FROM models m JOIN revisions r ON r.model_id = m.id AND r.number = m.latest_revision
            ORDER BY lower(r.name), r.model_id";
        Ok(sqlx::query_as(sql).fetch_all(&self.readers).await?)
    }

    /// How many boat models there are.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn count(&self) -> Result<i64, StoreError> {
        let row = sqlx::query("SELECT count(*) FROM models")
            .fetch_one(&self.readers)
            .await?;
        Ok(row.try_get(0)?)
    }

    /// A boat model at its latest revision.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::Database`].
    pub async fn latest(&self, id: &str) -> Result<Revision, StoreError> {
        let sql =
            "SELECT r.model_id, r.number, r.name, r.recorded_at, r.who, r.reason, r.stamp, r.restores, r.body
            FROM models m JOIN revisions r ON r.model_id = m.id AND r.number = m.latest_revision
            WHERE m.id = $1";
        let found = sqlx::query_as(sql)
            .bind(id)
            .fetch_optional(&self.readers)
            .await?;
        found.ok_or_else(|| StoreError::NoModel { id: id.to_owned() })
    }

    /// A boat model at its latest revision, without the model file.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::Database`].
    pub async fn latest_head(&self, id: &str) -> Result<RevisionHead, StoreError> {
        let sql = "SELECT r.model_id, r.number, r.name, r.recorded_at, r.who, r.reason, r.stamp, r.restores
            FROM models m JOIN revisions r ON r.model_id = m.id AND r.number = m.latest_revision
            WHERE m.id = $1";
        let found = sqlx::query_as(sql)
            .bind(id)
            .fetch_optional(&self.readers)
            .await?;
        found.ok_or_else(|| StoreError::NoModel { id: id.to_owned() })
    }

    /// A boat model as it stood at revision `number`.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::NoRevision`], [`StoreError::Database`].
    pub async fn revision(&self, id: &str, number: i64) -> Result<Revision, StoreError> {
        let sql = "SELECT model_id, number, name, recorded_at, who, reason, stamp, restores, body
            FROM revisions WHERE model_id = $1 AND number = $2";
        let found = sqlx::query_as(sql)
            .bind(id)
            .bind(number)
            .fetch_optional(&self.readers)
            .await?;
        match found {
            Some(revision) => Ok(revision),
            None => {
                self.latest_head(id).await?;
                Err(StoreError::NoRevision {
                    id: id.to_owned(),
                    number,
                })
            }
        }
    }

    /// Every revision of a boat model, newest first.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::Database`].
    pub async fn revisions(&self, id: &str) -> Result<Vec<RevisionHead>, StoreError> {
        let sql = "SELECT model_id, number, name, recorded_at, who, reason, stamp, restores
            FROM revisions WHERE model_id = $1 ORDER BY number DESC";
        let found: Vec<RevisionHead> = sqlx::query_as(sql)
            .bind(id)
            .fetch_all(&self.readers)
            .await?;
        if found.is_empty() {
            return Err(StoreError::NoModel { id: id.to_owned() });
        }
        Ok(found)
    }

    /// Records a new boat model as revision 1.
    ///
    /// # Errors
    /// [`StoreError::IdTaken`], [`StoreError::Database`].
    pub async fn create(&self, id: &str, new: NewRevision<'_>) -> Result<RevisionHead, StoreError> {
        let mut change = self.writer.begin_with(BEGIN_WRITE).await?;
        let head = first(&mut change, id, new).await?;
        self.commit(change).await?;
        Ok(head)
    }

    /// Records the boat models that a new store begins with, all of them or none, and only once:
    /// what is removed later stays removed. Says whether it did.
    ///
    /// # Errors
    /// [`StoreError::IdTaken`], [`StoreError::Database`].
    pub async fn begin_with(
        &self,
        models: Vec<(&str, NewRevision<'_>)>,
    ) -> Result<bool, StoreError> {
        let mut change = self.writer.begin_with(BEGIN_WRITE).await?;
        let sql = "UPDATE demo_models SET are_due = 0 WHERE are_due = 1";
        let done = sqlx::query(sql).execute(&mut *change).await?;
        if done.rows_affected() == 0 {
            return Ok(false);
        }
        for (id, new) in models {
            first(&mut change, id, new).await?;
        }
        self.commit(change).await?;
        Ok(true)
    }

    /// Adds a revision to a boat model. With `expected`, only if that is still the latest one.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::Conflict`], [`StoreError::Database`].
    pub async fn replace(
        &self,
        id: &str,
        expected: Option<i64>,
        new: NewRevision<'_>,
    ) -> Result<RevisionHead, StoreError> {
        let mut change = self.writer.begin_with(BEGIN_WRITE).await?;
        let latest = lock(&mut change, id, expected).await?;
        let head = record(&mut change, id, latest + 1, new).await?;
        sqlx::query("UPDATE models SET latest_revision = $2 WHERE id = $1")
            .bind(id)
            .bind(latest + 1)
            .execute(&mut *change)
            .await?;
        self.commit(change).await?;
        Ok(head)
    }

    /// Removes a boat model with all its revisions. With `expected`, only if that is still the
    /// latest one.
    ///
    /// # Errors
    /// [`StoreError::NoModel`], [`StoreError::Conflict`], [`StoreError::Database`].
    pub async fn delete(&self, id: &str, expected: Option<i64>) -> Result<(), StoreError> {
        let mut change = self.writer.begin_with(BEGIN_WRITE).await?;
        lock(&mut change, id, expected).await?;
        sqlx::query("DELETE FROM models WHERE id = $1")
            .bind(id)
            .execute(&mut *change)
            .await?;
        self.commit(change).await
    }
}

/// Records a new boat model as revision 1.
async fn first(
    change: &mut sqlx::Transaction<'_, Db>,
    id: &str,
    new: NewRevision<'_>,
) -> Result<RevisionHead, StoreError> {
    sqlx::query("INSERT INTO models (id, latest_revision) VALUES ($1, 1)")
        .bind(id)
        .execute(&mut **change)
        .await
        .map_err(|fault| match fault.as_database_error() {
            Some(known) if known.is_unique_violation() => StoreError::IdTaken { id: id.to_owned() },
            _ => fault.into(),
        })?;
    record(change, id, 1, new).await
}

/// Latest revision of a model, its row held until the change is over: an UPDATE takes the row
/// lock in either database.
async fn lock(
    change: &mut sqlx::Transaction<'_, Db>,
    id: &str,
    expected: Option<i64>,
) -> Result<i64, StoreError> {
    let sql = "UPDATE models SET latest_revision = latest_revision
        WHERE id = $1 RETURNING latest_revision";
    let row = sqlx::query(sql)
        .bind(id)
        .fetch_optional(&mut **change)
        .await?;
    let latest: i64 = row
        .ok_or_else(|| StoreError::NoModel { id: id.to_owned() })?
        .try_get("latest_revision")?;
    match expected {
        Some(expected) if expected != latest => Err(StoreError::Conflict {
            id: id.to_owned(),
            expected,
            latest,
        }),
        _ => Ok(latest),
    }
}

async fn record(
    change: &mut sqlx::Transaction<'_, Db>,
    id: &str,
    number: i64,
    new: NewRevision<'_>,
) -> Result<RevisionHead, StoreError> {
    let head = RevisionHead {
        model_id: id.to_owned(),
        number,
        name: new.name.to_owned(),
        recorded_at: humantime::format_rfc3339_seconds(new.at).to_string(),
        who: new.who.to_owned(),
        reason: new.reason.to_owned(),
        stamp: new.stamp.to_owned(),
        restores: new.restores,
    };
    let sql = "INSERT INTO revisions
        (model_id, number, name, recorded_at, who, reason, stamp, restores, body)
        VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)";
    sqlx::query(sql)
        .bind(&head.model_id)
        .bind(head.number)
        .bind(&head.name)
        .bind(&head.recorded_at)
        .bind(&head.who)
        .bind(&head.reason)
        .bind(&head.stamp)
        .bind(head.restores)
        .bind(new.body)
        .execute(&mut **change)
        .await?;
    Ok(head)
}
