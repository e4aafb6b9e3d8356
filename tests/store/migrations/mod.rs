//! From every schema that was released, with rows in it, up to today's, on both databases: nothing is lost, and a step that
//! breaks off leaves everything as it was and can be taken again.

use super::sample::{MORNING, new_person};
use crate::support::database::PostgresDatabase;
use crate::support::rows::{Rows, rows, texts};
use sea_orm::{ConnectionTrait, DbBackend, Statement};
use sootmark::actions::back_up::{back_up, restore};
use sootmark::clock::Clock;
use sootmark::domain::people::Role;
use sootmark::store::record::{self, NewEntry, Verification};
use sootmark::store::{self, Db, StoreError, branches, write};
use sootmark_migrations::{Migrator, MigratorTrait as _};
use std::collections::BTreeMap;

/// The steps that this program knows, oldest first.
pub(crate) fn known_steps() -> Vec<String> {
    Migrator::migrations().iter().map(|step| step.name().to_owned()).collect()
}

/// The steps that a database has taken, oldest first.
pub(crate) async fn steps(db: &impl ConnectionTrait) -> Vec<String> {
    let sql = "SELECT version FROM seaql_migrations ORDER BY version";
    // Before the first step there is no such table.
    texts(db, sql).await.unwrap_or_default()
}

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
        "m0011_one_time_codes" => include_str!("m0011.sql"),
        "m0012_wrong_tries" => include_str!("m0012.sql"),
        "m0013_known_places" => include_str!("m0013.sql"),
        _ => "",
    }
}

/// What is in the way of one of the last things that a step makes, and what takes it away: the step then fails near its end.
fn in_the_way_of(step: &str) -> Option<(&'static str, &'static str)> {
    Some(match step {
        "m0001_first_tables" => ("CREATE TABLE outbox (a INTEGER)", "DROP TABLE outbox"),
        "m0002_template_drafts" => {
            ("CREATE INDEX ix_template_draft_author ON branch (name)", "DROP INDEX ix_template_draft_author")
        }
        "m0003_case_parts" => {
            ("ALTER TABLE attempt_question ADD COLUMN parts INTEGER", "ALTER TABLE attempt_question DROP COLUMN parts")
        }
        "m0004_certification" => (
            "CREATE INDEX uq_refresher_trigger_person_id_key ON branch (name)",
            "DROP INDEX uq_refresher_trigger_person_id_key",
        ),
        "m0005_sittings" => {
            ("CREATE INDEX ix_attempt_invigilation ON branch (name)", "DROP INDEX ix_attempt_invigilation")
        }
        "m0008_assignments" => {
            ("CREATE INDEX uq_calendar_feed_token_hash ON branch (name)", "DROP INDEX uq_calendar_feed_token_hash")
        }
        "m0009_observations" => {
            ("CREATE INDEX ix_observation_branch ON branch (name)", "DROP INDEX ix_observation_branch")
        }
        "m0010_letters" => {
            ("CREATE INDEX ix_unsubscribe_token_person ON branch (name)", "DROP INDEX ix_unsubscribe_token_person")
        }
        "m0011_one_time_codes" => {
            ("CREATE INDEX ix_recovery_code_person ON branch (name)", "DROP INDEX ix_recovery_code_person")
        }
        "m0012_wrong_tries" => ("CREATE INDEX ix_wrong_try_last ON branch (name)", "DROP INDEX ix_wrong_try_last"),
        "m0013_known_places" => ("CREATE INDEX ix_known_place_last ON branch (name)", "DROP INDEX ix_known_place_last"),
        _ => return None,
    })
}

/// Takes so many steps, each followed by the rows that came with it.
pub(crate) async fn released(db: &Db, count: usize) {
    for (at, step) in known_steps().into_iter().enumerate().take(count) {
        write::<_, StoreError, _>(db, async |tx| Ok(Migrator::up(tx, Some(1)).await?)).await.unwrap();
        if at == 0 {
            people_and_record(db).await;
        }
        db.execute_unprepared(&in_words(db, rows_of(&step))).await.unwrap_or_else(|error| panic!("{step}: {error}"));
    }
    assert_eq!(steps(db).await.len(), count);
}

/// The first rows of all: two people of a branch, and three entries of the record, chained.
async fn people_and_record(db: &Db) {
    people(db).await;
    write::<_, StoreError, _>(db, async |tx| {
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

async fn people(db: &Db) {
    write::<_, StoreError, _>(db, async |tx| {
        let branch = branches::insert(tx, "Coldbrook", "Europe/Dublin").await?;
        for (name, email, role) in [
            ("Ines Varga", "ines@fennmark.example", Role::Technician),
            ("Owen Lisle", "owen@fennmark.example", Role::Trainer),
        ] {
            store::people::insert(tx, new_person(branch, name, email, role)).await?;
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

/// Each row that was there is there, with the same values in the columns that it had.
pub(crate) fn nothing_is_lost(before: &Rows, after: &Rows, of: &str) {
    for (table, rows) in before {
        for row in rows {
            let same =
                |now: &&BTreeMap<String, String>| row.iter().all(|(column, value)| now.get(column) == Some(value));
            let there = after.get(table).and_then(|rows| rows.iter().find(same));
            assert!(there.is_some(), "{of}: {table} has lost or changed {row:?}");
        }
    }
}

async fn is_whole(db: &Db, of: &str) {
    assert_eq!(steps(db).await, known_steps(), "{of}");
    assert_eq!(store::backup::damage(db).await.unwrap(), Vec::<String>::new(), "{of}");
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
    for count in 1..=known_steps().len() {
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
            assert_eq!(
                number(db, "SELECT count(*) FROM decision WHERE attempt_id = 1 AND outcome = 'granted'").await,
                1
            );
            assert_eq!(number(db, "SELECT count(*) FROM outbox WHERE person_id = 1").await, 1, "{of}: whose letter");
            assert_eq!(number(db, "SELECT count(*) FROM attempt WHERE extra_s = 0").await, 1, "{of}: terms");
        })
        .await;
    }
}

#[tokio::test]
async fn a_step_that_fails_near_its_end_leaves_everything_as_it_was_and_is_taken_again() {
    for (at, step) in known_steps().into_iter().enumerate() {
        let Some((hinder, clear)) = in_the_way_of(&step) else { continue };
        each_empty(async |db| {
            released(db, at).await;
            let before = if at == 0 { Rows::new() } else { rows(db).await };
            db.execute_unprepared(hinder).await.unwrap();
            let hindered = if at == 0 { Rows::new() } else { rows(db).await };
            let refused = store::migrate(db).await;
            assert!(matches!(refused, Err(store::ConnectError::Migration(_))), "{step}: {refused:?}");
            assert_eq!(steps(db).await.len(), at, "{step} was not taken");
            if at > 0 {
                assert_eq!(rows(db).await, hindered, "{step} left nothing behind");
            }
            db.execute_unprepared(clear).await.unwrap();
            store::migrate(db).await.unwrap();
            nothing_is_lost(&before, &rows(db).await, &step);
            assert_eq!(steps(db).await, known_steps(), "{step}");
        })
        .await;
    }
}

/// What a killed program leaves: a transaction that nobody ends.
#[tokio::test]
async fn a_step_that_was_cut_off_before_its_commit_was_never_taken() {
    for count in 0..known_steps().len() {
        each_empty(async |db| {
            released(db, count).await;
            let before = if count == 0 { Rows::new() } else { rows(db).await };
            let cut_off = write::<(), StoreError, _>(db, async |tx| {
                Migrator::up(tx, Some(1)).await?;
                assert_eq!(steps(tx).await.len(), count + 1, "it was under way");
                Err(StoreError::NotFound)
            });
            cut_off.await.unwrap_err();
            assert_eq!(steps(db).await.len(), count);
            if count > 0 {
                assert_eq!(rows(db).await, before);
            }
            store::migrate(db).await.unwrap();
            nothing_is_lost(&before, &rows(db).await, &format!("cut off after {count}"));
        })
        .await;
    }
}

/// A backup of every release is put back by this program, and comes up to date there.
#[tokio::test]
async fn a_backup_of_every_released_schema_is_put_back_and_comes_up_to_date() {
    for count in 1..=known_steps().len() {
        let folder = tempfile::tempdir().unwrap();
        let url = |name: &str| format!("sqlite:{}", folder.path().join(name).display());
        let old = store::connect(&url("old.db")).await.unwrap();
        let taken = u32::try_from(count).unwrap();
        write::<_, StoreError, _>(&old, async |tx| Ok(Migrator::up(tx, Some(taken)).await?)).await.unwrap();
        people(&old).await;
        let before = rows(&old).await;
        old.close().await.unwrap();
        let file = folder.path().join("old.backup");
        back_up(&url("old.db"), &file).await.unwrap_or_else(|error| panic!("step {count}: {error}"));
        restore(&file, &url("new.db"), &Clock::manual(MORNING)).await.unwrap();
        let new = store::connect(&url("new.db")).await.unwrap();
        assert_eq!(steps(&new).await, known_steps());
        let mut kept = before;
        // The end of the chain moves on: that it was put back is on record.
        kept.remove("record_head");
        nothing_is_lost(&kept, &rows(&new).await, &format!("backup of step {count}"));
        new.close().await.unwrap();
    }
}
