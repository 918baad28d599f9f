//! The store by itself.

use std::collections::BTreeSet;

use server::samples;
use server::store::{Store, StoreError};

use crate::bench::{Bench, Folder, revision};

#[tokio::test]
async fn what_is_stored_comes_back() {
    let bench = Bench::new().await;
    let body = "{\"name\": \"Launch\", \"x\": 1.10}";
    let head = bench
        .store
        .create("launch", revision("Launch", body))
        .await
        .unwrap();
    assert_eq!(
        (head.number, head.recorded_at.as_str()),
        (1, "2026-01-02T03:04:05Z")
    );
    let found = bench.store.latest("launch").await.unwrap();
    assert_eq!((found.head, found.body.as_str()), (head, body));
}

#[tokio::test]
async fn revisions_are_counted_and_kept() {
    let bench = Bench::new().await;
    bench
        .store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    for (expected, number) in [(None, 2), (Some(2), 3)] {
        let new = revision("Launch II", "{\"a\": 1}");
        assert_eq!(
            bench
                .store
                .replace("launch", expected, new)
                .await
                .unwrap()
                .number,
            number
        );
    }
    let numbers: Vec<i64> = bench
        .store
        .revisions("launch")
        .await
        .unwrap()
        .iter()
        .map(|head| head.number)
        .collect();
    assert_eq!(numbers, [3, 2, 1]);
    assert_eq!(bench.store.revision("launch", 1).await.unwrap().body, "{}");
    assert_eq!(bench.store.models().await.unwrap()[0].name, "Launch II");
}

#[tokio::test]
async fn a_newer_revision_is_not_overwritten_unseen() {
    let bench = Bench::new().await;
    bench
        .store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    bench
        .store
        .replace("launch", None, revision("Launch", "{}"))
        .await
        .unwrap();
    let late = bench
        .store
        .replace("launch", Some(1), revision("Late", "{}"))
        .await;
    assert!(
        matches!(
            late,
            Err(StoreError::Conflict {
                expected: 1,
                latest: 2,
                ..
            })
        ),
        "{late:?}"
    );
    let late = bench.store.delete("launch", Some(1)).await;
    assert!(matches!(late, Err(StoreError::Conflict { .. })), "{late:?}");
    assert_eq!(bench.store.latest_head("launch").await.unwrap().number, 2);
}

#[tokio::test]
async fn what_is_not_there_is_told_apart() {
    let bench = Bench::new().await;
    let store = &bench.store;
    store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    let twice = store.create("launch", revision("Other", "{}")).await;
    assert!(
        matches!(twice, Err(StoreError::IdTaken { .. })),
        "{twice:?}"
    );
    assert!(matches!(
        store.latest("x").await,
        Err(StoreError::NoModel { .. })
    ));
    assert!(matches!(
        store.revisions("x").await,
        Err(StoreError::NoModel { .. })
    ));
    assert!(matches!(
        store.revision("x", 1).await,
        Err(StoreError::NoModel { .. })
    ));
    assert!(matches!(
        store.revision("launch", 2).await,
        Err(StoreError::NoRevision { .. })
    ));
    assert!(matches!(
        store.delete("x", None).await,
        Err(StoreError::NoModel { .. })
    ));
    let none = store.replace("x", None, revision("X", "{}")).await;
    assert!(matches!(none, Err(StoreError::NoModel { .. })), "{none:?}");
}

#[tokio::test]
async fn a_deleted_model_leaves_no_revision() {
    let bench = Bench::new().await;
    bench
        .store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    bench.store.delete("launch", Some(1)).await.unwrap();
    assert_eq!(bench.store.count().await.unwrap(), 0);
    bench
        .store
        .create("launch", revision("Launch", "{\"again\": 1}"))
        .await
        .unwrap();
    assert_eq!(bench.store.revisions("launch").await.unwrap().len(), 1);
}

#[tokio::test]
async fn writers_at_the_same_time_lose_nothing() {
    let bench = Bench::new().await;
    bench
        .store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    let writers: Vec<_> = (0..20)
        .map(|_| {
            let store = bench.store.clone();
            tokio::spawn(async move { store.replace("launch", None, revision("L", "{}")).await })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap().unwrap();
    }
    assert_eq!(bench.store.revisions("launch").await.unwrap().len(), 21);
}

#[tokio::test]
async fn a_store_opens_again_with_what_was_saved() {
    let folder = Folder::new();
    let store = Store::open(&folder.0).await.unwrap();
    store
        .create("launch", revision("Launch", "{}"))
        .await
        .unwrap();
    store.close().await;
    let store = Store::open(&folder.0).await.unwrap();
    assert_eq!(store.count().await.unwrap(), 1);
}

#[tokio::test]
async fn a_file_that_is_no_database_is_refused() {
    let folder = Folder::new();
    std::fs::create_dir_all(&folder.0).unwrap();
    std::fs::write(
        folder.0.join("harness.db"),
        "not a database, but long enough to be read",
    )
    .unwrap();
    assert!(Store::open(&folder.0).await.is_err());
}

#[tokio::test]
async fn samples_come_with_a_new_store_only() {
    let folder = Folder::new();
    let store = Store::open(&folder.0).await.unwrap();
    assert!(samples::load_when_new(&store).await.unwrap());
    let ids: BTreeSet<&str> = samples::SAMPLES.iter().map(|(id, _)| *id).collect();
    let models = store.models().await.unwrap();
    assert_eq!(
        models
            .iter()
            .map(|head| head.model_id.as_str())
            .collect::<BTreeSet<_>>(),
        ids
    );
    for id in ids {
        store.delete(id, None).await.unwrap();
    }
    store.close().await;
    let store = Store::open(&folder.0).await.unwrap();
    assert!(!samples::load_when_new(&store).await.unwrap());
    assert_eq!(store.count().await.unwrap(), 0);
}

#[tokio::test]
async fn samples_come_at_the_next_start_when_the_first_was_killed_before_them() {
    // The file was made, with or without its tables, and nothing else.
    for has_tables in [false, true] {
        let folder = Folder::new();
        std::fs::create_dir_all(&folder.0).unwrap();
        match has_tables {
            true => Store::open(&folder.0).await.unwrap().close().await,
            false => std::fs::write(folder.0.join("harness.db"), "").unwrap(),
        }
        let store = Store::open(&folder.0).await.unwrap();
        assert!(samples::load_when_new(&store).await.unwrap());
        assert_eq!(store.count().await.unwrap(), 2);
        // All of them or none: one that cannot be recorded takes the others with it.
        let folder = Folder::new();
        let store = Store::open(&folder.0).await.unwrap();
        let twice = || ("boat", revision("Boat", "{}"));
        assert!(store.begin_with(vec![twice(), twice()]).await.is_err());
        assert_eq!(store.count().await.unwrap(), 0);
        assert!(samples::load_when_new(&store).await.unwrap());
    }
}

#[tokio::test]
async fn a_store_made_before_it_kept_count_of_the_samples_gets_none() {
    let folder = Folder::new();
    let store = Store::open(&folder.0).await.unwrap();
    store.close().await;
    // As an earlier version left it.
    let options = sqlx::sqlite::SqliteConnectOptions::new().filename(folder.0.join("harness.db"));
    let pool = sqlx::Pool::connect_with(options).await.unwrap();
    for sql in [
        "DROP TABLE demo_models",
        "DELETE FROM _sqlx_migrations WHERE version = 0",
    ] {
        sqlx::query(sql).execute(&pool).await.unwrap();
    }
    pool.close().await;
    let store = Store::open(&folder.0).await.unwrap();
    assert!(!samples::load_when_new(&store).await.unwrap());
    assert_eq!(store.count().await.unwrap(), 0);
}
