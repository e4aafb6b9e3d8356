//! One person's whole history, in two queries.

use crate::store::{
    PersonId, StoreError,
    attempts::{Attempt, AttemptResult},
    debriefs::Debrief,
    entity::{attempt, attempt_result, debrief},
    qualifications::{self, Qualification},
};
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};

/// What a person has done and what it proved, newest first.
#[derive(Clone, Debug)]
pub struct History {
    /// Every attempt.
    pub attempts: Vec<AttemptOfHistory>,
    /// Every entry about their competences.
    pub qualifications: Vec<Qualification>,
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
    Ok(History { attempts, qualifications: qualifications::of_person(db, person).await? })
}
