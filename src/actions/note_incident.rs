//! Writing down what whoever watches saw in a sitting, and ending one: with the answers that were saved it is graded at once.
//!
//! Never looks at an answer, and never takes one away.

use super::begin_examination::on_attempt;
use super::close_overdue::close_when_over;
use super::conclude::conclude_attempt;
use super::invigilate::Invigilator;
use super::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::store::attempts::{self, Submission};
use crate::store::incidents::{self, Incident, IncidentKind};
use crate::store::{AttemptId, InvigilationId, PersonId, StoreError, conflict, invigilations, people, record, write};
use sea_orm::ConnectionTrait;

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noted {
    /// It is on record, now or by the same click before; a sitting that was to end has ended.
    Done,
    /// The sitting that was to end was over already: nothing was changed.
    Over,
    /// Nobody does this in their own sitting.
    OwnSitting,
}

/// What was seen.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'s> {
    /// Under which invigilation.
    pub under: InvigilationId,
    /// In whose sitting.
    pub attempt: AttemptId,
    /// Whether it ends the sitting.
    pub kind: IncidentKind,
    /// In words.
    pub text: &'s str,
    /// What the form carried: the same again is the same click.
    pub key: &'s str,
}

/// Writes it down, and ends the sitting where that is asked for.
///
/// # Errors
/// [`StoreError::NotFound`] when the branch has no such invigilation or it no such sitting, or when the store does not answer.
pub async fn note_incident(deeds: &Deeds, by: Invigilator, seen: Seen<'_>) -> Result<Noted, ActionError> {
    let now = deeds.clock.now();
    let read = deeds.bank.now();
    let before = attempts::by_id_of_anyone(&deeds.db, seen.attempt).await?;
    if before.person_id == by.person {
        return Ok(Noted::OwnSitting);
    }
    invigilations::by_id(&deeds.db, by.branch, seen.under).await?;
    if before.invigilation_id != Some(seen.under) {
        return Err(StoreError::NotFound.into());
    }
    if seen.kind == IncidentKind::Ended && close_when_over(deeds, &before, now).await? {
        return Ok(Noted::Over);
    }
    let noted = write(&deeds.db, async |tx| {
        if seen.kind == IncidentKind::Noted {
            write_down(tx, by.person, seen, now).await?;
            return Ok(Noted::Done);
        }
        match attempts::mark_ended(tx, before.person_id, seen.attempt, by.person, now).await? {
            Submission::First(closed) => {
                // Before the record's end is locked: whoever has the person's turn writes there next.
                people::in_turn(tx, before.person_id).await?;
                write_down(tx, by.person, seen, now).await?;
                conclude_attempt(deeds, tx, &read.bank, &closed, Some(by.person), now).await?;
                Ok(Noted::Done)
            }
            Submission::Repeated(_) | Submission::Closed(_) => Ok(ended_before(tx, seen).await?),
        }
    });
    let done = match noted.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::INCIDENT => Noted::Done,
        other => other?,
    };
    deeds.letters.notify_one();
    Ok(done)
}

/// A second click on the same button is the first one once more.
async fn ended_before(db: &impl ConnectionTrait, seen: Seen<'_>) -> Result<Noted, StoreError> {
    let all = incidents::of_attempts(db, &[seen.attempt]).await?;
    let same = all.iter().any(|incident| incident.key == seen.key && incident.kind == IncidentKind::Ended);
    Ok(if same { Noted::Done } else { Noted::Over })
}

async fn write_down(tx: &impl ConnectionTrait, by: PersonId, seen: Seen<'_>, now: Moment) -> Result<(), ActionError> {
    let deed = match seen.kind {
        IncidentKind::Noted => "incident_noted",
        IncidentKind::Ended => "sitting_ended",
    };
    let detail = serde_json::json!({ "text": seen.text, "invigilation": seen.under });
    let entry = record::append(tx, on_attempt(now, Some(by), deed, seen.attempt, detail)).await?;
    let new = Incident {
        attempt_id: seen.attempt,
        kind: seen.kind,
        text: seen.text.to_owned(),
        noted_by: by,
        noted_at: now,
        key: seen.key.to_owned(),
        record_entry_id: entry,
    };
    Ok(incidents::append(tx, new).await?)
}
