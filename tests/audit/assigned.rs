//! Assignments and trainers that are not as they were put on record are found.

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::manager;
use sea_orm::{ConnectionTrait as _, DbBackend};
use sootmark::actions::assign::{ToDo, assign};
use sootmark::actions::check_record::check_record;
use sootmark::actions::name_trainer::name_trainer;
use sootmark::actions::withdraw_assignment::withdraw_assignment;
use sootmark::domain::certification::assignment::Kind;
use sootmark::domain::people::Role;
use sootmark::store::assignments::ToWhom;
use sootmark::store::{AssignmentId, people};

/// A workshop with an assignment of each kind, one of them withdrawn, and a named trainer; nothing refuses changes any more.
async fn unguarded() -> TestApp {
    let app = TestApp::start_with_bank().await;
    let by = manager(&app).await.person;
    let of = async |role| {
        people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store").expect("a person").id
    };
    let (technician, trainer) = (of(Role::Technician).await, of(Role::Trainer).await);
    let three = [ToWhom::Person(technician), ToWhom::Branch(app.branch), ToWhom::Role(Role::Trainer)];
    for (to, key) in three.into_iter().zip(["a", "b", "c"]) {
        let to_do = ToDo { to, kind: Kind::Module, thing_key: "lamps", due_day: "2026-12-01", key };
        assign(&app.deeds, by, to_do).await.expect("the store");
    }
    withdraw_assignment(&app.deeds, by, AssignmentId(2), "Not needed.").await.expect("the store");
    name_trainer(&app.deeds, by, technician, Some(trainer)).await.expect("the store");
    for table in ["assignment", "assignment_withdrawal", "named_trainer"] {
        let sql = match app.deeds.db.get_database_backend() {
            DbBackend::Postgres => format!("ALTER TABLE {table} DISABLE TRIGGER tr_{table}_change"),
            _ => format!("DROP TRIGGER tr_{table}_update; DROP TRIGGER tr_{table}_delete"),
        };
        app.deeds.db.execute_unprepared(&sql).await.expect("SQL");
    }
    let found = check_record(&app.deeds.db, &[]).await.expect("the store");
    assert!(found.is_whole(), "{:?}", found.faults);
    app
}

#[tokio::test]
async fn each_change_of_what_was_assigned_is_found() {
    for sql in [
        "UPDATE assignment SET due_day = '2027-12-01' WHERE id = 1",
        "UPDATE assignment SET thing_key = 'fire' WHERE id = 3",
        "UPDATE assignment SET person_id = 2 WHERE id = 1",
        "UPDATE assignment SET made_by = 1 WHERE id = 3",
        "DELETE FROM assignment WHERE id = 3",
        "DELETE FROM assignment_withdrawal",
        "UPDATE assignment_withdrawal SET reason = 'Done.'",
        "UPDATE named_trainer SET trainer_id = NULL",
        "DELETE FROM named_trainer",
    ] {
        let app = unguarded().await;
        app.deeds.db.execute_unprepared(sql).await.expect("SQL");
        let found = check_record(&app.deeds.db, &[]).await.expect("the store");
        assert!(!found.faults.is_empty(), "{sql}");
        app.stop().await;
    }
}
