//! What an attempt was worth, question by question and as a whole.
//!
//! Never computes it, and never replaces it.

use crate::domain::units::Moment;
use crate::store::{
    AttemptId, StoreError,
    entity::{attempt_result, grade},
};
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// What one answer was worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    /// Which question.
    pub position: i32,
    /// Whether it is right.
    pub correct: bool,
    /// Its points.
    pub points: f64,
    /// The wrong models that the answer shows.
    pub misconceptions: Vec<String>,
}

/// What a whole attempt was worth.
#[derive(Clone, Debug, PartialEq)]
pub struct AttemptResult {
    /// The share of points.
    pub score: f64,
    /// Whether the scheme's rules were met.
    pub passed: bool,
    /// The whole outcome as JSON, byte by byte.
    pub outcome: String,
    /// When it was graded.
    pub graded_at: Moment,
}

impl From<attempt_result::Model> for AttemptResult {
    fn from(row: attempt_result::Model) -> Self {
        Self { score: row.score, passed: row.passed, outcome: row.outcome, graded_at: row.graded_at.into() }
    }
}

/// Keeps the grades of an attempt, and for an examination its result. `grades` are those of questions not graded yet.
///
/// # Errors
/// A conflict when one of them, or the result, was kept before.
pub async fn store_grades_and_result(
    db: &impl ConnectionTrait,
    attempt: AttemptId,
    grades: &[Grade],
    result: Option<&AttemptResult>,
) -> Result<(), StoreError> {
    for some in grades.chunks(200) {
        let rows = some.iter().map(|given| row(attempt, given)).collect::<Result<Vec<_>, _>>()?;
        grade::Entity::insert_many(rows).exec_without_returning(db).await?;
    }
    if let Some(result) = result {
        let row = attempt_result::ActiveModel {
            attempt_id: Set(attempt),
            score: Set(result.score),
            passed: Set(result.passed),
            outcome: Set(result.outcome.clone()),
            graded_at: Set(result.graded_at.into()),
        };
        attempt_result::Entity::insert(row).exec_without_returning(db).await?;
    }
    Ok(())
}

fn row(attempt: AttemptId, given: &Grade) -> Result<grade::ActiveModel, StoreError> {
    let misconceptions =
        serde_json::to_string(&given.misconceptions).map_err(|e| StoreError::Corrupt(e.to_string()))?;
    Ok(grade::ActiveModel {
        attempt_id: Set(attempt),
        position: Set(given.position),
        correct: Set(given.correct),
        points: Set(given.points),
        misconceptions: Set(misconceptions),
        ..Default::default()
    })
}

/// The grades of an attempt, by position.
///
/// # Errors
/// Those of every query.
pub async fn grades(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Vec<Grade>, StoreError> {
    let own = grade::Entity::find().filter(grade::Column::AttemptId.eq(attempt));
    let rows = own.order_by_asc(grade::Column::Position).all(db).await?;
    rows.into_iter()
        .map(|row| {
            Ok(Grade {
                position: row.position,
                correct: row.correct,
                points: row.points,
                misconceptions: misconceptions(&row.misconceptions)?,
            })
        })
        .collect()
}

/// The list in a grade's column.
pub(in crate::store) fn misconceptions(json: &str) -> Result<Vec<String>, StoreError> {
    serde_json::from_str(json).map_err(|cause| StoreError::Corrupt(format!("grade.misconceptions: {cause}")))
}

/// The result of an attempt, once it is graded.
///
/// # Errors
/// Those of every query.
pub async fn find_result(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Option<AttemptResult>, StoreError> {
    Ok(attempt_result::Entity::find_by_id(attempt).one(db).await?.map(AttemptResult::from))
}
