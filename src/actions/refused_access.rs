//! Putting on record what was refused in a sitting: an answer that came too late, somebody at a sitting of another's, and
//! times or other fields that no page of ours sends.
//!
//! Once for each person, sitting and kind: whoever tries a thousand times does not fill the record. Never changes anything else.

use super::begin_examination::on_attempt;
use super::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::store::{AttemptId, PersonId, StoreError, attempts, record, write};

/// An answer came after the sitting was closed.
pub(super) const LATE_ANSWER: &str = "late_answer_refused";
/// Somebody sent something to another person's sitting.
const STRANGER: &str = "stranger_refused";
/// Something was sent with fields that no page of ours has.
const MADE_UP_FIELDS: &str = "made_up_fields_ignored";

/// Somebody sent something to a sitting that is not theirs; nothing is done when there is no such sitting, or it is theirs.
///
/// # Errors
/// When the store does not answer.
pub async fn refuse_stranger(deeds: &Deeds, person: PersonId, attempt: AttemptId) -> Result<(), ActionError> {
    match attempts::by_id_of_anyone(&deeds.db, attempt).await {
        Ok(found) if found.person_id != person => {
            put_on_record(deeds, person, attempt, STRANGER, deeds.clock.now()).await
        }
        Ok(_) | Err(StoreError::NotFound) => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// Fields came with an answer or a hand-in that no page of ours has, such as a time: nobody reads them.
///
/// # Errors
/// When the store does not answer.
pub async fn note_made_up_fields(deeds: &Deeds, person: PersonId, attempt: AttemptId) -> Result<(), ActionError> {
    put_on_record(deeds, person, attempt, MADE_UP_FIELDS, deeds.clock.now()).await
}

/// Puts a refusal on record, unless it is there.
pub(super) async fn put_on_record(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    deed: &str,
    now: Moment,
) -> Result<(), ActionError> {
    write(&deeds.db, async |tx| {
        let before = record::of_subject(tx, "attempt", attempt.0).await?;
        if !before.iter().any(|entry| entry.deed == deed && entry.actor_id == Some(person)) {
            record::append(tx, on_attempt(now, Some(person), deed, attempt, serde_json::Value::Null)).await?;
        }
        Ok(())
    })
    .await
}
