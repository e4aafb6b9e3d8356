//! An attempt made again: the same bytes and the same grades, and the first difference in words.

use super::Fates;
use super::tamper::{on_each_with_address, tampered, unheld};
use crate::support::database::for_each_database;
use sea_orm::ConnectionTrait;
use sootmark::actions::PastBank;
use sootmark::actions::replay_attempt::{Replayed, replay_attempt};
use sootmark::domain::aftertreatment::MODEL_VERSION;
use sootmark::store::{AttemptId, Db, StoreError};

async fn again(db: &impl ConnectionTrait, attempt: AttemptId) -> Replayed {
    let past = PastBank::read(db).await.expect("the bank");
    replay_attempt(db, &past, attempt).await.expect("the store")
}

#[tokio::test]
async fn every_attempt_comes_out_again_byte_by_byte() {
    for_each_database(async |db: Db| {
        let fates = Fates::on(db.clone()).await;
        for (attempt, questions, regraded) in [
            (fates.passed, 9, 9),
            (fates.failed, 9, 9),
            (fates.expired, 9, 9),
            (fates.open, 9, 0),
            // Two turns were answered, and the questions that the bank happened to give are plain ones.
            (fates.practice, 2, 2),
        ] {
            let done = again(&db, attempt).await;
            assert_eq!(done.differences, Vec::<String>::new());
            assert_eq!((done.questions, done.same_bytes, done.regraded), (questions, questions, regraded), "{done:?}");
        }
        let past = PastBank::read(&db).await.expect("the bank");
        let nobody = replay_attempt(&db, &past, AttemptId(900_000)).await;
        assert!(matches!(nobody, Err(StoreError::NotFound)), "{nobody:?}");
        fates.app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn the_first_difference_is_told_in_words() {
    on_each_with_address(async |db, url| {
        let fates = Fates::on(db).await;
        let past = unheld(url).await;
        let (passed, failed, open, practice) = (fates.passed, fates.failed, fates.open, fates.practice);
        let swapped = format!("UPDATE attempt SET seed = (SELECT seed FROM attempt WHERE id = {failed}) WHERE id = {passed}");
        for (attempt, sql, says) in [
            (
                passed,
                "UPDATE attempt_question SET question = replace(question, '\"level\":', '\"level\":1') WHERE position = 1",
                "question 1: level is frozen as 1",
            ),
            (
                passed,
                "UPDATE attempt_question SET question = replace(question, '\"level\":', '\"level\": ') WHERE position = 2",
                "question 2: it says the same in other bytes, from byte ",
            ),
            (
                open,
                "UPDATE attempt_question SET question = replace(question, '\"level\":', '\"level\":1') WHERE position = 1",
                "question 1: it is another",
            ),
            (passed, &swapped, "question 1: "),
            (
                passed,
                "UPDATE attempt SET temperature_unit = 'fahrenheit'",
                "question 1: it is in another temperature scale",
            ),
            (
                practice,
                "UPDATE grade SET correct = NOT correct WHERE position = 2",
                "question 2: stored as not right with 1 points, graded again it is right with 1 points",
            ),
            (
                passed,
                "DELETE FROM bank_document WHERE kind = 'template' AND version = 1",
                "question 1: the template ",
            ),
            (
                passed,
                "UPDATE bank_document SET source = replace(source, 'soot', 'snow') WHERE kind = 'template'",
                "question 1: ",
            ),
        ] {
            let done = tampered(&past, sql, async |db| again(db, attempt).await).await;
            let first = done.differences.first().unwrap_or_else(|| panic!("{sql} is not seen: {done:?}"));
            assert!(first.starts_with(says), "{sql}: {first}");
        }
        past.close().await.expect("closed");
        fates.app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn another_version_of_the_model_is_said_and_the_grades_are_still_compared() {
    on_each_with_address(async |db, url| {
        let fates = Fates::on(db).await;
        let past = unheld(url).await;
        let older = MODEL_VERSION - 1;
        let old = format!(
            "UPDATE attempt_question SET model_version = {older},
               question = replace(question, '\"model_version\":{MODEL_VERSION}', '\"model_version\":{older}')"
        );
        let seen = async |sql: &str| tampered(&past, sql, async |db| again(db, fates.passed).await).await;
        let done = seen(&old).await;
        assert_eq!(done.differences, Vec::<String>::new());
        assert_eq!((done.same_bytes, done.regraded), (0, 9));
        let model = done.other_model.map(|(count, version)| (count, i64::from(version)));
        assert_eq!(model, Some((9, i64::from(older))));
        let other_grades = format!("{old}; UPDATE grade SET points = 0.25");
        assert_eq!(seen(&other_grades).await.differences.len(), 9);
        past.close().await.expect("closed");
        fates.app.stop().await;
    })
    .await;
}
