//! Practical tasks at the machine, as the assessor's phone meets them: opened, marked, reviewed, signed by both; and everything
//! that is refused.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::observed::{BOTH, assessor, mark_all, open, watched};
use sootmark::actions::check_record::check_record;
use sootmark::actions::export_person::export_person;
use sootmark::actions::sign_observation::sign_observation;
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::{self, NewPerson};
use sootmark::store::read::trained::{practical_seen, who_trained};
use sootmark::store::{ObservationId, PersonId, StoreError, branches, observations, record, write};

async fn technician(app: &TestApp) -> PersonId {
    assessor(app, Role::Technician).await.person
}

/// The trainer opens a daily check of the technician on the page, twice by a double click.
async fn opened(app: &TestApp) -> (Client, ObservationId) {
    let mut browser = app.signed_in(Role::Trainer).await;
    let list = browser.get("/observe").await;
    let key = list.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let person = technician(app).await.to_string();
    let fields = [("person", person.as_str()), ("task", "daily-check"), ("machine", "tarrel-60"), ("key", &key)];
    let done = browser.post("/observe", &fields).await;
    let again = browser.post("/observe", &fields).await;
    assert_eq!((done.status, done.location()), (303, again.location()), "{}", done.text());
    let id = done.location().split('/').nth(2).and_then(|id| id.parse().ok()).expect("a number");
    (browser, id)
}

async fn mark(browser: &mut Client, id: ObservationId, place: usize, mark: &str, remark: &str) -> Reply {
    browser.post(&format!("/observe/{id}/steps/{place}"), &[("mark", mark), ("remark", remark)]).await
}

async fn sign(browser: &mut Client, id: ObservationId, assessor: &str, candidate: &str) -> Reply {
    let fields = [("assessor_password", assessor), ("candidate_password", candidate)];
    browser.post(&format!("/observe/{id}/sign"), &fields).await
}

async fn refusals(app: &TestApp, kind: &str, id: i64) -> Vec<String> {
    let entries = record::of_subject(&app.deeds.db, kind, id).await.expect("the record");
    let why = |detail: &str| -> String {
        let detail: serde_json::Value = serde_json::from_str(detail).expect("JSON");
        detail["why"].as_str().expect("a reason").to_owned()
    };
    entries.iter().filter(|entry| entry.deed == "observation_refused").map(|entry| why(&entry.detail)).collect()
}

async fn steps(app: &TestApp, id: ObservationId) -> usize {
    let of = observations::by_id_of_anyone(&app.deeds.db, id).await.expect("the observation");
    of.list().expect("a list").steps.len()
}

#[tokio::test]
async fn a_task_is_opened_marked_reviewed_and_signed_by_both_without_a_script() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, id) = opened(&app).await;
    let listed = browser.get("/observe").await.text();
    assert!(listed.contains("Daily check Tarrel 60, 24 Nov 2026"), "by its name: {listed}");
    let page = browser.get(&format!("/observe/{id}")).await;
    for words in ["Daily check", "Tarrel 60", "Test technician", "DANGER", "Critical.", "The operator's manual"] {
        assert!(page.text().contains(words), "{words} in {}", page.text());
    }
    let all = steps(&app, id).await;
    let review = browser.get(&format!("/observe/{id}/review")).await;
    assert!(review.text().contains(&format!("{all} steps are open.")), "{}", review.text());
    assert!(!review.body.contains("candidate_password"), "nothing to sign yet");
    for place in 1..all {
        let done = mark(&mut browser, id, place, "seen", "").await;
        assert_eq!((done.status, done.location()), (303, format!("/observe/{id}#step-{}", place + 1).as_str()));
    }
    // The last step did not apply: it has to be said why.
    assert_eq!(mark(&mut browser, id, all, "not_applicable", " ").await.status, 303);
    let review = browser.get(&format!("/observe/{id}/review")).await;
    assert!(review.text().contains("say in the remark why it does not apply"), "{}", review.text());
    assert_eq!(sign(&mut browser, id, PASSWORD, PASSWORD).await.status, 422, "something is open");
    app.clock.advance(60);
    assert_eq!(mark(&mut browser, id, all, "not_applicable", "The book is at the office.").await.status, 303);
    // Another device of the same assessor shows what was saved and when.
    let mut other = app.signed_in(Role::Trainer).await;
    let page = other.get(&format!("/observe/{id}")).await;
    assert!(
        page.body.contains("The book is at the office.") && page.text().contains("Saved 08:01:00"),
        "{}",
        page.text()
    );
    let review = other.get(&format!("/observe/{id}/review")).await;
    assert!(review.text().contains("This comes to: passed."), "{}", review.text());
    let signed = sign(&mut other, id, PASSWORD, PASSWORD).await;
    assert_eq!((signed.status, signed.location()), (303, format!("/observe/{id}").as_str()), "{}", signed.text());
    let sheet = other.get(&format!("/observe/{id}")).await;
    for words in ["Passed.", "Signed by both", "The book is at the office.", "Not applicable", "Did not apply"] {
        assert!(sheet.text().contains(words), "{words} in {}", sheet.text());
    }
    assert!(check_record(&app.deeds.db, &[]).await.expect("the check").is_whole());
    let person = technician(&app).await;
    assert!(practical_seen(&app.deeds.db, person).await.expect("the store").contains("daily-check"));
    // In the technician's own record, and in a service manager's view of it.
    let mut own = app.signed_in(Role::Technician).await;
    let record = own.get("/record").await;
    assert!(record.body.contains(&format!("/record/observations/{id}")), "{}", record.text());
    assert!(own.get(&format!("/record/observations/{id}")).await.text().contains("Passed."));
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let path = format!("/qualified/people/{person}/observations/{id}");
    assert!(manager.get(&format!("/qualified/people/{person}")).await.body.contains(&path));
    assert!(manager.get(&path).await.text().contains("Passed."));
    let history = manager.get(&format!("/qualified/people/{person}/history")).await;
    assert!(history.text().contains(", watched: passed") && history.body.contains(&path), "{}", history.text());
    let address = EmailAddress::parse(&address_of(Role::Technician)).expect("an address");
    let export = export_person(&app.deeds.db, &address).await.expect("the store").expect("a person");
    assert_eq!(export["observations"][0]["signed"]["outcome"]["passed"], true);
    assert_eq!(export["observations"][0]["steps"].as_array().map(Vec::len), Some(all));
    app.stop().await;
}

#[tokio::test]
async fn one_critical_step_missed_fails_it_and_the_sheet_says_so() {
    let app = TestApp::start_with_bank().await;
    let (person, by) = (technician(&app).await, assessor(&app, Role::Trainer).await);
    assert!(watched(&app, by, person, Task::ParkedRegeneration, &[]).await);
    app.clock.advance(60);
    let id = open(&app, by, person, Task::ParkedRegeneration).await;
    let list = observations::by_id_of_anyone(&app.deeds.db, id).await.expect("it").list().expect("a list");
    // Common practice, no published source: nothing that burns near a parked regeneration.
    let ground = list.steps.iter().position(|step| step.id == "ground").expect("a step") + 1;
    mark_all(&app, by, id, &[ground]).await;
    let mut browser = app.signed_in(Role::Trainer).await;
    let review = browser.get(&format!("/observe/{id}/review")).await;
    let says = format!("A critical step was not seen (step {ground}). That alone means not passed.");
    assert!(review.text().contains(&says), "{}", review.text());
    assert_eq!(sign(&mut browser, id, PASSWORD, PASSWORD).await.status, 303);
    let sheet = browser.get(&format!("/observe/{id}")).await;
    assert!(sheet.text().contains("Not passed.") && sheet.text().contains(&says), "{}", sheet.text());
    // What is printed; the wording alone, as it was looked at. Without the line of places, which paper does not have.
    let printed = sheet.text();
    let printed =
        &printed[printed.find("No. ").expect("the sheet")..printed.find("Cautions at this machine").expect("it")];
    assert_eq!(printed.trim(), include_str!("observe_sheet.txt").trim());
    // The last one counts: what was passed before has to be seen again.
    assert!(practical_seen(&app.deeds.db, person).await.expect("the store").is_empty());
    let trained = who_trained(&app.deeds.db, person).await.expect("the store");
    assert_eq!(trained.iter().map(|one| one.by).collect::<Vec<_>>(), [by.person], "whoever watched never decides");
    app.stop().await;
}

/// A sheet on which every step is marked, and the browser of the trainer who marked it.
async fn ready_to_sign(app: &TestApp) -> (ObservationId, Client) {
    let (person, by) = (technician(app).await, assessor(app, Role::Trainer).await);
    let id = open(app, by, person, Task::StopAndCall).await;
    mark_all(app, by, id, &[]).await;
    let mut browser = app.signed_in(Role::Trainer).await;
    browser.get("/observe").await;
    (id, browser)
}

#[tokio::test]
async fn a_wrong_password_signs_nothing_is_on_record_and_has_to_wait() {
    let app = TestApp::start_with_bank().await;
    let (id, mut browser) = ready_to_sign(&app).await;
    for (assessor, candidate, says) in [
        ("a wrong one", PASSWORD, "the assessor's password is not right"),
        (PASSWORD, "a wrong one", "the candidate's password is not right"),
        (PASSWORD, "", "the candidate's password is not right"),
    ] {
        let refused = sign(&mut browser, id, assessor, candidate).await;
        assert!(refused.status == 422 && refused.text().contains(says), "{}", refused.text());
        assert!(!refused.body.contains(PASSWORD), "no password in a page");
    }
    assert_eq!(observations::find_signed(&app.deeds.db, id).await.expect("the store"), None);
    let expected = ["wrong_password_of_assessor", "wrong_password_of_candidate"];
    assert_eq!(refusals(&app, "observation", id.0).await, expected);
    for _ in 0..3 {
        sign(&mut browser, id, PASSWORD, "again wrong").await;
    }
    let waits = sign(&mut browser, id, PASSWORD, PASSWORD).await;
    assert!(waits.status == 422 && waits.text().contains("Wait"), "the right one waits too: {}", waits.text());
    app.clock.advance(61);
    assert_eq!(sign(&mut browser, id, PASSWORD, PASSWORD).await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn guesses_at_sign_in_keep_nobody_from_signing() {
    let app = TestApp::start_with_bank().await;
    let (id, mut browser) = ready_to_sign(&app).await;
    for role in [Role::Trainer, Role::Technician] {
        for _ in 0..6 {
            assert!(!app.signs_in(&address_of(role), "guess guess").await);
        }
        assert!(!app.signs_in(&address_of(role), PASSWORD).await, "{role} has to wait at sign-in");
    }
    assert_eq!(sign(&mut browser, id, PASSWORD, PASSWORD).await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn after_signing_nothing_changes_any_more() {
    let app = TestApp::start_with_bank().await;
    let (person, by) = (technician(&app).await, assessor(&app, Role::Trainer).await);
    let id = open(&app, by, person, Task::StopAndCall).await;
    mark_all(&app, by, id, &[]).await;
    sign_observation(&app.deeds, by, id, BOTH).await.expect("the store");
    let before = observations::steps(&app.deeds.db, id).await.expect("the steps");
    let mut browser = app.signed_in(Role::Trainer).await;
    browser.get("/observe").await;
    let late = mark(&mut browser, id, 1, "not_seen", "").await;
    assert_eq!(late.status, 409);
    assert!(late.text().contains("Both have signed this checklist."), "{}", late.text());
    assert!(!late.text().contains("question"), "words about examinations: {}", late.text());
    let path = format!("/observe/{id}/steps/1");
    let fields = [("mark".to_owned(), "not_seen".to_owned()), ("remark".to_owned(), String::new())];
    assert_eq!(browser.post_by_script(&path, &fields).await.status, 410);
    assert_eq!(sign(&mut browser, id, PASSWORD, PASSWORD).await.status, 303, "the same twice is the same once");
    assert_eq!(observations::steps(&app.deeds.db, id).await.expect("the steps"), before);
    assert_eq!(refusals(&app, "observation", id.0).await, ["after_signing"]);
    assert!(check_record(&app.deeds.db, &[]).await.expect("the check").is_whole());
    app.stop().await;
}

#[tokio::test]
async fn nobody_watches_themselves_and_no_stranger_writes() {
    let app = TestApp::start_with_bank().await;
    let (by, trainer) = (assessor(&app, Role::ServiceManager).await, assessor(&app, Role::Trainer).await);
    // The service manager watches the trainer, who tries to fill it in.
    let id = open(&app, by, trainer.person, Task::StopAndCall).await;
    let mut own_hand = app.signed_in(Role::Trainer).await;
    let list = own_hand.get("/observe").await;
    let key = list.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let own = trainer.person.to_string();
    let fields = [("person", own.as_str()), ("task", "daily-check"), ("machine", "tarrel-60"), ("key", &key)];
    let refused = own_hand.post("/observe", &fields).await;
    assert!(refused.status == 422 && refused.text().contains("Nobody watches themselves."), "{}", refused.text());
    assert_eq!(refusals(&app, "person", trainer.person.0).await, ["own_hand"]);
    assert_eq!(own_hand.get(&format!("/observe/{id}")).await.status, 404);
    assert_eq!(mark(&mut own_hand, id, 1, "seen", "").await.status, 404);
    assert_eq!(sign(&mut own_hand, id, PASSWORD, PASSWORD).await.status, 404);
    // A trainer of another branch.
    write(&app.deeds.db, async |tx| {
        let branch = branches::insert(tx, "Elsewhere", "Europe/London").await?;
        let phc = app.deeds.hashing.hash(PASSWORD.to_owned()).await.ok();
        let new = NewPerson {
            display_name: PersonName::parse("Test stranger").expect("a name"),
            email: EmailAddress::parse("stranger@example.org").expect("an address"),
            role: Role::Trainer,
            branch_id: branch,
            temperature_unit: TemperatureUnit::Celsius,
            scheme_key: None,
            password_phc: phc,
            created_at: app.clock.now(),
        };
        people::insert(tx, new).await?;
        Ok::<_, StoreError>(())
    })
    .await
    .expect("the store");
    let mut stranger = app.signed_in_as("stranger@example.org").await;
    stranger.get("/observe").await;
    assert_eq!(stranger.get(&format!("/observe/{id}")).await.status, 404);
    assert_eq!(mark(&mut stranger, id, 1, "seen", "").await.status, 404);
    let missing = mark(&mut stranger, ObservationId(999), 1, "seen", "").await;
    assert_eq!(mark(&mut stranger, id, 1, "seen", "").await.seen(), missing.seen(), "it looks like missing");
    assert_eq!(stranger.post("/observe", &fields).await.status, 422);
    assert_eq!(refusals(&app, "person", trainer.person.0).await, ["own_hand", "other_branch"]);
    // Another assessor of the branch reads it, and does not write.
    app.person("Test second", "second@example.org", Role::Trainer).await;
    let mut second = app.signed_in_as("second@example.org").await;
    assert!(second.get(&format!("/observe/{id}")).await.text().contains("Not signed yet."));
    assert_eq!(mark(&mut second, id, 1, "seen", "").await.status, 404);
    assert_eq!(second.get(&format!("/observe/{id}/review")).await.status, 404);
    assert_eq!(refusals(&app, "observation", id.0).await, ["own_hand", "other_branch", "not_the_assessor"]);
    assert!(observations::steps(&app.deeds.db, id).await.expect("the steps").is_empty());
    app.stop().await;
}

/// What the form of a step holds: the mark that is chosen, the remark, and what is said about saving.
fn step_on(page: &Reply, place: usize) -> (Option<String>, String, String) {
    let form = page.between(&format!("id=\"step-{place}\""), "</form>").expect("the step");
    let between = |start: &str, end: &str| {
        let from = form.find(start).expect("a start") + start.len();
        form[from..from + form[from..].find(end).expect("an end")].to_owned()
    };
    let chosen = form.split("<input").find(|input| input.split('>').next().is_some_and(|tag| tag.contains(" checked")));
    let mark = chosen.and_then(|input| input.split("value=\"").nth(1)).and_then(|value| value.split('"').next());
    let remark = between("name=\"remark\" rows=\"2\">", "</textarea>");
    (mark.map(str::to_owned), remark, between("role=\"status\">", "</p>"))
}

#[tokio::test]
async fn a_step_that_is_refused_keeps_what_was_typed_and_no_other_step_takes_it() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, id) = opened(&app).await;
    assert_eq!(mark(&mut browser, id, 1, "seen", "Saved before.").await.status, 303);
    assert_eq!(mark(&mut browser, id, 2, "seen", "Of the other step.").await.status, 303);
    let long = "a".repeat(501);
    for (typed, remark, chosen) in
        [("", "Said without a mark.", None), ("not_seen", long.as_str(), Some("not_seen")), ("perhaps", "Odd.", None)]
    {
        let refused = mark(&mut browser, id, 1, typed, remark).await;
        assert_eq!(refused.status, 422, "{typed}");
        let shown = (chosen.map(str::to_owned), remark.to_owned(), "Not saved yet.".to_owned());
        assert_eq!(step_on(&refused, 1), shown, "{typed}");
        let other = (Some("seen".to_owned()), "Of the other step.".to_owned(), "Saved 08:00:00".to_owned());
        assert_eq!(step_on(&refused, 2), other, "{typed}");
    }
    let kept = observations::steps(&app.deeds.db, id).await.expect("the steps");
    assert_eq!(kept[0].marked.remark, "Saved before.", "nothing was saved");
    app.stop().await;
}

#[tokio::test]
async fn what_is_no_mark_no_step_and_no_machine_is_refused() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, id) = opened(&app).await;
    let none = mark(&mut browser, id, 1, "", "").await;
    assert!(none.status == 422 && none.text().contains("Choose how the step was done."), "{}", none.text());
    assert_eq!(mark(&mut browser, id, 1, "perhaps", "").await.status, 422);
    assert_eq!(mark(&mut browser, id, 1, "seen", &"a".repeat(501)).await.status, 422);
    for place in [0, 999] {
        assert_eq!(mark(&mut browser, id, place, "seen", "").await.status, 404);
    }
    assert!(observations::steps(&app.deeds.db, id).await.expect("the steps").is_empty());
    let person = technician(&app).await.to_string();
    for (person, task, machine, says) in [
        ("999", "daily-check", "tarrel-60", "Choose somebody of your branch."),
        ("x", "daily-check", "tarrel-60", "Choose somebody of your branch."),
        (&person, "no-such", "tarrel-60", "Choose a task."),
        (&person, "daily-check", "no-such", "Choose a machine."),
    ] {
        let list = browser.get("/observe").await;
        let key = list.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
        let fields = [("person", person), ("task", task), ("machine", machine), ("key", &key)];
        let refused = browser.post("/observe", &fields).await;
        assert!(refused.status == 422 && refused.text().contains(says), "{says}: {}", refused.text());
    }
    // A critical step always applies.
    let critical = 1;
    assert_eq!(mark(&mut browser, id, critical, "not_applicable", "No time.").await.status, 303);
    let review = browser.get(&format!("/observe/{id}/review")).await;
    assert!(review.text().contains("a critical step always applies"), "{}", review.text());
    app.stop().await;
}
