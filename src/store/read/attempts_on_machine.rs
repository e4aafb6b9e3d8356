//! Which sittings that qualified somebody asked about a machine, and by which version of its profile.

use crate::store::{AttemptId, StoreError};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use std::collections::BTreeMap;

#[derive(FromQueryResult)]
struct Row {
    attempt_id: AttemptId,
    machine_version: i32,
}

/// From the qualifications to their questions: practice, which is most of all questions, is never looked at. The form of
/// a sitting is put together in one moment, so it knows one version of a machine.
const ASKED: &str = "SELECT aq.attempt_id, max(aq.machine_version) AS machine_version
FROM attempt_question aq
WHERE aq.machine_key = $1 AND aq.attempt_id IN (SELECT q.attempt_id FROM qualification q WHERE q.outcome = 'qualified')
GROUP BY aq.attempt_id";

/// Those sittings, each with the version.
///
/// # Errors
/// Those of every query.
pub async fn attempts_on_machine(
    db: &impl ConnectionTrait,
    machine: &str,
) -> Result<BTreeMap<AttemptId, i32>, StoreError> {
    let statement = Statement::from_sql_and_values(db.get_database_backend(), ASKED, [machine.into()]);
    let rows = Row::find_by_statement(statement).all(db).await?;
    Ok(rows.into_iter().map(|row| (row.attempt_id, row.machine_version)).collect())
}
