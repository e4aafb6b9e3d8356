//! Who sits under somebody's eyes: how far they are, not what they answered. Three queries, whatever the number of people.
//!
//! Never gives a question, an answer or a grade.

use crate::domain::units::Moment;
use crate::store::attempts::Attempt;
use crate::store::entity::{attempt, person};
use crate::store::{AttemptId, InvigilationId, PersonId, StoreError};
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, Statement};
use std::collections::BTreeMap;

/// Somebody's sitting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Watched {
    /// The sitting.
    pub attempt: Attempt,
    /// Who sits.
    pub name: String,
    /// Questions in all.
    pub questions: usize,
    /// Questions with a saved answer.
    pub answered: usize,
    /// When the last answer was saved.
    pub last_saved: Option<Moment>,
}

#[derive(FromQueryResult)]
struct Progress {
    attempt_id: AttemptId,
    questions: i64,
    answered: i64,
    last_saved: Option<i64>,
}

const PROGRESS: &str = "SELECT a.id AS attempt_id, count(q.id) AS questions, count(r.id) AS answered,
  max(r.saved_at) AS last_saved
FROM attempt a
JOIN attempt_question q ON q.attempt_id = a.id
LEFT JOIN response r ON r.attempt_id = q.attempt_id AND r.position = q.position
WHERE a.invigilation_id = $1
GROUP BY a.id";

/// Everybody who began with the code of an invigilation, in the order in which they began.
///
/// # Errors
/// Those of every query.
pub async fn of_invigilation(db: &impl ConnectionTrait, id: InvigilationId) -> Result<Vec<Watched>, StoreError> {
    let attempts =
        attempt::Entity::find().filter(attempt::Column::InvigilationId.eq(id)).order_by_asc(attempt::Column::Id);
    let attempts: Vec<Attempt> =
        attempts.all(db).await?.into_iter().map(Attempt::try_from).collect::<Result<_, _>>()?;
    let sitters = attempts.iter().map(|attempt| attempt.person_id);
    let people = person::Entity::find().filter(person::Column::Id.is_in(sitters)).all(db).await?;
    let names: BTreeMap<PersonId, String> = people.into_iter().map(|row| (row.id, row.display_name)).collect();
    let statement = Statement::from_sql_and_values(db.get_database_backend(), PROGRESS, [id.0.into()]);
    let progress = Progress::find_by_statement(statement).all(db).await?;
    let progress: BTreeMap<AttemptId, Progress> = progress.into_iter().map(|row| (row.attempt_id, row)).collect();
    let count = |count: i64| usize::try_from(count).unwrap_or_default();
    let watched = attempts.into_iter().map(|attempt| {
        let so_far = progress.get(&attempt.id);
        Watched {
            name: names.get(&attempt.person_id).cloned().unwrap_or_default(),
            questions: so_far.map_or(0, |row| count(row.questions)),
            answered: so_far.map_or(0, |row| count(row.answered)),
            last_saved: so_far.and_then(|row| row.last_saved).map(Moment),
            attempt,
        }
    });
    Ok(watched.collect())
}
