//! Taking back what people were told to do. It stays to be seen that they were, and why no longer.

use super::on_record::about_assignment;
use super::{ActionError, Deeds};
use crate::store::assignments::{self, Withdrawal};
use crate::store::{AssignmentId, PersonId, StoreError, conflict, record, write};
use serde_json::json;

/// Withdraws an assignment; withdrawing it again changes nothing.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none, or when the store does not answer.
pub async fn withdraw_assignment(
    deeds: &Deeds,
    by: PersonId,
    id: AssignmentId,
    reason: &str,
) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    let withdrawn = write(&deeds.db, async |tx| {
        let of = assignments::by_id(tx, id).await?;
        if of.withdrawn.is_some() {
            return Ok(());
        }
        let detail = json!({ "assigned_by_entry": of.entry.record_entry_id, "reason": reason });
        let entry = record::append(tx, about_assignment(now, by, "assignment_withdrawn", of.entry.to, detail)).await?;
        let new = Withdrawal { reason: reason.to_owned(), by, at: now, record_entry_id: entry };
        assignments::withdraw(tx, id, new).await?;
        Ok::<_, ActionError>(())
    });
    match withdrawn.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::ASSIGNMENT_WITHDRAWAL => Ok(()),
        other => other,
    }
}
