//! From every schema that was released, with rows in it, up to today's, on both databases: nothing is lost, and a step that
//! breaks off leaves everything as it was and can be taken again.

use super::sample::{MORNING, new_person};
use crate::support::database::{PostgresDatabase, SqliteDatabase};
use sea_orm::{ConnectionTrait as _, DbBackend, Statement};
use serde_json::Value;
use sootmark::domain::people::Role;
use sootmark::store::record::{self, NewEntry, Verification};
use sootmark::store::{self, Db, StoreError, branches, dump, write};
use std::collections::BTreeMap;

/// Rows that could be there once a step was taken: those that came with it.
fn rows_of(step: &str) -> &'static str {
    match step {
        "m0001_first_tables" => include_str!("m0001.sql"),
        "m0002_template_drafts" => include_str!("m0002.sql"),
        "m0004_certification" => include_str!("m0004.sql"),
        "m0005_sittings" => include_str!("m0005.sql"),
        "m0008_assignments" => include_str!("m0008.sql"),
        "m0009_observations" => include_str!("m0009.sql"),
        "m0010_letters" => include_str!("m0010.sql"),
        _ => "",
    }
}

/// What is in the way of one of the last things that a step makes, and what takes it away: the step then fails near its end.
fn in_the_way_of(step: &str) -> Option<(&'static str, &'static str)> {
    Some(match step {
        "m0001_first_tables" => ("CREATE TABLE outbox (a INTEGER)", "DROP TABLE outbox"),
        "m0002_template_drafts" => ("CREATE INDEX ix_template_draft_author ON branch (name)", "DROP INDEX ix_template_draft_author"),
        "m0003_case_parts" => (
            "ALTER TABLE attempt_question ADD COLUMN parts INTEGER",
            "ALTER TABLE attempt_question DROP COLUMN parts",
        ),
        "m0004_certification" => (
            "CREATE INDEX uq_refresher_trigger_person_id_key ON branch (name)",
            "DROP INDEX uq_refresher_trigger_person_id_key",
        ),
        "m0005_sittings" => ("CREATE INDEX ix_attempt_invigilation ON branch (name)", "DROP INDEX ix_attempt_invigilation"),
        "m0008_assignments" => {
            ("CREATE INDEX uq_calendar_feed_token_hash ON branch (name)", "DROP INDEX uq_calendar_feed_token_hash")
        }
        "m0009_observations" => ("CREATE INDEX ix_observation_branch ON branch (name)", "DROP INDEX ix_observation_branch"),
        "m0010_letters" => {
            ("CREATE INDEX ix_unsubscribe_token_person ON branch (name)", "DROP INDEX ix_unsubscribe_token_person")
        }
        _ => return None,
    })
}

/// Takes so many steps, each followed by the rows that came with it.
async fn released(db: &Db, count: usize) {
    for (at, step) in dump::known_steps().into_iter().enumerate().take(count) {
        write::<_, StoreError, _>(db, async |tx| dump::make_tables(tx, Some(1)).await).await.unwrap();
        if at == 0 {
            people_and_record(db).await;
        }
        db.execute_unprepared(&in_words(db, rows_of(&step))).await.unwrap_or_else(|error| panic!("{step}: {error}"));
    }
    assert_eq!(dump::steps(db).await.unwrap().len(), count);
}

/// The first rows of all: two people of a branch, and three entries of the record, chained.
async fn people_and_record(db: &Db) {
    write::<_, StoreError, _>(db, async |tx| {
        let branch = branches::insert(tx, "Coldbrook", "Europe/Dublin").await?;
        for (name, email, role) in [
            ("Ines Varga", "ines@fennmark.example", Role::Technician),
            ("Owen Lisle", "owen@fennmark.example", Role::Trainer),
        ] {
            store::people::insert(tx, new_person(branch, name, email, role)).await?;
        }
        for deed in ["examination_begun", "examination_graded", "debrief_held"] {
            let detail = serde_json::json!({ "questions": 1 });
            let (deed, subject_kind) = (deed.to_owned(), "attempt".to_owned());
            let entry = NewEntry { at: MORNING, actor_id: None, deed, subject_kind, subject_id: Some(1), detail };
            record::append(tx, entry).await?;
        }
        Ok(())
    })
    .await
    .unwrap();
}

/// The few words that differ between the databases.
fn in_words(db: &Db, sql: &str) -> String {
    let postgres = db.get_database_backend() == DbBackend::Postgres;
    let (yes, no, seed) = match postgres {
        true => ("TRUE", "FALSE", "decode(repeat('07', 32), 'hex')"),
        false => ("1", "0", "zeroblob(32)"),
    };
    sql.replace("{yes}", yes).replace("{no}", no).replace("{seed}", seed)
}

/// Every row as its columns and their values, by table.
type Rows = BTreeMap<String, Vec<BTreeMap<String, Value>>>;

async fn rows(db: &Db) -> Rows {
    let (mut rows, mut current, mut columns) = (Rows::new(), String::new(), Vec::<String>::new());
    let snapshot = db.snapshot().await.unwrap();
    let contents = dump::write_out::<StoreError>(&snapshot, |line| {
        match serde_json::from_str(line).unwrap() {
            Value::Array(values) => {
                rows.entry(current.clone()).or_default().push(columns.iter().cloned().zip(values).collect());
            }
            heading => {
                current = heading["table"].as_str().unwrap().to_owned();
                columns = serde_json::from_value(heading["columns"].clone()).unwrap();
            }
        }
        Ok(())
    })
    .await
    .unwrap();
    snapshot.rollback().await.unwrap();
    assert!(contents.rows.values().sum::<u64>() > 0 || rows.is_empty());
    rows
}

/// Each row that was there is there, with the same values in the columns that it had.
fn nothing_is_lost(before: &Rows, after: &Rows, of: &str) {
    for (table, rows) in before {
        for row in rows {
            let same = |now: &&BTreeMap<String, Value>| row.iter().all(|(column, value)| now.get(column) == Some(value));
            let there = after.get(table).and_then(|rows| rows.iter().find(same));
            assert!(there.is_some(), "{of}: {table} has lost or changed {row:?}");
        }
    }
}

async fn is_whole(db: &Db, of: &str) {
    assert_eq!(dump::steps(db).await.unwrap(), dump::known_steps(), "{of}");
    assert_eq!(dump::is_sound(db).await.unwrap(), Vec::<String>::new(), "{of}");
    let chain = record::verify(db).await.unwrap();
    assert!(matches!(chain, Verification::Whole { entries: 3, .. }), "{of}: {chain:?}");
}

async fn number(db: &Db, sql: &str) -> i64 {
    let row = db.query_one_raw(Statement::from_string(db.get_database_backend(), sql)).await.unwrap().unwrap();
    row.try_get_by_index(0).unwrap()
}

/// A database of each kind without tables; the test closes it.
async fn each_empty(test: impl AsyncFn(&Db)) {
    let folder = tempfile::tempdir().unwrap();
    let sqlite = store::connect(&format!("sqlite:{}/empty.db", folder.path().display())).await.unwrap();
    test(&sqlite).await;
    sqlite.close().await.unwrap();
    if let Some(postgres) = PostgresDatabase::empty().await {
        test(&postgres.db).await;
        postgres.drop_schema().await;
    }
}

#[tokio::test]
async fn every_released_schema_with_rows_comes_up_to_date_and_loses_nothing() {
    for count in 1..=dump::known_steps().len() {
        each_empty(async |db| {
            released(db, count).await;
            let before = rows(db).await;
            assert!(before["person"].len() == 2 && before["response"].len() == 1, "there is something to lose");
            store::migrate(db).await.unwrap();
            let of = format!("from step {count}");
            nothing_is_lost(&before, &rows(db).await, &of);
            is_whole(db, &of).await;
            // What the steps carried over: a qualification from before there were decisions is a certificate now.
            assert_eq!(number(db, "SELECT count(*) FROM certificate WHERE attempt_id = 1").await, 1, "{of}");
            assert_eq!(number(db, "SELECT count(*) FROM decision WHERE attempt_id = 1 AND outcome = 'granted'").await, 1);
            assert_eq!(number(db, "SELECT count(*) FROM outbox WHERE person_id = 1").await, 1, "{of}: whose letter");
            assert_eq!(number(db, "SELECT count(*) FROM attempt WHERE extra_s = 0").await, 1, "{of}: terms");
        })
        .await;
    }
}

#[tokio::test]
async fn a_step_that_fails_near_its_end_leaves_everything_as_it_was_and_is_taken_again() {
    for (at, step) in dump::known_steps().into_iter().enumerate() {
        let Some((hinder, clear)) = in_the_way_of(&step) else { continue };
        each_empty(async |db| {
            released(db, at).await;
            db.execute_unprepared(hinder).await.unwrap();
            let before = if at == 0 { Rows::new() } else { rows(db).await };
            let refused = store::migrate(db).await;
            assert!(matches!(refused, Err(store::ConnectError::Migration(_))), "{step}: {refused:?}");
            assert_eq!(dump::steps(db).await.unwrap().len(), at, "{step} was not taken");
            if at > 0 {
                assert_eq!(rows(db).await, before, "{step} left nothing behind");
            }
            db.execute_unprepared(clear).await.unwrap();
            store::migrate(db).await.unwrap();
            nothing_is_lost(&before, &rows(db).await, &step);
            assert_eq!(dump::steps(db).await.unwrap(), dump::known_steps(), "{step}");
        })
        .await;
    }
}

/// What a killed program leaves: a transaction that nobody ends.
#[tokio::test]
async fn a_step_that_was_cut_off_before_its_commit_was_never_taken() {
    for count in 0..dump::known_steps().len() {
        each_empty(async |db| {
            released(db, count).await;
            let before = if count == 0 { Rows::new() } else { rows(db).await };
            let cut_off = write::<(), StoreError, _>(db, async |tx| {
                dump::make_tables(tx, Some(1)).await?;
                assert_eq!(dump::steps(tx).await?.len(), count + 1, "it was under way");
                Err(StoreError::NotFound)
            });
            cut_off.await.unwrap_err();
            assert_eq!(dump::steps(db).await.unwrap().len(), count);
            if count > 0 {
                assert_eq!(rows(db).await, before);
            }
            store::migrate(db).await.unwrap();
            nothing_is_lost(&before, &rows(db).await, &format!("cut off after {count}"));
        })
        .await;
    }
}

/// A backup of every release is restored by this program, and comes up to date.
#[tokio::test]
async fn a_backup_of_an_older_schema_is_known_by_its_steps_and_the_reader_asks_for_the_program_first() {
    let known = dump::known_steps();
    let sqlite = SqliteDatabase::fresh().await;
    assert_eq!(dump::steps(&sqlite.db).await.unwrap(), known);
    let folder = tempfile::tempdir().unwrap();
    let url = format!("sqlite:{}/old.db", folder.path().display());
    let old = store::connect(&url).await.unwrap();
    released(&old, known.len() - 1).await;
    old.close().await.unwrap();
    let refused = sootmark::backup::make(&url, &folder.path().join("old.backup"), MORNING).await;
    assert!(matches!(refused, Err(sootmark::backup::BackupError::Connect(store::ConnectError::Older))), "{refused:?}");
}
