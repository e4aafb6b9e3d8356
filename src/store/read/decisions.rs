//! The sittings with what was proposed, decided and appealed against: those that wait first.

use crate::domain::certification::decision::{Finding, Verdict};
use crate::domain::certification::proposal::Proposes;
use crate::domain::units::Moment;
use crate::store::columns::{Ts, from_word};
use crate::store::{AttemptId, BranchId, PersonId, StoreError};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};

/// One sitting on the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DecisionLine {
    /// The sitting.
    pub attempt_id: AttemptId,
    /// Whose.
    pub person_id: PersonId,
    /// Their name.
    pub display_name: String,
    /// Their branch.
    pub branch_id: BranchId,
    /// Its name.
    pub branch_name: String,
    /// The scheme.
    pub scheme_key: String,
    /// What is proposed.
    pub proposes: Proposes,
    /// When the sitting was graded.
    pub examined_at: Moment,
    /// Whether the person has been graded by the same scheme since.
    pub superseded: bool,
    /// What was decided, and when.
    pub decided: Option<(Verdict, Moment)>,
    /// By whom; nobody when it was granted by rule.
    pub decided_by: Option<PersonId>,
    /// Why, in words; empty when nothing was written.
    pub reason: String,
    /// When an appeal was lodged.
    pub appealed_at: Option<Moment>,
    /// What was written in it; empty when there is none.
    pub appeal: String,
    /// What was decided on it.
    pub finding: Option<Finding>,
    /// Why, in words.
    pub finding_reason: String,
}

impl DecisionLine {
    /// Whether there is an appeal that nobody has decided on.
    #[must_use]
    pub const fn appeal_waits(&self) -> bool {
        self.appealed_at.is_some() && self.finding.is_none()
    }
}

#[derive(FromQueryResult)]
struct Row {
    attempt_id: AttemptId,
    person_id: PersonId,
    display_name: String,
    branch_id: BranchId,
    branch_name: String,
    scheme_key: String,
    proposes: String,
    examined_at: Ts,
    superseded: i64,
    outcome: Option<String>,
    decided_at: Option<Ts>,
    decided_by: Option<PersonId>,
    reason: Option<String>,
    lodged_at: Option<Ts>,
    appeal: Option<String>,
    finding: Option<String>,
    finding_reason: Option<String>,
}

const LINES: &str =
    "SELECT x.attempt_id, x.person_id, p.display_name, p.branch_id, b.name AS branch_name, x.scheme_key,
  x.proposes, x.examined_at,
  (SELECT count(*) FROM proposal y WHERE y.person_id = x.person_id AND y.scheme_key = x.scheme_key
    AND y.attempt_id > x.attempt_id) AS superseded,
  d.outcome, d.decided_at, d.decided_by, d.reason, a.lodged_at, a.text AS appeal, f.outcome AS finding, f.reason AS finding_reason
FROM proposal x
JOIN person p ON p.id = x.person_id
JOIN branch b ON b.id = p.branch_id
LEFT JOIN decision d ON d.attempt_id = x.attempt_id
LEFT JOIN appeal a ON a.attempt_id = x.attempt_id
LEFT JOIN appeal_decision f ON f.attempt_id = x.attempt_id
WHERE NOT EXISTS (SELECT 1 FROM proposal z WHERE z.attempt_id = x.attempt_id AND z.id > x.id)
  AND ($1 = 0 OR x.person_id = $1)
ORDER BY x.examined_at DESC, x.id DESC";

/// Every sitting that something was proposed about, newest first; of one person or of all.
///
/// # Errors
/// Those of every query.
pub async fn lines(db: &impl ConnectionTrait, person: Option<PersonId>) -> Result<Vec<DecisionLine>, StoreError> {
    let person = person.map_or(0, |person| person.0);
    let statement = Statement::from_sql_and_values(db.get_database_backend(), LINES, [person.into()]);
    let line = |row: Row| {
        let verdict = row.outcome.map(|outcome| from_word("decision.outcome", &outcome)).transpose()?;
        Ok(DecisionLine {
            attempt_id: row.attempt_id,
            person_id: row.person_id,
            display_name: row.display_name,
            branch_id: row.branch_id,
            branch_name: row.branch_name,
            scheme_key: row.scheme_key,
            proposes: from_word("proposal.proposes", &row.proposes)?,
            examined_at: row.examined_at.into(),
            superseded: row.superseded > 0,
            decided: verdict.zip(row.decided_at.map(Moment::from)),
            decided_by: row.decided_by,
            reason: row.reason.unwrap_or_default(),
            appealed_at: row.lodged_at.map(Moment::from),
            appeal: row.appeal.unwrap_or_default(),
            finding_reason: row.finding_reason.unwrap_or_default(),
            finding: row.finding.map(|finding| from_word("appeal_decision.outcome", &finding)).transpose()?,
        })
    };
    Row::find_by_statement(statement).all(db).await?.into_iter().map(line).collect()
}
