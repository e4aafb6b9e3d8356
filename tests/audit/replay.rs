//! An attempt made again: the same bytes and the same grades, and the first difference in words.

use super::Fates;
use crate::support::database::{SqliteDatabase, for_each_database};
use sea_orm::ConnectionTrait as _;
use sootmark::actions::PastBank;
use sootmark::actions::replay_attempt::{Replayed, replay_attempt};
use sootmark::domain::aftertreatment::MODEL_VERSION;
use sootmark::store::{AttemptId, Db, StoreError};

async fn again(db: &Db, attempt: AttemptId) -> Replayed {
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
    let sqlite = SqliteDatabase::fresh().await;
    let fates = Fates::on(sqlite.db.clone()).await;
    let (passed, open, practice) = (fates.passed, fates.open, fates.practice);
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
        (passed, "UPDATE attempt SET seed = zeroblob(32)", "question 1: "),
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
        (passed, "DELETE FROM bank_document WHERE kind = 'template' AND version = 1", "question 1: the template "),
        (
            passed,
            "UPDATE bank_document SET source = replace(source, 'soot', 'snow') WHERE kind = 'template'",
            "question 1: ",
        ),
    ] {
        // Undone by the next; each is a savepoint of its own kind: a copy of the file.
        let copy = tempfile::tempdir().expect("a folder");
        let file = copy.path().join("copy.db");
        sqlite.db.execute_unprepared(&format!("VACUUM INTO '{}'", file.display())).await.expect("a copy");
        let db = sootmark::store::connect(&format!("sqlite://{}", file.display())).await.expect("the copy");
        db.execute_unprepared(sql).await.expect(sql);
        let done = again(&db, attempt).await;
        let first = done.differences.first().unwrap_or_else(|| panic!("{sql} is not seen: {done:?}"));
        assert!(first.starts_with(says), "{sql}: {first}");
        db.close().await.expect("closed");
    }
    fates.app.stop().await;
    sqlite.db.close().await.expect("closed");
}

#[tokio::test]
async fn another_version_of_the_model_is_said_and_the_grades_are_still_compared() {
    let sqlite = SqliteDatabase::fresh().await;
    let fates = Fates::on(sqlite.db.clone()).await;
    let older = MODEL_VERSION - 1;
    let sql = format!(
        "UPDATE attempt_question SET model_version = {older},
           question = replace(question, '\"model_version\":{MODEL_VERSION}', '\"model_version\":{older}')"
    );
    sqlite.db.execute_unprepared(&sql).await.expect("an older attempt");
    let done = again(&sqlite.db, fates.passed).await;
    assert_eq!(done.differences, Vec::<String>::new());
    assert_eq!((done.same_bytes, done.regraded), (0, 9));
    assert_eq!(done.other_model.map(|(count, version)| (count, i64::from(version))), Some((9, i64::from(older))));
    sqlite.db.execute_unprepared("UPDATE grade SET points = 0.25").await.expect("other grades");
    assert_eq!(again(&sqlite.db, fates.passed).await.differences.len(), 9);
    fates.app.stop().await;
    sqlite.db.close().await.expect("closed");
}
