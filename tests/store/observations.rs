//! Observations on both databases: steps that change until both have signed, and nothing that changes afterwards.

use super::sample::{MORNING, new_person, technician};
use crate::support::database::for_each_database;
use sea_orm::ConnectionTrait as _;
use sootmark::domain::examination::observation::{Mark, Marked, Outcome, Task};
use sootmark::domain::people::Role;
use sootmark::store::observations::{self, NewObservation, Signed};
use sootmark::store::record::{self, NewEntry};
use sootmark::store::{BranchId, Db, ObservationId, PersonId, RecordEntryId, StoreError, conflict, people, write};

async fn trainer(db: &Db, branch: BranchId) -> (PersonId, RecordEntryId) {
    write(db, async |tx| {
        let trainer =
            people::insert(tx, new_person(branch, "Mara Tindle", "mara@fennmark.example", Role::Trainer)).await?;
        let entry = NewEntry {
            at: MORNING,
            actor_id: Some(trainer),
            deed: "observation_signed".to_owned(),
            subject_kind: "observation".to_owned(),
            subject_id: Some(1),
            detail: serde_json::Value::Null,
        };
        Ok::<_, StoreError>((trainer, record::append(tx, entry).await?))
    })
    .await
    .unwrap()
}

async fn opened(
    db: &Db,
    branch: BranchId,
    person: PersonId,
    by: PersonId,
    key: &str,
) -> Result<ObservationId, StoreError> {
    let new = NewObservation {
        person_id: person,
        assessor_id: by,
        branch_id: branch,
        task: Task::StopAndCall,
        machine_key: "tarrel-60".to_owned(),
        machine_version: 1,
        model_version: 3,
        checklist: "{}".to_owned(),
        opened_at: MORNING,
        key: key.to_owned(),
    };
    write(db, async |tx| observations::insert(tx, new).await).await
}

async fn marked(db: &Db, id: ObservationId, mark: Mark, seconds: i64) -> Result<(), StoreError> {
    let marked = Marked { mark, remark: "Seen from the left.".to_owned() };
    write(db, async |tx| observations::mark(tx, id, 2, &marked, MORNING.plus_seconds(seconds)).await).await
}

fn outcome(passed: bool, missed_critical: Vec<usize>) -> Outcome {
    Outcome { passed, missed_critical, missed: Vec::new(), left_out: Vec::new() }
}

#[tokio::test]
async fn a_step_is_marked_again_until_both_have_signed_and_never_afterwards() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let (mara, entry) = trainer(&db, branch).await;
        let id = opened(&db, branch, ines, mara, "a").await.unwrap();
        assert!(matches!(opened(&db, branch, ines, mara, "a").await, Err(StoreError::Conflict(which)) if which == conflict::OBSERVATION));
        assert_eq!(observations::find_by_key(&db, mara, "a").await.unwrap(), Some(id));
        marked(&db, id, Mark::NotSeen, 1).await.unwrap();
        marked(&db, id, Mark::Seen, 2).await.unwrap();
        let steps = observations::steps(&db, id).await.unwrap();
        let [step] = &steps[..] else { panic!("{steps:?}") };
        assert_eq!((step.position, step.marked.mark, step.revision), (2, Mark::Seen, 2));
        assert_eq!(step.saved_at, MORNING.plus_seconds(2));
        let signed = Signed { outcome: outcome(true, vec![]), signed_at: MORNING, record_entry_id: entry };
        write(&db, async |tx| observations::sign(tx, id, &signed).await).await.unwrap();
        assert_eq!(observations::find_signed(&db, id).await.unwrap(), Some(signed.clone()));
        assert!(write(&db, async |tx| observations::sign(tx, id, &signed).await).await.is_err(), "once");
        assert!(marked(&db, id, Mark::NotSeen, 3).await.is_err(), "after signing");
        for refused in [
            "INSERT INTO observation_step VALUES (1, 3, 'seen', '', 1, 1)",
            "UPDATE observation_step SET remark = 'Another.'",
            "DELETE FROM observation_step",
            "UPDATE observation SET task = 'daily-check'",
            "DELETE FROM observation",
            "UPDATE observation_result SET signed_at = 0",
            "DELETE FROM observation_result",
        ] {
            assert!(db.execute_unprepared(refused).await.is_err(), "{refused}");
        }
        assert_eq!(observations::steps(&db, id).await.unwrap(), steps);
    })
    .await;
}

#[tokio::test]
async fn the_database_itself_keeps_two_people_apart_and_passes_no_critical_miss() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let (mara, entry) = trainer(&db, branch).await;
        assert!(opened(&db, branch, mara, mara, "own hand").await.is_err());
        let id = opened(&db, branch, ines, mara, "a").await.unwrap();
        let signed = Signed { outcome: outcome(true, vec![1]), signed_at: MORNING, record_entry_id: entry };
        assert!(write(&db, async |tx| observations::sign(tx, id, &signed).await).await.is_err());
        assert_eq!(observations::find_signed(&db, id).await.unwrap(), None);
        let elsewhere = BranchId(branch.0 + 1);
        assert!(matches!(observations::by_id(&db, elsewhere, id).await, Err(StoreError::NotFound)));
        assert!(matches!(observations::lock_own(&db, ines, id).await, Err(StoreError::NotFound)));
        assert_eq!(observations::of_person(&db, ines).await.unwrap().len(), 1);
        assert_eq!(observations::by_assessor(&db, mara).await.unwrap().len(), 1);
        assert!(observations::of_branch(&db, elsewhere, 9).await.unwrap().is_empty());
    })
    .await;
}
