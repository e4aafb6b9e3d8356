//! Flags: questions of an open examination that somebody wants to come back to.
//!
//! Never an answer, and never part of what an attempt is graded by.

use super::AttemptState;
use crate::domain::units::Moment;
use crate::store::{AttemptId, PersonId, StoreError, conflict, entity::question_flag};
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*, sea_query::OnConflict,
};
use std::collections::BTreeSet;

/// Sets or takes off the flag of a question; twice is the same as once. Gives whether the attempt was still open, in which
/// alone it is done.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt, or it has no such question.
pub async fn set_flag(
    db: &impl ConnectionTrait,
    person: PersonId,
    attempt: AttemptId,
    position: i32,
    flagged: bool,
    now: Moment,
) -> Result<bool, StoreError> {
    let locked = super::lock(db, person, attempt).await?;
    if locked.state != AttemptState::Open || locked.deadline_at.is_some_and(|deadline| now.0 > deadline.0) {
        return Ok(false);
    }
    if !flagged {
        question_flag::Entity::delete_by_id((attempt, position)).exec(db).await?;
        return Ok(true);
    }
    let row =
        question_flag::ActiveModel { attempt_id: Set(attempt), position: Set(position), flagged_at: Set(now.into()) };
    let again = OnConflict::columns([question_flag::Column::AttemptId, question_flag::Column::Position])
        .update_column(question_flag::Column::FlaggedAt)
        .to_owned();
    let done = question_flag::Entity::insert(row).on_conflict(again).exec_without_returning(db).await;
    match done.map_err(StoreError::from) {
        Ok(_) => Ok(true),
        Err(StoreError::Conflict(name)) if name == conflict::REFERENCE => Err(StoreError::NotFound),
        Err(error) => Err(error),
    }
}

/// The places that are flagged.
///
/// # Errors
/// Those of every query.
pub async fn flags(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<BTreeSet<i32>, StoreError> {
    let own = question_flag::Entity::find().filter(question_flag::Column::AttemptId.eq(attempt));
    let rows = own.order_by_asc(question_flag::Column::Position).all(db).await?;
    Ok(rows.into_iter().map(|row| row.position).collect())
}
