//! What was acknowledged against what the database holds: the same, all of it, and nothing twice.

use crate::served::Workshop;
use crate::sitting::Sat;
use sea_orm::{ConnectionTrait as _, Statement};
use sootmark::actions::read_answer;
use sootmark::store::attempts::{self, AttemptState};
use sootmark::store::record::{self, Verification};
use sootmark::store::{AttemptId, Db, PersonId, StoreError};

/// Every difference. A request that got no reply may have been done or not; whatever was acknowledged must be there.
pub(crate) async fn with_database(workshop: &Workshop, sat: &[Sat]) -> Vec<String> {
    let db = workshop.open().await;
    let mut faults = Vec::new();
    for (sitter, sat) in workshop.sitters.iter().zip(sat) {
        if let Err(error) = one(&db, sitter.person, sat, &mut faults).await {
            faults.push(format!("person {}: {error}", sitter.person));
        }
    }
    match record::verify(&db).await {
        Ok(Verification::Whole { .. }) => {}
        other => faults.push(format!("the record: {other:?}")),
    }
    let handed_in = sat.iter().filter(|sat| sat.handed_in).count();
    let letters = counted(&db, "SELECT count(*) FROM outbox").await;
    if letters != Some(i64::try_from(handed_in).unwrap_or_default()) {
        faults.push(format!("{letters:?} letters about {handed_in} results"));
    }
    if let Err(error) = db.close().await {
        faults.push(format!("closing: {error}"));
    }
    faults
}

async fn counted(db: &Db, sql: &str) -> Option<i64> {
    let row = db.query_one_raw(Statement::from_string(db.get_database_backend(), sql)).await.ok()??;
    row.try_get_by_index(0).ok()
}

async fn one(db: &Db, person: PersonId, sat: &Sat, faults: &mut Vec<String>) -> Result<(), StoreError> {
    let mut fault = |what: String| faults.push(format!("person {person}: {what}"));
    let attempts = attempts::of_person(db, person).await?;
    let ids: Vec<AttemptId> = attempts.iter().map(|attempt| attempt.id).collect();
    if ids != Vec::from_iter(sat.attempt) {
        fault(format!("attempts {ids:?} where {:?} was begun", sat.attempt));
    }
    let Some(attempt) = attempts.first() else { return Ok(()) };
    let responses = attempts::responses(db, attempt.id).await?;
    for (position, saved) in (1..).zip(&sat.saved) {
        let there: Vec<_> = responses.iter().filter(|response| response.position == position).collect();
        let answers = there.iter().map(|response| read_answer(response)).collect::<Result<Vec<_>, _>>()?;
        if answers != Vec::from_iter(saved.answer.clone()) {
            fault(format!("question {position}: {answers:?} where {:?} was saved", saved.answer));
        }
        let revisions = there.iter().map(|response| usize::try_from(response.revision).unwrap_or_default());
        if revisions.sum::<usize>() != saved.acknowledged {
            fault(format!("question {position}: not saved {} times", saved.acknowledged));
        }
    }
    if responses.len() > sat.saved.len() {
        fault(format!("{} answers where {} were given", responses.len(), sat.saved.len()));
    }
    if !sat.handed_in {
        return Ok(());
    }
    let grades = attempts::grades(db, attempt.id).await?;
    let result = attempts::find_result(db, attempt.id).await?;
    if attempt.state != AttemptState::Submitted || result.is_none() || grades.len() != sat.saved.len() {
        fault(format!("handed in, and {:?} with {} grades", attempt.state, grades.len()));
    }
    let deeds: Vec<_> =
        record::of_subject(db, "attempt", attempt.id.0).await?.into_iter().map(|entry| entry.deed).collect();
    if deeds != ["examination_begun", "examination_graded"] {
        fault(format!("on record: {deeds:?}"));
    }
    Ok(())
}
