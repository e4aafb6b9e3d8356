//! Assignments: made, done by what the record says, overdue, withdrawn; and who trains whom.

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, certify, decided, manager, read_everything, sit};
use sootmark::actions::decide::Decided;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::people::Role;
use sootmark::store::{people, record};

const DAY: i64 = 86_400;

/// The row of an assignment on the list, as it is read.
async fn row(app: &TestApp, number: i64) -> String {
    let page = app.signed_in(Role::ServiceManager).await.get("/assignments").await;
    let found = page.between(&format!("<a href=\"/assignments/{number}\">"), "</tr>");
    found
        .unwrap_or_default()
        .split('<')
        .filter_map(|part| part.split_once('>'))
        .map(|part| part.1)
        .collect::<Vec<_>>()
        .join("|")
}

#[tokio::test]
async fn a_module_is_done_when_its_lessons_are_read_and_overdue_the_day_after() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    reader.get("/assignments").await;
    let key = "a".repeat(64);
    let fields = [
        ("key", key.as_str()),
        ("thing", "module:lamps"),
        ("group", ""),
        ("email", "INES@example.org"),
        ("due", "2026-11-26"),
    ];
    for _ in 0..2 {
        let reply = reader.post("/assignments", &fields).await;
        assert_eq!((reply.status, reply.location()), (303, "/assignments?done=assigned"), "{}", reply.text());
    }
    assert!(row(&app, 1).await.contains("Ines Varga"), "{}", row(&app, 1).await);
    assert_eq!(row(&app, 2).await, "", "a double click assigns once");
    let mut own = app.signed_in_as("ines@example.org").await;
    let home = own.get("/").await.text();
    assert!(home.contains("To be done by 26 Nov 2026: Module"), "{home}");

    // The whole of 26 Nov is still in time.
    app.clock.advance(2 * DAY + 15 * 3600);
    let mut own = app.signed_in_as("ines@example.org").await;
    assert!(own.get("/").await.text().contains("To be done by"));
    app.clock.advance(3600);
    let mut own = app.signed_in_as("ines@example.org").await;
    assert!(own.get("/").await.text().contains("Overdue since 26 Nov 2026: Module"));
    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert!(reader.get("/").await.text().contains("1 thing is overdue among what you assigned."));
    assert!(reader.get("/assignments").await.text().contains("One thing is overdue."));

    read_everything(&app, ines, "first-day").await;
    let home = app.signed_in_as("ines@example.org").await.get("/").await.text();
    assert!(!home.contains("Overdue"), "{home}");
    assert!(reader.get("/assignments/1").await.text().contains("1 of 1 have done it. Overdue: 0."));
    app.stop().await;
}

#[tokio::test]
async fn a_scheme_is_done_by_a_certificate_that_outlasts_the_day_or_a_new_one() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    reader.get("/assignments").await;
    let group = format!("branch:{}", app.branch);
    for (number, due) in [("1", "2026-12-01"), ("2", "2029-12-01")] {
        let key = number.repeat(64);
        let fields =
            [("key", key.as_str()), ("thing", "scheme:first-day"), ("group", &group), ("email", ""), ("due", due)];
        assert_eq!(reader.post("/assignments", &fields).await.status, 303);
    }
    // Three learn at the branch: Ines, and the test's technician and trainer. Hers ends on 24 Nov 2029.
    assert!(reader.get("/assignments/1").await.text().contains("1 of 3 have done it"));
    assert!(reader.get("/assignments/2").await.text().contains("0 of 3 have done it"));
    app.clock.advance(DAY);
    certify(&app, ines, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert!(
        reader.get("/assignments/2").await.text().contains("1 of 3 have done it"),
        "a new one is what was asked for"
    );
    app.stop().await;
}

#[tokio::test]
async fn what_is_wrong_with_an_assignment_is_said_and_nothing_is_lost() {
    let app = TestApp::start_with_bank().await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    reader.get("/assignments").await;
    let key = "a".repeat(64);
    for (thing, group, email, due, says) in [
        ("module:none", "", "technician@example.org", "2026-12-01", "Choose what is to be done."),
        ("module:lamps", "", "nobody@example.org", "2026-12-01", "Nobody here has this address."),
        ("module:lamps", "", "administrator@example.org", "2026-12-01", "Only technicians and trainers"),
        ("module:lamps", "branch:99", "", "2026-12-01", "Choose a branch or a role."),
        ("module:lamps", "role:trainer", "technician@example.org", "2026-12-01", "not both"),
        ("module:lamps", "role:trainer", "", "2026-11-23", "This day is over."),
        ("module:lamps", "role:trainer", "", "soon", "Write the day as"),
    ] {
        let fields = [("key", key.as_str()), ("thing", thing), ("group", group), ("email", email), ("due", due)];
        let reply = reader.post("/assignments", &fields).await;
        assert!(reply.status == 422 && reply.text().contains(says), "{says}: {}", reply.text());
        assert!(email.is_empty() || reply.body.contains(email), "what was typed stays");
    }
    assert_eq!(row(&app, 1).await, "");
    assert_eq!(reader.get("/assignments/1").await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn a_withdrawn_assignment_asks_for_nothing_and_stays_on_record() {
    let app = TestApp::start_with_bank().await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    reader.get("/assignments").await;
    let key = "a".repeat(64);
    let fields = [
        ("key", key.as_str()),
        ("thing", "module:lamps"),
        ("group", ""),
        ("email", "technician@example.org"),
        ("due", "2026-12-01"),
    ];
    assert_eq!(reader.post("/assignments", &fields).await.status, 303);
    assert_eq!(reader.post("/assignments/1/withdraw", &[("reason", " ")]).await.status, 422);
    for _ in 0..2 {
        let reply = reader.post("/assignments/1/withdraw", &[("reason", "Has moved to the office.")]).await;
        assert_eq!(reply.location(), "/assignments?done=withdrawn");
    }
    assert!(!app.signed_in(Role::Technician).await.get("/").await.text().contains("To be done"));
    let page = reader.get("/assignments/1").await.text();
    assert!(page.contains("Withdrawn on 24 Nov 2026. Has moved to the office."), "{page}");
    assert_eq!(app.deeds_about(&address_of(Role::Technician)).await, ["assigned", "assignment_withdrawn"]);
    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
    let history = reader.get(&format!("/qualified/people/{}/history", technician.expect("a person").id)).await.text();
    assert!(history.contains("Assigned: Module") && history.contains("No longer assigned"), "{history}");
    let whole = record::verify(&app.deeds.db).await.expect("the record");
    assert!(matches!(whole, record::Verification::Whole { .. }), "{whole:?}");
    app.stop().await;
}

#[tokio::test]
async fn whoever_was_named_as_the_trainer_never_decides() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    let tutor = app.person("Tomas Reyk", "tomas@example.org", Role::Trainer).await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let page = reader.get(&format!("/people/{ines}")).await;
    assert!(page.text().contains("Who trains this person") && page.body.contains("Tomas Reyk, Coldbrook"));
    let path = format!("/people/{ines}/trainer");
    let number = tutor.to_string();
    let own = ines.to_string();
    for wrong in ["x", "999", own.as_str()] {
        let reply = reader.post(&path, &[("trainer", wrong)]).await;
        assert_eq!(reply.status, 422, "{wrong}: {}", reply.text());
    }
    assert_eq!(reader.post(&path, &[("trainer", number.as_str())]).await.status, 303);
    assert_eq!(reader.post(&path, &[("trainer", "")]).await.status, 303, "changeable");
    assert_eq!(app.deeds_about("ines@example.org").await, ["trainer_named", "trainer_named"]);

    app.clock.advance(3600);
    // He becomes a service manager: he trained her all the same.
    // Source: ISO/IEC 17024 (secondary): whoever decides on certification is not the person's trainer.
    let attempt = sit(&app, ines, "first-day", Sat::Right).await;
    let mut him = manager(&app).await;
    him.person = tutor;
    let said = decided(&app, him, attempt, Verdict::Granted, "").await;
    assert!(!matches!(said, Decided::Done(_)), "{said:?}");
    let history = reader.get(&format!("/qualified/people/{ines}/history")).await.text();
    let order = ["Trainer: Tomas Reyk", "No longer has a trainer", "First day on site: passed"];
    let places: Vec<_> = order.iter().map(|words| history.find(words)).collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{places:?} {history}");
    app.stop().await;
}
