//! The secret addresses of service managers' calendars, one each. Only their hashes are kept.

use super::entity::calendar_feed;
use super::{PersonId, StoreError};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, prelude::*, sea_query::OnConflict};

/// Gives a person's calendar a new address; the one before it opens nothing any more.
///
/// # Errors
/// Those of every write.
pub async fn renew(db: &impl ConnectionTrait, person: PersonId, hash: &str, now: Moment) -> Result<(), StoreError> {
    let row = calendar_feed::ActiveModel {
        person_id: Set(person),
        token_hash: Set(hash.to_owned()),
        made_at: Set(now.into()),
    };
    let anew = OnConflict::column(calendar_feed::Column::PersonId)
        .update_columns([calendar_feed::Column::TokenHash, calendar_feed::Column::MadeAt])
        .to_owned();
    calendar_feed::Entity::insert(row).on_conflict(anew).exec_without_returning(db).await?;
    Ok(())
}

/// Whose calendar has the address of this hash.
///
/// # Errors
/// Those of every query.
pub async fn find_person(db: &impl ConnectionTrait, hash: &str) -> Result<Option<PersonId>, StoreError> {
    let found = calendar_feed::Entity::find().filter(calendar_feed::Column::TokenHash.eq(hash)).one(db).await?;
    Ok(found.map(|row| row.person_id))
}

/// When a person's calendar got its address; nothing when it has none.
///
/// # Errors
/// Those of every query.
pub async fn find_made_at(db: &impl ConnectionTrait, person: PersonId) -> Result<Option<Moment>, StoreError> {
    Ok(calendar_feed::Entity::find_by_id(person).one(db).await?.map(|row| row.made_at.into()))
}

/// Takes a person's calendar away.
///
/// # Errors
/// Those of every query.
pub async fn delete(db: &impl ConnectionTrait, person: PersonId) -> Result<(), StoreError> {
    calendar_feed::Entity::delete_by_id(person).exec(db).await?;
    Ok(())
}
