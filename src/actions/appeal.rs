//! Appealing against a refusal, and deciding on the appeal: by somebody who had no part in the training or the decision.

use super::decide::{Decider, bar, turned_away};
use super::grant::grant;
use super::on_record::about_person_with;
use super::propose::missed_since;
use super::tell_decision::{Occasion, What, tell_decision};
use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::Number;
use crate::domain::certification::decision::{Bar, Finding, Remedy, Verdict, remedy};
use crate::domain::units::Moment;
use crate::store::decisions::{self, Appeal, AppealDecision};
use crate::store::proposals::NewProposal;
use crate::store::read::certification;
use crate::store::{
    AttemptId, PersonId, StoreError, attempts, certificates, conflict, people, proposals, record, write,
};
use sea_orm::ConnectionTrait;

/// What comes of appealing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lodged {
    /// It is on record.
    Done,
    /// There was one already; that one stands.
    Before,
    /// There is nothing to appeal against: nobody has refused.
    NothingRefused,
}

/// Appeals against the refusal after one's own sitting.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such sitting, or when the store does not answer.
pub async fn lodge_appeal(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    text: &str,
) -> Result<Lodged, ActionError> {
    let now = deeds.clock.now();
    let lodged = write(&deeds.db, async |tx| {
        attempts::by_id(tx, person, attempt).await?;
        let refused = decisions::find(tx, attempt).await?.filter(|decision| decision.verdict == Verdict::Refused);
        if refused.is_none() {
            return Ok(Lodged::NothingRefused);
        }
        if decisions::find_appeal(tx, attempt).await?.is_some() {
            return Ok(Lodged::Before);
        }
        let detail = serde_json::json!({ "attempt": attempt.0, "text": text });
        let deed = about_person_with(now, Some(person), "appeal_lodged", person, detail);
        let entry = record::append(tx, deed).await?;
        let appeal = Appeal { attempt_id: attempt, text: text.to_owned(), lodged_at: now, record_entry_id: entry };
        decisions::lodge(tx, appeal).await?;
        Ok(Lodged::Done)
    });
    match lodged.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::APPEAL => Ok(Lodged::Before),
        other => other,
    }
}

/// What comes of deciding on an appeal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// It is on record; with the certificate's number when upholding it granted one.
    Done(Option<Number>),
    /// It was decided before; that stands.
    Before,
    /// Not by this somebody. That they tried is on record.
    Barred(Bar),
}

/// Decides on the appeal about a sitting. Any branch's decider may: that of the person's own has mostly decided before.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such appeal, or when the store does not answer.
pub async fn decide_appeal(
    deeds: &Deeds,
    by: Decider,
    attempt: AttemptId,
    finding: Finding,
    reason: &str,
) -> Result<Heard, ActionError> {
    let now = deeds.clock.now();
    let read = deeds.bank.now();
    let heard =
        write(&deeds.db, async |tx| decide_appeal_in(deeds, tx, &read.bank, by, (attempt, finding, reason), now).await)
            .await;
    match heard {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::APPEAL_DECISION => {
            heard_before(deeds, by, attempt, finding, reason).await
        }
        Ok(Heard::Before) => heard_before(deeds, by, attempt, finding, reason).await,
        other => {
            deeds.letters.notify_one();
            other
        }
    }
}

/// The same click, or another one that was faster.
async fn heard_before(
    deeds: &Deeds,
    by: Decider,
    attempt: AttemptId,
    finding: Finding,
    reason: &str,
) -> Result<Heard, ActionError> {
    let before = decisions::find_appeal_decision(&deeds.db, attempt).await?.ok_or(StoreError::NotFound)?;
    let same_click = (before.decided_by, before.finding, before.reason.as_str()) == (by.person, finding, reason);
    if !same_click {
        return Ok(Heard::Before);
    }
    let certificate = certificates::find_of_attempt(&deeds.db, attempt).await?;
    Ok(Heard::Done(certificate.map(|of| of.number)))
}

async fn decide_appeal_in(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    by: Decider,
    (attempt, finding, reason): (AttemptId, Finding, &str),
    now: Moment,
) -> Result<Heard, ActionError> {
    decisions::find_appeal(tx, attempt).await?.ok_or(StoreError::NotFound)?;
    let decision = decisions::find(tx, attempt).await?.ok_or(StoreError::NotFound)?;
    let kept = proposals::by_attempt(tx, attempt).await?;
    people::in_turn(tx, kept.entry.person_id).await?;
    let person = people::by_id(tx, kept.entry.person_id).await?;
    if decisions::find_appeal_decision(tx, attempt).await?.is_some() {
        return Ok(Heard::Before);
    }
    if let Some(bar) = bar(tx, bank, by, &person, &kept, Some(&decision)).await? {
        turned_away(tx, by, &person, attempt, bar, now).await?;
        return Ok(Heard::Barred(bar));
    }
    let detail = serde_json::json!({ "attempt": attempt.0, "decided": finding, "reason": reason });
    let deed = about_person_with(now, Some(by.person), "appeal_decided", person.id, detail);
    let entry = record::append(tx, deed).await?;
    let heard = AppealDecision {
        attempt_id: attempt,
        finding,
        reason: reason.to_owned(),
        decided_by: by.person,
        decided_at: now,
        record_entry_id: entry,
    };
    decisions::insert_appeal_decision(tx, heard).await?;
    let overtaken = is_overtaken(tx, &kept.entry).await?;
    let grants = finding == Finding::Upheld && remedy(decision.proposes, overtaken) == Remedy::Certificate;
    let number = if grants { Some(grant(tx, bank, &kept, by.person, now).await?) } else { None };
    tell_decision(deeds, tx, bank, &person, &kept, What { on: Occasion::Appeal, number }, now).await?;
    Ok(Heard::Done(number))
}

/// Whether what has happened since keeps a sitting from giving a certificate, as [`remedy`] means it.
///
/// # Errors
/// When the store does not answer.
pub async fn is_overtaken(db: &impl ConnectionTrait, of: &NewProposal) -> Result<bool, StoreError> {
    let missed = missed_since(db, of.person_id, of.examined_at).await?;
    if of.competences.iter().any(|competence| missed.contains(competence)) {
        return Ok(true);
    }
    let all = certification::of_person(db, of.person_id).await?.certificates;
    Ok(all.iter().any(|later| later.entry.scheme_key == of.scheme_key && later.entry.examined_at > of.examined_at))
}
