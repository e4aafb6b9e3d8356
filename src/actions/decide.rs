//! Deciding on a proposal: granted or refused, by somebody who is neither the person nor their trainer.
//!
//! Source: ISO/IEC 17024 (secondary). A missed safety question is never granted away: the rule is in the domain, and the
//! database refuses it too.

use super::grant::grant;
use super::on_record::about_person_with;
use super::propose::propose_anew;
use super::tell_decision::{Occasion, What, tell_decision};
use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::Number;
use crate::domain::certification::decision::{Bar, Flaw, Involvement, Verdict, may_follow};
use crate::domain::certification::proposal::{Openness, openness};
use crate::domain::examination::scheme::DECIDERS;
use crate::domain::people::Role;
use crate::domain::units::Moment;
use crate::store::certificates;
use crate::store::decisions::{self, Decision};
use crate::store::people::Person;
use crate::store::proposals::{self, KeptProposal};
use crate::store::read::decisions::DecisionLine;
use crate::store::read::trained::who_trained;
use crate::store::{AttemptId, BranchId, PersonId, StoreError, conflict, people, record, write};
use sea_orm::ConnectionTrait;

/// Somebody who decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Decider {
    /// Who.
    pub person: PersonId,
    /// What they are.
    pub role: Role,
    /// Where they belong.
    pub branch: BranchId,
}

impl Decider {
    /// Whether this person's certification is theirs to look after: a service manager's own branch, an administrator's all.
    #[must_use]
    pub fn looks_after(&self, branch: BranchId) -> bool {
        self.role == Role::Administrator || self.branch == branch
    }

    /// Whether the decision about a sitting waits for them. What else bars them is found when they decide.
    #[must_use]
    pub fn is_to_decide(&self, line: &DecisionLine, now: Moment) -> bool {
        line.decided.is_none()
            && openness(line.examined_at, line.superseded, now) == Openness::Waits
            && self.looks_after(line.branch_id)
            && line.person_id != self.person
    }

    /// Whether that, or an appeal about the sitting, waits for them.
    #[must_use]
    pub fn is_awaited(&self, line: &DecisionLine, now: Moment) -> bool {
        let hears = line.decided_by != Some(self.person) && line.person_id != self.person;
        self.is_to_decide(line, now) || (line.appeal_waits() && hears)
    }
}

/// A decision as it was asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'t> {
    /// About which sitting.
    pub attempt: AttemptId,
    /// What.
    pub verdict: Verdict,
    /// Why, in words.
    pub reason: &'t str,
    /// What the form carried: the same again is the same click.
    pub key: &'t str,
}

/// What comes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Decided {
    /// It is on record; with the certificate's number when one was granted.
    Done(Option<Number>),
    /// Somebody had decided before, or the same click had; that stands.
    Before,
    /// Not by this somebody. That they tried is on record.
    Barred(Bar),
    /// The verdict does not follow on the proposal.
    Flawed(Flaw),
    /// Nothing waits any more.
    NotOpen(Openness),
    /// What the person brings has changed: there is a new proposal, to be looked at first.
    NewProposal,
}

/// Decides on the proposal about a sitting.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such proposal, or it is another branch's; or when the store does not answer.
pub async fn decide(deeds: &Deeds, by: Decider, asked: Asked<'_>) -> Result<Decided, ActionError> {
    let now = deeds.clock.now();
    let read = deeds.bank.now();
    let done = write(&deeds.db, async |tx| decide_in(deeds, tx, &read.bank, by, asked, now).await).await;
    match done {
        // Two clicks at once: the first one stands.
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::DECISION => Ok(Decided::Before),
        other => {
            deeds.letters.notify_one();
            other
        }
    }
}

async fn decide_in(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    by: Decider,
    asked: Asked<'_>,
    now: Moment,
) -> Result<Decided, ActionError> {
    people::in_turn(tx, proposals::by_attempt(tx, asked.attempt).await?.entry.person_id).await?;
    // What a hand-in, or somebody who changed the person, has written meanwhile.
    let kept = proposals::by_attempt(tx, asked.attempt).await?;
    let person = people::by_id(tx, kept.entry.person_id).await?;
    if !by.looks_after(person.branch_id) {
        return Err(StoreError::NotFound.into());
    }
    if let Some(before) = decisions::find(tx, asked.attempt).await? {
        let same_click = before.key == asked.key && before.decided_by == Some(by.person);
        let certificate = certificates::find_of_attempt(tx, asked.attempt).await?;
        return Ok(if same_click { Decided::Done(certificate.map(|of| of.number)) } else { Decided::Before });
    }
    if let Some(bar) = bar(tx, bank, by, &person, &kept, None).await? {
        turned_away(tx, by, &person, asked.attempt, bar, now).await?;
        return Ok(Decided::Barred(bar));
    }
    let superseded = proposals::is_superseded(tx, &kept.entry).await?;
    match openness(kept.entry.examined_at, superseded, now) {
        Openness::Waits => {}
        closed => return Ok(Decided::NotOpen(closed)),
    }
    if propose_anew(tx, bank, &kept, now).await? {
        return Ok(Decided::NewProposal);
    }
    if let Err(flaw) = may_follow(kept.entry.proposal.proposes, asked.verdict, asked.reason) {
        return Ok(Decided::Flawed(flaw));
    }
    let detail = serde_json::json!({
        "attempt": asked.attempt.0,
        "proposed": kept.entry.proposal.proposes,
        "decided": asked.verdict,
        "reason": asked.reason,
    });
    let deed = about_person_with(now, Some(by.person), "certification_decided", person.id, detail);
    let entry = record::append(tx, deed).await?;
    let decision = Decision {
        attempt_id: asked.attempt,
        proposal_id: kept.id,
        proposes: kept.entry.proposal.proposes,
        verdict: asked.verdict,
        reason: asked.reason.trim().to_owned(),
        decided_by: Some(by.person),
        decided_at: now,
        key: asked.key.to_owned(),
        record_entry_id: entry,
    };
    decisions::insert(tx, decision).await?;
    let number = match asked.verdict {
        Verdict::Granted => Some(grant(tx, bank, &kept, by.person, now).await?),
        Verdict::Refused => None,
    };
    let what = What { on: Occasion::Decision, number };
    tell_decision(deeds, tx, bank, &person, &kept, what, now).await?;
    Ok(Decided::Done(number))
}

/// What bars somebody from deciding about a person. `against` is the decision that an appeal is against.
///
/// # Errors
/// When the store does not answer.
pub async fn bar(
    db: &impl ConnectionTrait,
    bank: &Bank,
    by: Decider,
    person: &Person,
    kept: &KeptProposal,
    against: Option<&Decision>,
) -> Result<Option<Bar>, StoreError> {
    let trained = who_trained(db, person.id).await?.iter().any(|one| one.by == by.person);
    // A scheme that the bank no longer has is decided on by those whom every scheme may name.
    let named = match bank.scheme(&kept.entry.scheme_key) {
        Some(entry) => entry.scheme.decided_by.iter().any(|role| role == by.role.id()),
        None => DECIDERS.contains(&by.role.id()),
    };
    let involvement = Involvement {
        is_the_person: by.person == person.id,
        trained,
        decided: against.is_some_and(|decision| decision.decided_by == Some(by.person)),
        not_named: !named,
    };
    Ok(involvement.bar())
}

/// Puts on record that somebody wanted to decide who may not.
pub(super) async fn turned_away(
    tx: &impl ConnectionTrait,
    by: Decider,
    person: &Person,
    attempt: AttemptId,
    bar: Bar,
    now: Moment,
) -> Result<(), ActionError> {
    let detail = serde_json::json!({ "attempt": attempt.0, "because": bar });
    record::append(tx, about_person_with(now, Some(by.person), "decision_turned_away", person.id, detail)).await?;
    Ok(())
}
