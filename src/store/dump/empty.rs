//! Whether a place is empty, and whether what is in it holds together by the database's own account.

use super::catalogue::{names, rows, texts};
use crate::store::StoreError;
use sea_orm::{ConnectionTrait, DbBackend};

/// Whether there is no table at all.
///
/// # Errors
/// Those of every query.
pub async fn is_empty(db: &impl ConnectionTrait) -> Result<bool, StoreError> {
    Ok(names(db).await?.is_empty())
}

/// What SQLite itself finds wrong with its pages, its indexes and its references; PostgreSQL holds references at every COMMIT
/// and has no such question.
///
/// # Errors
/// Those of every query.
pub async fn is_sound(db: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    if db.get_database_backend() == DbBackend::Postgres {
        return Ok(Vec::new());
    }
    let mut wrong = texts(db, "PRAGMA integrity_check(20)".to_owned()).await?;
    wrong.retain(|line| line != "ok");
    for row in rows(db, "SELECT \"table\", count(*) FROM pragma_foreign_key_check GROUP BY 1".to_owned()).await? {
        let (table, count): (String, i64) = (row.try_get_by_index(0)?, row.try_get_by_index(1)?);
        wrong.push(format!("{count} rows of {table} point at something that is not there"));
    }
    Ok(wrong)
}
