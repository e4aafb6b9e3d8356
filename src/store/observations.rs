//! Observations: opened with a frozen checklist, marked step by step, and signed once.
//!
//! Never shows one to another branch: whose branch it is, is part of every question that an assessor asks. Never changes one
//! that was signed, and the database refuses it too.

mod digest;

pub use digest::{MAKING, digest, digest_of};

use super::columns::{from_json, from_word, unknown};
use super::entity::{observation, observation_result, observation_step};
use super::{BranchId, ObservationId, PersonId, RecordEntryId, StoreError};
use crate::domain::examination::observation::{Checklist, Mark, Marked, Outcome, Task};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, prelude::*, sea_query::Expr,
    sea_query::ExprTrait as _, sea_query::OnConflict,
};
use std::collections::BTreeMap;

/// One of them, without its steps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Observation {
    /// Its number.
    pub id: ObservationId,
    /// Who is watched.
    pub person_id: PersonId,
    /// Who watches.
    pub assessor_id: PersonId,
    /// Where.
    pub branch_id: BranchId,
    /// The task.
    pub task: Task,
    /// The machine's word.
    pub machine_key: String,
    /// The version of its profile that the checklist was made from.
    pub machine_version: i32,
    /// The model that made it.
    pub model_version: i32,
    /// The checklist as it was frozen, in JSON.
    pub checklist: String,
    /// When.
    pub opened_at: Moment,
}

impl Observation {
    /// The checklist.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] when it does not read back.
    pub fn list(&self) -> Result<Checklist, StoreError> {
        from_json("observation.checklist", &self.checklist)
    }
}

impl TryFrom<observation::Model> for Observation {
    type Error = StoreError;

    fn try_from(row: observation::Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: row.id,
            person_id: row.person_id,
            assessor_id: row.assessor_id,
            branch_id: row.branch_id,
            task: Task::from_id(&row.task).ok_or_else(|| unknown("observation.task", &row.task))?,
            machine_key: row.machine_key,
            machine_version: row.machine_version,
            model_version: row.model_version,
            checklist: row.checklist,
            opened_at: row.opened_at.into(),
        })
    }
}

/// What is needed to open one.
#[derive(Clone, Debug)]
pub struct NewObservation {
    /// Who is watched.
    pub person_id: PersonId,
    /// Who watches; never the same.
    pub assessor_id: PersonId,
    /// Where.
    pub branch_id: BranchId,
    /// The task.
    pub task: Task,
    /// The machine's word.
    pub machine_key: String,
    /// The version of its profile.
    pub machine_version: i32,
    /// The model's version.
    pub model_version: i32,
    /// The frozen checklist, in JSON.
    pub checklist: String,
    /// Now.
    pub opened_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
}

/// How a step was marked last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptStep {
    /// Its place, from 1.
    pub position: i32,
    /// How.
    pub marked: Marked,
    /// When, by the server's clock.
    pub saved_at: Moment,
    /// How often it was saved.
    pub revision: i32,
}

/// What both signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signed {
    /// What it came to.
    pub outcome: Outcome,
    /// When.
    pub signed_at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

impl TryFrom<observation_result::Model> for Signed {
    type Error = StoreError;

    fn try_from(row: observation_result::Model) -> Result<Self, StoreError> {
        let outcome: Outcome = from_json("observation_result.outcome", &row.outcome)?;
        let missed = usize::try_from(row.missed_critical);
        if row.passed != outcome.passed || missed != Ok(outcome.missed_critical.len()) {
            return Err(StoreError::Corrupt("an observation's result says two things".to_owned()));
        }
        Ok(Self { outcome, signed_at: row.signed_at.into(), record_entry_id: row.record_entry_id })
    }
}

/// Opens one.
///
/// # Errors
/// [`super::conflict::OBSERVATION`] when the same click has opened it already.
pub async fn insert(db: &impl ConnectionTrait, new: NewObservation) -> Result<ObservationId, StoreError> {
    let row = observation::ActiveModel {
        person_id: Set(new.person_id),
        assessor_id: Set(new.assessor_id),
        branch_id: Set(new.branch_id),
        task: Set(new.task.id().to_owned()),
        machine_key: Set(new.machine_key),
        machine_version: Set(new.machine_version),
        model_version: Set(new.model_version),
        checklist: Set(new.checklist),
        opened_at: Set(new.opened_at.into()),
        key: Set(new.key),
        ..Default::default()
    };
    Ok(observation::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// The one that a click of an assessor has opened.
///
/// # Errors
/// Those of every query.
pub async fn find_by_key(
    db: &impl ConnectionTrait,
    assessor: PersonId,
    key: &str,
) -> Result<Option<ObservationId>, StoreError> {
    let own = observation::Entity::find().filter(observation::Column::AssessorId.eq(assessor));
    Ok(own.filter(observation::Column::Key.eq(key)).one(db).await?.map(|row| row.id))
}

/// One by its number, whoever asks.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id_of_anyone(db: &impl ConnectionTrait, id: ObservationId) -> Result<Observation, StoreError> {
    observation::Entity::find_by_id(id).one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// One of a branch; another branch's looks like none.
///
/// # Errors
/// [`StoreError::NotFound`] when the branch has no such observation.
pub async fn by_id(db: &impl ConnectionTrait, branch: BranchId, id: ObservationId) -> Result<Observation, StoreError> {
    let found = observation::Entity::find_by_id(id).filter(observation::Column::BranchId.eq(branch));
    found.one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// One of an assessor, locked until the transaction ends: nobody signs it while a step is saved. Another's looks like none.
///
/// # Errors
/// [`StoreError::NotFound`] when the assessor has no such observation.
pub async fn lock_own(
    db: &impl ConnectionTrait,
    assessor: PersonId,
    id: ObservationId,
) -> Result<Observation, StoreError> {
    let found = observation::Entity::find_by_id(id).filter(observation::Column::AssessorId.eq(assessor));
    found.lock_exclusive().one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// The newest of a branch, newest first.
///
/// # Errors
/// Those of every query.
pub async fn of_branch(
    db: &impl ConnectionTrait,
    branch: BranchId,
    at_most: u64,
) -> Result<Vec<Observation>, StoreError> {
    let found = observation::Entity::find().filter(observation::Column::BranchId.eq(branch));
    let rows = found.order_by_desc(observation::Column::Id).limit(at_most).all(db).await?;
    rows.into_iter().map(Observation::try_from).collect()
}

/// Every one in which a person was watched, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Observation>, StoreError> {
    let found = observation::Entity::find().filter(observation::Column::PersonId.eq(person));
    let rows = found.order_by_asc(observation::Column::Id).all(db).await?;
    rows.into_iter().map(Observation::try_from).collect()
}

/// Every one that a person watched, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn by_assessor(db: &impl ConnectionTrait, assessor: PersonId) -> Result<Vec<Observation>, StoreError> {
    let found = observation::Entity::find().filter(observation::Column::AssessorId.eq(assessor));
    let rows = found.order_by_asc(observation::Column::Id).all(db).await?;
    rows.into_iter().map(Observation::try_from).collect()
}

/// Every one there is, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Observation>, StoreError> {
    let rows = observation::Entity::find().order_by_asc(observation::Column::Id).all(db).await?;
    rows.into_iter().map(Observation::try_from).collect()
}

/// Marks a step; the database refuses it once there is a result.
///
/// # Errors
/// Those of every query.
pub async fn mark(
    db: &impl ConnectionTrait,
    id: ObservationId,
    position: i32,
    marked: &Marked,
    now: Moment,
) -> Result<(), StoreError> {
    let row = observation_step::ActiveModel {
        observation_id: Set(id),
        position: Set(position),
        mark: Set(marked.mark.id().to_owned()),
        remark: Set(marked.remark.clone()),
        saved_at: Set(now.into()),
        revision: Set(1),
    };
    let replace = OnConflict::columns([observation_step::Column::ObservationId, observation_step::Column::Position])
        .update_columns([
            observation_step::Column::Mark,
            observation_step::Column::Remark,
            observation_step::Column::SavedAt,
        ])
        .value(
            observation_step::Column::Revision,
            Expr::col((observation_step::Entity, observation_step::Column::Revision)).add(1),
        )
        .to_owned();
    observation_step::Entity::insert(row).on_conflict(replace).exec_without_returning(db).await?;
    Ok(())
}

/// The marked steps of an observation, by place.
///
/// # Errors
/// Those of every query.
pub async fn steps(db: &impl ConnectionTrait, id: ObservationId) -> Result<Vec<KeptStep>, StoreError> {
    let found = observation_step::Entity::find().filter(observation_step::Column::ObservationId.eq(id));
    let rows = found.order_by_asc(observation_step::Column::Position).all(db).await?;
    let kept = rows.into_iter().map(|row| {
        let mark: Mark = from_word("observation_step.mark", &row.mark)?;
        Ok(KeptStep {
            position: row.position,
            marked: Marked { mark, remark: row.remark },
            saved_at: row.saved_at.into(),
            revision: row.revision,
        })
    });
    kept.collect()
}

/// The marks in a checklist's order, with nothing where none was made.
#[must_use]
pub fn in_order(list: &Checklist, kept: &[KeptStep]) -> Vec<Option<Marked>> {
    let of = |place: i32| kept.iter().find(|step| step.position == place).map(|step| step.marked.clone());
    (1..).zip(&list.steps).map(|(place, _)| of(place)).collect()
}

/// Keeps what both signed.
///
/// # Errors
/// A conflict when it was signed already.
pub async fn sign(db: &impl ConnectionTrait, id: ObservationId, signed: &Signed) -> Result<(), StoreError> {
    let outcome = serde_json::to_string(&signed.outcome)
        .map_err(|error| StoreError::Corrupt(format!("an outcome cannot be written: {error}")))?;
    let row = observation_result::ActiveModel {
        observation_id: Set(id),
        passed: Set(signed.outcome.passed),
        missed_critical: Set(i32::try_from(signed.outcome.missed_critical.len()).unwrap_or(i32::MAX)),
        outcome: Set(outcome),
        signed_at: Set(signed.signed_at.into()),
        record_entry_id: Set(signed.record_entry_id),
    };
    observation_result::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// What both signed, once they have.
///
/// # Errors
/// Those of every query.
pub async fn find_signed(db: &impl ConnectionTrait, id: ObservationId) -> Result<Option<Signed>, StoreError> {
    observation_result::Entity::find_by_id(id).one(db).await?.map(Signed::try_from).transpose()
}

/// What was signed of several, by number.
///
/// # Errors
/// Those of every query.
pub async fn signed_of(
    db: &impl ConnectionTrait,
    ids: impl IntoIterator<Item = ObservationId>,
) -> Result<BTreeMap<ObservationId, Signed>, StoreError> {
    let found = observation_result::Entity::find().filter(observation_result::Column::ObservationId.is_in(ids));
    let rows = found.all(db).await?;
    rows.into_iter().map(|row| Ok((row.observation_id, Signed::try_from(row)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::Mark;
    use crate::store::columns::word;

    #[test]
    fn a_mark_has_one_word_in_forms_and_columns() {
        for mark in Mark::ALL {
            assert_eq!(word(mark), mark.id());
        }
    }
}
