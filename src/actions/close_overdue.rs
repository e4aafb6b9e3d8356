//! Handing in what the clock hands in: open examinations whose time is over, with the answers that were saved.

use super::conclude::conclude_attempt;
use super::{ActionError, Deeds};
use crate::store::attempts::{self, Submission};
use crate::store::write;

/// Closes and grades every examination whose time is over; gives how many there were.
///
/// # Errors
/// When the store does not answer. What was closed before that stays closed.
pub async fn close_overdue(deeds: &Deeds) -> Result<usize, ActionError> {
    let now = deeds.clock.now();
    let read = deeds.bank.now();
    let mut closed = 0;
    for overdue in attempts::expired_open_before(&deeds.db, now).await? {
        let first = write::<_, ActionError, _>(&deeds.db, async |tx| {
            match attempts::mark_submitted(tx, overdue.person_id, overdue.id, None, now).await? {
                Submission::First(attempt) => {
                    conclude_attempt(deeds, tx, &read.bank, &attempt, None, now).await?;
                    Ok(true)
                }
                // Its owner was faster.
                Submission::Repeated(_) | Submission::Closed(_) => Ok(false),
            }
        });
        closed += usize::from(first.await?);
    }
    if closed > 0 {
        deeds.letters.notify_one();
    }
    Ok(closed)
}
