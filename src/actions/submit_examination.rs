//! Handing an examination in: closed, graded, put on record and told by letter, all or nothing, and once.

use super::close_overdue::close_when_over;
use super::conclude::conclude_attempt;
use super::{ActionError, Deeds};
use crate::store::attempts::{self, AttemptKind, Submission};
use crate::store::{AttemptId, PersonId, StoreError, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Submitted {
    /// Handed in and graded now, or by the same click before.
    Graded,
    /// It had been handed in before: by another page, or by the clock. That stands.
    Before,
}

/// Hands a person's own examination in. The same `key` again has no further effect and the same outcome.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such examination, or when the store does not answer.
pub async fn submit_examination(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    key: &str,
) -> Result<Submitted, ActionError> {
    let now = deeds.clock.now();
    let read = deeds.bank.now();
    let own = attempts::by_id(&deeds.db, person, attempt).await?;
    if own.kind != AttemptKind::Examination {
        return Err(StoreError::NotFound.into());
    }
    // Too late to hand in: the clock has done it, or does it here.
    if close_when_over(deeds, &own, now).await? {
        return Ok(Submitted::Before);
    }
    let done = write::<_, ActionError, _>(&deeds.db, async |tx| {
        match attempts::mark_submitted(tx, person, attempt, Some(key), now).await? {
            Submission::First(closed) => {
                conclude_attempt(deeds, tx, &read.bank, &closed, Some(person), now).await?;
                Ok(Submitted::Graded)
            }
            Submission::Repeated(_) => Ok(Submitted::Graded),
            Submission::Closed(_) => Ok(Submitted::Before),
        }
    })
    .await?;
    deeds.letters.notify_one();
    Ok(done)
}
