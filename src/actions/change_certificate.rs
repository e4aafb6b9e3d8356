//! Suspending a certificate, letting it stand again, withdrawing it: by whoever looks after its holder, with a reason.

use super::decide::Decider;
use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::certification::certificate::{Event, EventKind, Number, State};
use crate::store::certificates::{self, KeptEvent};
use crate::store::read::certification;
use crate::store::{StoreError, people, record, write};

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CertificateChange {
    /// It is on record.
    Done,
    /// The state of the certificate does not allow it.
    NotNow(State),
    /// Nobody does it to their own.
    Own,
}

/// Does something to a certificate.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such certificate, or its holder is of another branch; or when the store does
/// not answer.
pub async fn change_certificate(
    deeds: &Deeds,
    by: Decider,
    number: Number,
    kind: EventKind,
    reason: &str,
) -> Result<CertificateChange, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let found = certificates::by_number(tx, number).await?;
        people::in_turn(tx, found.entry.person_id).await?;
        let holder = people::by_id(tx, found.entry.person_id).await?;
        let found = certificates::by_number(tx, number).await?;
        if !by.looks_after(holder.branch_id) {
            return Err(ActionError::from(StoreError::NotFound));
        }
        if holder.id == by.person {
            return Ok(CertificateChange::Own);
        }
        let last = found.events.last();
        if last.is_some_and(|last| last.event.kind == kind && last.done_by == Some(by.person) && last.reason == reason)
        {
            return Ok(CertificateChange::Done);
        }
        let state = certification::of_person(tx, holder.id).await?.state_of(&found, now);
        if !state.allows(kind) {
            return Ok(CertificateChange::NotNow(state));
        }
        let detail = serde_json::json!({ "certificate": number.to_string(), "event": kind, "reason": reason });
        let deed = about_person_with(now, Some(by.person), "certificate_changed", holder.id, detail);
        let entry = record::append(tx, deed).await?;
        let event = KeptEvent {
            event: Event { kind, at: now },
            reason: reason.to_owned(),
            done_by: Some(by.person),
            record_entry_id: entry,
        };
        certificates::append_event(tx, found.id, event).await?;
        Ok(CertificateChange::Done)
    })
    .await
}
