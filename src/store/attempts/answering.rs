//! Answering: saved answer by answer while the attempt is open, handed in once.
//!
//! Never saves into a closed attempt, and never hands one in twice, however often and however fast it is asked.

use super::{Attempt, AttemptQuestion, AttemptState};
use crate::domain::units::Moment;
use crate::store::{
    AttemptId, PersonId, StoreError,
    columns::Ts,
    conflict,
    entity::{attempt, response},
};
use sea_orm::{
    ActiveValue::Set,
    ConnectionTrait, EntityTrait, ExprTrait, IntoActiveModel, QueryFilter, QueryOrder,
    prelude::*,
    sea_query::{OnConflict, Query},
};

/// An answer as it was last saved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Response {
    /// Which question it answers.
    pub position: i32,
    /// The answer as JSON, byte by byte.
    pub answer: String,
    /// When it was saved.
    pub saved_at: Moment,
    /// How many times it was saved.
    pub revision: i32,
}

impl From<response::Model> for Response {
    fn from(row: response::Model) -> Self {
        Self { position: row.position, answer: row.answer, saved_at: row.saved_at.into(), revision: row.revision }
    }
}

/// What became of an answer that was to be saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Saving {
    /// It is in the transaction; saved once that is committed.
    Saved {
        /// How many times this answer was saved, this time included.
        revision: i32,
    },
    /// The attempt was handed in, or its time is over.
    Closed,
    /// The question goes on from the one before it, which has no saved answer.
    TooEarly,
    /// The next part of the case may have been read already, so this answer stays as it is.
    Fixed,
}

/// What became of an attempt that was to be handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Submission {
    /// It is handed in now: grade it.
    First(Attempt),
    /// The same hand-in has come before (a double click, a second try after a broken line).
    Repeated(Attempt),
    /// It was handed in before by another page, by the clock, or by whoever watched.
    Closed(Attempt),
}

/// Saves an answer of an open attempt whose time is not over; a later one replaces it and raises its revision. Inside a
/// case the parts are answered in their order, and the answer to a part that another follows is never replaced.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt, or it has no such question.
pub async fn save_response(
    db: &impl ConnectionTrait,
    person: PersonId,
    attempt: AttemptId,
    asked: &AttemptQuestion,
    answer: &str,
    now: Moment,
) -> Result<Saving, StoreError> {
    let in_case = asked.question.follows() || asked.question.is_followed();
    if !in_case && let Some(revision) = save_while_open(db, person, attempt, (asked.position, answer), now).await? {
        return Ok(Saving::Saved { revision });
    }
    let locked = super::lock(db, person, attempt).await?;
    if locked.state != AttemptState::Open || locked.deadline_at.is_some_and(|deadline| now.0 > deadline.0) {
        return Ok(Saving::Closed);
    }
    if in_case && let Some(refused) = refused_in_case(db, attempt, asked, answer).await? {
        return Ok(refused);
    }
    let saved = save_while_open(db, person, attempt, (asked.position, answer), now).await?;
    Ok(saved.map_or(Saving::Closed, |revision| Saving::Saved { revision }))
}

/// One statement that saves an answer if the person has this attempt, it is open and its time not over; gives the answer's
/// revision then. The attempt is locked until the transaction ends.
async fn save_while_open(
    db: &impl ConnectionTrait,
    person: PersonId,
    attempt: AttemptId,
    (position, answer): (i32, &str),
    now: Moment,
) -> Result<Option<i32>, StoreError> {
    let now = Ts::from(now);
    let in_time = attempt::Column::DeadlineAt.is_null().or(attempt::Column::DeadlineAt.gte(now));
    let open = Query::select()
        .column(attempt::Column::Id)
        .expr(Expr::val(position))
        .expr(Expr::val(answer))
        .expr(Expr::val(now))
        .expr(Expr::val(1))
        .from(attempt::Entity)
        .and_where(attempt::Column::Id.eq(attempt))
        .and_where(attempt::Column::PersonId.eq(person))
        .and_where(attempt::Column::State.eq(AttemptState::Open))
        .and_where(in_time)
        .lock_exclusive()
        .to_owned();
    let replace = OnConflict::columns([response::Column::AttemptId, response::Column::Position])
        .update_columns([response::Column::Answer, response::Column::SavedAt])
        .value(response::Column::Revision, Expr::col((response::Entity, response::Column::Revision)).add(1))
        .to_owned();
    let columns = [
        response::Column::AttemptId,
        response::Column::Position,
        response::Column::Answer,
        response::Column::SavedAt,
        response::Column::Revision,
    ];
    let mut insert = Query::insert();
    insert.into_table(response::Entity).columns(columns).returning_col(response::Column::Revision).on_conflict(replace);
    insert.select_from(open).map_err(|error| StoreError::Corrupt(error.to_string()))?;
    match db.query_one(&insert).await.map_err(StoreError::from) {
        Ok(saved) => Ok(saved.map(|row| row.try_get_by_index(0)).transpose()?),
        Err(StoreError::Conflict(name)) if name == conflict::REFERENCE => Err(StoreError::NotFound),
        Err(error) => Err(error),
    }
}

/// Why an answer inside a case is not taken now; the same answer once more (a double click) counts as saved.
async fn refused_in_case(
    db: &impl ConnectionTrait,
    attempt: AttemptId,
    AttemptQuestion { position, question }: &AttemptQuestion,
    answer: &str,
) -> Result<Option<Saving>, StoreError> {
    let near = response::Entity::find()
        .filter(response::Column::AttemptId.eq(attempt))
        .filter(response::Column::Position.between(position - 1, *position))
        .all(db)
        .await?;
    let at = |wanted: i32| near.iter().find(|saved| saved.position == wanted);
    if question.follows() && at(position - 1).is_none() {
        return Ok(Some(Saving::TooEarly));
    }
    Ok(at(*position)
        .filter(|_| question.is_followed())
        .map(|saved| if saved.answer == answer { Saving::Saved { revision: saved.revision } } else { Saving::Fixed }))
}

/// The answers of an attempt, by position.
///
/// # Errors
/// Those of every query.
pub async fn responses(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Vec<Response>, StoreError> {
    let rows = response::Entity::find()
        .filter(response::Column::AttemptId.eq(attempt))
        .order_by_asc(response::Column::Position)
        .all(db)
        .await?;
    Ok(rows.into_iter().map(Response::from).collect())
}

/// Hands an attempt in: by the person with the key of their form, or by the clock without one.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt.
pub async fn mark_submitted(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
    submit_key: Option<&str>,
    now: Moment,
) -> Result<Submission, StoreError> {
    let state = if submit_key.is_some() { AttemptState::Submitted } else { AttemptState::Expired };
    close(db, person, id, (state, submit_key, None), now).await
}

/// Ends a person's attempt by whoever watches it.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt.
pub async fn mark_ended(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
    by: PersonId,
    now: Moment,
) -> Result<Submission, StoreError> {
    close(db, person, id, (AttemptState::Expired, None, Some(by)), now).await
}

async fn close(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
    (state, submit_key, ended_by): (AttemptState, Option<&str>, Option<PersonId>),
    now: Moment,
) -> Result<Submission, StoreError> {
    let locked = super::lock(db, person, id).await?;
    if locked.state != AttemptState::Open {
        let same = submit_key.is_some() && locked.submit_key.as_deref() == submit_key;
        let before = Attempt::try_from(locked)?;
        return Ok(if same { Submission::Repeated(before) } else { Submission::Closed(before) });
    }
    let mut row = locked.into_active_model();
    row.state = Set(state);
    row.submitted_at = Set(Some(Ts::from(now)));
    row.submit_key = Set(submit_key.map(str::to_owned));
    row.ended_by = Set(ended_by);
    Ok(Submission::First(attempt::Entity::update(row).exec(db).await?.try_into()?))
}
