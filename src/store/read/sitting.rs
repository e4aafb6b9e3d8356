//! One graded sitting as an auditor needs it: what was asked, from which versions, what was answered, what it was worth,
//! and the entries of the record that tell of it. A fixed number of queries, whatever the number of questions.
//!
//! Never gives a sitting that is not graded: its key must not leave. Never gives the seed, only its SHA-256.

use crate::domain::examination::outcome::Outcome;
use crate::domain::scenario::Question;
use crate::domain::scenario::grade::Answer;
use crate::domain::units::Moment;
use crate::store::attempts::{self, AttemptKind};
use crate::store::debriefs::{self, Debrief};
use crate::store::qualifications::{self, Qualification};
use crate::store::record::{self, RecordEntry};
use crate::store::{AttemptId, PersonId, StoreError, people};
use sea_orm::ConnectionTrait;
use serde::de::DeserializeOwned;
use sha2::{Digest as _, Sha256};

/// A graded sitting.
#[derive(Clone, Debug)]
pub struct Sitting {
    /// Its number.
    pub attempt_id: AttemptId,
    /// Whose it is.
    pub person_id: PersonId,
    /// By which scheme.
    pub scheme_key: String,
    /// In which version.
    pub scheme_version: i32,
    /// When it began.
    pub started_at: Moment,
    /// When it was handed in.
    pub submitted_at: Option<Moment>,
    /// Whether the clock handed it in.
    pub by_the_clock: bool,
    /// When it was graded.
    pub graded_at: Moment,
    /// SHA-256 of the secret seed, in hexadecimal: proves later which seed it was without giving it away.
    pub seed_sha256: String,
    /// What it came to.
    pub outcome: Outcome,
    /// The questions, in order.
    pub questions: Vec<Asked>,
    /// What it decided, by competence.
    pub decided: Vec<Qualification>,
    /// The talk about it, with the name of who held it.
    pub debrief: Option<(Debrief, String)>,
    /// What is on record about it, oldest first.
    pub entries: Vec<RecordEntry>,
}

/// A question of a sitting.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Its place, from 1.
    pub position: i32,
    /// The question as it was frozen.
    pub question: Question,
    /// The last saved answer and when it was saved; nothing when none was.
    pub answer: Option<(Answer, Moment)>,
    /// Whether the answer is right.
    pub correct: bool,
    /// The wrong models that the answer shows.
    pub misconceptions: Vec<String>,
}

/// A person's graded sitting.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such examination, or it is not graded yet.
pub async fn graded(db: &impl ConnectionTrait, person: PersonId, id: AttemptId) -> Result<Sitting, StoreError> {
    let attempt = attempts::by_id(db, person, id).await?;
    let result = attempts::find_result(db, id).await?.ok_or(StoreError::NotFound)?;
    if attempt.kind != AttemptKind::Examination {
        return Err(StoreError::NotFound);
    }
    let debrief = match debriefs::find_of_attempt(db, id).await? {
        Some(held) => Some((held.clone(), people::by_id(db, held.trainer_id).await?.display_name)),
        None => None,
    };
    let by_the_clock = attempt.is_by_the_clock();
    Ok(Sitting {
        attempt_id: id,
        person_id: person,
        scheme_key: attempt.scheme_key.unwrap_or_default(),
        scheme_version: attempt.scheme_version.unwrap_or_default(),
        started_at: attempt.started_at,
        submitted_at: attempt.submitted_at,
        by_the_clock,
        graded_at: result.graded_at,
        seed_sha256: Sha256::digest(attempt.seed).iter().map(|byte| format!("{byte:02x}")).collect(),
        outcome: read_back(&result.outcome, "attempt_result.outcome")?,
        questions: asked(db, id).await?,
        decided: qualifications::of_attempt(db, id).await?,
        debrief,
        entries: record::of_subject(db, "attempt", id.0).await?,
    })
}

async fn asked(db: &impl ConnectionTrait, id: AttemptId) -> Result<Vec<Asked>, StoreError> {
    let responses = attempts::responses(db, id).await?;
    let grades = attempts::grades(db, id).await?;
    let questions = attempts::questions(db, id).await?.into_iter();
    let questions = questions.map(|frozen| {
        let position = frozen.position;
        let saved = responses.iter().find(|saved| saved.position == position);
        let answer = match saved {
            Some(saved) => Some((read_back(&saved.answer, "response.answer")?, saved.saved_at)),
            None => None,
        };
        let grade = grades.iter().find(|grade| grade.position == position);
        Ok(Asked {
            position,
            question: read_back(&frozen.question.json, "attempt_question.question")?,
            answer,
            correct: grade.is_some_and(|grade| grade.correct),
            misconceptions: grade.map(|grade| grade.misconceptions.clone()).unwrap_or_default(),
        })
    });
    questions.collect::<Result<_, StoreError>>()
}

/// What was kept as JSON.
pub(super) fn read_back<T: DeserializeOwned>(json: &str, column: &str) -> Result<T, StoreError> {
    serde_json::from_str(json).map_err(|cause| StoreError::Corrupt(format!("{column}: {cause}")))
}
