//! Which wrong models people's answers show, how often and with how many people.

use crate::domain::units::Moment;
use crate::store::{BranchId, StoreError, attempts};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use std::collections::{BTreeMap, BTreeSet};

/// How often one wrong model was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MisconceptionCount {
    /// Which.
    pub misconception: String,
    /// In how many answers.
    pub answers: i64,
    /// With how many people.
    pub people: usize,
}

#[derive(FromQueryResult)]
struct Row {
    misconceptions: String,
    person_id: i64,
    answers: i64,
}

const SEEN: &str = "SELECT g.misconceptions, a.person_id, count(*) AS answers
FROM grade g JOIN attempt a ON a.id = g.attempt_id JOIN person p ON p.id = a.person_id
WHERE g.misconceptions <> '[]' AND a.started_at >= $1 AND ($2 = 0 OR p.branch_id = $2)
GROUP BY g.misconceptions, a.person_id";

/// What the answers of attempts begun since `since` show, most often first; of one branch or of all.
///
/// # Errors
/// Those of every query.
pub async fn counts(
    db: &impl ConnectionTrait,
    since: Moment,
    branch: Option<BranchId>,
) -> Result<Vec<MisconceptionCount>, StoreError> {
    let branch = branch.map_or(0, |branch| branch.0);
    let statement = Statement::from_sql_and_values(db.get_database_backend(), SEEN, [since.0.into(), branch.into()]);
    let mut seen: BTreeMap<String, (i64, BTreeSet<i64>)> = BTreeMap::new();
    for row in Row::find_by_statement(statement).all(db).await? {
        for misconception in attempts::misconceptions(&row.misconceptions)? {
            let (answers, people) = seen.entry(misconception).or_default();
            *answers += row.answers;
            people.insert(row.person_id);
        }
    }
    let mut counts: Vec<_> = seen
        .into_iter()
        .map(|(misconception, (answers, people))| MisconceptionCount { misconception, answers, people: people.len() })
        .collect();
    counts.sort_by(|a, b| b.answers.cmp(&a.answers).then_with(|| a.misconception.cmp(&b.misconception)));
    Ok(counts)
}
