//! Signing an observation: assessor and candidate each type their own password on the assessor's device, and it is closed.
//!
//! Keeps neither password. Wrong ones are counted for whom they were typed and by who watches: guesses at sign-in hold nobody up.

use super::observe::{About, Assessor, Refused, about, own, refuse};
use super::own_password::{Verified, verified};
use super::{ActionError, Deeds};
use crate::domain::examination::observation::{Open, Outcome};
use crate::store::observations::{self, MAKING, Signed, digest, in_order};
use crate::store::{ObservationId, people, record, write};
use serde_json::json;

/// What both type.
#[derive(Clone, Copy)]
pub struct Passwords<'p> {
    /// The assessor's.
    pub assessor: &'p str,
    /// The candidate's.
    pub candidate: &'p str,
}

/// Whose password is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signer {
    /// Whoever watched.
    Assessor,
    /// Whoever was watched.
    Candidate,
}

/// What comes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Signing {
    /// It is signed, now or before: the same twice is the same once.
    Done(Outcome),
    /// Something is still open.
    Open(Vec<Open>),
    /// This password is not right; nothing was changed.
    Wrong(Signer),
    /// Wrong too often: again in so many seconds.
    Wait(i64),
}

/// Signs.
///
/// # Errors
/// [`crate::store::StoreError::NotFound`] when the assessor has no such observation, or when the store does not answer.
pub async fn sign_observation(
    deeds: &Deeds,
    by: Assessor,
    id: ObservationId,
    typed: Passwords<'_>,
) -> Result<Signing, ActionError> {
    let of = own(deeds, by, id).await?;
    if let Some(signed) = observations::find_signed(&deeds.db, id).await? {
        return Ok(Signing::Done(signed.outcome));
    }
    let list = of.list()?;
    let open = list.open(&in_order(&list, &observations::steps(&deeds.db, id).await?));
    if !open.is_empty() {
        return Ok(Signing::Open(open));
    }
    let both = [
        (Signer::Assessor, of.assessor_id, typed.assessor, Refused::WrongPasswordOfAssessor),
        (Signer::Candidate, of.person_id, typed.candidate, Refused::WrongPasswordOfCandidate),
    ];
    let mut kept = Vec::new();
    for (signer, person, password, refused) in both {
        match verified(deeds, &people::by_id(&deeds.db, person).await?, password, by.person).await? {
            Verified::Right(phc) => kept.push((person, phc)),
            Verified::Wait(seconds) => return Ok(Signing::Wait(seconds)),
            Verified::Wrong(_) => {
                refuse(deeds, by.person, About::Observation(id), refused).await?;
                return Ok(Signing::Wrong(signer));
            }
        }
    }
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        // In the order of their numbers, so that no two who sign wait for each other.
        for person in [of.assessor_id.min(of.person_id), of.assessor_id.max(of.person_id)] {
            people::in_turn(tx, person).await?;
        }
        let of = observations::lock_own(tx, by.person, id).await?;
        if let Some(signed) = observations::find_signed(tx, id).await? {
            return Ok(Signing::Done(signed.outcome));
        }
        for ((person, phc), (signer, ..)) in kept.iter().zip(&both) {
            // The password or the person may have changed while the hash was being computed.
            let same =
                people::find_password_phc(tx, *person).await? == *phc && people::by_id(tx, *person).await?.active;
            if !same {
                return Ok(Signing::Wrong(*signer));
            }
        }
        let steps = observations::steps(tx, id).await?;
        let marks = in_order(&list, &steps);
        let Some(outcome) = list.outcome(&marks) else { return Ok(Signing::Open(list.open(&marks))) };
        let detail = json!({
            "person": of.person_id,
            "task": of.task.id(),
            "machine": of.machine_key,
            "passed": outcome.passed,
            "missed_critical": outcome.missed_critical,
            "making": MAKING,
            "sha256": digest(&of, &steps, &outcome, now),
        });
        let entry = record::append(tx, about(now, by.person, "observation_signed", id, detail)).await?;
        let signed = Signed { outcome: outcome.clone(), signed_at: now, record_entry_id: entry };
        observations::sign(tx, id, &signed).await?;
        Ok::<_, ActionError>(Signing::Done(outcome))
    })
    .await
}
