//! Opening a database and bringing its tables up to date.

use crate::support::database::{PostgresDatabase, SqliteDatabase, for_each_database};
use sea_orm::ConnectionTrait as _;
use sootmark::store::{self, ConnectError, Db, branches};

#[tokio::test]
async fn what_is_no_database_is_refused() {
    assert!(matches!(store::connect("mysql://localhost/x").await, Err(ConnectError::UnknownKind)));
    assert!(matches!(store::connect("sqlite:///no/such/folder/x.db").await, Err(ConnectError::Unreachable(_))));
}

#[tokio::test]
async fn an_sqlite_that_cannot_keep_a_write_ahead_log_is_refused() {
    // A database in memory has no log to write ahead: the setting is read back as "memory".
    let refused = store::connect("sqlite::memory:").await;
    assert!(
        matches!(&refused, Err(ConnectError::Setting { setting: "journal_mode", found, .. }) if found == "memory"),
        "{refused:?}"
    );
}

#[tokio::test]
async fn migrating_again_changes_nothing() {
    for_each_database(async |db: Db| {
        branches::insert(&db, "Saltmarsh", "Europe/Dublin").await.unwrap();
        store::migrate(&db).await.unwrap();
        assert_eq!(branches::list(&db).await.unwrap().len(), 1);
    })
    .await;
}

#[tokio::test]
async fn a_database_of_a_newer_program_is_refused() {
    for_each_database(async |db: Db| {
        db.execute_unprepared("INSERT INTO seaql_migrations (version, applied_at) VALUES ('m9999_later', 0)")
            .await
            .unwrap();
        let refused = store::migrate(&db).await;
        assert!(matches!(&refused, Err(ConnectError::Newer(name)) if name == "m9999_later"), "{refused:?}");
    })
    .await;
}

async fn migrate_at_once(url: &str) {
    let mut servers = Vec::new();
    for _ in 0..4 {
        let url = url.to_owned();
        servers.push(tokio::spawn(async move {
            let db = store::connect(&url).await.unwrap();
            store::migrate(&db).await.unwrap();
            db.close().await.unwrap();
        }));
    }
    for server in servers {
        server.await.unwrap();
    }
}

#[tokio::test]
async fn four_servers_may_migrate_postgresql_at_once() {
    let Some(postgres) = PostgresDatabase::empty().await else { return };
    migrate_at_once(&postgres.url).await;
    assert!(branches::list(&postgres.db).await.unwrap().is_empty());
    postgres.drop_schema().await;
}

#[tokio::test]
async fn what_was_written_is_there_after_opening_again() {
    let sqlite = SqliteDatabase::fresh().await;
    branches::insert(&sqlite.db, "Upper Tarn", "Europe/London").await.unwrap();
    sqlite.db.close().await.unwrap();
    let again = store::connect(&sqlite.url).await.unwrap();
    store::migrate(&again).await.unwrap();
    assert_eq!(branches::find_by_name(&again, "Upper Tarn").await.unwrap().unwrap().time_zone, "Europe/London");
}
