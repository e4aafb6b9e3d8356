//! Copies of the whole database as one file: an SQLite database, whichever database it was taken from.
//!
//! Never writes into what it copies, and never says that a copy is good: the actions look into it.

mod carry;
mod guards;

use super::connect::{ConnectError, Db, connect, connect_to_read_older, leave_one_file, migrate_without};
use super::entity::{attempt, person, record_entry, session};
use super::record::{self, NewEntry};
use super::{StoreError, write};
use crate::domain::units::Moment;
use sea_orm::{
    ConnectionTrait, DbBackend, EntityTrait, PaginatorTrait, QueryOrder, Statement, sqlx::sqlite::SqliteConnectOptions,
};
use std::path::{Path, PathBuf};

/// Why a copy was not made or not put back.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// A database cannot be opened.
    #[error(transparent)]
    Connect(#[from] ConnectError),
    /// A database does not answer or holds what cannot be carried.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<sea_orm::DbErr> for CopyError {
    fn from(error: sea_orm::DbErr) -> Self {
        Self::Store(error.into())
    }
}

/// The address of a file with an SQLite database.
#[must_use]
pub fn address_of(file: &Path) -> String {
    format!("sqlite:{}", file.display())
}

/// The file of an SQLite address; none for another database, and for an address that the driver does not take.
#[must_use]
pub fn file_of(url: &str) -> Option<PathBuf> {
    let rest = url.strip_prefix("sqlite:")?;
    let in_memory = rest.strip_prefix("//").unwrap_or(rest).starts_with(":memory:");
    // As the driver reads it when it connects: %20 is a space there.
    let options = url.parse::<SqliteConnectOptions>().ok().filter(|_| !in_memory)?;
    Some(options.get_filename().to_owned())
}

/// Writes everything there is at one moment into a file, which is there and empty. The database may be served meanwhile. Gives what
/// of [`damage`] the copy does not show: tables of PostgreSQL are made anew in it.
///
/// # Errors
/// When the database cannot be read or the file not be written.
pub async fn copy_out(url: &str, file: &Path) -> Result<Vec<String>, CopyError> {
    let (db, lacks) = connect_to_read_older(url).await?;
    let mut unseen = Vec::new();
    if db.get_database_backend() == DbBackend::Sqlite {
        let into =
            Statement::from_sql_and_values(DbBackend::Sqlite, "VACUUM INTO $1", [file.display().to_string().into()]);
        db.execute_raw(into).await?;
    } else {
        let copy = connect(&address_of(file)).await?;
        migrate_without(&copy, lacks).await?;
        let from = db.snapshot().await?;
        unseen = damage(&from).await?;
        let tables = carry::tables(&from).await?;
        let triggers = texts(&copy, "SELECT sql FROM sqlite_master WHERE type = 'trigger'").await?;
        let names = texts(&copy, "SELECT name FROM sqlite_master WHERE type = 'trigger'").await?;
        write::<_, StoreError, _>(&copy, async |tx| {
            // They hold what happens from now on; what is carried has happened.
            for name in &names {
                tx.execute_unprepared(&format!("DROP TRIGGER \"{name}\"")).await?;
            }
            for table in &tables {
                tx.execute_unprepared(&format!("DELETE FROM \"{}\"", table.name)).await?;
                carry::carry(&from, tx, table).await?;
            }
            for trigger in &triggers {
                tx.execute_unprepared(trigger).await?;
            }
            Ok(())
        })
        .await?;
        copy.close().await?;
        leave_one_file(&address_of(file)).await?;
    }
    db.close().await?;
    Ok(unseen)
}

/// What is wrong with the tables, in words; empty when all is well. Triggers and indexes that are missing or are not as the
/// migrations made them; and what SQLite itself finds: damaged pages, and rows that refer to nothing. PostgreSQL has no such
/// question and holds references at every COMMIT.
///
/// # Errors
/// When it cannot be read at all.
pub async fn damage(db: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    let mut found = Vec::new();
    if db.get_database_backend() == DbBackend::Sqlite {
        found = texts(db, "PRAGMA integrity_check(20)").await?;
        found.retain(|line| line != "ok");
        if !found.is_empty() {
            // What is on damaged pages cannot be asked further.
            return Ok(found);
        }
        let dangling = texts(db, "SELECT DISTINCT \"table\" FROM pragma_foreign_key_check").await?;
        found.extend(dangling.into_iter().map(|table| format!("a row of {table} refers to what is not there")));
    }
    found.extend(guards::missing(db).await?);
    Ok(found)
}

/// How much there is, in numbers that people can compare.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Amount {
    /// People, whether or not they may sign in.
    pub people: u64,
    /// Attempts: practice and examinations.
    pub attempts: u64,
    /// Entries of the record.
    pub entries: u64,
    /// When the newest entry was written.
    pub newest: Option<Moment>,
}

/// Counts.
///
/// # Errors
/// Those of every query.
pub async fn amount(db: &impl ConnectionTrait) -> Result<Amount, StoreError> {
    let newest = record_entry::Entity::find().order_by_desc(record_entry::Column::Id).one(db).await?;
    Ok(Amount {
        people: person::Entity::find().count(db).await?,
        attempts: attempt::Entity::find().count(db).await?,
        entries: record_entry::Entity::find().count(db).await?,
        newest: newest.map(|entry| entry.at.into()),
    })
}

/// Whether there is any row in the tables of a PostgreSQL, whoever made them and however old they are. What the migrations
/// themselves leave is none: their own list, and the end of a record without entries.
///
/// # Errors
/// Those of every query.
pub async fn holds_rows(postgres: &impl ConnectionTrait) -> Result<bool, StoreError> {
    let names = "SELECT table_name::text FROM information_schema.tables
       WHERE table_schema = current_schema() AND table_type = 'BASE TABLE'";
    for table in texts(postgres, names).await? {
        let which = match table.as_str() {
            "seaql_migrations" => continue,
            "record_head" => " WHERE entries > 0",
            _ => "",
        };
        if any_row(postgres, &format!("SELECT 1 FROM \"{table}\"{which} LIMIT 1")).await? {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Ends every session and puts on record that the database was put back, in a copy that nobody serves yet.
///
/// # Errors
/// Those of every write.
pub async fn mark_restored(db: &impl ConnectionTrait, entry: NewEntry) -> Result<(), StoreError> {
    // Who was signed out, or lost the right to be here, since the copy was made must not be signed in by it.
    session::Entity::delete_many().exec(db).await?;
    record::append(db, entry).await?;
    Ok(())
}

/// Carries a copy, whose tables are up to date, into a PostgreSQL whose tables are too and hold nothing; `last` has the say
/// before anything is kept.
///
/// # Errors
/// Whatever keeps the rows from being carried, or what `last` gives: nothing is kept then.
pub async fn carry_into<E, F>(copy: &Db, to: &Db, last: F) -> Result<(), E>
where
    E: From<StoreError>,
    F: for<'c> AsyncFnOnce(&'c sea_orm::DatabaseTransaction) -> Result<(), E>,
{
    let tables = carry::tables(to).await?;
    write::<_, E, _>(to, async |tx| {
        for table in &tables {
            switch_triggers(tx, &table.name, "DISABLE").await?;
        }
        // Those that others refer to are emptied last.
        for table in tables.iter().rev() {
            let sql = format!("DELETE FROM \"{}\"", table.name);
            tx.execute_unprepared(&sql).await.map_err(StoreError::from)?;
        }
        for table in &tables {
            carry::carry(copy, tx, table).await?;
        }
        for table in &tables {
            count_on(tx, &table.name).await?;
            switch_triggers(tx, &table.name, "ENABLE").await?;
        }
        last(tx).await
    })
    .await
}

async fn switch_triggers(tx: &impl ConnectionTrait, table: &str, word: &str) -> Result<(), StoreError> {
    tx.execute_unprepared(&format!("ALTER TABLE \"{table}\" {word} TRIGGER USER")).await?;
    Ok(())
}

/// New rows get numbers after those that were carried.
async fn count_on(tx: &impl ConnectionTrait, table: &str) -> Result<(), StoreError> {
    let counts = format!(
        "SELECT 1 FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = '{table}'
           AND column_name = 'id' AND is_identity = 'YES'"
    );
    if !any_row(tx, &counts).await? {
        return Ok(());
    }
    let next = format!(
        "SELECT setval(pg_get_serial_sequence('\"{table}\"', 'id'), coalesce((SELECT max(id) FROM \"{table}\"), 0) + 1, false)"
    );
    tx.query_one_raw(Statement::from_string(DbBackend::Postgres, next)).await?;
    Ok(())
}

async fn any_row(db: &impl ConnectionTrait, sql: &str) -> Result<bool, StoreError> {
    Ok(db.query_one_raw(Statement::from_string(db.get_database_backend(), sql)).await?.is_some())
}

async fn texts(db: &impl ConnectionTrait, sql: &str) -> Result<Vec<String>, StoreError> {
    let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await?;
    rows.iter().map(|row| Ok(row.try_get_by_index::<String>(0)?)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_of_sqlite_names_its_file() {
        for url in ["sqlite:/var/a.sqlite", "sqlite:///var/a.sqlite", "sqlite:///var/a.sqlite?mode=rw"] {
            assert_eq!(file_of(url).unwrap(), Path::new("/var/a.sqlite"), "{url}");
        }
        // The driver is asked what it opens: a name with a space in it, and none at all.
        assert_eq!(file_of("sqlite:/var/our%20data/a.sqlite").unwrap(), Path::new("/var/our data/a.sqlite"));
        assert_eq!(file_of("sqlite::memory:"), None);
        assert_eq!(file_of("postgres://h/a"), None);
    }
}
