//! How the questions of an attempt stand: answered or not, flagged or not, waiting for the one before; and one of them
//! with everything that its page shows.
//!
//! Never reads what the other questions say, nor what was answered to them.

use super::{Attempt, AttemptQuestion, Response};
use crate::store::{
    AttemptId, PersonId, StoreError,
    entity::{attempt, attempt_question, response},
};
use sea_orm::{ConnectionTrait, EntityTrait, FromQueryResult as _, QueryFilter, QuerySelect, QueryTrait, prelude::*};

/// A question's place in an attempt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Its number, from 1.
    pub position: i32,
    /// Whether its question goes on from the one before it.
    pub follows: bool,
    /// Whether an answer is saved.
    pub answered: bool,
    /// Whether the person wants to come back to it.
    pub flagged: bool,
}

/// One question of an attempt, and how all of them stand.
#[derive(Clone, Debug)]
pub struct AtPlace {
    /// The attempt.
    pub attempt: Attempt,
    /// The question.
    pub asked: AttemptQuestion,
    /// Its answer as it was last saved, if any was.
    pub saved: Option<Response>,
    /// Every question in order.
    pub places: Vec<Place>,
}

/// Every place in one text, a number each: a row for each of them costs more than the query. The number is eight times the
/// position, and four where it follows, two where it is answered, one where it is flagged.
const PLACES: &str = "(SELECT string_agg(CAST(8 * place.position \
       + CASE WHEN place.part > 1 THEN 4 ELSE 0 END \
       + CASE WHEN given.position IS NULL THEN 0 ELSE 2 END \
       + CASE WHEN flag.position IS NULL THEN 0 ELSE 1 END AS text), ' ' ORDER BY place.position) \
     FROM attempt_question AS place \
     LEFT JOIN response AS given ON given.attempt_id = place.attempt_id AND given.position = place.position \
     LEFT JOIN question_flag AS flag ON flag.attempt_id = place.attempt_id AND flag.position = place.position \
     WHERE place.attempt_id = attempt.id)";

/// Every place of an attempt in order.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such attempt.
pub async fn places(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Vec<Place>, StoreError> {
    let query = attempt::Entity::find_by_id(attempt).select_only().expr_as(Expr::cust(PLACES), "places");
    let text: Option<Option<String>> = query.into_tuple().one(db).await?;
    read(&text.ok_or(StoreError::NotFound)?.unwrap_or_default())
}

/// A person's own attempt at one of its questions, with what was saved there; one query.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such attempt, or it has no such question.
pub async fn at_place(
    db: &impl ConnectionTrait,
    person: PersonId,
    id: AttemptId,
    position: i32,
) -> Result<AtPlace, StoreError> {
    let query = attempt_question::Entity::find()
        .filter(attempt_question::Column::AttemptId.eq(id))
        .filter(attempt_question::Column::Position.eq(position))
        .find_also_related(attempt::Entity)
        .find_also(attempt_question::Entity, response::Entity)
        .filter(attempt::Column::PersonId.eq(person))
        .expr_as(Expr::cust(PLACES), "places");
    let row = db.query_one(query.as_query()).await?.ok_or(StoreError::NotFound)?;
    let places: Option<String> = row.try_get("", "places")?;
    Ok(AtPlace {
        asked: attempt_question::Model::from_query_result(&row, "A_")?.into(),
        attempt: attempt::Model::from_query_result(&row, "B_")?.try_into()?,
        saved: response::Model::from_query_result_optional(&row, "C_")?.map(Response::from),
        places: read(&places.unwrap_or_default())?,
    })
}

fn read(places: &str) -> Result<Vec<Place>, StoreError> {
    let place = |text: &str| {
        let number: i32 = text.parse().map_err(|_| StoreError::Corrupt(format!("places of an attempt: {text}")))?;
        let is = |bit: i32| number & bit != 0;
        Ok(Place { position: number >> 3, follows: is(4), answered: is(2), flagged: is(1) })
    };
    places.split_ascii_whitespace().map(place).collect()
}
