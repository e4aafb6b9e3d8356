//! Writing down that something happened with a person which asks for a refresher: a trainer or a service manager saw it.

use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::certification::trigger::{Kind, MachineVersion, Trigger};
use crate::domain::units::Moment;
use crate::store::triggers::{self, NewTrigger};
use crate::store::{PersonId, RecordEntryId, StoreError, conflict, people, record, write};
use sea_orm::ConnectionTrait;

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TriggerRecorded {
    /// It is on record, now or by the same click before.
    Done,
    /// Nobody writes it down about themselves.
    Oneself,
}

/// What happened, as it was written down.
#[derive(Clone, Debug)]
pub struct Happened<'t> {
    /// With whom.
    pub person: PersonId,
    /// What.
    pub kind: Kind,
    /// On which machine, where that matters.
    pub machine: Option<MachineVersion>,
    /// In words.
    pub text: &'t str,
    /// What the form carried: the same again is the same click.
    pub key: &'t str,
}

/// Writes it down.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person, or when the store does not answer.
pub async fn record_trigger(deeds: &Deeds, by: PersonId, of: Happened<'_>) -> Result<TriggerRecorded, ActionError> {
    if of.person == by {
        return Ok(TriggerRecorded::Oneself);
    }
    let now = deeds.clock.now();
    let recorded = write(&deeds.db, async |tx| {
        people::by_id(tx, of.person).await?;
        insert_trigger(tx, by, &of, now).await?;
        Ok::<_, ActionError>(TriggerRecorded::Done)
    });
    match recorded.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::TRIGGER => Ok(TriggerRecorded::Done),
        other => other,
    }
}

/// Writes it down in another deed's transaction.
pub(super) async fn insert_trigger(
    tx: &impl ConnectionTrait,
    by: PersonId,
    of: &Happened<'_>,
    now: Moment,
) -> Result<RecordEntryId, ActionError> {
    let detail = serde_json::json!({ "kind": of.kind, "machine": of.machine, "text": of.text });
    let deed = about_person_with(now, Some(by), "refresher_trigger_recorded", of.person, detail);
    let entry = record::append(tx, deed).await?;
    let new = NewTrigger {
        person_id: of.person,
        trigger: Trigger { kind: of.kind, at: now, machine: of.machine.clone() },
        text: of.text.to_owned(),
        recorded_by: by,
        key: of.key.to_owned(),
        record_entry_id: entry,
    };
    triggers::append(tx, new).await?;
    Ok(entry)
}
