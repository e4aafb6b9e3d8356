//! Every row of every table as text, and back into empty tables of either database: what backups are made of.
//!
//! Asks the database itself which tables and columns it has, so that a table that is added later is never forgotten. Never
//! opens a file, never begins or ends a transaction, and leaves the tables' own rules as it found them.

mod catalogue;
mod empty;
mod into;
mod out;

pub use empty::{is_empty, is_sound};
pub use into::Loader;
pub use out::{Contents, write_out};

use super::StoreError;
use crate::store::connect::applied_of;
use sea_orm::{ConnectionTrait, DatabaseTransaction};
use sootmark_migrations::{Migrator, MigratorTrait};

/// What is not in a backup: who is signed in. Whoever was signed out since the backup must not come back in with it.
const LEFT_OUT: [&str; 2] = ["session", "seaql_migrations"];

/// The steps of the schema that this program knows, oldest first.
#[must_use]
pub fn known_steps() -> Vec<String> {
    Migrator::migrations().iter().map(|step| step.name().to_owned()).collect()
}

/// The steps of the schema that a database has taken, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn steps(db: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    Ok(applied_of(db).await?)
}

/// Makes the tables as they were after so many steps; all that there are when none is said. Inside the transaction that was
/// begun, so that either all of it is there or nothing.
///
/// # Errors
/// Those of every write.
pub async fn make_tables(transaction: &DatabaseTransaction, steps: Option<usize>) -> Result<(), StoreError> {
    let steps = steps.map(|count| u32::try_from(count).unwrap_or(u32::MAX));
    Ok(Migrator::up(transaction, steps).await?)
}
