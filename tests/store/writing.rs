//! Writing: nothing is lost between writers, nothing is half done.

use crate::support::database::{PostgresDatabase, SqliteDatabase, for_each_database};
use sea_orm::{ConnectionTrait as _, DbBackend};
use sootmark::domain::units::Moment;
use sootmark::store::{self, Db, StoreError, branches, conflict, noticing, record, settings, write};
use std::time::Duration;

fn entry(deed: &str) -> record::NewEntry {
    record::NewEntry {
        at: Moment(1),
        actor_id: None,
        deed: deed.to_owned(),
        subject_kind: "test".to_owned(),
        subject_id: None,
        detail: serde_json::json!({}),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_hundred_writers_at_once_lose_nothing() {
    for_each_database(async |db: Db| {
        settings::set(&db, "count", "0").await.unwrap();
        let mut writers = Vec::new();
        for number in 0..200 {
            let db = db.clone();
            writers.push(tokio::spawn(async move {
                write(&db, async |tx| {
                    // The record's end is locked first, so what is read after it cannot change before COMMIT.
                    record::append(tx, entry(&format!("count_{number}"))).await?;
                    let count: i64 = settings::find(tx, "count").await?.unwrap().parse().unwrap();
                    settings::set(tx, "count", &(count + 1).to_string()).await
                })
                .await
            }));
        }
        for writer in writers {
            writer.await.unwrap().unwrap();
        }
        assert_eq!(settings::find(&db, "count").await.unwrap().as_deref(), Some("200"));
        let whole = record::verify(&db).await.unwrap();
        assert!(matches!(whole, record::Verification::Whole { entries: 200, .. }), "{whole:?}");
    })
    .await;
}

#[tokio::test]
async fn a_work_that_fails_leaves_nothing() {
    for_each_database(async |db: Db| {
        let failed: Result<(), StoreError> = write(&db, async |tx| {
            branches::insert(tx, "Harrow Lane", "Europe/Dublin").await?;
            record::append(tx, entry("branch_added")).await?;
            Err(StoreError::NotFound)
        })
        .await;
        assert!(matches!(failed, Err(StoreError::NotFound)));
        assert!(branches::list(&db).await.unwrap().is_empty());
        let whole = record::verify(&db).await.unwrap();
        assert!(matches!(whole, record::Verification::Whole { entries: 0, .. }), "{whole:?}");
    })
    .await;
}

#[tokio::test]
async fn saved_is_never_said_of_a_work_that_passed_over_an_error() {
    for_each_database(async |db: Db| {
        branches::insert(&db, "Harrow Lane", "Europe/Dublin").await.unwrap();
        let is_postgres = db.get_database_backend() == DbBackend::Postgres;
        let outcome: Result<(), StoreError> = write(&db, async |tx| {
            branches::insert(tx, "Coldbrook", "Europe/Dublin").await?;
            let taken = branches::insert(tx, "Harrow Lane", "Europe/Dublin").await;
            assert!(matches!(taken, Err(StoreError::Conflict(name)) if name == conflict::BRANCH_NAME));
            Ok(())
        })
        .await;
        // What was said is what is there: PostgreSQL undoes all of it and says so, SQLite keeps the rest.
        assert_eq!(outcome.is_err(), is_postgres);
        assert_eq!(branches::find_by_name(&db, "Coldbrook").await.unwrap().is_some(), outcome.is_ok());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn one_server_sets_a_key_and_all_use_it() {
    for_each_database(async |db: Db| {
        let mut servers = Vec::new();
        for number in 0..8 {
            let db = db.clone();
            servers.push(tokio::spawn(async move {
                write(&db, async |tx| settings::find_or_set(tx, "server_key", &format!("key {number}")).await).await
            }));
        }
        let mut keys = std::collections::BTreeSet::new();
        for server in servers {
            keys.insert(server.await.unwrap().unwrap());
        }
        assert_eq!(keys.len(), 1, "{keys:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_programs_on_one_sqlite_file_wait_for_each_other() {
    let sqlite = SqliteDatabase::fresh().await;
    let other = store::connect(&sqlite.url).await.unwrap();
    let mut writers = Vec::new();
    for number in 0..60 {
        let db = if number % 2 == 0 { sqlite.db.clone() } else { other.clone() };
        writers.push(tokio::spawn(async move {
            write(&db, async |tx| record::append(tx, entry(&format!("deed_{number}"))).await).await
        }));
    }
    for writer in writers {
        writer.await.unwrap().unwrap();
    }
    let whole = record::verify(&other).await.unwrap();
    assert!(matches!(whole, record::Verification::Whole { entries: 60, .. }), "{whole:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn readers_do_not_wait_for_writers_that_queue() {
    let sqlite = SqliteDatabase::fresh().await;
    let (let_go, held) = tokio::sync::oneshot::channel::<()>();
    let db = sqlite.db.clone();
    let slow = tokio::spawn(async move {
        write(&db, async |tx| {
            settings::set(tx, "slow", "begun").await?;
            held.await.unwrap();
            Ok::<_, StoreError>(())
        })
        .await
    });
    let queue: Vec<_> = (0..12)
        .map(|number| {
            let db = sqlite.db.clone();
            tokio::spawn(async move { write(&db, async |tx| settings::set(tx, &format!("{number}"), "1").await).await })
        })
        .collect();
    // More writers wait than the pool has connections; each read has to find a free one.
    let reading = async {
        for _ in 0..100 {
            assert_eq!(settings::find(&sqlite.db, "slow").await.unwrap(), None);
            tokio::task::yield_now().await;
        }
    };
    tokio::time::timeout(Duration::from_secs(8), reading).await.expect("a reader waited for the writers");
    let_go.send(()).unwrap();
    slow.await.unwrap().unwrap();
    for writer in queue {
        writer.await.unwrap().unwrap();
    }
}

#[tokio::test]
async fn a_commit_that_fails_is_called_unknown_and_the_next_write_works() {
    for_each_database(async |db: Db| {
        // A reference that is only checked by COMMIT makes COMMIT fail.
        let (prepare, late) = if db.get_database_backend() == DbBackend::Postgres {
            ("ALTER TABLE session ALTER CONSTRAINT fk_session_person DEFERRABLE INITIALLY DEFERRED", "SELECT 1")
        } else {
            ("SELECT 1", "PRAGMA defer_foreign_keys = ON")
        };
        db.execute_unprepared(prepare).await.unwrap();
        let failed: Result<(), StoreError> = write(&db, async |tx| {
            tx.execute_unprepared(late).await?;
            tx.execute_unprepared("INSERT INTO session (token_hash, person_id, form_token, created_at, last_seen_at, expires_at) VALUES ('t', 404, 'f', 0, 0, 0)").await?;
            Ok(())
        })
        .await;
        assert!(matches!(failed, Err(StoreError::CommitUnknown(_))), "{failed:?}");
        write(&db, async |tx| branches::insert(tx, "Upper Tarn", "Europe/Dublin").await).await.unwrap();
        assert_eq!(branches::list(&db).await.unwrap().len(), 1);
    })
    .await;
}

#[tokio::test]
async fn a_connection_that_is_cut_is_unavailable_and_the_next_write_works() {
    let Some(postgres) = PostgresDatabase::fresh().await else { return };
    let cut: Result<(), StoreError> = write(&postgres.db, async |tx| {
        branches::insert(tx, "Harrow Lane", "Europe/Dublin").await?;
        tx.execute_unprepared("SELECT pg_terminate_backend(pg_backend_pid())").await?;
        Ok(())
    })
    .await;
    assert!(matches!(cut, Err(StoreError::Unavailable(_))), "{cut:?}");
    write(&postgres.db, async |tx| branches::insert(tx, "Upper Tarn", "Europe/Dublin").await).await.unwrap();
    assert_eq!(branches::list(&postgres.db).await.unwrap().len(), 1);
    postgres.drop_schema().await;
}

#[tokio::test]
async fn whoever_fails_later_knows_whether_something_was_committed() {
    for_each_database(async |db: Db| {
        let keep = async |name: &str| write(&db, async |tx| branches::insert(tx, name, "UTC").await).await;
        assert!(!noticing(branches::list(&db)).await.1, "reading saves nothing");
        let (kept, committed) = noticing(keep("Coldbrook")).await;
        assert!(kept.is_ok() && committed);
        let (again, committed) = noticing(keep("Coldbrook")).await;
        assert!(again.is_err() && !committed, "what was undone was not saved");
        assert!(!noticing(branches::list(&db)).await.1, "what was committed before does not count");
    })
    .await;
}
