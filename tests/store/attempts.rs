//! Attempts: saved answer by answer, handed in once, seen by nobody else.

use super::sample::{MORNING, examination, new_person, question, sit, technician};
use crate::support::database::for_each_database;
use sootmark::domain::people::Role;
use sootmark::store::{
    AttemptId, Db, PersonId, StoreError,
    attempts::{
        self, AttemptKind, AttemptResult, AttemptState, Grade, NewAttempt, NewQuestion, Place, Saving, Submission,
    },
    conflict, people, write,
};

async fn save(
    db: &Db,
    person: PersonId,
    attempt: AttemptId,
    position: i32,
    seconds: i64,
) -> Result<Saving, StoreError> {
    save_as(db, person, attempt, (position, "{\"choice\":2}"), seconds).await
}

async fn save_as(
    db: &Db,
    person: PersonId,
    attempt: AttemptId,
    (position, answer): (i32, &str),
    seconds: i64,
) -> Result<Saving, StoreError> {
    let now = MORNING.plus_seconds(seconds);
    let asked = attempts::question(db, attempt, position).await?;
    write(db, async |tx| attempts::save_response(tx, person, attempt, &asked, answer, now).await).await
}

async fn hand_in(db: &Db, person: PersonId, attempt: AttemptId, key: Option<&str>) -> Submission {
    let now = MORNING.plus_seconds(900);
    write(db, async |tx| attempts::mark_submitted(tx, person, attempt, key, now).await).await.unwrap()
}

#[tokio::test]
async fn an_attempt_comes_back_as_it_was_begun() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps", "fire"]).await;
        let attempt = attempts::by_id(&db, ines, id).await.unwrap();
        assert_eq!(
            (attempt.seed, attempt.state, attempt.kind),
            ([7; 32], AttemptState::Open, AttemptKind::Examination)
        );
        assert_eq!(attempt.deadline_at, Some(MORNING.plus_seconds(1800)));
        let questions = attempts::questions(&db, id).await.unwrap();
        assert_eq!(questions.iter().map(|asked| asked.position).collect::<Vec<_>>(), [1, 2]);
        assert_eq!(questions[1].question, question("fire"), "byte by byte");
        assert_eq!(attempts::question(&db, id, 2).await.unwrap(), questions[1]);
        assert!(matches!(attempts::question(&db, id, 3).await, Err(StoreError::NotFound)));
        assert_eq!(attempts::asked_of(&db, ines, id, 2).await.unwrap(), (attempt, questions[1].clone()));
        assert!(matches!(attempts::asked_of(&db, ines, id, 3).await, Err(StoreError::NotFound)));
        assert_eq!(attempts::find_open_examination(&db, ines, "first-day").await.unwrap().unwrap().id, id);
    })
    .await;
}

#[tokio::test]
async fn every_question_has_its_place_before_it_is_answered() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps", "fire"]).await;
        save(&db, ines, id, 2, 10).await.unwrap();
        let places = attempts::places(&db, id).await.unwrap();
        let stands = |position, answered, flagged| Place { position, follows: false, answered, flagged };
        assert_eq!(places, [stands(1, false, false), stands(2, true, false)]);
        write(&db, async |tx| attempts::set_flag(tx, ines, id, 1, true, MORNING).await).await.unwrap();
        let first = attempts::at_place(&db, ines, id, 1).await.unwrap();
        assert_eq!(first.places, [stands(1, false, true), stands(2, true, false)]);
        assert_eq!((first.attempt.id, first.asked.position, first.saved), (id, 1, None));
        let second = attempts::at_place(&db, ines, id, 2).await.unwrap();
        assert_eq!(second.asked, attempts::question(&db, id, 2).await.unwrap());
        assert_eq!(second.saved.as_ref(), attempts::responses(&db, id).await.unwrap().first());
        assert!(matches!(attempts::at_place(&db, ines, id, 3).await, Err(StoreError::NotFound)), "there is no third");
    })
    .await;
}

#[tokio::test]
async fn a_scheme_is_sat_once_at_a_time() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let first = sit(&db, ines, &["lamps"]).await;
        let second = write(&db, async |tx| attempts::open_attempt(tx, examination(ines), Vec::new()).await).await;
        assert!(matches!(second, Err(StoreError::Conflict(name)) if name == conflict::OPEN_EXAMINATION));
        hand_in(&db, ines, first, Some("k")).await;
        sit(&db, ines, &["lamps"]).await;
    })
    .await;
}

#[tokio::test]
async fn a_foreign_attempt_looks_like_none() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let other = new_person(branch, "Tomas Reyk", "tomas@fennmark.example", Role::Technician);
        let tomas = people::insert(&db, other).await.unwrap();
        let id = sit(&db, ines, &["lamps"]).await;
        assert!(matches!(attempts::by_id(&db, tomas, id).await, Err(StoreError::NotFound)));
        assert!(matches!(attempts::asked_of(&db, tomas, id, 1).await, Err(StoreError::NotFound)));
        assert!(matches!(attempts::at_place(&db, tomas, id, 1).await, Err(StoreError::NotFound)));
        assert!(matches!(save(&db, tomas, id, 1, 1).await, Err(StoreError::NotFound)));
        let stolen = write(&db, async |tx| attempts::mark_submitted(tx, tomas, id, Some("k"), MORNING).await).await;
        assert!(matches!(stolen, Err(StoreError::NotFound)));
        assert_eq!(attempts::by_id_of_anyone(&db, id).await.unwrap().person_id, ines);
        assert!(attempts::responses(&db, id).await.unwrap().is_empty());
    })
    .await;
}

#[tokio::test]
async fn saving_again_replaces_the_answer_and_raises_its_revision() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps", "fire"]).await;
        assert_eq!(save(&db, ines, id, 1, 10).await.unwrap(), Saving::Saved { revision: 1 });
        assert_eq!(save(&db, ines, id, 1, 20).await.unwrap(), Saving::Saved { revision: 2 });
        assert_eq!(save(&db, ines, id, 2, 30).await.unwrap(), Saving::Saved { revision: 1 });
        assert!(matches!(save(&db, ines, id, 3, 30).await, Err(StoreError::NotFound)), "there is no third question");
        let saved = attempts::responses(&db, id).await.unwrap();
        assert_eq!(saved.len(), 2);
        for answer in &saved {
            let at = attempts::at_place(&db, ines, id, answer.position).await.unwrap();
            assert_eq!(at.saved.as_ref(), Some(answer), "the same answer, beside its place");
        }
        assert_eq!((saved[0].saved_at, &*saved[0].answer), (MORNING.plus_seconds(20), "{\"choice\":2}"));
        assert_eq!(save(&db, ines, id, 1, 1800).await.unwrap(), Saving::Saved { revision: 3 }, "the last second");
        assert_eq!(save(&db, ines, id, 1, 1801).await.unwrap(), Saving::Closed, "its time is over");
        hand_in(&db, ines, id, Some("k")).await;
        assert_eq!(save(&db, ines, id, 1, 40).await.unwrap(), Saving::Closed, "it was handed in");
        assert_eq!(attempts::responses(&db, id).await.unwrap()[0].revision, 3);
    })
    .await;
}

/// A question, then a case of three, then another question.
async fn sit_a_case(db: &Db, person: PersonId) -> AttemptId {
    let part = |part| NewQuestion { part, parts: 3, ..question("lamps") };
    let questions = vec![question("fire"), part(1), part(2), part(3), question("fire")];
    write(db, async |tx| attempts::open_attempt(tx, examination(person), questions).await).await.unwrap()
}

#[tokio::test]
async fn the_parts_of_a_case_are_answered_in_order_and_stay_as_they_are() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit_a_case(&db, ines).await;
        let saved = |revision| Saving::Saved { revision };
        let save = async |position, answer| save_as(&db, ines, id, (position, answer), 10).await.unwrap();
        let follow: Vec<_> = attempts::places(&db, id).await.unwrap().iter().map(|place| place.follows).collect();
        assert_eq!(follow, [false, false, true, true, false]);
        assert_eq!(save(3, "1").await, Saving::TooEarly);
        assert_eq!(save(4, "1").await, Saving::TooEarly);
        assert!(attempts::responses(&db, id).await.unwrap().is_empty(), "nothing was kept");
        assert_eq!((save(5, "1").await, save(5, "2").await), (saved(1), saved(2)), "outside it all is as ever");
        assert_eq!(save(2, "1").await, saved(1));
        assert_eq!(save(2, "1").await, saved(1), "a double click");
        assert_eq!(save(2, "2").await, Saving::Fixed, "the next part may have been read");
        assert_eq!(save(4, "1").await, Saving::TooEarly, "one after the other");
        assert_eq!((save(3, "1").await, save(3, "2").await), (saved(1), Saving::Fixed));
        assert_eq!((save(4, "1").await, save(4, "2").await), (saved(1), saved(2)), "nothing follows the last part");
        let kept: Vec<_> =
            attempts::responses(&db, id).await.unwrap().into_iter().map(|r| (r.position, r.answer)).collect();
        assert_eq!(kept, [(2, "1"), (3, "1"), (4, "2"), (5, "2")].map(|(at, answer)| (at, answer.to_owned())));
        hand_in(&db, ines, id, Some("k")).await;
        assert_eq!(save(4, "3").await, Saving::Closed, "the end comes before all else");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_two_windows_with_two_answers_to_a_part_one_is_kept() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit_a_case(&db, ines).await;
        let clicks = ["1", "2", "3", "4"].map(|answer| {
            let db = db.clone();
            tokio::spawn(async move { save_as(&db, ines, id, (2, answer), 10).await.unwrap() })
        });
        let mut kept = 0;
        for click in clicks {
            match click.await.unwrap() {
                Saving::Saved { revision } => kept += revision,
                other => assert_eq!(other, Saving::Fixed),
            }
        }
        assert_eq!((kept, attempts::responses(&db, id).await.unwrap()[0].revision), (1, 1));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn sixteen_clicks_hand_in_once() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps"]).await;
        let clicks: Vec<_> = (0..16)
            .map(|click| {
                let db = db.clone();
                tokio::spawn(
                    async move { hand_in(&db, ines, id, Some(if click % 2 == 0 { "k" } else { "other" })).await },
                )
            })
            .collect();
        let (mut first, mut repeated, mut closed) = (0, 0, 0);
        for click in clicks {
            match click.await.unwrap() {
                Submission::First(_) => first += 1,
                Submission::Repeated(_) => repeated += 1,
                Submission::Closed(_) => closed += 1,
            }
        }
        assert_eq!((first, repeated, closed), (1, 7, 8));
        assert!(matches!(hand_in(&db, ines, id, None).await, Submission::Closed(_)), "the clock comes too late");
    })
    .await;
}

#[tokio::test]
async fn the_clock_hands_in_what_is_overdue() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps"]).await;
        let at = |seconds| MORNING.plus_seconds(seconds);
        assert!(attempts::expired_open_before(&db, at(1800)).await.unwrap().is_empty());
        assert_eq!(attempts::expired_open_before(&db, at(1801)).await.unwrap()[0].id, id);
        let Submission::First(expired) = hand_in(&db, ines, id, None).await else { panic!("not handed in") };
        assert_eq!((expired.state, expired.submitted_at), (AttemptState::Expired, Some(at(900))));
        assert!(attempts::expired_open_before(&db, at(1801)).await.unwrap().is_empty());
    })
    .await;
}

#[tokio::test]
async fn practice_grows_question_by_question() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let practice = NewAttempt {
            kind: AttemptKind::Practice,
            scheme_key: None,
            scheme_version: None,
            module_key: Some("fire".to_owned()),
            deadline_at: None,
            ..examination(ines)
        };
        let id = write(&db, async |tx| attempts::open_attempt(tx, practice, Vec::new()).await).await.unwrap();
        for position in 1..=3 {
            let given = write(&db, async |tx| attempts::append_question(tx, ines, id, question("fire")).await).await;
            assert_eq!(given.unwrap(), position);
            let wrong =
                Grade { position, correct: false, points: 0.25, misconceptions: vec!["soot_is_ash".to_owned()] };
            write(&db, async |tx| attempts::store_grades_and_result(tx, id, &[wrong], None).await).await.unwrap();
        }
        assert_eq!(attempts::find_open_practice(&db, ines, "fire").await.unwrap().unwrap().id, id);
        assert_eq!(attempts::grades(&db, id).await.unwrap().len(), 3);
        hand_in(&db, ines, id, Some("k")).await;
        let late = write(&db, async |tx| attempts::append_question(tx, ines, id, question("fire")).await).await;
        assert!(matches!(late, Err(StoreError::NotFound)));
    })
    .await;
}

#[tokio::test]
async fn a_result_is_kept_once() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps", "fire"]).await;
        let grades: Vec<_> = [(1, true), (2, false)]
            .map(|(position, correct)| Grade { position, correct, points: 1.0 / 3.0, misconceptions: Vec::new() })
            .to_vec();
        let result = AttemptResult { score: 2.0 / 3.0, passed: false, outcome: "{ }".to_owned(), graded_at: MORNING };
        let keep = async || {
            write(&db, async |tx| attempts::store_grades_and_result(tx, id, &grades, Some(&result)).await).await
        };
        keep().await.unwrap();
        assert!(matches!(keep().await, Err(StoreError::Conflict(_))));
        assert_eq!(attempts::grades(&db, id).await.unwrap(), grades, "to the last bit");
        assert_eq!(attempts::find_result(&db, id).await.unwrap(), Some(result.clone()));
    })
    .await;
}
