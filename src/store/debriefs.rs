//! Talks between a trainer and a person after a mandatory question was answered wrongly.
//!
//! Never decides whether one is needed; [`super::read::debriefs`] lists the attempts that wait for theirs.

use super::{AttemptId, PersonId, StoreError, entity::debrief};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// One talk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Debrief {
    /// About which attempt.
    pub attempt_id: AttemptId,
    /// Who held it.
    pub trainer_id: PersonId,
    /// What was said.
    pub note: String,
    /// When.
    pub held_at: Moment,
}

impl From<debrief::Model> for Debrief {
    fn from(row: debrief::Model) -> Self {
        Self { attempt_id: row.attempt_id, trainer_id: row.trainer_id, note: row.note, held_at: row.held_at.into() }
    }
}

/// Keeps a talk.
///
/// # Errors
/// [`super::conflict::DEBRIEF`] when there was one about this attempt already.
pub async fn insert(db: &impl ConnectionTrait, new: Debrief) -> Result<(), StoreError> {
    let row = debrief::ActiveModel {
        attempt_id: Set(new.attempt_id),
        trainer_id: Set(new.trainer_id),
        note: Set(new.note),
        held_at: Set(new.held_at.into()),
        ..Default::default()
    };
    debrief::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The talk about an attempt, once it was held.
///
/// # Errors
/// Those of every query.
pub async fn find_of_attempt(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Option<Debrief>, StoreError> {
    let row = debrief::Entity::find().filter(debrief::Column::AttemptId.eq(attempt)).one(db).await?;
    Ok(row.map(Debrief::from))
}

/// Every talk, by attempt.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Debrief>, StoreError> {
    let rows = debrief::Entity::find().order_by_asc(debrief::Column::AttemptId).all(db).await?;
    Ok(rows.into_iter().map(Debrief::from).collect())
}
