//! A few counts that tell whoever runs the program how it is. Nobody's name and nothing anybody wrote is in them.

use crate::domain::units::Moment;
use crate::store::columns::Ts;
use crate::store::entity::{attempt, outbox, record_entry};
use crate::store::{StoreError, outbox as letters};
use sea_orm::{
    ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect, Statement, prelude::*,
};

/// The counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Vitals {
    /// Examinations that are being sat.
    pub open_sittings: u64,
    /// Letters that wait to be sent.
    pub letters_waiting: u64,
    /// Those of them that were tried and not taken.
    pub letters_failing: u64,
    /// Letters that were given up.
    pub letters_left: u64,
}

/// The counts as they are now.
///
/// # Errors
/// Those of every query.
pub async fn vitals(db: &impl ConnectionTrait) -> Result<Vitals, StoreError> {
    let sittings = attempt::Entity::find().filter(attempt::Column::State.eq("open"));
    let unsent = outbox::Entity::find().filter(outbox::Column::SentAt.is_null());
    let left = unsent.clone().filter(outbox::Column::LeftAt.is_not_null());
    let failing = unsent.filter(outbox::Column::LeftAt.is_null()).filter(outbox::Column::LastError.is_not_null());
    Ok(Vitals {
        open_sittings: sittings.filter(attempt::Column::Kind.eq("examination")).count(db).await?,
        letters_waiting: letters::waiting(db).await?,
        letters_failing: failing.count(db).await?,
        letters_left: left.count(db).await?,
    })
}

/// When the newest entry of the record was made; none when there is none.
///
/// # Errors
/// Those of every query.
pub async fn newest_entry(db: &impl ConnectionTrait) -> Result<Option<Moment>, StoreError> {
    let newest = record_entry::Entity::find().select_only().column(record_entry::Column::At);
    let at: Option<Ts> = newest.order_by_desc(record_entry::Column::Id).into_tuple().one(db).await?;
    Ok(at.map(Into::into))
}

/// What time the database's own machine says it is; none for SQLite, which is this machine.
///
/// # Errors
/// Those of every query.
pub async fn time_at_database(db: &impl ConnectionTrait) -> Result<Option<Moment>, StoreError> {
    let backend = db.get_database_backend();
    if backend != sea_orm::DbBackend::Postgres {
        return Ok(None);
    }
    let sql = "SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint";
    let row = db.query_one_raw(Statement::from_string(backend, sql)).await?;
    row.map(|row| Ok(Moment(row.try_get_by_index(0)?))).transpose()
}

/// Which database it is, and what of its settings could lose what it said it has kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Durability {
    /// Its name and version.
    pub which: String,
    /// Settings that are not as they must be, with what they are.
    pub lacking: Vec<(&'static str, String)>,
}

/// What the database says of itself. What each connection sets for itself on SQLite is read back when it is opened.
///
/// # Errors
/// Those of every query.
pub async fn durability(db: &impl ConnectionTrait) -> Result<Durability, StoreError> {
    let backend = db.get_database_backend();
    let (which, asked): (_, &[(&str, &str, &[&str])]) = match backend {
        // Source: PostgreSQL 15 manual, sections 20.5.1 and 30.1: with either of the first two off, and with
        // synchronous_commit off, a crash may lose what was committed.
        sea_orm::DbBackend::Postgres => (
            "SELECT 'PostgreSQL ' || current_setting('server_version')",
            &[
                ("fsync", "SELECT current_setting('fsync')", &["on"]),
                ("full_page_writes", "SELECT current_setting('full_page_writes')", &["on"]),
                (
                    "synchronous_commit",
                    "SELECT current_setting('synchronous_commit')",
                    &["on", "local", "remote_write", "remote_apply"],
                ),
            ],
        ),
        _ => ("SELECT 'SQLite ' || sqlite_version()", &[("journal_mode", "PRAGMA journal_mode", &["wal"])]),
    };
    let said = async |sql: &str| -> Result<String, StoreError> {
        let row = db.query_one_raw(Statement::from_string(backend, sql)).await?;
        Ok(row.map(|row| row.try_get_by_index(0)).transpose()?.unwrap_or_default())
    };
    let mut lacking = Vec::new();
    for (name, sql, wanted) in asked {
        let found = said(sql).await?;
        if !wanted.contains(&found.as_str()) {
            lacking.push((*name, found));
        }
    }
    Ok(Durability { which: said(which).await?, lacking })
}
