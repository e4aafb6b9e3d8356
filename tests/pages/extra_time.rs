//! More time for a person: set with a reason that few read, shown to the candidate, frozen in the sitting.

use crate::support::app::{BEGINNING, TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{begin, read_everything};
use sootmark::actions::anonymise_person::{Anonymised, anonymise_person};
use sootmark::actions::check_record::check_record;
use sootmark::actions::export_person::export_person;
use sootmark::actions::submit_examination::submit_examination;
use sootmark::domain::people::{EmailAddress, Role};
use sootmark::store::{PersonId, attempts, extra_times, people, record};

const SCHEME: &str = "first-day";
const REASON: &str = "Reads with a screen magnifier.";

async fn technician(app: &TestApp) -> PersonId {
    let found = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    found.expect("the store").expect("a person").id
}

async fn set(browser: &mut Client, person: PersonId, kind: &str, amount: &str, reason: &str) -> Reply {
    let page = browser.get(&format!("/people/{person}/time")).await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let fields = [("kind", kind), ("amount", amount), ("reason", reason), ("key", key.as_str())];
    browser.post(&format!("/people/{person}/time"), &fields).await
}

#[tokio::test]
async fn more_time_is_shown_frozen_and_its_reason_stays_with_few() {
    let app = TestApp::start_with_bank().await;
    let person = technician(&app).await;
    read_everything(&app, person, SCHEME).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let done = set(&mut manager, person, "percent", "50", REASON).await;
    assert_eq!(
        (done.status, done.location()),
        (303, format!("/people/{person}/time?done=set").as_str()),
        "{}",
        done.text()
    );
    let page = manager.get(done.location()).await;
    assert!(
        page.text().contains("gets 50 % more time in examinations") && page.text().contains(REASON),
        "{}",
        page.text()
    );

    let mut browser = app.signed_in(Role::Technician).await;
    let list = browser.get("/examine").await;
    assert!(list.text().contains("You have 50 % more time: it is in these 22 min."), "{}", list.text());
    let attempt = begin(&app, person, SCHEME).await;
    let stored = attempts::by_id(&app.deeds.db, person, attempt).await.expect("the attempt");
    assert_eq!((stored.extra_s, stored.deadline_at), (450, Some(BEGINNING.plus_seconds(900 + 450))));
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(review.text().contains("Your time is 7 min longer"), "{}", review.text());

    // What is set later is for the next sitting.
    assert_eq!(set(&mut manager, person, "none", "", "Not needed any more.").await.status, 303);
    let again = attempts::by_id(&app.deeds.db, person, attempt).await.expect("the attempt");
    assert_eq!(again, stored);

    // The record has neither amount nor reason; the person's own export has both.
    let entries = record::of_subject(&app.deeds.db, "person", person.0).await.expect("the record");
    let of_time: Vec<_> = entries.iter().filter(|entry| entry.deed == "extra_time_set").collect();
    assert_eq!(of_time.len(), 2);
    for entry in &of_time {
        let detail: serde_json::Value = serde_json::from_str(&entry.detail).expect("JSON");
        let detail = detail.as_object().expect("an object");
        assert_eq!(detail.keys().collect::<Vec<_>>(), ["sha256"], "neither amount nor reason");
        assert_eq!(detail["sha256"].as_str().map(str::len), Some(64));
    }
    let email = EmailAddress::parse(&address_of(Role::Technician)).expect("an address");
    let export = export_person(&app.deeds.db, &email).await.expect("the store").expect("the person");
    assert_eq!(export["time_in_examinations"][0]["reason"], REASON);
    // When the law asks, the reason goes, and the record stays whole.
    submit_examination(&app.deeds, person, attempt, "a key").await.expect("the store");
    let done = anonymise_person(&app.deeds, &email).await.expect("the store");
    assert!(matches!(done, Anonymised::Done { .. }), "{done:?}");
    let left = extra_times::of_person(&app.deeds.db, person).await.expect("the store");
    assert!(left.len() == 2 && left.iter().all(|one| one.reason.is_empty() && one.salt.is_empty()), "{left:?}");
    let found = check_record(&app.deeds.db, &[]).await.expect("the check");
    assert!(found.is_whole(), "{found:?}");
    app.stop().await;
}

#[tokio::test]
async fn what_is_no_time_is_said_beside_its_field_and_changes_nothing() {
    let app = TestApp::start_with_bank().await;
    let person = technician(&app).await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    for (kind, amount, reason, says) in [
        ("percent", "301", REASON, "Type a whole number: 1 to 300 %, or 1 to 240 min."),
        ("minutes", "0", REASON, "Type a whole number"),
        ("minutes", "-5", REASON, "Type a whole number"),
        ("minutes", "ten", REASON, "Type a whole number"),
        ("for ever", "5", REASON, "Choose percent, minutes or no more time."),
        ("minutes", "10", " ", "Write down why"),
    ] {
        let again = set(&mut administrator, person, kind, amount, reason).await;
        assert_eq!(again.status, 422, "{kind} {amount}");
        assert!(again.text().contains(says), "{kind} {amount}: {}", again.text());
    }
    assert_eq!(app.deeds_about(&address_of(Role::Technician)).await, Vec::<String>::new());
    // Nobody sets it for themselves, and a double click sets it once.
    let own = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await.expect("the store");
    let own = set(&mut administrator, own.expect("a person").id, "minutes", "10", REASON).await;
    assert!(own.status == 422 && own.text().contains("This is you."), "{}", own.text());
    let key = "b".repeat(64);
    let fields = [("kind", "minutes"), ("amount", "10"), ("reason", REASON), ("key", key.as_str())];
    for _click in 0..2 {
        assert_eq!(administrator.post(&format!("/people/{person}/time"), &fields).await.status, 303);
    }
    assert_eq!(app.deeds_about(&address_of(Role::Technician)).await, ["extra_time_set"]);
    app.stop().await;
}
