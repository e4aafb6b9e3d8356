//! Attempts: one person's sitting or practice, its frozen questions, what was answered, and what it was worth.
//!
//! Never shows one person's attempt to another: whose it is, is part of every question that a person asks. Never
//! grades, and never reads what a question says.

mod answering;
mod digest;
mod flags;
mod places;
mod questions;
mod results;

pub use answering::{Response, Saving, Submission, mark_ended, mark_submitted, responses, save_response};
pub use digest::{MAKING, digest, digest_of};
pub use flags::{flags, set_flag};
pub use places::{AtPlace, Place, at_place, places};
pub use questions::{
    AttemptQuestion, NewQuestion, append_question, asked_of, asked_so_far, count_asked, question, questions,
};
pub(super) use results::misconceptions;
pub use results::{AttemptResult, Grade, find_result, grades, store_grades_and_result};

use super::{AttemptId, InvigilationId, PersonId, StoreError, columns, entity::attempt};
use crate::domain::units::{Moment, TemperatureUnit};
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, DeriveActiveEnum, EntityTrait, EnumIter, QueryFilter, QueryOrder, QuerySelect,
    Select, prelude::*,
};

/// What an attempt is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum AttemptKind {
    /// To learn: each answer is explained at once.
    Practice,
    /// To be examined.
    Examination,
}

/// Where an attempt stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum AttemptState {
    /// Answers are saved.
    Open,
    /// Handed in by the person.
    Submitted,
    /// Handed in by the clock; or by whoever watched, when [`Attempt::ended_by`] says so.
    Expired,
}

/// One attempt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attempt {
    /// Its number.
    pub id: AttemptId,
    /// Whose it is.
    pub person_id: PersonId,
    /// What it is for.
    pub kind: AttemptKind,
    /// Of an examination: its scheme.
    pub scheme_key: Option<String>,
    /// Of an examination: the scheme's version.
    pub scheme_version: Option<i32>,
    /// Of practice: its module.
    pub module_key: Option<String>,
    /// What its questions were drawn from.
    pub seed: [u8; 32],
    /// The scale its questions are in.
    pub temperature_unit: TemperatureUnit,
    /// Where it stands.
    pub state: AttemptState,
    /// When it began.
    pub started_at: Moment,
    /// When the clock hands it in.
    pub deadline_at: Option<Moment>,
    /// When it was handed in.
    pub submitted_at: Option<Moment>,
    /// How many seconds more than the scheme gives it was begun with.
    pub extra_s: i64,
    /// Under whose eyes it was begun.
    pub invigilation_id: Option<InvigilationId>,
    /// Who of those who watched ended it.
    pub ended_by: Option<PersonId>,
}

/// Under which terms an attempt is begun; they never change after that.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Terms {
    /// Seconds more than the scheme gives; the deadline has them already.
    pub extra_s: i64,
    /// Under whose eyes.
    pub invigilation_id: Option<InvigilationId>,
}

/// What is needed to begin an attempt.
#[derive(Clone, Debug)]
pub struct NewAttempt {
    /// Whose it is.
    pub person_id: PersonId,
    /// What it is for.
    pub kind: AttemptKind,
    /// Of an examination: its scheme.
    pub scheme_key: Option<String>,
    /// Of an examination: the scheme's version.
    pub scheme_version: Option<i32>,
    /// Of practice: its module.
    pub module_key: Option<String>,
    /// What its questions are drawn from.
    pub seed: [u8; 32],
    /// The scale its questions are in.
    pub temperature_unit: TemperatureUnit,
    /// Now.
    pub started_at: Moment,
    /// When the clock hands it in.
    pub deadline_at: Option<Moment>,
}

impl Attempt {
    /// Whether the clock handed it in.
    #[must_use]
    pub fn is_by_the_clock(&self) -> bool {
        self.state == AttemptState::Expired && self.ended_by.is_none()
    }

    /// How many seconds it may take in all; nothing for practice.
    #[must_use]
    pub fn limit_s(&self) -> Option<i64> {
        Some(self.deadline_at?.seconds_since(self.started_at))
    }

    /// Whether it is still open although its time is over: the clock has not handed it in yet.
    #[must_use]
    pub fn is_overdue(&self, now: Moment) -> bool {
        self.state == AttemptState::Open && self.deadline_at.is_some_and(|deadline| now > deadline)
    }
}

impl TryFrom<attempt::Model> for Attempt {
    type Error = StoreError;
    fn try_from(row: attempt::Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: row.id,
            person_id: row.person_id,
            kind: row.kind,
            scheme_key: row.scheme_key,
            scheme_version: row.scheme_version,
            module_key: row.module_key,
            seed: row.seed.try_into().map_err(|_| StoreError::Corrupt("attempt.seed is not 32 bytes".to_owned()))?,
            temperature_unit: columns::unit(&row.temperature_unit)?,
            state: row.state,
            started_at: row.started_at.into(),
            deadline_at: row.deadline_at.map(Moment::from),
            submitted_at: row.submitted_at.map(Moment::from),
            extra_s: row.extra_s,
            invigilation_id: row.invigilation_id,
            ended_by: row.ended_by,
        })
    }
}

/// Begins an attempt with its questions, which are numbered from 1.
///
/// # Errors
/// [`super::conflict::OPEN_EXAMINATION`] when the person already sits one for this scheme.
pub async fn open_attempt(
    db: &impl ConnectionTrait,
    new: NewAttempt,
    with: Vec<NewQuestion>,
) -> Result<AttemptId, StoreError> {
    open_under(db, new, Terms::default(), with).await
}

/// The same under terms of its own.
///
/// # Errors
/// [`super::conflict::OPEN_EXAMINATION`] when the person already sits one for this scheme.
pub async fn open_under(
    db: &impl ConnectionTrait,
    new: NewAttempt,
    terms: Terms,
    with: Vec<NewQuestion>,
) -> Result<AttemptId, StoreError> {
    let row = attempt::ActiveModel {
        person_id: Set(new.person_id),
        kind: Set(new.kind),
        scheme_key: Set(new.scheme_key),
        scheme_version: Set(new.scheme_version),
        module_key: Set(new.module_key),
        seed: Set(new.seed.to_vec()),
        temperature_unit: Set(columns::unit_text(new.temperature_unit).to_owned()),
        state: Set(AttemptState::Open),
        started_at: Set(new.started_at.into()),
        deadline_at: Set(new.deadline_at.map(columns::Ts::from)),
        extra_s: Set(terms.extra_s),
        invigilation_id: Set(terms.invigilation_id),
        ..Default::default()
    };
    let id = attempt::Entity::insert(row).exec(db).await?.last_insert_id;
    questions::insert_numbered(db, id, with).await?;
    Ok(id)
}

/// A person's own attempt; another's looks like none.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt.
pub async fn by_id(db: &impl ConnectionTrait, person: PersonId, id: AttemptId) -> Result<Attempt, StoreError> {
    own(person, id).one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// Anybody's attempt, for those who may see the record of others.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such attempt.
pub async fn by_id_of_anyone(db: &impl ConnectionTrait, id: AttemptId) -> Result<Attempt, StoreError> {
    attempt::Entity::find_by_id(id).one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// A person's own attempt that is about to be answered in this transaction: whoever answers at the same moment comes after it.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt.
pub async fn locked(db: &impl ConnectionTrait, person: PersonId, id: AttemptId) -> Result<Attempt, StoreError> {
    lock(db, person, id).await?.try_into()
}

/// A person's own attempt, locked until the transaction ends.
pub(super) async fn lock(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
) -> Result<attempt::Model, StoreError> {
    own(person, id).lock_exclusive().one(db).await?.ok_or(StoreError::NotFound)
}

fn own(person: PersonId, id: AttemptId) -> Select<attempt::Entity> {
    attempt::Entity::find_by_id(id).filter(attempt::Column::PersonId.eq(person))
}

/// The examination that a person sits now for a scheme.
///
/// # Errors
/// Those of every query.
pub async fn find_open_examination(
    db: &impl ConnectionTrait,
    person: PersonId,
    scheme_key: &str,
) -> Result<Option<Attempt>, StoreError> {
    let open = open_of(person, AttemptKind::Examination).filter(attempt::Column::SchemeKey.eq(scheme_key));
    open.one(db).await?.map(Attempt::try_from).transpose()
}

/// The practice that a person has under way in a module; the newest when there are several.
///
/// # Errors
/// Those of every query.
pub async fn find_open_practice(
    db: &impl ConnectionTrait,
    person: PersonId,
    module_key: &str,
) -> Result<Option<Attempt>, StoreError> {
    let open = open_of(person, AttemptKind::Practice).filter(attempt::Column::ModuleKey.eq(module_key));
    open.one(db).await?.map(Attempt::try_from).transpose()
}

fn open_of(person: PersonId, kind: AttemptKind) -> Select<attempt::Entity> {
    attempt::Entity::find()
        .filter(attempt::Column::PersonId.eq(person))
        .filter(attempt::Column::Kind.eq(kind))
        .filter(attempt::Column::State.eq(AttemptState::Open))
        .order_by_desc(attempt::Column::Id)
}

/// Every attempt of a person, newest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Attempt>, StoreError> {
    let own = attempt::Entity::find().filter(attempt::Column::PersonId.eq(person));
    own.order_by_desc(attempt::Column::Id).all(db).await?.into_iter().map(Attempt::try_from).collect()
}

/// Every attempt of everyone, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Attempt>, StoreError> {
    attempt::Entity::find()
        .order_by_asc(attempt::Column::Id)
        .all(db)
        .await?
        .into_iter()
        .map(Attempt::try_from)
        .collect()
}

/// Every examination, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn examinations(db: &impl ConnectionTrait) -> Result<Vec<Attempt>, StoreError> {
    let all = attempt::Entity::find().filter(attempt::Column::Kind.eq(AttemptKind::Examination));
    all.order_by_asc(attempt::Column::Id).all(db).await?.into_iter().map(Attempt::try_from).collect()
}

/// The open attempts whose time was over before `now`, the longest overdue first.
///
/// # Errors
/// Those of every query.
pub async fn expired_open_before(db: &impl ConnectionTrait, now: Moment) -> Result<Vec<Attempt>, StoreError> {
    let overdue = attempt::Entity::find()
        .filter(attempt::Column::State.eq(AttemptState::Open))
        .filter(attempt::Column::DeadlineAt.lt(now.0));
    overdue.order_by_asc(attempt::Column::DeadlineAt).all(db).await?.into_iter().map(Attempt::try_from).collect()
}
