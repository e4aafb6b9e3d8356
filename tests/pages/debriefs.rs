//! A missed safety question: told, gone through with a trainer, and only then a resit.

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, begin, grant, questions_of, read_everything, sit};
use sootmark::actions::begin_examination::{Begun, NotYet, begin_examination};
use sootmark::domain::people::Role;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{AttemptId, PersonId, people, record};

const SCHEME: &str = "first-day";
const NOTE: &str = "Went through the straw barn. Asked again, the person named the yard as the place.";

async fn person(app: &TestApp, role: Role) -> PersonId {
    let found = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await;
    found.expect("the store").expect("a person").id
}

/// Where the missed question stands: the first about fire.
async fn fire_in(app: &TestApp, attempt: AttemptId) -> usize {
    let questions = questions_of(app, attempt).await;
    questions.iter().position(|question| question.competence == "fire").expect("a question about fire") + 1
}

#[tokio::test]
async fn from_the_miss_over_the_talk_to_the_qualification() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let attempt = sit(&app, technician, SCHEME, Sat::MissingFire).await;
    let fire = fire_in(&app, attempt).await;
    let mut theirs = app.signed_in(Role::Technician).await;
    let result_path = format!("/examine/sitting/{attempt}/result");
    let result = theirs.get(&result_path).await.text();
    let missed = format!("Not qualified: the mandatory safety question {fire} was not answered rightly.");
    assert!(result.contains(&missed) && result.contains("8 of 9 right"), "{result}");
    assert!(result.contains("What now: your trainer goes through it with you."), "{result}");
    let letter = &app.letters().await[0];
    assert_eq!(letter.subject, "First day on site: not passed");
    assert!(letter.text_body.contains("You missed a mandatory safety question in: "), "{}", letter.text_body);
    assert!(letter.text_body.contains(&result_path), "{}", letter.text_body);
    let own = theirs.get("/record").await.text();
    assert!(own.contains(&format!("Mandatory safety question {fire} missed")), "{own}");

    app.clock.advance(2 * 86_400);
    let mut trainer = app.signed_in(Role::Trainer).await;
    let list = trainer.get("/debriefs").await;
    assert!(list.text().contains("Test technician Coldbrook, First day on site for 2 days"), "{}", list.text());
    let path = format!("/debriefs/{attempt}");
    assert!(list.body.contains(&format!("href=\"{path}\"")));
    let one = trainer.get(&path).await;
    let question = &questions_of(&app, attempt).await[fire - 1];
    assert!(one.text().contains(&question.shown.prompt), "{}", one.text());
    for why in question.reasons.iter().chain(question.choices.iter().map(|choice| &choice.why)) {
        assert!(one.text().contains(why.as_str()), "{why}");
    }
    let too_long = "x".repeat(2001);
    for (note, words) in [("", "Write down what you went through"), (" \r\n ", "Write down"), (&too_long, "too long")] {
        let empty = trainer.post(&path, &[("note", note)]).await;
        assert_eq!(empty.status, 422);
        assert!(empty.text().contains(words) && empty.body.contains("href=\"#note\""), "{}", empty.text());
    }
    assert_eq!(begins(&app, technician, SCHEME).await, Begun::NotYet(NotYet::DebriefNeeded(attempt)));

    let held = trainer.post(&path, &[("note", NOTE)]).await;
    assert_eq!((held.status, held.location()), (303, "/debriefs?held=now"));
    let list = trainer.get("/debriefs?held=now").await.text();
    assert!(list.contains("Written down. The person can sit again.") && list.contains("Nobody waits."), "{list}");
    let mut theirs = app.signed_in(Role::Technician).await;
    assert!(theirs.get(&result_path).await.text().contains("Your trainer has gone through it with you."));
    assert!(theirs.get("/record").await.text().contains(NOTE));

    let resit = sit(&app, technician, SCHEME, Sat::Right).await;
    assert_ne!(resit, attempt);
    let result = theirs.get(&format!("/examine/sitting/{resit}/result")).await.text();
    assert!(result.contains("9 of 9 right") && result.contains("You passed every part below."), "{result}");
    grant(&app, resit).await;
    let manager = app.signed_in(Role::ServiceManager).await.get("/qualified?competence=fire&state=qualified").await;
    assert!(manager.text().contains("Test technician"), "{}", manager.text());
    assert!(matches!(record::verify(&app.deeds.db).await, Ok(record::Verification::Whole { .. })));
    app.stop().await;
}

async fn begins(app: &TestApp, person: PersonId, scheme: &str) -> Begun {
    begin_examination(&app.deeds, person, TemperatureUnit::Celsius, scheme).await.expect("the store")
}

#[tokio::test]
async fn a_talk_does_not_shorten_the_wait() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let attempt = sit(&app, technician, SCHEME, Sat::MissingFire).await;
    let over = app.clock.now().plus_seconds(3600);
    let mut trainer = app.signed_in(Role::Trainer).await;
    assert_eq!(trainer.post(&format!("/debriefs/{attempt}"), &[("note", NOTE)]).await.status, 303);
    assert_eq!(begins(&app, technician, SCHEME).await, Begun::NotYet(NotYet::WaitUntil(over)));
    let list = app.signed_in(Role::Technician).await.get("/examine").await.text();
    assert!(list.contains("You can sit again on 24 Nov 2026 at 09:00"), "{list}");
    app.clock.advance(3600);
    assert!(matches!(begins(&app, technician, SCHEME).await, Begun::Sitting(_)));
    app.stop().await;
}

#[tokio::test]
async fn a_miss_keeps_from_every_examination_that_asks_about_the_same() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let attempt = sit(&app, technician, SCHEME, Sat::MissingFire).await;
    app.clock.advance(86_400);
    read_everything(&app, technician, "operator").await;
    let refused = Begun::NotYet(NotYet::DebriefNeeded(attempt));
    assert_eq!(begins(&app, technician, "operator").await, refused, "it asks about fire too");
    let list = app.signed_in(Role::Technician).await.get("/examine").await;
    assert_eq!(list.text().matches("You missed a safety question.").count(), 2, "{}", list.text());
    let mut trainer = app.signed_in(Role::Trainer).await;
    assert_eq!(trainer.post(&format!("/debriefs/{attempt}"), &[("note", NOTE)]).await.status, 303);
    assert!(matches!(begins(&app, technician, "operator").await, Begun::Sitting(_)));
    app.stop().await;
}

#[tokio::test]
async fn nobody_goes_through_it_with_themselves() {
    let app = TestApp::start_with_bank().await;
    let trainer = person(&app, Role::Trainer).await;
    let attempt = sit(&app, trainer, SCHEME, Sat::MissingFire).await;
    let path = format!("/debriefs/{attempt}");
    let mut own = app.signed_in(Role::Trainer).await;
    assert!(own.get("/debriefs").await.text().contains("your own: for another trainer"));
    let page = own.get(&path).await;
    assert!(page.text().contains("Another trainer goes through it with you"), "{}", page.text());
    assert!(!page.body.contains("name=\"note\""), "there is nothing to fill in");
    let refused = own.post(&path, &[("note", NOTE)]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("This is your own examination."), "{}", refused.text());
    assert!(refused.body.contains(NOTE), "what was typed stays");
    assert_eq!(begins(&app, trainer, SCHEME).await, Begun::NotYet(NotYet::DebriefNeeded(attempt)));

    app.person("Second trainer", "second@example.org", Role::Trainer).await;
    let mut second = app.signed_in_as("second@example.org").await;
    second.get(&path).await;
    assert_eq!(second.post(&path, &[("note", NOTE)]).await.location(), "/debriefs?held=now");
    app.stop().await;
}

#[tokio::test]
async fn the_first_note_stands() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let attempt = sit(&app, technician, SCHEME, Sat::MissingFire).await;
    let path = format!("/debriefs/{attempt}");
    app.person("Second trainer", "second@example.org", Role::Trainer).await;
    let mut one = app.signed_in(Role::Trainer).await;
    let mut other = app.signed_in_as("second@example.org").await;
    assert_eq!(other.get(&path).await.status, 200);
    assert_eq!(one.post(&path, &[("note", NOTE)]).await.location(), "/debriefs?held=now");
    for trainer in [&mut one, &mut other] {
        let again = trainer.post(&path, &[("note", "Another note.")]).await;
        assert_eq!((again.status, again.location()), (303, "/debriefs?held=before"));
        assert_eq!(trainer.get(&path).await.status, 404, "nothing waits here any more");
    }
    assert!(other.get("/debriefs?held=before").await.text().contains("Somebody had written this one down before."));
    let own = app.signed_in(Role::Technician).await.get("/record").await.text();
    assert!(own.contains(NOTE) && !own.contains("Another note."), "{own}");
    let entries = record::of_subject(&app.deeds.db, "attempt", attempt.0).await.expect("the record");
    assert_eq!(entries.iter().filter(|entry| entry.deed == "debrief_held").count(), 1);
    app.stop().await;
}

#[tokio::test]
async fn only_a_graded_miss_can_be_gone_through() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let passed = sit(&app, technician, SCHEME, Sat::Right).await;
    let open = begin(&app, technician, "operator").await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    for attempt in [passed.to_string(), open.to_string(), "999".to_owned(), "x".to_owned()] {
        let path = format!("/debriefs/{attempt}");
        assert_eq!(trainer.get(&path).await.status, 404, "{attempt}");
        assert_eq!(trainer.post(&path, &[("note", NOTE)]).await.status, 404, "{attempt}");
    }
    app.stop().await;
}
