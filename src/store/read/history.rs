//! One person's whole history, in a few queries whatever its length.

use super::certification::{self, Certification};
use super::decisions::{DecisionLine, lines};
use super::sitting::read_back;
use crate::domain::scenario::Question;
use crate::store::{
    AttemptId, PersonId, StoreError,
    attempts::{Attempt, AttemptResult},
    debriefs::Debrief,
    entity::{attempt, attempt_result, debrief},
    qualifications::{self, Qualification},
};
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, Statement};
use std::collections::BTreeMap;

/// What a person has done and what it proved, newest first.
#[derive(Clone, Debug)]
pub struct History {
    /// Every attempt.
    pub attempts: Vec<AttemptOfHistory>,
    /// Every entry about their competences.
    pub qualifications: Vec<Qualification>,
    /// Their certificates, what happened with them, and what waits for a decision.
    pub certification: Certification,
    /// What was proposed, decided and appealed against, newest first.
    pub decisions: Vec<DecisionLine>,
}

/// An attempt with what followed on it.
#[derive(Clone, Debug)]
pub struct AttemptOfHistory {
    /// The attempt.
    pub attempt: Attempt,
    /// Its result, once it is graded.
    pub result: Option<AttemptResult>,
    /// The talk about it, once it was held.
    pub debrief: Option<Debrief>,
}

/// The history of a person.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<History, StoreError> {
    let rows = attempt::Entity::find()
        .find_also_related(attempt_result::Entity)
        .find_also_related(debrief::Entity)
        .filter(attempt::Column::PersonId.eq(person))
        .order_by_desc(attempt::Column::Id)
        .all(db)
        .await?;
    let attempts = rows
        .into_iter()
        .map(|(attempt, result, debrief)| {
            Ok(AttemptOfHistory {
                attempt: attempt.try_into()?,
                result: result.map(AttemptResult::from),
                debrief: debrief.map(Debrief::from),
            })
        })
        .collect::<Result<_, StoreError>>()?;
    Ok(History {
        attempts,
        qualifications: qualifications::of_person(db, person).await?,
        certification: certification::of_person(db, person).await?,
        decisions: lines(db, Some(person)).await?,
    })
}

/// A mandatory safety question that was answered wrongly, or not at all, in a graded examination.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MandatoryMiss {
    /// In which attempt.
    pub attempt_id: AttemptId,
    /// The question's place in it.
    pub position: i32,
    /// What it asked for.
    pub competence_key: String,
    /// What it asked, in words.
    pub prompt: String,
}

#[derive(FromQueryResult)]
struct MissRow {
    attempt_id: AttemptId,
    position: i32,
    competence_key: String,
    question: String,
}

const MISSES: &str = "SELECT q.attempt_id, q.position, q.competence_key, q.question
FROM attempt_question q
JOIN attempt a ON a.id = q.attempt_id
JOIN grade g ON g.attempt_id = q.attempt_id AND g.position = q.position
WHERE a.person_id = $1 AND a.kind = 'examination' AND q.mandatory AND NOT g.correct
ORDER BY q.attempt_id, q.position";

/// The mandatory safety questions that a person missed, by attempt and place.
///
/// # Errors
/// Those of every query.
pub async fn mandatory_misses(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<MandatoryMiss>, StoreError> {
    let statement = Statement::from_sql_and_values(db.get_database_backend(), MISSES, [person.0.into()]);
    let rows = MissRow::find_by_statement(statement).all(db).await?.into_iter();
    let misses = rows.map(|row| {
        let question: Question = read_back(&row.question, "attempt_question.question")?;
        Ok(MandatoryMiss {
            attempt_id: row.attempt_id,
            position: row.position,
            competence_key: row.competence_key,
            prompt: question.shown.prompt,
        })
    });
    misses.collect()
}

#[derive(FromQueryResult)]
struct NameRow {
    id: PersonId,
    display_name: String,
}

const HOLDERS: &str = "SELECT DISTINCT p.id, p.display_name
FROM debrief d JOIN attempt a ON a.id = d.attempt_id JOIN person p ON p.id = d.trainer_id
WHERE a.person_id = $1";

/// The names of those who have gone through a missed question with a person.
///
/// # Errors
/// Those of every query.
pub async fn debrief_holders(
    db: &impl ConnectionTrait,
    person: PersonId,
) -> Result<BTreeMap<PersonId, String>, StoreError> {
    let statement = Statement::from_sql_and_values(db.get_database_backend(), HOLDERS, [person.0.into()]);
    let rows = NameRow::find_by_statement(statement).all(db).await?;
    Ok(rows.into_iter().map(|row| (row.id, row.display_name)).collect())
}
