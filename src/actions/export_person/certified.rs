//! What was proposed, decided and appealed about a person, their certificates, and what asked for a refresher.

use super::utc;
use crate::store::attempts::Attempt;
use crate::store::certificates::{self, Certificate};
use crate::store::{PersonId, StoreError, decisions, proposals, triggers};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};

/// By sitting, oldest first; a sitting about which nothing was proposed is left out.
pub(super) async fn decided(db: &impl ConnectionTrait, own: &[Attempt]) -> Result<Vec<Value>, StoreError> {
    let mut all = Vec::new();
    for attempt in own.iter().rev() {
        let proposed = match proposals::by_attempt(db, attempt.id).await {
            Ok(proposed) => proposed.entry,
            Err(StoreError::NotFound) => continue,
            Err(error) => return Err(error),
        };
        let decision = decisions::find(db, attempt.id).await?.map(|decision| {
            json!({
                "decided": decision.verdict,
                "reason": decision.reason,
                "by": decision.decided_by,
                "at": utc(decision.decided_at),
            })
        });
        let appeal = decisions::find_appeal(db, attempt.id).await?;
        let appeal = appeal.map(|appeal| json!({ "text": appeal.text, "at": utc(appeal.lodged_at) }));
        let heard = decisions::find_appeal_decision(db, attempt.id).await?.map(|heard| {
            json!({
                "decided": heard.finding,
                "reason": heard.reason,
                "by": heard.decided_by,
                "at": utc(heard.decided_at),
            })
        });
        all.push(json!({
            "attempt": attempt.id,
            "proposed": proposed.proposal,
            "proposed_at": utc(proposed.made_at),
            "decision": decision,
            "appeal": appeal,
            "decision_on_appeal": heard,
        }));
    }
    Ok(all)
}

/// Oldest first, each with what was done to it.
pub(super) async fn held(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let held = certificates::of_person(db, person).await?;
    let told = |certificate: &Certificate| {
        let of = &certificate.entry;
        let events = certificate.events.iter().map(|kept| {
            json!({
                "did": kept.event.kind,
                "reason": kept.reason,
                "by": kept.done_by,
                "at": utc(kept.event.at),
            })
        });
        json!({
            "number": certificate.number.to_string(),
            "attempt": of.attempt_id,
            "scheme": of.scheme_key,
            "scheme_version": of.scheme_version,
            "valid_from": utc(of.valid_from),
            "valid_until": utc(of.valid_until),
            "machines": of.machines,
            "events": events.collect::<Vec<_>>(),
        })
    };
    Ok(held.iter().map(told).collect())
}

/// Oldest first.
pub(super) async fn happened(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let all = triggers::of_person(db, person).await?;
    let told = all.iter().map(|kept| {
        json!({
            "kind": kept.entry.trigger.kind,
            "machine": kept.entry.trigger.machine,
            "text": kept.entry.text,
            "by": kept.entry.recorded_by,
            "at": utc(kept.entry.trigger.at),
        })
    });
    Ok(told.collect())
}
