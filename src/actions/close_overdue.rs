//! Handing in what the clock hands in: open examinations whose time is over, with the answers that were saved.

use super::conclude::conclude_attempt;
use super::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt, Submission};
use crate::store::{StoreError, write};

/// Closes and grades every examination whose time is over; gives how many there were.
///
/// # Errors
/// When the store does not answer. One that cannot be closed keeps no other from being closed; the first such error is
/// given after the last.
pub async fn close_overdue(deeds: &Deeds) -> Result<usize, ActionError> {
    let now = deeds.clock.now();
    let mut closed = 0;
    let mut failed = None;
    for overdue in attempts::expired_open_before(&deeds.db, now).await? {
        match close_when_over(deeds, &overdue, now).await {
            Ok(first) => closed += usize::from(first),
            // What the database holds is not known any more: nothing else is tried.
            Err(unknown @ ActionError::Store(StoreError::CommitUnknown(_))) => return Err(unknown),
            Err(error) => failed = failed.or(Some(error)),
        }
    }
    failed.map_or(Ok(closed), Err)
}

/// Closes and grades one examination when its time is over and nobody else has handed it in; says whether it did.
pub(super) async fn close_when_over(deeds: &Deeds, attempt: &Attempt, now: Moment) -> Result<bool, ActionError> {
    if !attempt.is_overdue(now) {
        return Ok(false);
    }
    let read = deeds.bank.now();
    let first = write::<_, ActionError, _>(&deeds.db, async |tx| {
        match attempts::mark_submitted(tx, attempt.person_id, attempt.id, None, now).await? {
            Submission::First(closed) => {
                conclude_attempt(deeds, tx, &read.bank, &closed, None, now).await?;
                Ok(true)
            }
            // Its owner, or another server, was faster.
            Submission::Repeated(_) | Submission::Closed(_) => Ok(false),
        }
    });
    let first = first.await?;
    if first {
        deeds.letters.notify_one();
    }
    Ok(first)
}
