//! What of a schema holds no rows, the triggers that refuse change and the indexes, is part of tables that are whole.

use crate::support::database::for_each_database;
use sea_orm::{ConnectionTrait as _, DbBackend, Statement};
use sootmark::store::Db;
use sootmark::store::backup::damage;

async fn texts(db: &Db, sql: &str) -> Vec<String> {
    let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await.expect(sql);
    rows.iter().map(|row| row.try_get_by_index(0).expect("a text")).collect()
}

/// The names that a line of damage lists.
fn listed(line: &str) -> Vec<&str> {
    let mut names: Vec<&str> = line.split_once(": ").expect("a list").1.split(", ").collect();
    names.sort_unstable();
    names
}

#[tokio::test]
async fn every_trigger_and_every_index_that_is_gone_is_named() {
    for_each_database(async |db: Db| {
        assert_eq!(damage(&db).await.expect("tables"), Vec::<String>::new());
        let (triggers, switch_off) = match db.get_database_backend() {
            DbBackend::Postgres => (
                "FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid
                 WHERE NOT tgisinternal AND c.relnamespace = current_schema()::text::regnamespace",
                "'ALTER TABLE ' || relname || ' DISABLE TRIGGER ' || tgname",
            ),
            _ => ("FROM sqlite_master WHERE type = 'trigger'", "'DROP TRIGGER ' || name"),
        };
        let name = if db.get_database_backend() == DbBackend::Postgres { "tgname::text" } else { "name" };
        let mut names = texts(&db, &format!("SELECT {name} {triggers}")).await;
        names.sort_unstable();
        assert!(names.len() > 30, "{names:?}");
        for sql in texts(&db, &format!("SELECT {switch_off} {triggers}")).await {
            db.execute_unprepared(&sql).await.expect("switched off");
        }
        let found = damage(&db).await.expect("tables");
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("triggers, which refuse change and removal, are missing"), "{found:?}");
        assert_eq!(listed(&found[0]), names);

        db.execute_unprepared("DROP INDEX ix_certificate_person").await.expect("dropped");
        let found = damage(&db).await.expect("tables");
        assert_eq!(found.len(), 2, "{found:?}");
        assert_eq!(listed(&found[1]), ["ix_certificate_person"]);
    })
    .await;
}

#[tokio::test]
async fn a_trigger_of_the_same_name_that_refuses_nothing_is_none() {
    for_each_database(async |db: Db| {
        let (instead, named) = match db.get_database_backend() {
            DbBackend::Postgres => (
                "CREATE OR REPLACE FUNCTION refuse_signed_step() RETURNS trigger LANGUAGE plpgsql AS
                   $$ BEGIN RETURN NEW; END $$",
                "tr_observation_step_signed",
            ),
            _ => (
                "DROP TRIGGER tr_record_entry_delete;
                 CREATE TRIGGER tr_record_entry_delete BEFORE DELETE ON record_entry BEGIN SELECT 1; END",
                "tr_record_entry_delete",
            ),
        };
        db.execute_unprepared(instead).await.expect("altered");
        let found = damage(&db).await.expect("tables");
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(listed(&found[0]), [named]);
    })
    .await;
}
