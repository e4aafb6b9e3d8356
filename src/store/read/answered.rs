//! What everybody has answered in examinations so far, template by template: what the difficulty of forms is told from.
//!
//! Counts each person's first sitting by a scheme alone: whoever comes again knows more. Never says who answered.

use crate::domain::examination::difficulty::Answers;
use crate::domain::statistics::Answered;
use crate::store::StoreError;
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};

#[derive(FromQueryResult)]
struct Row {
    template_key: String,
    template_version: i32,
    asked: i64,
    answered_rightly: i64,
}

const ANSWERED: &str = "SELECT q.template_key, q.template_version, count(*) AS asked,
  sum(CASE WHEN g.correct THEN 1 ELSE 0 END) AS answered_rightly
FROM (SELECT min(id) AS id FROM attempt WHERE kind = 'examination' GROUP BY person_id, scheme_key) first
JOIN grade g ON g.attempt_id = first.id
JOIN attempt_question q ON q.attempt_id = g.attempt_id AND q.position = g.position
GROUP BY q.template_key, q.template_version";

/// All of it; one query.
///
/// # Errors
/// Those of every query.
pub async fn answered(db: &impl ConnectionTrait) -> Result<Answers, StoreError> {
    let mut answers = Answers::default();
    let rows = Row::find_by_statement(Statement::from_string(db.get_database_backend(), ANSWERED)).all(db).await?;
    for row in rows {
        let count = |count: i64| u32::try_from(count).unwrap_or(u32::MAX);
        let seen = Answered { right: count(row.answered_rightly), asked: count(row.asked) };
        answers.add(row.template_key, u32::try_from(row.template_version).unwrap_or_default(), seen);
    }
    Ok(answers)
}
