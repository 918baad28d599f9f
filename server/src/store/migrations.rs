//! The tables, step by step. A step that has been released is never altered: add another.

use sqlx::SqlSafeStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

use super::{Db, StoreError};

const STEPS: &[(i64, &str, &str)] = &[
    (
        0,
        "whether the demo models are still to be recorded",
        include_str!("../../migrations/0000_demo_models.sql"),
    ),
    (
        1,
        "boat models and their revisions",
        include_str!("../../migrations/0001_models.sql"),
    ),
    (
        2,
        "revisions that bring an earlier state back",
        include_str!("../../migrations/0002_restores.sql"),
    ),
    (
        3,
        "the parts list and its revisions",
        include_str!("../../migrations/0003_parts.sql"),
    ),
];

/// Applies the steps that the database has not seen yet, each in a transaction.
pub(super) async fn run(writer: &sqlx::Pool<Db>) -> Result<(), StoreError> {
    let steps = STEPS
        .iter()
        .map(|&(version, about, sql)| {
            Migration::new(
                version,
                about.into(),
                MigrationType::Simple,
                sql.into_sql_str(),
                false,
            )
        })
        .collect();
    Ok(Migrator::with_migrations(steps).run(writer).await?)
}
