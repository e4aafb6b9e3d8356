//! Issuing a certificate, inside the transaction of the decision or the appeal that grants it.

use super::conclude::reason_for;
use super::propose::read_outcome;
use super::{ActionError, on_record::about_person_with};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::{Event, EventKind, Number, State};
use crate::domain::units::Moment;
use crate::store::certificates::{self, KeptEvent, NewCertificate};
use crate::store::proposals::KeptProposal;
use crate::store::qualifications::{self, NewQualification, QualificationOutcome};
use crate::store::read::certification;
use crate::store::{PersonId, StoreError, attempts, record};
use jiff::{Timestamp, tz::TimeZone};
use sea_orm::ConnectionTrait;

/// Issues the certificate that was proposed, enters its competences, and lets it take the place of the one before it.
pub(super) async fn grant(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    kept: &KeptProposal,
    by: PersonId,
    now: Moment,
) -> Result<Number, ActionError> {
    let of = &kept.entry;
    let detail = serde_json::json!({
        "attempt": of.attempt_id.0,
        "scheme": of.scheme_key,
        "scheme_version": of.scheme_version,
        "valid_until": of.valid_until.0,
        "competences": of.competences,
        "machines": of.machines,
    });
    // Locks the record's end, and with it the running numbers of certificates.
    let entry =
        record::append(tx, about_person_with(now, Some(by), "certificate_granted", of.person_id, detail)).await?;
    let before = certification::of_person(tx, of.person_id).await?;
    let new = NewCertificate {
        attempt_id: of.attempt_id,
        proposal_id: kept.id,
        person_id: of.person_id,
        scheme_key: of.scheme_key.clone(),
        scheme_version: of.scheme_version,
        year: year_of(now)?,
        examined_at: of.examined_at,
        valid_from: now,
        valid_until: of.valid_until,
        machines: of.machines.clone(),
        record_entry_id: entry,
    };
    let (_, number) = certificates::issue(tx, new).await?;
    for old in before.certificates.iter().filter(|old| old.entry.scheme_key == of.scheme_key) {
        if matches!(before.state_of(old, now), State::Withdrawn { .. } | State::Renewed { .. }) {
            continue;
        }
        let renewed = KeptEvent {
            event: Event { kind: EventKind::Renewed, at: now },
            reason: format!("Certificate {number} has taken its place."),
            done_by: None,
            record_entry_id: entry,
        };
        certificates::append_event(tx, old.id, renewed).await?;
    }
    let result = attempts::find_result(tx, of.attempt_id).await?.ok_or(StoreError::NotFound)?;
    for part in &read_outcome(&result.outcome)?.parts {
        let new = NewQualification {
            person_id: of.person_id,
            competence_key: part.competence.clone(),
            attempt_id: of.attempt_id,
            outcome: QualificationOutcome::Qualified,
            safety_miss: false,
            reason: reason_for(bank, part, &[]),
            valid_from: now,
            valid_until: Some(of.valid_until),
            scheme_key: of.scheme_key.clone(),
            scheme_version: of.scheme_version,
            record_entry_id: entry,
        };
        qualifications::append(tx, new).await?;
    }
    Ok(number)
}

/// The year in UTC: one number for every branch.
pub(super) fn year_of(now: Moment) -> Result<i32, ActionError> {
    let at = Timestamp::from_microsecond(now.0).map_err(|error| StoreError::Corrupt(error.to_string()))?;
    Ok(at.to_zoned_datetime(TimeZone::UTC).year().into())
}
