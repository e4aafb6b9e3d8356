//! Answering a question of practice: saved and graded at once, so that the explanation can follow.

use super::conclude::{read_question, worth};
use super::{ActionError, Deeds};
use crate::domain::scenario::grade::{Answer, NotAnAnswer, grade};
use crate::store::attempts::{self, AttemptKind, Saving};
use crate::store::{AttemptId, PersonId, StoreError, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Answered {
    /// Saved and graded; or it had been answered before, and that answer stands.
    Graded,
    /// It is a later part of a case, and the part before it is not answered; nothing was saved.
    TooEarly,
    /// It is no answer to this question; nothing was saved.
    NotAnAnswer(NotAnAnswer),
}

/// Saves and grades a person's answer. The first answer stands.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such practice question, or when the store does not answer.
pub async fn answer_practice_question(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    position: i32,
    answer: &Answer,
) -> Result<Answered, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        // Of two clicks the second finds the grade of the first.
        if attempts::locked(tx, person, attempt).await?.kind != AttemptKind::Practice {
            return Err(StoreError::NotFound.into());
        }
        let asked = attempts::question(tx, attempt, position).await?;
        let question = read_question(&asked)?;
        if attempts::grades(tx, attempt).await?.iter().any(|grade| grade.position == position) {
            return Ok(Answered::Graded);
        }
        let graded = match grade(&question, answer) {
            Ok(graded) => graded,
            Err(not) => return Ok(Answered::NotAnAnswer(not)),
        };
        let text = serde_json::to_string(answer).map_err(|error| StoreError::Corrupt(error.to_string()))?;
        if attempts::save_response(tx, person, attempt, &asked, &text, now).await? == Saving::TooEarly {
            return Ok(Answered::TooEarly);
        }
        attempts::store_grades_and_result(tx, attempt, &[worth(position, &graded)], None).await?;
        Ok(Answered::Graded)
    })
    .await
}
