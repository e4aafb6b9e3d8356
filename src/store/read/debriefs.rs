//! The attempts in which a mandatory question was answered wrongly and that nobody has gone through with the person yet.

use crate::domain::units::Moment;
use crate::store::{AttemptId, BranchId, PersonId, StoreError, columns::Ts};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};

/// An attempt that waits for its debrief.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AwaitedDebrief {
    /// The attempt.
    pub attempt_id: AttemptId,
    /// Whose it is.
    pub person_id: PersonId,
    /// Their name.
    pub display_name: String,
    /// Their branch's name.
    pub branch_name: String,
    /// The scheme.
    pub scheme_key: String,
    /// When it was handed in.
    pub submitted_at: Moment,
}

#[derive(FromQueryResult)]
struct Row {
    attempt_id: AttemptId,
    person_id: PersonId,
    display_name: String,
    branch_name: String,
    scheme_key: String,
    submitted_at: Ts,
}

const AWAITED: &str = "SELECT a.id AS attempt_id, p.id AS person_id, p.display_name, b.name AS branch_name,
  a.scheme_key, a.submitted_at
FROM attempt a JOIN person p ON p.id = a.person_id JOIN branch b ON b.id = p.branch_id
WHERE p.active AND a.kind = 'examination' AND a.submitted_at IS NOT NULL AND ($1 = 0 OR p.branch_id = $1)
  AND EXISTS (SELECT 1 FROM qualification q WHERE q.attempt_id = a.id AND q.safety_miss)
  AND NOT EXISTS (SELECT 1 FROM debrief d WHERE d.attempt_id = a.id)
ORDER BY a.submitted_at, a.id";

/// The attempts that wait, the longest first; of one branch or of all.
///
/// # Errors
/// Those of every query.
pub async fn awaited(db: &impl ConnectionTrait, branch: Option<BranchId>) -> Result<Vec<AwaitedDebrief>, StoreError> {
    let branch = branch.map_or(0, |branch| branch.0);
    let statement = Statement::from_sql_and_values(db.get_database_backend(), AWAITED, [branch.into()]);
    let rows = Row::find_by_statement(statement).all(db).await?;
    let awaited = rows.into_iter().map(|row| AwaitedDebrief {
        attempt_id: row.attempt_id,
        person_id: row.person_id,
        display_name: row.display_name,
        branch_name: row.branch_name,
        scheme_key: row.scheme_key,
        submitted_at: row.submitted_at.into(),
    });
    Ok(awaited.collect())
}
