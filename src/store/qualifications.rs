//! Who was found qualified, or not, for which competence, on which attempt: entered when a certificate is granted, and when
//! a sitting is not passed.
//!
//! Never changes or removes an entry, and the database refuses both: a later entry supersedes an earlier one.

use super::read::certification::Certification;
use super::{AttemptId, PersonId, QualificationId, RecordEntryId, StoreError, entity::qualification};
use crate::domain::certification::{Evidence, Standing};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, DeriveActiveEnum, EntityTrait, EnumIter, QueryFilter, QueryOrder, prelude::*,
};

/// What was decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum QualificationOutcome {
    /// May be sent to such jobs.
    Qualified,
    /// May not, on the strength of this attempt.
    Refused,
}

/// What is needed to add an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewQualification {
    /// Who.
    pub person_id: PersonId,
    /// For what.
    pub competence_key: String,
    /// On which attempt.
    pub attempt_id: AttemptId,
    /// What was decided.
    pub outcome: QualificationOutcome,
    /// Whether a mandatory safety question was answered wrongly.
    pub safety_miss: bool,
    /// Why, in words.
    pub reason: String,
    /// From when.
    pub valid_from: Moment,
    /// Until when; a refusal has no end.
    pub valid_until: Option<Moment>,
    /// The scheme that was applied.
    pub scheme_key: String,
    /// Its version.
    pub scheme_version: i32,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// An entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Qualification {
    /// Its number; a higher one is later.
    pub id: QualificationId,
    /// What it says.
    pub entry: NewQualification,
}

impl From<qualification::Model> for Qualification {
    fn from(row: qualification::Model) -> Self {
        Self {
            id: row.id,
            entry: NewQualification {
                person_id: row.person_id,
                competence_key: row.competence_key,
                attempt_id: row.attempt_id,
                outcome: row.outcome,
                safety_miss: row.safety_miss,
                reason: row.reason,
                valid_from: row.valid_from.into(),
                valid_until: row.valid_until.map(Moment::from),
                scheme_key: row.scheme_key,
                scheme_version: row.scheme_version,
                record_entry_id: row.record_entry_id,
            },
        }
    }
}

/// Where a person stands, from their entries about one competence in any order (a higher number is later; those from the
/// last grant on are enough) and their certification.
#[must_use]
pub fn standing(entries: &[Qualification], of: &Certification, competence: &str, now: Moment) -> Standing {
    let mut in_order: Vec<&Qualification> = entries.iter().collect();
    in_order.sort_by_key(|found| found.id);
    let evidence = in_order.into_iter().map(|found| {
        let qualified = found.entry.outcome == QualificationOutcome::Qualified;
        Evidence {
            qualified,
            safety_miss: found.entry.safety_miss,
            from: found.entry.valid_from,
            until: found.entry.valid_until,
            certificate: of.state_of_attempt(found.entry.attempt_id, now).filter(|_| qualified),
        }
    });
    Standing::of(&evidence.collect::<Vec<_>>(), of.waits_for(competence, now), now)
}

/// Adds an entry.
///
/// # Errors
/// [`super::conflict::DECIDED`] when this attempt has decided about this competence already.
pub async fn append(db: &impl ConnectionTrait, new: NewQualification) -> Result<QualificationId, StoreError> {
    let row = qualification::ActiveModel {
        person_id: Set(new.person_id),
        competence_key: Set(new.competence_key),
        attempt_id: Set(new.attempt_id),
        outcome: Set(new.outcome),
        safety_miss: Set(new.safety_miss),
        reason: Set(new.reason),
        valid_from: Set(new.valid_from.into()),
        valid_until: Set(new.valid_until.map(super::columns::Ts::from)),
        scheme_key: Set(new.scheme_key),
        scheme_version: Set(new.scheme_version),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    Ok(qualification::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Every entry of a person, newest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Qualification>, StoreError> {
    let own = qualification::Entity::find().filter(qualification::Column::PersonId.eq(person));
    let rows = own.order_by_desc(qualification::Column::Id).all(db).await?;
    Ok(rows.into_iter().map(Qualification::from).collect())
}

/// What an attempt has decided, by competence.
///
/// # Errors
/// Those of every query.
pub async fn of_attempt(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Vec<Qualification>, StoreError> {
    let decided = qualification::Entity::find().filter(qualification::Column::AttemptId.eq(attempt));
    let rows = decided.order_by_asc(qualification::Column::CompetenceKey).all(db).await?;
    Ok(rows.into_iter().map(Qualification::from).collect())
}

/// Every entry, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Qualification>, StoreError> {
    let rows = qualification::Entity::find().order_by_asc(qualification::Column::Id).all(db).await?;
    Ok(rows.into_iter().map(Qualification::from).collect())
}
