//! The questions of an attempt, frozen as they were shown.

use crate::store::{
    AttemptId, PersonId, StoreError,
    entity::{attempt, attempt_question},
};
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect, Select,
    prelude::*,
};

use super::{Attempt, AttemptKind, AttemptState};

/// How many rows go into one statement: far below SQLite's limit of variables.
const ROWS_AT_ONCE: usize = 200;

/// A question as it was shown, and from which versions it can be made again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AttemptQuestion {
    /// Its place in the attempt, from 1.
    pub position: i32,
    /// What it is and where it came from.
    pub question: NewQuestion,
}

/// A question that is to be frozen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewQuestion {
    /// Its template.
    pub template_key: String,
    /// The template's version.
    pub template_version: i32,
    /// Its machine.
    pub machine_key: String,
    /// The machine profile's version.
    pub machine_version: i32,
    /// The model's version.
    pub model_version: i32,
    /// What it asks for.
    pub competence_key: String,
    /// Whether a wrong answer alone means not qualified.
    pub mandatory: bool,
    /// The whole question as JSON, byte by byte, its key included.
    pub json: String,
    /// Which part of its case it is, from 1; 1 when it stands alone.
    pub part: i32,
    /// How many parts its case has; 1 when it stands alone.
    pub parts: i32,
}

impl NewQuestion {
    /// Whether it goes on from the question before it, so that it may be seen only once that one is answered.
    #[must_use]
    pub const fn follows(&self) -> bool {
        self.part > 1
    }

    /// Whether the question after it goes on from it, so that its saved answer is fixed.
    #[must_use]
    pub const fn is_followed(&self) -> bool {
        self.part < self.parts
    }
}

impl From<attempt_question::Model> for AttemptQuestion {
    fn from(row: attempt_question::Model) -> Self {
        Self {
            position: row.position,
            question: NewQuestion {
                template_key: row.template_key,
                template_version: row.template_version,
                machine_key: row.machine_key,
                machine_version: row.machine_version,
                model_version: row.model_version,
                competence_key: row.competence_key,
                mandatory: row.mandatory,
                json: row.question,
                part: row.part,
                parts: row.parts,
            },
        }
    }
}

pub(super) async fn insert_numbered(
    db: &impl ConnectionTrait,
    attempt: AttemptId,
    questions: Vec<NewQuestion>,
) -> Result<(), StoreError> {
    let mut rows = Vec::with_capacity(questions.len());
    for (position, question) in (1..).zip(questions) {
        rows.push(row(attempt, position, question));
    }
    while !rows.is_empty() {
        let rest = rows.split_off(rows.len().min(ROWS_AT_ONCE));
        attempt_question::Entity::insert_many(rows).exec_without_returning(db).await?;
        rows = rest;
    }
    Ok(())
}

fn row(attempt: AttemptId, position: i32, new: NewQuestion) -> attempt_question::ActiveModel {
    attempt_question::ActiveModel {
        attempt_id: Set(attempt),
        position: Set(position),
        template_key: Set(new.template_key),
        template_version: Set(new.template_version),
        machine_key: Set(new.machine_key),
        machine_version: Set(new.machine_version),
        model_version: Set(new.model_version),
        competence_key: Set(new.competence_key),
        mandatory: Set(new.mandatory),
        question: Set(new.json),
        part: Set(new.part),
        parts: Set(new.parts),
        ..Default::default()
    }
}

/// Adds one more question to an open attempt, as practice does; gives its position.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such open attempt.
pub async fn append_question(
    db: &impl ConnectionTrait,
    person: PersonId,
    attempt: AttemptId,
    new: NewQuestion,
) -> Result<i32, StoreError> {
    if super::lock(db, person, attempt).await?.state != AttemptState::Open {
        return Err(StoreError::NotFound);
    }
    let last = of_attempt(attempt).order_by_desc(attempt_question::Column::Position).one(db).await?;
    let position = last.map_or(1, |row| row.position + 1);
    attempt_question::Entity::insert(row(attempt, position, new)).exec_without_returning(db).await?;
    Ok(position)
}

/// The questions of an attempt, in order.
///
/// # Errors
/// Those of every query.
pub async fn questions(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Vec<AttemptQuestion>, StoreError> {
    let rows = of_attempt(attempt).order_by_asc(attempt_question::Column::Position).all(db).await?;
    Ok(rows.into_iter().map(AttemptQuestion::from).collect())
}

/// One question of an attempt.
///
/// # Errors
/// [`StoreError::NotFound`] when the attempt has none at this position.
pub async fn question(
    db: &impl ConnectionTrait,
    attempt: AttemptId,
    position: i32,
) -> Result<AttemptQuestion, StoreError> {
    let row = of_attempt(attempt).filter(attempt_question::Column::Position.eq(position)).one(db).await?;
    row.map(AttemptQuestion::from).ok_or(StoreError::NotFound)
}

/// A person's own attempt with one of its questions; one query.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt, or it has no such question.
pub async fn asked_of(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
    position: i32,
) -> Result<(Attempt, AttemptQuestion), StoreError> {
    let found = of_attempt(id)
        .filter(attempt_question::Column::Position.eq(position))
        .find_also_related(attempt::Entity)
        .filter(attempt::Column::PersonId.eq(person))
        .one(db)
        .await?;
    let Some((question, Some(attempt))) = found else { return Err(StoreError::NotFound) };
    Ok((attempt.try_into()?, question.into()))
}

/// Every question that a person was ever asked in attempts of a kind, as it was frozen, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn asked_so_far(
    db: &impl ConnectionTrait,
    person: PersonId,
    kind: AttemptKind,
) -> Result<Vec<String>, StoreError> {
    let all = attempt_question::Entity::find().select_only().column(attempt_question::Column::Question);
    let own = all.inner_join(attempt::Entity).filter(attempt::Column::PersonId.eq(person));
    let of_kind = own.filter(attempt::Column::Kind.eq(kind)).order_by_asc(attempt_question::Column::Id);
    Ok(of_kind.into_tuple().all(db).await?)
}

/// How many questions a person was ever asked.
///
/// # Errors
/// Those of every query.
pub async fn count_asked(db: &impl ConnectionTrait, person: PersonId) -> Result<usize, StoreError> {
    let all = attempt_question::Entity::find().inner_join(attempt::Entity);
    let count = all.filter(attempt::Column::PersonId.eq(person)).count(db).await?;
    usize::try_from(count).map_err(|_| StoreError::Corrupt(format!("{count} questions of one person")))
}

fn of_attempt(attempt: AttemptId) -> Select<attempt_question::Entity> {
    attempt_question::Entity::find().filter(attempt_question::Column::AttemptId.eq(attempt))
}
