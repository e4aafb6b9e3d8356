//! Which kinds of letters people do not want, and the secrets of the links that end them. Only hashes of secrets are kept.
//!
//! Never decides which kinds may be refused: the domain does, and the database holds no other.

use super::columns::{from_word, word};
use super::entity::{letter_refusal, unsubscribe_token};
use super::{PersonId, StoreError};
use crate::domain::letters::Kind;
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*, sea_query::OnConflict,
};
use std::collections::{BTreeMap, BTreeSet};

/// Somebody does not want letters of a kind from now on. Gives whether that is new.
///
/// # Errors
/// Those of every write; the database refuses a kind that always reaches people.
pub async fn refuse(db: &impl ConnectionTrait, person: PersonId, kind: Kind, now: Moment) -> Result<bool, StoreError> {
    let row =
        letter_refusal::ActiveModel { person_id: Set(person), kind: Set(word(kind)), refused_at: Set(now.into()) };
    let key = [letter_refusal::Column::PersonId, letter_refusal::Column::Kind];
    let first_counts = OnConflict::columns(key).do_nothing().to_owned();
    let insert = letter_refusal::Entity::insert(row).on_conflict(first_counts);
    Ok(insert.exec_without_returning(db).await? > 0)
}

/// Somebody wants letters of a kind again. Gives whether that is new.
///
/// # Errors
/// Those of every write.
pub async fn want(db: &impl ConnectionTrait, person: PersonId, kind: Kind) -> Result<bool, StoreError> {
    Ok(letter_refusal::Entity::delete_by_id((person, word(kind))).exec(db).await?.rows_affected > 0)
}

/// The kinds that somebody does not want, each with since when.
///
/// # Errors
/// Those of every query.
pub async fn refused_by(db: &impl ConnectionTrait, person: PersonId) -> Result<BTreeMap<Kind, Moment>, StoreError> {
    let own = letter_refusal::Entity::find().filter(letter_refusal::Column::PersonId.eq(person));
    let rows = own.order_by_asc(letter_refusal::Column::Kind).all(db).await?;
    rows.into_iter().map(|row| Ok((from_word("letter_refusal.kind", &row.kind)?, row.refused_at.into()))).collect()
}

/// Who does not want which kind.
///
/// # Errors
/// Those of every query.
pub async fn all_refused(db: &impl ConnectionTrait) -> Result<BTreeSet<(PersonId, Kind)>, StoreError> {
    let rows = letter_refusal::Entity::find().all(db).await?;
    rows.into_iter().map(|row| Ok((row.person_id, from_word("letter_refusal.kind", &row.kind)?))).collect()
}

/// Keeps what a letter's link ends.
///
/// # Errors
/// Those of every write.
pub async fn keep_link(
    db: &impl ConnectionTrait,
    hash: &str,
    person: PersonId,
    kind: Kind,
    now: Moment,
) -> Result<(), StoreError> {
    let row = unsubscribe_token::ActiveModel {
        token_hash: Set(hash.to_owned()),
        person_id: Set(person),
        kind: Set(word(kind)),
        made_at: Set(now.into()),
    };
    unsubscribe_token::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// What the link of this hash ends; nothing when there is none.
///
/// # Errors
/// Those of every query.
pub async fn find_link(db: &impl ConnectionTrait, hash: &str) -> Result<Option<(PersonId, Kind)>, StoreError> {
    let row = unsubscribe_token::Entity::find_by_id(hash.to_owned()).one(db).await?;
    row.map(|row| Ok((row.person_id, from_word("unsubscribe_token.kind", &row.kind)?))).transpose()
}

/// Takes a person's choices and links away.
///
/// # Errors
/// Those of every write.
pub async fn forget(db: &impl ConnectionTrait, person: PersonId) -> Result<(), StoreError> {
    let choices = letter_refusal::Entity::delete_many().filter(letter_refusal::Column::PersonId.eq(person));
    choices.exec(db).await?;
    let links = unsubscribe_token::Entity::delete_many().filter(unsubscribe_token::Column::PersonId.eq(person));
    links.exec(db).await?;
    Ok(())
}
