//! Examinations under somebody's eyes: the code that opens them, what the invigilator sees and may do, and every code that opens
//! nothing.

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{fields_of, questions_of, read_everything, right, watch};
use sootmark::actions::check_record::check_record;
use sootmark::actions::invigilate::CODE_HOLDS_S;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::attempts::{self, AttemptState};
use sootmark::store::people::{self, NewPerson};
use sootmark::store::{AttemptId, InvigilationId, PersonId, StoreError, branches, invigilations, record, write};

const SCHEME: &str = "service-technician";

async fn person(app: &TestApp, email: &str) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, email).await.expect("the store").expect("a person").id
}

/// The technician has read everything and is at the examinations.
async fn ready(app: &TestApp) -> Client {
    read_everything(app, person(app, &address_of(Role::Technician)).await, SCHEME).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let list = browser.get("/examine").await;
    assert!(list.text().contains("Somebody watches this examination."), "{}", list.text());
    browser
}

async fn begin(browser: &mut Client, code: &str) -> Reply {
    browser.post(&format!("/examine/{SCHEME}"), &[(&format!("code-{SCHEME}"), code)]).await
}

fn sitting_of(reply: &Reply) -> AttemptId {
    assert_eq!(reply.status, 303, "{}", reply.text());
    reply.location().split('/').nth(3).and_then(|id| id.parse().ok()).expect("a sitting")
}

/// Why the technician's examinations did not begin, as the record has it.
async fn not_begun(app: &TestApp) -> Vec<String> {
    let technician = person(app, &address_of(Role::Technician)).await;
    let entries = record::of_subject(&app.deeds.db, "person", technician.0).await.expect("the record");
    let of_deed = entries.into_iter().filter(|entry| entry.deed == "examination_not_begun");
    let because = |detail: &str| -> String {
        let detail: serde_json::Value = serde_json::from_str(detail).expect("JSON");
        detail["because"].as_str().expect("a reason").to_owned()
    };
    of_deed.map(|entry| because(&entry.detail)).collect()
}

/// The trainer opens one on the page; its number and its code.
async fn opened(app: &TestApp, role: Role) -> (Client, InvigilationId, String) {
    let mut browser = app.signed_in(role).await;
    let list = browser.get("/invigilate").await;
    let key = list.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let done = browser.post("/invigilate", &[("scheme", SCHEME), ("key", &key)]).await;
    let again = browser.post("/invigilate", &[("scheme", SCHEME), ("key", &key)]).await;
    assert_eq!((done.status, done.location()), (303, again.location()), "a double click opens one");
    let id: InvigilationId = done.location().split('/').nth(2).and_then(|id| id.parse().ok()).expect("a number");
    let page = browser.get(done.location()).await;
    let code = page.between("class=\"code-word\">", "<").expect("the code").to_owned();
    (browser, id, code)
}

#[tokio::test]
async fn a_group_begins_with_the_code_and_is_watched_but_not_read() {
    let app = TestApp::start_with_bank().await;
    let (mut trainer, id, code) = opened(&app, Role::Trainer).await;
    let mut browser = ready(&app).await;
    // However it is typed.
    let attempt = sitting_of(&begin(&mut browser, &format!(" {}", code.to_lowercase().replace('-', " "))).await);
    let stored = attempts::by_id_of_anyone(&app.deeds.db, attempt).await.expect("the attempt");
    assert_eq!(stored.invigilation_id, Some(id));
    let questions = questions_of(&app, attempt).await;
    for (position, question) in (1..=3).zip(&questions) {
        let path = format!("/examine/sitting/{attempt}/{position}");
        assert_eq!(browser.post_all(&path, &fields_of(&right(question))).await.status, 303);
    }
    app.clock.advance(60);
    let page = trainer.get(&format!("/invigilate/{id}")).await;
    for words in ["Test technician", "Answered 3 of 26", "Time left 44 min", "Last saved 08:00:00", "sits"] {
        assert!(page.text().contains(words), "{words} in {}", page.text());
    }
    for question in &questions {
        assert!(!page.body.contains(&question.shown.prompt), "no question is shown to who watches");
    }
    // On a second device it goes on without the code, also after it was closed.
    assert_eq!(trainer.post(&format!("/invigilate/{id}/close"), &[]).await.status, 303);
    let mut other = app.signed_in(Role::Technician).await;
    other.get("/examine").await;
    assert_eq!(sitting_of(&begin(&mut other, "").await), attempt);
    assert_eq!(not_begun(&app).await, Vec::<String>::new());
    let deeds: Vec<String> = record::of_subject(&app.deeds.db, "invigilation", id.0)
        .await
        .expect("the record")
        .into_iter()
        .map(|entry| format!("{} {}", entry.deed, entry.detail.contains(&code.replace('-', ""))))
        .collect();
    assert_eq!(deeds, ["invigilation_opened false", "invigilation_closed false"], "the code is not on record");
    app.stop().await;
}

#[tokio::test]
async fn a_code_that_opens_nothing_says_why_changes_nothing_and_is_on_record() {
    let app = TestApp::start_with_bank().await;
    let (mut manager, id, code) = opened(&app, Role::ServiceManager).await;
    let (_, old) = watch(&app, SCHEME).await;
    let mut browser = ready(&app).await;
    for (typed, says) in [
        ("", "Type the code that they read out."),
        ("  ", "Type the code that they read out."),
        ("AAAA-AAAA", "does not open this examination at your branch"),
        ("not a code at all", "does not open this examination at your branch"),
    ] {
        let refused = begin(&mut browser, typed).await;
        assert_eq!(refused.status, 422, "{typed}");
        assert!(refused.text().contains(says), "{typed}: {}", refused.text());
        assert!(refused.body.contains(&format!("id=\"code-{SCHEME}-error\"")), "beside its field");
        let field = refused.body.split("<input").find(|input| input.contains(&format!("id=\"code-{SCHEME}\"")));
        assert!(field.expect("the field").contains(&format!("value=\"{typed}\"")), "as it was typed");
    }
    assert_eq!(manager.post(&format!("/invigilate/{id}/close"), &[]).await.status, 303);
    let closed = begin(&mut browser, &code).await;
    assert!(closed.status == 422 && closed.text().contains("has run out or was closed"), "{}", closed.text());
    app.clock.advance(CODE_HOLDS_S);
    let mut browser = app.signed_in(Role::Technician).await;
    browser.get("/examine").await;
    let over = begin(&mut browser, &old).await;
    assert!(over.status == 422 && over.text().contains("has run out or was closed"), "{}", over.text());
    let expected = ["no_code", "no_code", "wrong_code", "wrong_code", "code_over", "code_over"];
    assert_eq!(not_begun(&app).await, expected);
    let technician = person(&app, &address_of(Role::Technician)).await;
    assert!(attempts::of_person(&app.deeds.db, technician).await.expect("the store").is_empty());
    assert!(check_record(&app.deeds.db, &[]).await.expect("the check").is_whole());
    app.stop().await;
}

#[tokio::test]
async fn a_guesser_waits_and_the_right_code_waits_with_them() {
    let app = TestApp::start_with_bank().await;
    let (_, code) = watch(&app, SCHEME).await;
    let mut browser = ready(&app).await;
    for _ in 0..5 {
        assert_eq!(begin(&mut browser, "AAAA-AAAA").await.status, 422);
    }
    let wait = begin(&mut browser, &code).await;
    assert!(wait.status == 422 && wait.text().contains("wrong several times. Wait 2 s"), "{}", wait.text());
    assert_eq!(not_begun(&app).await.len(), 5, "in a wait no code is looked at");
    app.clock.advance(2);
    sitting_of(&begin(&mut browser, &code).await);
    assert!(
        app.signs_in(&address_of(Role::Technician), crate::support::app::PASSWORD).await,
        "signing in waits for nothing"
    );
    app.stop().await;
}

#[tokio::test]
async fn one_branchs_code_opens_nothing_at_another_and_nobody_watches_themselves() {
    let app = TestApp::start_with_bank().await;
    let (_, id, code) = opened(&app, Role::Trainer).await;
    let elsewhere = write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, "Highmoor", "UTC").await);
    let elsewhere = elsewhere.await.expect("a branch");
    for (name, email, role) in [
        ("Test stranger", "stranger@example.org", Role::Technician),
        ("Test other trainer", "other@example.org", Role::Trainer),
    ] {
        let new = NewPerson {
            branch_id: elsewhere,
            email: EmailAddress::parse(email).expect("an address"),
            display_name: PersonName::parse(name).expect("a name"),
            role,
            password_phc: Some(app.deeds.hashing.hash(crate::support::app::PASSWORD.to_owned()).await.expect("a hash")),
            temperature_unit: TemperatureUnit::Celsius,
            scheme_key: None,
            created_at: app.clock.now(),
        };
        write::<_, StoreError, _>(&app.deeds.db, async |tx| people::insert(tx, new).await).await.expect("a person");
    }
    let stranger = person(&app, "stranger@example.org").await;
    read_everything(&app, stranger, SCHEME).await;
    read_everything(&app, person(&app, &address_of(Role::Trainer)).await, SCHEME).await;
    for mut browser in [app.signed_in_as("stranger@example.org").await, app.signed_in(Role::Trainer).await] {
        browser.get("/examine").await;
        let refused = begin(&mut browser, &code).await;
        assert!(refused.text().contains("does not open this examination at your branch"), "{}", refused.text());
    }
    let mut other = app.signed_in_as("other@example.org").await;
    let missing = other.get("/invigilate/999").await;
    assert_eq!(missing.status, 404);
    assert_eq!(
        other.get(&format!("/invigilate/{id}")).await.seen(),
        missing.seen(),
        "another branch's looks like none"
    );
    assert_eq!(other.post(&format!("/invigilate/{id}/close"), &[]).await.status, 404);
    let still = invigilations::by_id(&app.deeds.db, app.branch, id).await.expect("the invigilation");
    assert!(still.is_open(app.clock.now()));
    app.stop().await;
}

/// Writes something down in a sitting, or ends it, with the key of the page.
async fn note(browser: &mut Client, id: InvigilationId, attempt: AttemptId, deed: &str, text: &str) -> Reply {
    let page = browser.get(&format!("/invigilate/{id}")).await;
    let key = page.between("name=\"key\" value=\"", "\"").unwrap_or_default().to_owned();
    note_with(browser, id, attempt, (deed, text, &key)).await
}

async fn note_with(
    browser: &mut Client,
    id: InvigilationId,
    attempt: AttemptId,
    (deed, text, key): (&str, &str, &str),
) -> Reply {
    let fields = [("deed", deed), ("key", key), (&format!("text-{attempt}"), text)];
    browser.post(&format!("/invigilate/{id}/sittings/{attempt}"), &fields).await
}

#[tokio::test]
async fn an_incident_is_written_down_and_a_sitting_ended_once_with_what_was_saved() {
    let app = TestApp::start_with_bank().await;
    let (mut trainer, id, code) = opened(&app, Role::Trainer).await;
    let mut browser = ready(&app).await;
    let attempt = sitting_of(&begin(&mut browser, &code).await);
    let questions = questions_of(&app, attempt).await;
    let path = format!("/examine/sitting/{attempt}/1");
    assert_eq!(browser.post_all(&path, &fields_of(&right(&questions[0]))).await.status, 303);

    let empty = note(&mut trainer, id, attempt, "note", " ").await;
    assert!(empty.status == 422 && empty.text().contains("Write down what happened"), "{}", empty.text());
    assert_eq!(note(&mut trainer, id, attempt, "note", "Left the room for 4 min.").await.status, 303);
    let page = trainer.get(&format!("/invigilate/{id}")).await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    for _double_click in 0..2 {
        let ended = note_with(&mut trainer, id, attempt, ("end", "Read from a phone.", &key)).await;
        assert_eq!(ended.location(), format!("/invigilate/{id}?done=noted"), "{}", ended.text());
    }
    let once_more = note(&mut trainer, id, attempt, "end", "And again.").await;
    assert_eq!(once_more.location(), format!("/invigilate/{id}?done=over"));

    let late = browser.post_all(&path, &fields_of(&right(&questions[0]))).await;
    assert!(late.status == 410 && late.text().contains("whoever watched ended it"), "{}", late.text());
    let result = browser.get(&format!("/examine/sitting/{attempt}/result")).await;
    for words in ["1 of 26 right", "Ended by whoever watched", "The reason that was written down: Read from a phone."] {
        assert!(result.text().contains(words), "{words} in {}", result.text());
    }
    // Whoever decides reads it, and so does its owner.
    let mut manager = app.signed_in(Role::ServiceManager).await;
    for page in
        [manager.get(&format!("/decisions/{attempt}")).await, browser.get(&format!("/record/sitting/{attempt}")).await]
    {
        for words in ["Test trainer: Left the room for 4 min.", "ended by Test trainer: Read from a phone."] {
            assert!(page.text().contains(words), "{words} in {}", page.text());
        }
    }
    let stored = attempts::by_id_of_anyone(&app.deeds.db, attempt).await.expect("the attempt");
    let trainer_id = person(&app, &address_of(Role::Trainer)).await;
    assert_eq!((stored.state, stored.ended_by), (AttemptState::Expired, Some(trainer_id)));
    let entries = record::of_subject(&app.deeds.db, "attempt", attempt.0).await.expect("the record");
    let deeds: Vec<&str> = entries.iter().map(|entry| entry.deed.as_str()).collect();
    let wanted = ["examination_begun", "incident_noted", "sitting_ended", "examination_graded", "late_answer_refused"];
    assert_eq!(deeds, wanted);
    assert_eq!(app.letters().await.len(), 1);
    let found = check_record(&app.deeds.db, &[]).await.expect("the check");
    assert!(found.is_whole(), "{found:?}");
    app.stop().await;
}

#[tokio::test]
async fn a_sitting_that_is_not_under_these_eyes_is_left_alone() {
    let app = TestApp::start_with_bank().await;
    let (mut trainer, id, _) = opened(&app, Role::Trainer).await;
    let technician = person(&app, &address_of(Role::Technician)).await;
    let unwatched = crate::support::sittings::begin(&app, technician, "first-day").await;
    for attempt in [unwatched, AttemptId(999)] {
        let key = "a".repeat(64);
        assert_eq!(note_with(&mut trainer, id, attempt, ("end", "No.", &key)).await.status, 404);
    }
    let stored = attempts::by_id_of_anyone(&app.deeds.db, unwatched).await.expect("the attempt");
    assert_eq!((stored.state, stored.ended_by), (AttemptState::Open, None));
    app.stop().await;
}
