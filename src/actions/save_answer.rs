//! Saving one answer of an examination. It is saved when this says so, and not before.

use super::close_overdue::close_when_over;
use super::conclude::read_question;
use super::{ActionError, Deeds};
use crate::domain::scenario::grade::{Answer, NotAnAnswer, grade};
use crate::domain::units::Moment;
use crate::store::attempts::{self, AttemptKind, AttemptState, Saving};
use crate::store::{AttemptId, PersonId, StoreError, write};

/// What became of the answer.
#[derive(Debug, PartialEq, Eq)]
pub enum AnswerSaved {
    /// COMMIT has returned: it is saved, since then.
    Saved(Moment),
    /// The examination is handed in, or its time is over: nothing was changed.
    Closed,
    /// It is no answer to this question: nothing was changed.
    NotAnAnswer(NotAnAnswer),
}

/// Saves a person's answer to one question of their own open examination, in place of an earlier one.
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
    let now = deeds.clock.now();
    let saved = write::<_, ActionError, _>(&deeds.db, async |tx| {
        let own = attempts::by_id(tx, person, attempt).await?;
        if own.kind != AttemptKind::Examination {
            return Err(StoreError::NotFound.into());
        }
        // Before the answer is looked at: to whom it is too late, nothing else matters.
        if own.state != AttemptState::Open || own.is_overdue(now) {
            return Ok(AnswerSaved::Closed);
        }
        let question = read_question(&attempts::question(tx, attempt, position).await?)?;
        // Graded only to see whether it is an answer at all: what it is worth is not looked at before the end.
        if let Err(not) = grade(&question, answer) {
            return Ok(AnswerSaved::NotAnAnswer(not));
        }
        let text = serde_json::to_string(answer).map_err(|error| StoreError::Corrupt(error.to_string()))?;
        Ok(match attempts::save_response(tx, person, attempt, position, &text, now).await? {
            Saving::Saved { .. } => AnswerSaved::Saved(now),
            Saving::Closed => AnswerSaved::Closed,
        })
    })
    .await?;
    if saved == AnswerSaved::Closed {
        // Whoever comes too late finds the result, not a sitting that looks open.
        close_when_over(deeds, &attempts::by_id(&deeds.db, person, attempt).await?, now).await?;
    }
    Ok(saved)
}
