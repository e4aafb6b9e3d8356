//! Invitations: a mailed token with which a person chooses their first password. Only hashes of tokens are kept.
//!
//! Never lets one be used twice.

use super::{PersonId, StoreError, entity::invitation};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// An invitation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invitation {
    /// SHA-256 of the token in the mail, in hexadecimal.
    pub token_hash: String,
    /// Who is invited.
    pub person_id: PersonId,
    /// When it was sent.
    pub created_at: Moment,
    /// Until when it can be used.
    pub expires_at: Moment,
}

/// Keeps an invitation.
///
/// # Errors
/// [`super::conflict::REFERENCE`] when there is no such person.
pub async fn insert(db: &impl ConnectionTrait, new: Invitation) -> Result<(), StoreError> {
    let row = invitation::ActiveModel {
        token_hash: Set(new.token_hash),
        person_id: Set(new.person_id),
        created_at: Set(new.created_at.into()),
        expires_at: Set(new.expires_at.into()),
        used_at: Set(None),
    };
    invitation::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The invitation that can still be used at `now`.
///
/// # Errors
/// Those of every query.
pub async fn find_usable(
    db: &impl ConnectionTrait,
    token_hash: &str,
    now: Moment,
) -> Result<Option<Invitation>, StoreError> {
    let row = invitation::Entity::find_by_id(token_hash.to_owned())
        .filter(invitation::Column::UsedAt.is_null())
        .filter(invitation::Column::ExpiresAt.gt(now.0))
        .one(db)
        .await?;
    Ok(row.map(|row| Invitation {
        token_hash: row.token_hash,
        person_id: row.person_id,
        created_at: row.created_at.into(),
        expires_at: row.expires_at.into(),
    }))
}

/// Whose an invitation is or was, whether or not it can still be used.
///
/// # Errors
/// Those of every query.
pub async fn find_person(db: &impl ConnectionTrait, token_hash: &str) -> Result<Option<PersonId>, StoreError> {
    Ok(invitation::Entity::find_by_id(token_hash.to_owned()).one(db).await?.map(|row| row.person_id))
}

/// Whose an invitation was that was used after `since`.
///
/// # Errors
/// Those of every query.
pub async fn find_used(
    db: &impl ConnectionTrait,
    token_hash: &str,
    since: Moment,
) -> Result<Option<PersonId>, StoreError> {
    let used = invitation::Entity::find_by_id(token_hash.to_owned()).filter(invitation::Column::UsedAt.gt(since.0));
    Ok(used.one(db).await?.map(|row| row.person_id))
}

/// Uses an invitation up and gives whose it was.
///
/// # Errors
/// [`StoreError::NotFound`] when it was used, is over, or never was.
pub async fn mark_used(db: &impl ConnectionTrait, token_hash: &str, now: Moment) -> Result<PersonId, StoreError> {
    let used = invitation::Entity::update_many()
        .col_expr(invitation::Column::UsedAt, Expr::val(now.0))
        .filter(invitation::Column::TokenHash.eq(token_hash))
        .filter(invitation::Column::UsedAt.is_null())
        .filter(invitation::Column::ExpiresAt.gt(now.0))
        .exec_with_returning(db)
        .await?;
    used.into_iter().next().map(|row| row.person_id).ok_or(StoreError::NotFound)
}

/// Takes back what a person has not used, as before a new invitation, or once a password is chosen; gives how many.
///
/// # Errors
/// Those of every query.
pub async fn delete_unused(db: &impl ConnectionTrait, person: PersonId) -> Result<u64, StoreError> {
    let taken_back = invitation::Entity::delete_many()
        .filter(invitation::Column::PersonId.eq(person))
        .filter(invitation::Column::UsedAt.is_null())
        .exec(db)
        .await?;
    Ok(taken_back.rows_affected)
}

/// Every invitation of a person, the oldest first, with the moment it was used.
///
/// # Errors
/// Those of every query.
pub async fn of_person(
    db: &impl ConnectionTrait,
    person: PersonId,
) -> Result<Vec<(Invitation, Option<Moment>)>, StoreError> {
    let own = invitation::Entity::find().filter(invitation::Column::PersonId.eq(person));
    let rows = own.order_by_asc(invitation::Column::CreatedAt).all(db).await?;
    let invitations = rows.into_iter().map(|row| {
        let used_at = row.used_at.map(Moment::from);
        let (created_at, expires_at) = (row.created_at.into(), row.expires_at.into());
        (Invitation { token_hash: row.token_hash, person_id: row.person_id, created_at, expires_at }, used_at)
    });
    Ok(invitations.collect())
}

/// Deletes every invitation of a person, used or not; gives how many there were.
///
/// # Errors
/// Those of every write.
pub async fn delete_all_for_person(db: &impl ConnectionTrait, person: PersonId) -> Result<u64, StoreError> {
    let own = invitation::Entity::delete_many().filter(invitation::Column::PersonId.eq(person));
    Ok(own.exec(db).await?.rows_affected)
}
