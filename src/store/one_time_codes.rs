//! The keys behind people's one-time codes, and the recovery codes for who has lost theirs.
//!
//! Never lets a code count twice: the rows that say so are changed and asked in one statement. Only hashes of recovery codes
//! are kept; the key itself has to be, since the next code is worked out from it.

use super::{
    PersonId, StoreError,
    entity::{one_time_key, recovery_code},
};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, prelude::*};

/// A key. `Debug` does not print it.
#[derive(Clone, PartialEq, Eq)]
pub struct Key {
    /// The shared secret.
    pub secret: Vec<u8>,
    /// When it was made.
    pub made_at: Moment,
    /// Whether its first code was typed; before that it asks nobody for one.
    pub confirmed: bool,
}

impl std::fmt::Debug for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Key").field("confirmed", &self.confirmed).finish_non_exhaustive()
    }
}

/// Somebody's key, confirmed or only offered.
///
/// # Errors
/// Those of every query.
pub async fn find(db: &impl ConnectionTrait, person: PersonId) -> Result<Option<Key>, StoreError> {
    let row = one_time_key::Entity::find_by_id(person).one(db).await?;
    Ok(row.map(|row| Key { secret: row.secret, made_at: row.made_at.into(), confirmed: row.confirmed_at.is_some() }))
}

/// Whether somebody's confirmed key asks them for a code.
///
/// # Errors
/// Those of every query.
pub async fn has_confirmed(db: &impl ConnectionTrait, person: PersonId) -> Result<bool, StoreError> {
    Ok(find(db, person).await?.is_some_and(|key| key.confirmed))
}

/// Keeps a key that is only offered, in place of an earlier offer. Gives false, and keeps nothing, when one is confirmed.
///
/// # Errors
/// Those of every write.
pub async fn offer(
    db: &impl ConnectionTrait,
    person: PersonId,
    secret: &[u8],
    now: Moment,
) -> Result<bool, StoreError> {
    let offered = one_time_key::Entity::delete_many()
        .filter(one_time_key::Column::PersonId.eq(person))
        .filter(one_time_key::Column::ConfirmedAt.is_null());
    offered.exec(db).await?;
    if find(db, person).await?.is_some() {
        return Ok(false);
    }
    let row = one_time_key::ActiveModel {
        person_id: Set(person),
        secret: Set(secret.to_vec()),
        made_at: Set(now.into()),
        confirmed_at: Set(None),
        last_step: Set(0),
    };
    one_time_key::Entity::insert(row).exec_without_returning(db).await?;
    Ok(true)
}

/// Confirms the offered key with the step of its first code. Gives whether there was one to confirm.
///
/// # Errors
/// Those of every write.
pub async fn confirm(db: &impl ConnectionTrait, person: PersonId, step: i64, now: Moment) -> Result<bool, StoreError> {
    let done = one_time_key::Entity::update_many()
        .col_expr(one_time_key::Column::ConfirmedAt, Expr::val(now.0))
        .col_expr(one_time_key::Column::LastStep, Expr::val(step))
        .filter(one_time_key::Column::PersonId.eq(person))
        .filter(one_time_key::Column::ConfirmedAt.is_null())
        .exec(db)
        .await?;
    Ok(done.rows_affected == 1)
}

/// Uses the code of a step up. Gives false when it, or the code of a later step, counted before.
///
/// # Errors
/// Those of every write.
pub async fn use_step(db: &impl ConnectionTrait, person: PersonId, step: i64) -> Result<bool, StoreError> {
    let used = one_time_key::Entity::update_many()
        .col_expr(one_time_key::Column::LastStep, Expr::val(step))
        .filter(one_time_key::Column::PersonId.eq(person))
        .filter(one_time_key::Column::ConfirmedAt.is_not_null())
        .filter(one_time_key::Column::LastStep.lt(step))
        .exec(db)
        .await?;
    Ok(used.rows_affected == 1)
}

/// Takes a person's key and recovery codes away; gives whether there was a confirmed key.
///
/// # Errors
/// Those of every write.
pub async fn remove(db: &impl ConnectionTrait, person: PersonId) -> Result<bool, StoreError> {
    let had = has_confirmed(db, person).await?;
    one_time_key::Entity::delete_by_id(person).exec(db).await?;
    recovery_code::Entity::delete_many().filter(recovery_code::Column::PersonId.eq(person)).exec(db).await?;
    Ok(had)
}

/// Gives a person these recovery codes in place of all earlier ones.
///
/// # Errors
/// Those of every write.
pub async fn replace_recovery(
    db: &impl ConnectionTrait,
    person: PersonId,
    hashes: &[String],
    now: Moment,
) -> Result<(), StoreError> {
    recovery_code::Entity::delete_many().filter(recovery_code::Column::PersonId.eq(person)).exec(db).await?;
    let row = |hash: &String| recovery_code::ActiveModel {
        code_hash: Set(hash.clone()),
        person_id: Set(person),
        made_at: Set(now.into()),
        used_at: Set(None),
    };
    recovery_code::Entity::insert_many(hashes.iter().map(row)).exec_without_returning(db).await?;
    Ok(())
}

/// Uses a recovery code up. Gives false when the person has no such code, or it counted before.
///
/// # Errors
/// Those of every write.
pub async fn use_recovery(
    db: &impl ConnectionTrait,
    person: PersonId,
    hash: &str,
    now: Moment,
) -> Result<bool, StoreError> {
    let used = recovery_code::Entity::update_many()
        .col_expr(recovery_code::Column::UsedAt, Expr::val(now.0))
        .filter(recovery_code::Column::CodeHash.eq(hash))
        .filter(recovery_code::Column::PersonId.eq(person))
        .filter(recovery_code::Column::UsedAt.is_null())
        .exec(db)
        .await?;
    Ok(used.rows_affected == 1)
}

/// Whether a person has the recovery code of this hash, used or not.
///
/// # Errors
/// Those of every query.
pub async fn has_recovery(db: &impl ConnectionTrait, person: PersonId, hash: &str) -> Result<bool, StoreError> {
    let found = recovery_code::Entity::find_by_id(hash.to_owned()).filter(recovery_code::Column::PersonId.eq(person));
    Ok(found.one(db).await?.is_some())
}

/// How many recovery codes a person has left.
///
/// # Errors
/// Those of every query.
pub async fn recovery_left(db: &impl ConnectionTrait, person: PersonId) -> Result<u64, StoreError> {
    let left = recovery_code::Entity::find()
        .filter(recovery_code::Column::PersonId.eq(person))
        .filter(recovery_code::Column::UsedAt.is_null());
    Ok(left.count(db).await?)
}
