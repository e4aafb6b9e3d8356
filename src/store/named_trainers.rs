//! Who was named as somebody's trainer, and when.
//!
//! Never forgets one: whoever was named trained the person, also after somebody else was.

use super::entity::named_trainer;
use super::{PersonId, RecordEntryId, StoreError};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// A trainer was named, or the naming was taken back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named {
    /// Whose trainer.
    pub person_id: PersonId,
    /// Who; nobody when it was taken back.
    pub trainer_id: Option<PersonId>,
    /// Who said so.
    pub named_by: PersonId,
    /// When.
    pub named_at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// Keeps one.
///
/// # Errors
/// [`super::conflict::REFERENCE`] when there is no such person.
pub async fn append(db: &impl ConnectionTrait, new: Named) -> Result<(), StoreError> {
    let row = named_trainer::ActiveModel {
        person_id: Set(new.person_id),
        trainer_id: Set(new.trainer_id),
        named_by: Set(new.named_by),
        named_at: Set(new.named_at.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    named_trainer::Entity::insert(row).exec(db).await?;
    Ok(())
}

/// Every naming of a person's trainer, oldest first: the last one counts.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Named>, StoreError> {
    let own = named_trainer::Entity::find().filter(named_trainer::Column::PersonId.eq(person));
    Ok(plain(own.order_by_asc(named_trainer::Column::Id).all(db).await?))
}

/// Every naming, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Named>, StoreError> {
    Ok(plain(named_trainer::Entity::find().order_by_asc(named_trainer::Column::Id).all(db).await?))
}

fn plain(rows: Vec<named_trainer::Model>) -> Vec<Named> {
    let named = rows.into_iter().map(|row| Named {
        person_id: row.person_id,
        trainer_id: row.trainer_id,
        named_by: row.named_by,
        named_at: row.named_at.into(),
        record_entry_id: row.record_entry_id,
    });
    named.collect()
}
