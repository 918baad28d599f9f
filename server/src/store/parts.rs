//! The builder's parts list and its revisions.

use sqlx::Row;

use super::{BEGIN_WRITE, NewRevision, Revision, RevisionHead, Store, StoreError};

/// The name under which heads of its revisions go.
pub const PARTS: &str = "parts list";

impl Store {
    /// The parts list at its latest revision; none before the first.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn latest_parts(&self) -> Result<Option<Revision>, StoreError> {
        let sql = "SELECT 'parts list' AS model_id, 'Parts list' AS name, number, recorded_at, who,
                reason, stamp, restores, body
            FROM parts_revisions ORDER BY number DESC LIMIT 1";
        Ok(sqlx::query_as(sql).fetch_optional(&self.readers).await?)
    }

    /// The parts list as it stood at revision `number`.
    ///
    /// # Errors
    /// [`StoreError::NoPartsRevision`], [`StoreError::Database`].
    pub async fn parts_revision(&self, number: i64) -> Result<Revision, StoreError> {
        let sql = "SELECT 'parts list' AS model_id, 'Parts list' AS name, number, recorded_at, who,
                reason, stamp, restores, body
            FROM parts_revisions WHERE number = $1";
        let found = sqlx::query_as(sql)
            .bind(number)
            .fetch_optional(&self.readers)
            .await?;
        found.ok_or(StoreError::NoPartsRevision { number })
    }

    /// Every revision of the parts list, newest first.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn parts_revisions(&self) -> Result<Vec<RevisionHead>, StoreError> {
        let sql = "SELECT 'parts list' AS model_id, 'Parts list' AS name, number, recorded_at, who,
                reason, stamp, restores
            FROM parts_revisions ORDER BY number DESC";
        Ok(sqlx::query_as(sql).fetch_all(&self.readers).await?)
    }

    /// Adds a revision to the parts list, only if `expected` is still its latest one; 0 is before
    /// the first.
    ///
    /// # Errors
    /// [`StoreError::PartsConflict`], [`StoreError::Database`].
    pub async fn replace_parts(
        &self,
        expected: i64,
        new: NewRevision<'_>,
    ) -> Result<RevisionHead, StoreError> {
        let mut change = self.writer.begin_with(BEGIN_WRITE).await?;
        let row = sqlx::query("SELECT coalesce(max(number), 0) FROM parts_revisions")
            .fetch_one(&mut *change)
            .await?;
        let latest: i64 = row.try_get(0)?;
        if latest != expected {
            return Err(StoreError::PartsConflict { expected, latest });
        }
        let head = RevisionHead {
            model_id: PARTS.to_owned(),
            number: latest + 1,
            name: new.name.to_owned(),
            recorded_at: humantime::format_rfc3339_seconds(new.at).to_string(),
            who: new.who.to_owned(),
            reason: new.reason.to_owned(),
            stamp: new.stamp.to_owned(),
            restores: new.restores,
        };
        // Two that start from one revision cannot both take its number: it is the key.
        let sql = "INSERT INTO parts_revisions
            (number, recorded_at, who, reason, stamp, restores, body)
            VALUES ($1, $2, $3, $4, $5, $6, $7)";
        sqlx::query(sql)
            .bind(head.number)
            .bind(&head.recorded_at)
            .bind(&head.who)
            .bind(&head.reason)
            .bind(&head.stamp)
            .bind(head.restores)
            .bind(new.body)
            .execute(&mut *change)
            .await?;
        self.commit(change).await?;
        Ok(head)
    }
}
