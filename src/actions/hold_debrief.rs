//! Writing down that a trainer has gone through a missed safety question with the person.

use super::begin_examination::on_attempt;
use super::{ActionError, Deeds};
use crate::store::debriefs::{self, Debrief};
use crate::store::{AttemptId, PersonId, StoreError, attempts, conflict, qualifications, record, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum DebriefHeld {
    /// It is on record; the person may sit again.
    Held,
    /// Somebody had written one down before; that one stands.
    HeldBefore,
    /// Nobody goes through their own miss with themselves.
    OwnAttempt,
}

/// Writes a talk down.
///
/// # Errors
/// [`StoreError::NotFound`] when no attempt of this number waits for a talk, or when the store does not answer.
pub async fn hold_debrief(
    deeds: &Deeds,
    trainer: PersonId,
    attempt: AttemptId,
    note: &str,
) -> Result<DebriefHeld, ActionError> {
    let now = deeds.clock.now();
    let held = write(&deeds.db, async |tx| {
        let about = attempts::by_id_of_anyone(tx, attempt).await?;
        if about.person_id == trainer {
            return Ok(DebriefHeld::OwnAttempt);
        }
        if !qualifications::of_attempt(tx, attempt).await?.iter().any(|entry| entry.entry.safety_miss) {
            return Err(ActionError::from(StoreError::NotFound));
        }
        let debrief = Debrief { attempt_id: attempt, trainer_id: trainer, note: note.to_owned(), held_at: now };
        debriefs::insert(tx, debrief).await?;
        let detail = serde_json::json!({ "person": about.person_id.0, "note": note });
        record::append(tx, on_attempt(now, Some(trainer), "debrief_held", attempt, detail)).await?;
        Ok(DebriefHeld::Held)
    });
    match held.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::DEBRIEF => {
            let before = debriefs::find_of_attempt(&deeds.db, attempt).await?;
            let same_click = before.is_some_and(|held| held.trainer_id == trainer && held.note == note);
            Ok(if same_click { DebriefHeld::Held } else { DebriefHeld::HeldBefore })
        }
        other => other,
    }
}
