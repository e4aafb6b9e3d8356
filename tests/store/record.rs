//! The chained record: it only grows, and shows whoever gets round that.

use super::sample::{MORNING, technician};
use crate::support::database::for_each_database;
use sea_orm::{ConnectionTrait as _, DbBackend};
use sootmark::store::{
    Db, RecordEntryId, StoreError,
    record::{self, ChainFault, NewEntry, Verification},
    write,
};

/// A record of five entries, with the triggers taken away that would refuse to change it.
async fn five_entries_unguarded(db: &Db) -> Vec<RecordEntryId> {
    let (_, ines) = technician(db).await;
    let mut ids = Vec::new();
    for number in 0..5 {
        let entry = NewEntry {
            at: MORNING.plus_seconds(number),
            actor_id: (number % 2 == 0).then_some(ines),
            deed: "attempt_submitted".to_owned(),
            subject_kind: "attempt".to_owned(),
            subject_id: Some(number),
            detail: serde_json::json!({ "score": 0.75, "says": "95 \u{25}" }),
        };
        ids.push(write(db, async |tx| record::append(tx, entry.clone()).await).await.unwrap());
    }
    let unguard = if db.get_database_backend() == DbBackend::Postgres {
        "DROP TRIGGER tr_record_entry_change ON record_entry"
    } else {
        "DROP TRIGGER tr_record_entry_update; DROP TRIGGER tr_record_entry_delete"
    };
    db.execute_unprepared(unguard).await.unwrap();
    ids
}

/// What is found after somebody ran this SQL, in which `{n}` stands for the id of the n-th entry.
async fn check(db: &Db, tamper: &str, expected: impl FnOnce(&[RecordEntryId]) -> Verification) {
    let ids = five_entries_unguarded(db).await;
    let whole = record::verify(db).await.unwrap();
    assert!(matches!(whole, Verification::Whole { entries: 5, .. }), "{whole:?}");
    let sql = ids
        .iter()
        .enumerate()
        .fold(tamper.to_owned(), |sql, (n, id)| sql.replace(&format!("{{{n}}}"), &id.to_string()));
    db.execute_unprepared(&sql).await.unwrap();
    assert_eq!(record::verify(db).await.unwrap(), expected(&ids), "{tamper}");
}

#[tokio::test]
async fn a_changed_entry_is_found() {
    for tamper in [
        "UPDATE record_entry SET detail = '{\"score\":1.0}' WHERE id = {2}",
        "UPDATE record_entry SET at = at + 1 WHERE id = {2}",
        "UPDATE record_entry SET actor_id = NULL WHERE id = {2}",
        "UPDATE record_entry SET subject_id = 4 WHERE id = {2}",
        // The same letters, parted in another place.
        "UPDATE record_entry SET deed = 'attempt_submitteda', subject_kind = 'ttempt' WHERE id = {2}",
    ] {
        for_each_database(async |db: Db| {
            check(&db, tamper, |ids| Verification::Broken { entry: ids[2], fault: ChainFault::Changed }).await;
        })
        .await;
    }
}

#[tokio::test]
async fn a_removed_entry_is_found() {
    for_each_database(async |db: Db| {
        check(&db, "DELETE FROM record_entry WHERE id = {1}", |ids| Verification::Broken {
            entry: ids[2],
            fault: ChainFault::DoesNotFollow,
        })
        .await;
    })
    .await;
}

#[tokio::test]
async fn entries_that_changed_places_are_found() {
    for_each_database(async |db: Db| {
        let swap = "UPDATE record_entry SET id = 1000 WHERE id = {1};
                    UPDATE record_entry SET id = {1} WHERE id = {2};
                    UPDATE record_entry SET id = {2} WHERE id = 1000";
        check(&db, swap, |ids| Verification::Broken { entry: ids[1], fault: ChainFault::DoesNotFollow }).await;
    })
    .await;
}

#[tokio::test]
async fn a_record_that_was_cut_short_is_found() {
    for_each_database(async |db: Db| {
        check(&db, "DELETE FROM record_entry WHERE id >= {3}", |_| Verification::CutShort { found: 3, expected: 5 })
            .await;
    })
    .await;
}

#[tokio::test]
async fn the_database_refuses_to_change_the_record() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let entry = NewEntry {
            at: MORNING,
            actor_id: Some(ines),
            deed: "signed_in".to_owned(),
            subject_kind: "person".to_owned(),
            subject_id: Some(ines.0),
            detail: serde_json::json!({}),
        };
        write(&db, async |tx| record::append(tx, entry).await).await.unwrap();
        for forbidden in ["UPDATE record_entry SET deed = 'nothing'", "DELETE FROM record_entry"] {
            let refused = db.execute_unprepared(forbidden).await.map_err(StoreError::from);
            assert!(matches!(&refused, Err(StoreError::Corrupt(why)) if why.contains("append only")), "{refused:?}");
        }
        let kept = record::of_subject(&db, "person", ines.0).await.unwrap();
        assert_eq!((kept.len(), &*kept[0].deed), (1, "signed_in"));
    })
    .await;
}
