//! What whoever watched wrote down about sittings.
//!
//! Never changes or removes one, and the database refuses both.

use super::columns::{from_word, word};
use super::{AttemptId, PersonId, RecordEntryId, StoreError, entity::incident};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};
use serde::{Deserialize, Serialize};

/// What it did to the sitting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum IncidentKind {
    /// Nothing; it is only written down.
    Noted,
    /// It ended the sitting.
    Ended,
}

/// One of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incident {
    /// In which sitting.
    pub attempt_id: AttemptId,
    /// What it did to it.
    pub kind: IncidentKind,
    /// What happened, or why it was ended.
    pub text: String,
    /// Who says so.
    pub noted_by: PersonId,
    /// When.
    pub noted_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

impl TryFrom<incident::Model> for Incident {
    type Error = StoreError;

    fn try_from(row: incident::Model) -> Result<Self, StoreError> {
        Ok(Self {
            attempt_id: row.attempt_id,
            kind: from_word("incident.kind", &row.kind)?,
            text: row.text,
            noted_by: row.noted_by,
            noted_at: row.noted_at.into(),
            key: row.key,
            record_entry_id: row.record_entry_id,
        })
    }
}

/// Adds one.
///
/// # Errors
/// [`super::conflict::INCIDENT`] when the same click has added it already.
pub async fn append(db: &impl ConnectionTrait, new: Incident) -> Result<(), StoreError> {
    let row = incident::ActiveModel {
        attempt_id: Set(new.attempt_id),
        kind: Set(word(new.kind)),
        text: Set(new.text),
        noted_by: Set(new.noted_by),
        noted_at: Set(new.noted_at.into()),
        key: Set(new.key),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    incident::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// Those of some sittings, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_attempts(db: &impl ConnectionTrait, attempts: &[AttemptId]) -> Result<Vec<Incident>, StoreError> {
    let own = incident::Entity::find().filter(incident::Column::AttemptId.is_in(attempts.iter().copied()));
    own.order_by_asc(incident::Column::Id).all(db).await?.into_iter().map(Incident::try_from).collect()
}

/// All of them, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Incident>, StoreError> {
    let rows = incident::Entity::find().order_by_asc(incident::Column::Id).all(db).await?;
    rows.into_iter().map(Incident::try_from).collect()
}
