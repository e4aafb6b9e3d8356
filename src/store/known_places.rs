//! From where accounts were rightly signed in to of late: an account together with a network address, or with a browser.
//!
//! Knows no account and no place, only hashes of them under a key. Never decides what somebody may do from there.

use super::{StoreError, columns::Ts, entity::known_place};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, prelude::*, sea_query::OnConflict};

/// When a place was last signed in from; nothing when it is not known.
///
/// # Errors
/// Those of every query.
pub async fn find(db: &impl ConnectionTrait, place_hash: &str) -> Result<Option<Moment>, StoreError> {
    Ok(known_place::Entity::find_by_id(place_hash.to_owned()).one(db).await?.map(|row| row.last_at.into()))
}

/// Keeps that a place of an account was signed in from at `now`.
///
/// # Errors
/// Those of every write.
pub async fn keep(
    db: &impl ConnectionTrait,
    place_hash: &str,
    account_hash: &str,
    now: Moment,
) -> Result<(), StoreError> {
    let row = known_place::ActiveModel {
        place_hash: Set(place_hash.to_owned()),
        account_hash: Set(account_hash.to_owned()),
        last_at: Set(Ts::from(now)),
    };
    let again =
        OnConflict::column(known_place::Column::PlaceHash).update_column(known_place::Column::LastAt).to_owned();
    known_place::Entity::insert(row).on_conflict(again).exec_without_returning(db).await?;
    Ok(())
}

/// Forgets every place of an account.
///
/// # Errors
/// Those of every write.
pub async fn forget_account(db: &impl ConnectionTrait, account_hash: &str) -> Result<(), StoreError> {
    known_place::Entity::delete_many().filter(known_place::Column::AccountHash.eq(account_hash)).exec(db).await?;
    Ok(())
}

/// Forgets every place that was signed in from last at `before` or earlier.
///
/// # Errors
/// Those of every write.
pub async fn sweep(db: &impl ConnectionTrait, before: Moment) -> Result<(), StoreError> {
    known_place::Entity::delete_many().filter(known_place::Column::LastAt.lte(before.0)).exec(db).await?;
    Ok(())
}
