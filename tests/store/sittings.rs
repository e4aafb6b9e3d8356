//! How examinations are sat, on both databases: flags, terms that stay, incidents that stay, more time whose reason alone can go,
//! codes, and what answers tell of difficulty.

use super::sample::{MORNING, examination, new_person, question, sit, technician};
use crate::support::database::for_each_database;
use sea_orm::ConnectionTrait as _;
use sootmark::domain::examination::code::Code;
use sootmark::domain::examination::difficulty::Answers;
use sootmark::domain::examination::extra_time::ExtraTime;
use sootmark::domain::people::Role;
use sootmark::domain::statistics::Answered;
use sootmark::store::attempts::{self, AttemptResult, Grade, Submission, Terms};
use sootmark::store::extra_times::{self, NewExtraTime};
use sootmark::store::incidents::{self, Incident, IncidentKind};
use sootmark::store::invigilations::{self, NewInvigilation};
use sootmark::store::read::answered::answered;
use sootmark::store::read::invigilated::of_invigilation;
use sootmark::store::record::{self, NewEntry};
use sootmark::store::{
    AttemptId, BranchId, Db, InvigilationId, PersonId, RecordEntryId, StoreError, conflict, people, write,
};

/// A trainer of the branch, and an entry of the record for rows to point at.
async fn trainer(db: &Db, branch: BranchId) -> (PersonId, RecordEntryId) {
    write(db, async |tx| {
        let new = new_person(branch, "Mara Tindle", "mara@fennmark.example", Role::Trainer);
        let trainer = people::insert(tx, new).await?;
        let entry = NewEntry {
            at: MORNING,
            actor_id: Some(trainer),
            deed: "incident_noted".to_owned(),
            subject_kind: "attempt".to_owned(),
            subject_id: Some(1),
            detail: serde_json::Value::Null,
        };
        Ok::<_, StoreError>((trainer, record::append(tx, entry).await?))
    })
    .await
    .unwrap()
}

async fn opened(db: &Db, branch: BranchId, by: PersonId, code: &Code, key: &str) -> Result<InvigilationId, StoreError> {
    let new = NewInvigilation {
        scheme_key: "first-day".to_owned(),
        branch_id: branch,
        code: code.clone(),
        opened_by: by,
        opened_at: MORNING,
        expires_at: MORNING.plus_seconds(60),
        key: key.to_owned(),
    };
    write(db, async |tx| invigilations::insert(tx, new).await).await
}

#[tokio::test]
async fn a_flag_is_set_once_taken_off_once_and_closed_with_the_attempt() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let id = sit(&db, ines, &["lamps", "fire"]).await;
        let set = async |position, flagged, seconds| {
            let now = MORNING.plus_seconds(seconds);
            write(&db, async |tx| attempts::set_flag(tx, ines, id, position, flagged, now).await).await
        };
        assert!(set(2, true, 1).await.unwrap() && set(2, true, 2).await.unwrap());
        assert_eq!(attempts::flags(&db, id).await.unwrap().into_iter().collect::<Vec<_>>(), [2]);
        assert!(matches!(set(3, true, 3).await, Err(StoreError::NotFound)));
        assert!(set(2, false, 4).await.unwrap() && set(2, false, 5).await.unwrap());
        assert!(attempts::flags(&db, id).await.unwrap().is_empty());
        assert!(!set(1, true, 1801).await.unwrap(), "the time is over");
        let other = write(&db, async |tx| attempts::set_flag(tx, PersonId(999), id, 1, true, MORNING).await).await;
        assert!(matches!(other, Err(StoreError::NotFound)));
    })
    .await;
}

#[tokio::test]
async fn the_terms_of_a_sitting_stay_and_who_ended_it_is_kept() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let (mara, _) = trainer(&db, branch).await;
        let code = Code::parse("ACDE-FGHJ").unwrap();
        let watch = opened(&db, branch, mara, &code, "a").await.unwrap();
        let terms = Terms { extra_s: 225, invigilation_id: Some(watch) };
        let with = vec![question("lamps"), question("fire")];
        let id = write(&db, async |tx| attempts::open_under(tx, examination(ines), terms, with).await).await.unwrap();
        for change in ["extra_s = 0", "extra_s = 900", "invigilation_id = NULL"] {
            let done = db.execute_unprepared(&format!("UPDATE attempt SET {change} WHERE id = {id}")).await;
            assert!(done.is_err(), "{change} is refused");
        }
        let asked = attempts::question(&db, id, 2).await.unwrap();
        write(&db, async |tx| attempts::save_response(tx, ines, id, &asked, "{}", MORNING).await).await.unwrap();
        let watched = of_invigilation(&db, watch).await.unwrap();
        let [one] = watched.as_slice() else { panic!("{watched:?}") };
        assert_eq!(
            (one.name.as_str(), one.questions, one.answered, one.last_saved),
            ("Ines Varga", 2, 1, Some(MORNING))
        );
        let now = MORNING.plus_seconds(60);
        let ended = write(&db, async |tx| attempts::mark_ended(tx, ines, id, mara, now).await).await.unwrap();
        let Submission::First(ended) = ended else { panic!("{ended:?}") };
        assert_eq!((ended.extra_s, ended.invigilation_id, ended.ended_by), (225, Some(watch), Some(mara)));
        assert!(!ended.is_by_the_clock());
        let again = write(&db, async |tx| attempts::mark_submitted(tx, ines, id, Some("k"), now).await).await.unwrap();
        assert!(matches!(again, Submission::Closed(_)), "{again:?}");
    })
    .await;
}

#[tokio::test]
async fn a_code_is_found_by_itself_and_closed_once() {
    for_each_database(async |db: Db| {
        let (branch, _) = technician(&db).await;
        let (mara, _) = trainer(&db, branch).await;
        let code = Code::parse("ACDE-FGHJ").unwrap();
        let id = opened(&db, branch, mara, &code, "a").await.unwrap();
        let twice = opened(&db, branch, mara, &Code::parse("WXYT-3467").unwrap(), "a").await;
        assert!(matches!(twice, Err(StoreError::Conflict(which)) if which == conflict::INVIGILATION));
        assert!(opened(&db, branch, mara, &code, "b").await.is_err(), "no code is given out twice");
        let found = write(&db, async |tx| invigilations::find_by_code(tx, &code).await).await.unwrap().unwrap();
        assert!(found.id == id && found.is_open(MORNING.plus_seconds(59)) && !found.is_open(MORNING.plus_seconds(60)));
        let close = async || write(&db, async |tx| invigilations::close(tx, id, mara, MORNING).await).await.unwrap();
        assert!(close().await && !close().await);
        assert!(!invigilations::by_id(&db, branch, id).await.unwrap().is_open(MORNING));
        assert!(matches!(invigilations::by_id(&db, BranchId(999), id).await, Err(StoreError::NotFound)));
        assert_eq!(invigilations::of_branch(&db, branch, 5).await.unwrap().len(), 1);
    })
    .await;
}

#[tokio::test]
async fn incidents_stay_and_of_more_time_only_the_reason_can_go() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let (mara, entry) = trainer(&db, branch).await;
        let id = sit(&db, ines, &["lamps"]).await;
        let incident = Incident {
            attempt_id: id,
            kind: IncidentKind::Noted,
            text: "Left the room.".to_owned(),
            noted_by: mara,
            noted_at: MORNING,
            key: "a".to_owned(),
            record_entry_id: entry,
        };
        let add = async |new: Incident| write(&db, async |tx| incidents::append(tx, new).await).await;
        add(incident.clone()).await.unwrap();
        assert!(matches!(add(incident.clone()).await, Err(StoreError::Conflict(which)) if which == conflict::INCIDENT));
        assert_eq!(incidents::of_attempts(&db, &[id]).await.unwrap(), [incident]);
        let set = |extra, key: &str| NewExtraTime {
            person_id: ines,
            extra,
            reason: "Reads slowly.".to_owned(),
            salt: "s".to_owned(),
            set_by: mara,
            set_at: MORNING,
            key: key.to_owned(),
            record_entry_id: entry,
        };
        assert_eq!(extra_times::counts_for(&db, ines).await.unwrap(), ExtraTime::None);
        for new in [set(ExtraTime::Percent(25), "a"), set(ExtraTime::Minutes(10), "b")] {
            write(&db, async |tx| extra_times::append(tx, new).await).await.unwrap();
        }
        assert_eq!(extra_times::counts_for(&db, ines).await.unwrap(), ExtraTime::Minutes(10), "the newest counts");
        for refused in [
            "UPDATE incident SET text = 'x'",
            "DELETE FROM incident",
            "DELETE FROM extra_time",
            "UPDATE extra_time SET minutes = 240, reason = '', salt = '' WHERE minutes = 10",
            "UPDATE extra_time SET reason = 'another'",
            "UPDATE extra_time SET reason = ''",
        ] {
            assert!(db.execute_unprepared(refused).await.is_err(), "{refused}");
        }
        let gone = write::<_, StoreError, _>(&db, async |tx| extra_times::forget_reasons(tx, ines).await).await;
        assert_eq!(gone.unwrap(), 2);
        let left = extra_times::of_person(&db, ines).await.unwrap();
        assert!(left.iter().all(|one| one.reason.is_empty() && one.salt.is_empty()));
        assert_eq!(left[0].extra, ExtraTime::Minutes(10));
    })
    .await;
}

/// Closes an attempt of two questions, the first right.
async fn graded(db: &Db, person: PersonId, id: AttemptId) {
    write::<_, StoreError, _>(db, async |tx| {
        attempts::mark_submitted(tx, person, id, Some("k"), MORNING).await?;
        let grade = |position, correct| Grade { position, correct, points: 0.0, misconceptions: Vec::new() };
        let result = AttemptResult { score: 50.0, passed: false, outcome: "{}".to_owned(), graded_at: MORNING };
        attempts::store_grades_and_result(tx, id, &[grade(1, true), grade(2, false)], Some(&result)).await
    })
    .await
    .unwrap();
}

#[tokio::test]
async fn only_first_sittings_tell_how_difficult_a_scenario_is() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        assert_eq!(answered(&db).await.unwrap(), Answers::default());
        let new = new_person(branch, "Owen Lisle", "owen@fennmark.example", Role::Technician);
        let owen = write(&db, async |tx| people::insert(tx, new).await).await.unwrap();
        // Ines sits twice: her second sitting tells nothing. Owen's is not graded yet.
        for _ in 0..2 {
            let id = sit(&db, ines, &["lamps", "fire"]).await;
            graded(&db, ines, id).await;
        }
        sit(&db, owen, &["lamps", "fire"]).await;
        let mut wanted = Answers::default();
        wanted.add("lamps-first".to_owned(), 1, Answered { right: 1, asked: 1 });
        wanted.add("fire-first".to_owned(), 1, Answered { right: 0, asked: 1 });
        assert_eq!(answered(&db).await.unwrap(), wanted);
    })
    .await;
}
