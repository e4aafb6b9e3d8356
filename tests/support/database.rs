//! A database of its own for every test: a fresh SQLite file, and a fresh schema of PostgreSQL when there is one.
//!
//! `SOOTMARK_TEST_POSTGRES` holds the address of a PostgreSQL database in which schemas may be made and dropped;
//! `SOOTMARK_REQUIRE_POSTGRES=1` (set by tests/run) makes its absence a failure instead of half a test. A test that needs
//! one database only has SQLite, or PostgreSQL with `SOOTMARK_TEST_ON=postgres`; tests/run runs such a test on both.

use sea_orm::ConnectionTrait as _;
use sootmark::store::{self, Db};
use std::time::{SystemTime, UNIX_EPOCH};
use tempfile::TempDir;

/// An SQLite database in a folder that goes when this goes, with its tables made.
pub(crate) struct SqliteDatabase {
    /// The open database.
    pub(crate) db: Db,
    /// Its address, to open it once more.
    pub(crate) url: String,
    /// Keeps the folder until the test is over.
    pub(crate) folder: TempDir,
}

impl SqliteDatabase {
    /// A fresh one.
    pub(crate) async fn fresh() -> Self {
        let empty = Self::empty().await;
        store::migrate(&empty.db).await.expect("SQLite migrates");
        empty
    }

    /// One without tables.
    async fn empty() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let url = format!("sqlite://{}/sootmark.db", folder.path().display());
        let db = store::connect(&url).await.expect("SQLite opens");
        Self { db, url, folder }
    }
}

/// A schema of PostgreSQL that only this test uses.
pub(crate) struct PostgresDatabase {
    /// The open database, which sees only the schema.
    pub(crate) db: Db,
    /// Its address, to open it once more.
    pub(crate) url: String,
    server: String,
    schema: String,
}

impl PostgresDatabase {
    /// A fresh one with its tables made; `None` when no server was given.
    pub(crate) async fn fresh() -> Option<Self> {
        let empty = Self::empty().await?;
        store::migrate(&empty.db).await.expect("PostgreSQL migrates");
        Some(empty)
    }

    /// One without tables.
    pub(crate) async fn empty() -> Option<Self> {
        let Ok(server) = std::env::var("SOOTMARK_TEST_POSTGRES") else {
            let required = std::env::var("SOOTMARK_REQUIRE_POSTGRES").is_ok_and(|value| value == "1");
            assert!(!required, "SOOTMARK_REQUIRE_POSTGRES is set, but SOOTMARK_TEST_POSTGRES names no server");
            return None;
        };
        let moment = SystemTime::now().duration_since(UNIX_EPOCH).expect("after 1970").as_nanos();
        let schema = format!("t{}_{moment}", std::process::id());
        let outside = store::connect(&server).await.expect("PostgreSQL opens");
        outside.execute_unprepared(&format!("CREATE SCHEMA {schema}")).await.expect("a schema can be made");
        outside.close().await.expect("PostgreSQL closes");
        let separator = if server.contains('?') { '&' } else { '?' };
        let url = format!("{server}{separator}options=-csearch_path%3D{schema}");
        let db = store::connect(&url).await.expect("PostgreSQL opens");
        Some(Self { db, url, server, schema })
    }

    /// Drops the schema. A test that fails leaves its schema behind to be looked at.
    pub(crate) async fn drop_schema(self) {
        self.db.close().await.expect("PostgreSQL closes");
        let outside = store::connect(&self.server).await.expect("PostgreSQL opens");
        let drop = format!("DROP SCHEMA {} CASCADE", self.schema);
        outside.execute_unprepared(&drop).await.expect("the schema can be dropped");
        outside.close().await.expect("PostgreSQL closes");
    }
}

/// The only database of a test: of SQLite, or of PostgreSQL when `SOOTMARK_TEST_ON=postgres` asks for it.
pub(crate) struct OneDatabase {
    /// The open database.
    pub(crate) db: Db,
    /// Its address, to open it once more.
    pub(crate) url: String,
    /// A folder that goes when this goes; an SQLite file lies in it.
    pub(crate) folder: TempDir,
    /// What is dropped in the end, when it is on a server.
    postgres: Option<PostgresDatabase>,
}

impl OneDatabase {
    /// A fresh one, with its tables made.
    pub(crate) async fn fresh() -> Self {
        let database = Self::empty().await;
        store::migrate(&database.db).await.expect("the tables are made");
        database
    }

    /// One without tables.
    pub(crate) async fn empty() -> Self {
        if Self::is_postgres() {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let postgres = PostgresDatabase::empty().await.expect("SOOTMARK_TEST_POSTGRES names a server");
            return Self { db: postgres.db.clone(), url: postgres.url.clone(), folder, postgres: Some(postgres) };
        }
        let SqliteDatabase { db, url, folder } = SqliteDatabase::empty().await;
        Self { db, url, folder, postgres: None }
    }

    /// Whether such a database is one of PostgreSQL.
    pub(crate) fn is_postgres() -> bool {
        match std::env::var("SOOTMARK_TEST_ON").as_deref() {
            Ok("postgres") => true,
            Ok("sqlite") | Err(_) => false,
            Ok(other) => panic!("SOOTMARK_TEST_ON is sqlite or postgres, not {other}"),
        }
    }

    /// Closes it and takes it away.
    pub(crate) async fn close(self) {
        match self.postgres {
            Some(postgres) => postgres.drop_schema().await,
            None => self.db.close().await.expect("SQLite closes"),
        }
    }
}

/// Runs the test on a fresh SQLite database and then on a fresh PostgreSQL one.
pub(crate) async fn for_each_database(test: impl AsyncFn(Db)) {
    let sqlite = SqliteDatabase::fresh().await;
    test(sqlite.db.clone()).await;
    sqlite.db.close().await.expect("SQLite closes");
    drop(sqlite.folder);
    if let Some(postgres) = PostgresDatabase::fresh().await {
        test(postgres.db.clone()).await;
        postgres.drop_schema().await;
    }
}
