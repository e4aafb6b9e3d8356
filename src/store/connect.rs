//! Opening the database, proving that it keeps what it says it keeps, and bringing its tables up to date.
//!
//! Never starts on a database whose settings could lose a saved answer, nor on one made by a newer program.

use sea_orm::{
    AccessMode, ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DatabaseTransaction, DbBackend, DbErr,
    ExecResult, IsolationLevel, QueryResult, Statement, TransactionTrait,
    sqlx::postgres::{PgConnectOptions, PgSslMode},
    sqlx::sqlite::{SqliteJournalMode, SqliteSynchronous},
};
use sootmark_migrations::{Migrator, MigratorTrait};
use std::{net::IpAddr, sync::Arc, time::Duration};
use tokio::sync::{Mutex, MutexGuard};

/// How long a connection of another program may hold the SQLite file before a write gives up.
const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// How long a server that does not answer is waited for, to look and to work; chosen by us: one that runs answers at once, and
/// one that starts together with the program gets the time for it.
const TO_LOOK: Duration = Duration::from_secs(5);
const TO_WORK: Duration = Duration::from_secs(20);

/// Key of the lock that keeps two servers from migrating one PostgreSQL database at once. Chosen by us.
const MIGRATION_LOCK: i64 = 7_203_455;

/// An open database. Cheap to clone; every clone is the same database.
#[derive(Clone, Debug)]
pub struct Db {
    pub(super) connection: DatabaseConnection,
    /// SQLite has one writer at a time and gives the lock to whoever asks at the right moment; here they queue.
    turn: Option<Arc<Mutex<()>>>,
}

impl Db {
    /// Waits until it is this writer's turn.
    pub(super) async fn writers_turn(&self) -> Option<MutexGuard<'_, ()>> {
        match &self.turn {
            Some(turn) => Some(turn.lock().await),
            None => None,
        }
    }

    /// Moves SQLite's write-ahead log into the file and empties it: what was removed or overwritten is in neither then. Gives whether
    /// that could be done: it waits for others that read, but not for ever. With PostgreSQL there is nothing to do.
    ///
    /// # Errors
    /// Those of every query.
    pub async fn empty_log(&self) -> Result<bool, super::StoreError> {
        if self.get_database_backend() != DbBackend::Sqlite {
            return Ok(true);
        }
        let _turn = self.writers_turn().await;
        let statement = Statement::from_string(DbBackend::Sqlite, "PRAGMA wal_checkpoint(TRUNCATE)");
        let row = self.connection.query_one_raw(statement).await?;
        // The first of three numbers is 0 when nobody was in the way.
        let hindered = row.map(|row| row.try_get_by_index::<i64>(0)).transpose()?;
        Ok(hindered == Some(0))
    }

    /// Closes every connection; SQLite folds its write-ahead log into the file.
    ///
    /// # Errors
    /// When a connection cannot be closed in order.
    pub async fn close(self) -> Result<(), super::StoreError> {
        Ok(self.connection.close().await?)
    }
}

#[async_trait::async_trait]
impl ConnectionTrait for Db {
    fn get_database_backend(&self) -> DbBackend {
        self.connection.get_database_backend()
    }
    async fn execute_raw(&self, statement: Statement) -> Result<ExecResult, DbErr> {
        self.connection.execute_raw(statement).await
    }
    async fn execute_unprepared(&self, sql: &str) -> Result<ExecResult, DbErr> {
        self.connection.execute_unprepared(sql).await
    }
    async fn query_one_raw(&self, statement: Statement) -> Result<Option<QueryResult>, DbErr> {
        self.connection.query_one_raw(statement).await
    }
    async fn query_all_raw(&self, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        self.connection.query_all_raw(statement).await
    }
}

/// Why the database was not opened.
#[derive(Debug, thiserror::Error)]
pub enum ConnectError {
    /// The address is of no database we know.
    #[error("the database address must begin with sqlite: or postgres:")]
    UnknownKind,
    /// It cannot be reached or opened.
    #[error("the database cannot be opened: {0}")]
    Unreachable(#[source] DbErr),
    /// Nobody answers there, or whoever does says nothing.
    #[error("no answer within {0} seconds; look whether the database runs, and whether database_url is right")]
    Silent(u64),
    /// SQLite did not take a setting without which a saved answer could be lost, or what was removed stay in the file.
    #[error("SQLite reads {setting} = {found} where {wanted} is needed; keep the file on a local disk")]
    Setting {
        /// The setting's name.
        setting: &'static str,
        /// What it must be.
        wanted: &'static str,
        /// What SQLite reads back.
        found: String,
    },
    /// A newer program has changed the tables.
    #[error("the database was changed by a newer Sootmark ({0}); start that one, or restore an older backup")]
    Newer(String),
    /// An older program has made the tables, and this one only looks.
    #[error("the database is from an older Sootmark; start `sootmark serve` once, which brings its tables up to date")]
    Older,
    /// It has none of our tables.
    #[error("there are no tables of Sootmark in it; start `sootmark serve` once, which makes them")]
    NoTables,
    /// Bringing the tables up to date failed; nothing of the failed step was kept.
    #[error("the tables cannot be brought up to date: {0}")]
    Migration(#[source] DbErr),
}

/// Opens `sqlite:...` or `postgres:...`, and for SQLite reads its settings back.
///
/// # Errors
/// When the database cannot be opened or its settings are not what they must be.
pub async fn connect(url: &str) -> Result<Db, ConnectError> {
    let mut options = options_for(url);
    let is_sqlite = url.starts_with("sqlite:");
    if is_sqlite {
        // A file cannot hang up, so nothing is asked before each query whether it is still there.
        options.test_before_acquire(false).min_connections(1).max_connections(5).map_sqlx_sqlite_opts(|sqlite| {
            sqlite
                .create_if_missing(true)
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full)
                .foreign_keys(true)
                .busy_timeout(BUSY_TIMEOUT)
                .optimize_on_close(true, 400)
                // What is removed or overwritten is gone from the file's bytes, too: the law may ask for it.
                .pragma("secure_delete", "ON")
        });
    } else if url.starts_with("postgres:") || url.starts_with("postgresql:") {
        options.max_connections(16).statement_timeout(Duration::from_secs(30));
    } else {
        return Err(ConnectError::UnknownKind);
    }
    let connection = reached(options, TO_WORK).await?;
    if is_sqlite {
        read_settings_back(&connection).await?;
    }
    Ok(Db { connection, turn: is_sqlite.then(Arc::default) })
}

/// Opens a database that is there already, to look and never to change; a server may work on it meanwhile.
///
/// # Errors
/// When there is none, or it was not made by this program's version.
pub async fn connect_to_read(url: &str) -> Result<Db, ConnectError> {
    let (db, pending) = connect_to_read_older(url).await?;
    if pending > 0 { Err(ConnectError::Older) } else { Ok(db) }
}

/// The same, for a database that an older program may have made; gives how many migrations it lacks.
///
/// # Errors
/// When there is none, it has no tables, or a newer program has changed it.
pub async fn connect_to_read_older(url: &str) -> Result<(Db, usize), ConnectError> {
    let mut options = options_for(url);
    if url.starts_with("sqlite:") {
        options
            .test_before_acquire(false)
            .max_connections(1)
            .map_sqlx_sqlite_opts(|sqlite| sqlite.create_if_missing(false).read_only(true).busy_timeout(BUSY_TIMEOUT));
    } else if url.starts_with("postgres:") || url.starts_with("postgresql:") {
        options.max_connections(1);
    } else {
        return Err(ConnectError::UnknownKind);
    }
    let connection = reached(options, TO_LOOK).await?;
    if let Some(newer) = applied_but_unknown(&connection).await.map_err(ConnectError::Unreachable)? {
        return Err(ConnectError::Newer(newer));
    }
    let pending = Migrator::get_pending_migrations_read_only(&connection).await.map_err(ConnectError::Unreachable)?;
    if pending.len() == Migrator::migrations().len() {
        return Err(ConnectError::NoTables);
    }
    Ok((Db { connection, turn: None }, pending.len()))
}

/// The other machine that an address leads to without asking for a certificate of that machine: whoever stands between can read
/// and change what is said. None where it leads to a file, a socket or this machine.
#[must_use]
pub fn unproven_machine(url: &str) -> Option<String> {
    let server = url.starts_with("postgres").then(|| url.parse::<PgConnectOptions>().ok())??;
    let host = server.get_host().trim_matches(['[', ']']);
    let here = server.get_socket().is_some()
        || host.starts_with('/')
        || host == "localhost"
        || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback());
    let proven = matches!(server.get_ssl_mode(), PgSslMode::VerifyFull);
    (!here && !proven).then(|| host.to_owned())
}

/// Ends the write-ahead log of an SQLite file that nobody has open, so that it can be read without files beside it.
pub(super) async fn leave_one_file(url: &str) -> Result<(), ConnectError> {
    let mut options = options_for(url);
    options.max_connections(1).map_sqlx_sqlite_opts(|sqlite| sqlite.journal_mode(SqliteJournalMode::Delete));
    let alone = Database::connect(options).await.map_err(ConnectError::Unreachable)?;
    alone.close().await.map_err(ConnectError::Unreachable)
}

/// Makes the tables as an older program made them: without the newest `without` migrations.
///
/// # Errors
/// When a migration fails.
pub async fn migrate_without(db: &Db, without: usize) -> Result<(), ConnectError> {
    let steps = u32::try_from(Migrator::migrations().len().saturating_sub(without)).unwrap_or(u32::MAX);
    Migrator::up(&db.connection, Some(steps)).await.map_err(ConnectError::Migration)
}

/// The name of the newest step of the tables that this program knows.
#[must_use]
pub fn newest_step() -> String {
    Migrator::migrations().last().map(|step| step.name().to_owned()).unwrap_or_default()
}

impl Db {
    /// Everything read from what this gives is as it stood at one moment, and nothing can be written with it.
    ///
    /// # Errors
    /// When the database does not answer.
    pub async fn snapshot(&self) -> Result<DatabaseTransaction, super::StoreError> {
        // SQLite's transactions read one state without being told to.
        let (level, mode) = match self.get_database_backend() {
            DbBackend::Postgres => (Some(IsolationLevel::RepeatableRead), Some(AccessMode::ReadOnly)),
            _ => (None, None),
        };
        Ok(self.connection.begin_with_config(level, mode).await?)
    }
}

fn options_for(url: &str) -> ConnectOptions {
    let mut options = ConnectOptions::new(url);
    options.sqlx_logging(false).connect_timeout(Duration::from_secs(10)).acquire_timeout(Duration::from_secs(30));
    options
}

/// Connects, and waits no longer than this: the driver by itself tries again and again where nobody listens, and then says
/// that its pool timed out.
async fn reached(options: ConnectOptions, wait: Duration) -> Result<DatabaseConnection, ConnectError> {
    let connected = tokio::time::timeout(wait, Database::connect(options)).await;
    connected.map_err(|_| ConnectError::Silent(wait.as_secs()))?.map_err(ConnectError::Unreachable)
}

/// Every setting that `connect` made, as SQLite itself reads it now.
async fn read_settings_back(connection: &DatabaseConnection) -> Result<(), ConnectError> {
    for (setting, wanted) in [
        ("journal_mode", "wal"),
        ("synchronous", "2"),
        ("foreign_keys", "1"),
        ("busy_timeout", "10000"),
        ("secure_delete", "1"),
    ] {
        let statement = Statement::from_string(DbBackend::Sqlite, format!("PRAGMA {setting}"));
        let row = connection.query_one_raw(statement).await.map_err(ConnectError::Unreachable)?;
        let found = row.map_or_else(String::new, |row| {
            row.try_get_by_index::<String>(0)
                .or_else(|_| row.try_get_by_index::<i64>(0).map(|number| number.to_string()))
                .unwrap_or_default()
        });
        if found != wanted {
            return Err(ConnectError::Setting { setting, wanted, found });
        }
    }
    Ok(())
}

/// Brings the tables up to date; several servers may do so at once.
///
/// # Errors
/// When the database is newer than the program, or a migration fails.
pub async fn migrate(db: &Db) -> Result<(), ConnectError> {
    if db.get_database_backend() == DbBackend::Postgres {
        migrate_postgres(&db.connection).await
    } else {
        refuse_newer(&db.connection).await?;
        Migrator::up(&db.connection, None).await.map_err(ConnectError::Migration)
    }
}

/// Everything in one transaction, which holds the lock and lets it go even when this program dies.
async fn migrate_postgres(connection: &DatabaseConnection) -> Result<(), ConnectError> {
    let transaction = connection.begin().await.map_err(ConnectError::Migration)?;
    // Waiting for another server's migration, or a long one of our own, is no reason to give up.
    transaction.execute_unprepared("SET LOCAL statement_timeout = 0").await.map_err(ConnectError::Migration)?;
    let lock = format!("SELECT pg_advisory_xact_lock({MIGRATION_LOCK} # hashtext(current_schema())::bigint)");
    transaction.execute_unprepared(&lock).await.map_err(ConnectError::Migration)?;
    refuse_newer(&transaction).await?;
    Migrator::up(&transaction, None).await.map_err(ConnectError::Migration)?;
    transaction.commit().await.map_err(ConnectError::Migration)
}

async fn refuse_newer(connection: &impl ConnectionTrait) -> Result<(), ConnectError> {
    match applied_but_unknown(connection).await.map_err(ConnectError::Migration)? {
        Some(newer) => Err(ConnectError::Newer(newer)),
        None => Ok(()),
    }
}

/// The name of a migration that was applied and that this program does not have.
async fn applied_but_unknown(connection: &impl ConnectionTrait) -> Result<Option<String>, DbErr> {
    let known: Vec<String> = Migrator::migrations().iter().map(|migration| migration.name().to_owned()).collect();
    Ok(applied_of(connection).await?.into_iter().find(|name| !known.contains(name)))
}

/// The names of the migrations that were applied, oldest first; none where there are no tables.
async fn applied_of(connection: &impl ConnectionTrait) -> Result<Vec<String>, DbErr> {
    let backend = connection.get_database_backend();
    let exists = if backend == DbBackend::Postgres {
        "SELECT 1 FROM information_schema.tables WHERE table_schema = current_schema() AND table_name = 'seaql_migrations'"
    } else {
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'seaql_migrations'"
    };
    if connection.query_one_raw(Statement::from_string(backend, exists)).await?.is_none() {
        return Ok(Vec::new());
    }
    let applied = Statement::from_string(backend, "SELECT version FROM seaql_migrations ORDER BY version");
    connection.query_all_raw(applied).await?.iter().map(|row| row.try_get_by_index(0)).collect()
}

#[cfg(test)]
mod tests {
    use super::{BUSY_TIMEOUT, connect, unproven_machine};
    use sea_orm::{ConnectionTrait as _, DbBackend, Statement, TransactionTrait as _};

    // Source: SQLite documentation, "PRAGMA Statements": synchronous 2 is FULL, foreign_keys 1 is on.
    #[tokio::test]
    async fn every_connection_of_the_pool_keeps_a_commit() {
        let folder = tempfile::tempdir().unwrap();
        let db = connect(&format!("sqlite://{}/pool.db", folder.path().display())).await.unwrap();
        let busy_timeout = BUSY_TIMEOUT.as_millis().to_string();
        // A transaction that stays open keeps its connection, so that the next one gets another.
        let mut held = Vec::new();
        for _ in 0..5 {
            let transaction = db.connection.begin().await.unwrap();
            let settings =
                [("synchronous", "2"), ("foreign_keys", "1"), ("secure_delete", "1"), ("busy_timeout", &*busy_timeout)];
            for (pragma, wanted) in settings {
                let statement = Statement::from_string(DbBackend::Sqlite, format!("PRAGMA {pragma}"));
                let row = transaction.query_one_raw(statement).await.unwrap().unwrap();
                assert_eq!(row.try_get_by_index::<i64>(0).unwrap().to_string(), wanted, "{pragma}");
            }
            let statement = Statement::from_string(DbBackend::Sqlite, "PRAGMA journal_mode");
            let row = transaction.query_one_raw(statement).await.unwrap().unwrap();
            assert_eq!(row.try_get_by_index::<String>(0).unwrap(), "wal");
            held.push(transaction);
        }
    }

    // Source: PostgreSQL 15, "Connection Strings": hosts, sockets, and modes; verify-full alone asks whose certificate it is.
    #[test]
    fn another_machine_is_proven_by_its_certificate_only() {
        for (url, machine) in [
            ("postgres://ann:pw@db.example.org/x", Some("db.example.org")),
            ("postgresql://ann:pw@192.0.2.7:5433/x?sslmode=require", Some("192.0.2.7")),
            ("postgres://ann:pw@[2001:db8::7]/x?sslmode=verify-ca", Some("2001:db8::7")),
            ("postgres://ann:pw@db.example.org/x?sslmode=verify-full", None),
            ("postgres://ann:pw@127.0.0.1/x", None),
            ("postgres://ann:pw@[::1]/x", None),
            ("postgres://ann:pw@localhost/x", None),
            ("postgres:///x?host=/run/postgresql", None),
            ("sqlite:/var/lib/sootmark/sootmark.sqlite", None),
        ] {
            assert_eq!(unproven_machine(url).as_deref(), machine, "{url}");
        }
    }
}
