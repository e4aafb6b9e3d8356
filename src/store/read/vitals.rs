//! A few counts that tell whoever runs the program how it is. Nobody's name and nothing anybody wrote is in them.

use crate::domain::units::Moment;
use crate::store::columns::Ts;
use crate::store::entity::{attempt, outbox, record_entry};
use crate::store::{StoreError, outbox as letters};
use sea_orm::{ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect, Statement, prelude::*};

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
