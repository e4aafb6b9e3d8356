//! The one way to change the database: a transaction that has the right to write from its first moment.
//!
//! Never says "saved" before COMMIT has returned, and never repeats the work by itself.

use super::{Db, StoreError};
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, SqliteTransactionMode, TransactionOptions, TransactionTrait,
};
use std::cell::Cell;

/// Runs `work` in a transaction; commits when it gives `Ok`, undoes everything when it gives `Err`.
///
/// On SQLite it is BEGIN IMMEDIATE, so what `work` reads cannot be changed by another before it writes. On PostgreSQL
/// what is read in order to be written is locked by the repository that reads it (`FOR UPDATE`). Append to the record
/// as late as possible: its end is locked until COMMIT. An error of the store must end the work: caught and passed
/// over, it would leave PostgreSQL with a transaction that can only be undone, which is refused here.
///
/// # Errors
/// What `work` gives, or the store's own: [`StoreError::CommitUnknown`] when COMMIT failed.
pub async fn write<T, E, F>(db: &Db, work: F) -> Result<T, E>
where
    E: From<StoreError>,
    F: for<'c> AsyncFnOnce(&'c DatabaseTransaction) -> Result<T, E>,
{
    let _turn = db.writers_turn().await;
    let options =
        TransactionOptions { sqlite_transaction_mode: Some(SqliteTransactionMode::Immediate), ..Default::default() };
    let transaction =
        db.connection.begin_with_options(options).await.map_err(|cause| StoreError::Unavailable(cause).counted())?;
    match work(&transaction).await {
        Ok(done) => {
            still_whole(&transaction).await.map_err(StoreError::from)?;
            transaction.commit().await.map_err(|cause| StoreError::CommitUnknown(cause).counted())?;
            // Nobody may be listening: a deed on the command line, or the program's own.
            let _ = COMMITTED.try_with(|committed| committed.set(true));
            Ok(done)
        }
        Err(error) => {
            if let Err(cause) = transaction.rollback().await {
                // The connection is closed with the transaction; the database then undoes it by itself.
                tracing::warn!(%cause, "undoing a transaction failed");
            }
            Err(error)
        }
    }
}

tokio::task_local! {
    /// Whether something was committed since [`noticing`] began.
    static COMMITTED: Cell<bool>;
}

/// Runs `work`, and tells whether [`write()`] has committed anything in it: whoever fails afterwards must not say that nothing
/// was saved.
pub async fn noticing<T>(work: impl Future<Output = T>) -> (T, bool) {
    let watched = async {
        let done = work.await;
        (done, COMMITTED.with(Cell::get))
    };
    COMMITTED.scope(Cell::new(false), watched).await
}

/// PostgreSQL answers COMMIT of a broken transaction with a silent ROLLBACK; any statement before it tells.
async fn still_whole(transaction: &DatabaseTransaction) -> Result<(), DbErr> {
    if transaction.get_database_backend() == DbBackend::Postgres {
        transaction.execute_unprepared("SELECT 1").await?;
    }
    Ok(())
}
