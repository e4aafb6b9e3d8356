//! What happened with people that asks for a refresher.
//!
//! Never changes or removes one, and the database refuses both: a new examination clears it.

use super::columns::{from_word, word};
use super::{PersonId, RecordEntryId, StoreError, TriggerId, entity::refresher_trigger};
use crate::domain::certification::trigger::{MachineVersion, Trigger};
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// What is needed to add one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewTrigger {
    /// With whom.
    pub person_id: PersonId,
    /// What, when, on which machine.
    pub trigger: Trigger,
    /// What happened, in words.
    pub text: String,
    /// Who says so.
    pub recorded_by: PersonId,
    /// What the form carried: the same again is the same click.
    pub key: String,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// One as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptTrigger {
    /// Its number.
    pub id: TriggerId,
    /// What it says.
    pub entry: NewTrigger,
}

impl TryFrom<refresher_trigger::Model> for KeptTrigger {
    type Error = StoreError;

    fn try_from(row: refresher_trigger::Model) -> Result<Self, StoreError> {
        let kind = from_word("refresher_trigger.kind", &row.kind)?;
        let version = row.machine_version.unwrap_or_default();
        let machine = row.machine_key.map(|machine| MachineVersion { machine, version });
        Ok(Self {
            id: row.id,
            entry: NewTrigger {
                person_id: row.person_id,
                trigger: Trigger { kind, at: row.recorded_at.into(), machine },
                text: row.text,
                recorded_by: row.recorded_by,
                key: row.key,
                record_entry_id: row.record_entry_id,
            },
        })
    }
}

/// Adds one.
///
/// # Errors
/// [`super::conflict::TRIGGER`] when the same click has added it already.
pub async fn append(db: &impl ConnectionTrait, new: NewTrigger) -> Result<TriggerId, StoreError> {
    let row = refresher_trigger::ActiveModel {
        person_id: Set(new.person_id),
        kind: Set(word(new.trigger.kind)),
        machine_key: Set(new.trigger.machine.as_ref().map(|on| on.machine.clone())),
        machine_version: Set(new.trigger.machine.as_ref().map(|on| on.version)),
        text: Set(new.text),
        recorded_by: Set(new.recorded_by),
        recorded_at: Set(new.trigger.at.into()),
        key: Set(new.key),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    Ok(refresher_trigger::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Everything that happened with a person, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<KeptTrigger>, StoreError> {
    let own = refresher_trigger::Entity::find().filter(refresher_trigger::Column::PersonId.eq(person));
    let rows = own.order_by_asc(refresher_trigger::Column::Id).all(db).await?;
    rows.into_iter().map(KeptTrigger::try_from).collect()
}
