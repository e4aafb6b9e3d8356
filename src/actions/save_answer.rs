//! Saving one answer of an examination. It is saved when this says so, and not before.

use super::close_overdue::close_when_over;
use super::conclude::read_question;
use super::refused_access::{LATE_ANSWER, put_on_record};
use super::{ActionError, Deeds};
use crate::domain::scenario::grade::{Answer, NotAnAnswer, grade};
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt, AttemptKind, AttemptQuestion, AttemptState, Saving};
use crate::store::{AttemptId, PersonId, StoreError, write};

/// What became of the answer.
#[derive(Debug, PartialEq, Eq)]
pub enum AnswerSaved {
    /// COMMIT has returned: it is saved, since then.
    Saved(Moment),
    /// The examination is handed in, or its time is over: nothing was changed.
    Closed,
    /// It is a later part of a case, and the part before it has no saved answer: nothing was changed.
    TooEarly,
    /// It is a part of a case that another follows, and it was answered before: nothing was changed.
    Fixed,
    /// It is no answer to this question: nothing was changed.
    NotAnAnswer(NotAnAnswer),
}

/// Saves a person's answer to one question of their own open examination, in place of an earlier one; inside a case an
/// earlier one stands.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such examination question, or when the store does not answer.
pub async fn save_answer(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    position: i32,
    answer: &Answer,
) -> Result<AnswerSaved, ActionError> {
    // Read before the transaction, because a frozen question never changes: everybody's answers queue for one writer.
    let (own, asked) = attempts::asked_of(&deeds.db, person, attempt, position).await?;
    save_to(deeds, &own, &asked, answer).await
}

/// The same for an attempt that was read a moment ago, of the person whose it is. What may have changed since is looked at
/// again.
///
/// # Errors
/// [`StoreError::NotFound`] when it is no examination, or when the store does not answer.
pub async fn save_to(
    deeds: &Deeds,
    own: &Attempt,
    asked: &AttemptQuestion,
    answer: &Answer,
) -> Result<AnswerSaved, ActionError> {
    let (now, person, attempt) = (deeds.clock.now(), own.person_id, own.id);
    if own.kind != AttemptKind::Examination {
        return Err(StoreError::NotFound.into());
    }
    // Before the answer is looked at: to whom it is too late, nothing else matters. Saving looks again.
    if own.state != AttemptState::Open || own.is_overdue(now) {
        return closed(deeds, person, attempt, now).await;
    }
    // Graded only to see whether it is an answer at all: what it is worth is not looked at before the end.
    if let Err(not) = grade(&read_question(asked)?, answer) {
        return Ok(AnswerSaved::NotAnAnswer(not));
    }
    let text = serde_json::to_string(answer).map_err(|error| StoreError::Corrupt(error.to_string()))?;
    let saving = write::<_, StoreError, _>(&deeds.db, async |tx| {
        attempts::save_response(tx, person, attempt, asked, &text, now).await
    });
    match saving.await? {
        Saving::Saved { .. } => Ok(AnswerSaved::Saved(now)),
        Saving::Closed => closed(deeds, person, attempt, now).await,
        Saving::TooEarly => Ok(AnswerSaved::TooEarly),
        Saving::Fixed => Ok(AnswerSaved::Fixed),
    }
}

/// Whoever comes too late finds the result, not a sitting that looks open; that they came is on record.
async fn closed(deeds: &Deeds, person: PersonId, attempt: AttemptId, now: Moment) -> Result<AnswerSaved, ActionError> {
    close_when_over(deeds, &attempts::by_id(&deeds.db, person, attempt).await?, now).await?;
    put_on_record(deeds, person, attempt, LATE_ANSWER, now).await?;
    Ok(AnswerSaved::Closed)
}
