//! Wrong passwords and codes of late, counted by source for every server on this database.
//!
//! Knows no account and no address, only hashes of them under a key. Never decides how long somebody waits.

use super::{StoreError, columns::Ts, entity::wrong_try};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, ExprTrait, QueryFilter, prelude::*, sea_query::OnConflict,
};

/// How often a source was wrong, and when last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tries {
    /// How often.
    pub count: i64,
    /// When last.
    pub last: Moment,
}

impl From<wrong_try::Model> for Tries {
    fn from(row: wrong_try::Model) -> Self {
        Self { count: row.count, last: row.last_at.into() }
    }
}

/// The tries of a source.
///
/// # Errors
/// Those of every query.
pub async fn find(db: &impl ConnectionTrait, source_hash: &str) -> Result<Option<Tries>, StoreError> {
    Ok(wrong_try::Entity::find_by_id(source_hash.to_owned()).one(db).await?.map(Tries::from))
}

/// The tries of a source, held until this transaction ends: whoever is wrong at the same moment is counted afterwards. A source
/// that is not known has none.
///
/// # Errors
/// Those of every write.
pub async fn held(db: &impl ConnectionTrait, source_hash: &str, now: Moment) -> Result<Tries, StoreError> {
    let none =
        wrong_try::ActiveModel { source_hash: Set(source_hash.to_owned()), count: Set(0), last_at: Set(now.into()) };
    // Written as it is, so that the row is locked whether it was there or not.
    let as_it_is = OnConflict::column(wrong_try::Column::SourceHash)
        .value(wrong_try::Column::Count, Expr::col((wrong_try::Entity, wrong_try::Column::Count)))
        .to_owned();
    Ok(wrong_try::Entity::insert(none).on_conflict(as_it_is).exec_with_returning(db).await?.into())
}

/// Sets the tries of a source that is [`held`].
///
/// # Errors
/// Those of every write.
pub async fn set(db: &impl ConnectionTrait, source_hash: &str, tries: Tries) -> Result<(), StoreError> {
    let row = wrong_try::ActiveModel {
        source_hash: Set(source_hash.to_owned()),
        count: Set(tries.count),
        last_at: Set(Ts::from(tries.last)),
    };
    wrong_try::Entity::update(row).exec_without_returning(db).await?;
    Ok(())
}

/// Takes a try of a source back that was none: `counted` is how it was counted, `before` what there was before. Where another came
/// between, there is one less.
///
/// # Errors
/// Those of every write.
pub async fn put_back(
    db: &impl ConnectionTrait,
    source_hash: &str,
    counted: Tries,
    before: Tries,
) -> Result<(), StoreError> {
    if before.count > 0 {
        let as_before = wrong_try::Entity::update_many()
            .col_expr(wrong_try::Column::Count, Expr::val(before.count))
            .col_expr(wrong_try::Column::LastAt, Expr::val(before.last.0))
            .filter(wrong_try::Column::SourceHash.eq(source_hash))
            .filter(wrong_try::Column::Count.eq(counted.count))
            .filter(wrong_try::Column::LastAt.eq(counted.last.0))
            .exec(db)
            .await?;
        if as_before.rows_affected > 0 {
            return Ok(());
        }
    }
    take_one_back(db, source_hash).await
}

/// Takes one try of a source back; with its last one the source is forgotten.
async fn take_one_back(db: &impl ConnectionTrait, source_hash: &str) -> Result<(), StoreError> {
    let fewer = wrong_try::Entity::update_many()
        .col_expr(wrong_try::Column::Count, Expr::col(wrong_try::Column::Count).sub(1))
        .filter(wrong_try::Column::SourceHash.eq(source_hash))
        .filter(wrong_try::Column::Count.gt(1))
        .exec(db)
        .await?;
    if fewer.rows_affected == 0 {
        forget(db, source_hash).await?;
    }
    Ok(())
}

/// Forgets a source.
///
/// # Errors
/// Those of every write.
pub async fn forget(db: &impl ConnectionTrait, source_hash: &str) -> Result<(), StoreError> {
    wrong_try::Entity::delete_by_id(source_hash.to_owned()).exec(db).await?;
    Ok(())
}

/// Forgets every source that was wrong last at `before` or earlier; gives how many.
///
/// # Errors
/// Those of every write.
pub async fn sweep(db: &impl ConnectionTrait, before: Moment) -> Result<u64, StoreError> {
    Ok(wrong_try::Entity::delete_many().filter(wrong_try::Column::LastAt.lte(before.0)).exec(db).await?.rows_affected)
}
