//! From a passed examination to a certificate and what becomes of it: who decides, who may not, appeals, suspension.

use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use crate::support::observed::{assessor, open, watched};
use crate::support::sittings::{Sat, certify, decided, grant, manager, sit};
use sootmark::actions::appeal::{Heard, Lodged, decide_appeal, lodge_appeal};
use sootmark::actions::begin_examination::{Begun, NotYet, begin_examination};
use sootmark::actions::decide::{Decided, Decider};
use sootmark::actions::hold_debrief::{DebriefHeld, hold_debrief};
use sootmark::actions::observe::Assessor;
use sootmark::domain::certification::decision::{Bar, Finding, Flaw, Verdict};
use sootmark::domain::certification::proposal::Openness;
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::record::{self, Verification};
use sootmark::store::{AttemptId, BranchId, PersonId, StoreError, branches, decisions, people, write};

const SCHEME: &str = "first-day";
const DAY: i64 = 86_400;
const REASON: &str = "Somebody else's papers were on the desk.";

async fn ines(app: &TestApp) -> PersonId {
    app.person("Ines Varga", "ines@example.org", Role::Technician).await
}

/// Another service manager of another branch.
async fn elsewhere(app: &TestApp, email: &str) -> Decider {
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, "Saltmarsh", "UTC").await);
    let branch = added.await.expect("a branch");
    let person = app.person("Test elsewhere", email, Role::ServiceManager).await;
    move_to(app, person, branch).await;
    Decider { person, role: Role::ServiceManager, branch }
}

async fn move_to(app: &TestApp, person: PersonId, branch: BranchId) {
    let moved = write::<_, StoreError, _>(&app.deeds.db, async |tx| people::set_branch(tx, person, branch).await);
    moved.await.expect("moved");
}

/// Presses a button of the decision page.
async fn press(browser: &mut Client, attempt: AttemptId, verdict: &str, reason: &str) -> Reply {
    let path = format!("/decisions/{attempt}");
    let page = browser.get(&path).await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    browser.post(&path, &[("key", &key), ("verdict", verdict), ("reason", reason)]).await
}

async fn begins(app: &TestApp, person: PersonId) -> Begun {
    begin_examination(&app.deeds, person, TemperatureUnit::Celsius, SCHEME).await.expect("the store")
}

#[tokio::test]
async fn from_the_pass_over_the_decision_to_a_certificate_on_paper() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let attempt = sit(&app, person, SCHEME, Sat::Right).await;
    assert_eq!(begins(&app, person).await, Begun::NotYet(NotYet::AwaitsDecision(attempt)));
    let mut theirs = app.signed_in_as("ines@example.org").await;
    assert!(theirs.get("/record").await.text().contains("waits for decision"));

    let mut manager = app.signed_in(Role::ServiceManager).await;
    let list = manager.get("/decisions").await.text();
    assert!(list.contains("Ines Varga") && list.contains("proposed: to grant"), "{list}");
    let page = manager.get(&format!("/decisions/{attempt}")).await.text();
    for words in ["To grant a certificate.", "9 of 9 right", "Fire and burns", "Nobody is on record as having trained"]
    {
        assert!(page.contains(words), "{words} in {page}");
    }
    let reply = press(&mut manager, attempt, "granted", "").await;
    assert_eq!((reply.status, reply.location()), (303, format!("/decisions/{attempt}?done=now").as_str()));
    let page = manager.get(&format!("/decisions/{attempt}")).await;
    let number = page.between("/decisions/certificates/", "\"").expect("a certificate").to_owned();
    assert!(number.starts_with("2026-00001-"), "{number}");

    // The same for its holder, on screen and on paper, without anything to press.
    for (browser, path) in [
        (&mut theirs, format!("/record/certificates/{number}")),
        (&mut manager, format!("/decisions/certificates/{number}")),
    ] {
        let text = browser.get(&path).await.text();
        for words in [
            number.as_str(),
            "Ines Varga",
            "First day on site",
            "Valid.",
            "24 Nov 2026",
            "24 Nov 2029",
            "Fire and burns",
            "profile version 1",
            "Service manager, name",
        ] {
            assert!(text.contains(words), "{words} at {path}: {text}");
        }
    }
    assert!(!theirs.get(&format!("/record/certificates/{number}")).await.body.contains("Suspend it"));
    // Read aloud and typed in small letters it is found; with a wrong check character it is none.
    let typed = number.to_lowercase().replace('-', "");
    assert_eq!(theirs.get(&format!("/record/certificates/{typed}")).await.status, 200);
    let wrong = format!("2026-00002-{}", number.chars().last().expect("a character"));
    assert_eq!(theirs.get(&format!("/record/certificates/{wrong}")).await.status, 404);
    let mut other = app.signed_in(Role::Technician).await;
    assert_eq!(other.get(&format!("/record/certificates/{number}")).await.status, 404, "somebody else's");
    let deeds = app.deeds_about("ines@example.org").await;
    assert_eq!(deeds, ["certification_decided", "certificate_granted"]);
    assert!(matches!(record::verify(&app.deeds.db).await, Ok(Verification::Whole { .. })));
    app.stop().await;
}

#[tokio::test]
async fn a_decision_is_made_once_and_the_same_click_twice_is_harmless() {
    let app = TestApp::start_with_bank().await;
    let attempt = sit(&app, ines(&app).await, SCHEME, Sat::Right).await;
    let by = manager(&app).await;
    let first = decided(&app, by, attempt, Verdict::Granted, "").await;
    assert!(matches!(first, Decided::Done(Some(_))), "{first:?}");
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, first, "the same click");
    assert_eq!(decided(&app, by, attempt, Verdict::Refused, REASON).await, Decided::Before);
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{attempt}?done=before")).await.text();
    assert!(page.contains("Somebody had decided before.") && page.contains("Granted"), "{page}");
    app.stop().await;
}

#[tokio::test]
async fn a_missed_safety_question_is_never_granted_away() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let attempt = sit(&app, person, SCHEME, Sat::MissingFire).await;
    let by = manager(&app).await;
    let flawed = Decided::Flawed(Flaw::NotProposed);
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "A good fellow.").await, flawed);
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{attempt}")).await;
    assert!(page.text().contains("That alone forbids a certificate, whatever the score."), "{}", page.text());
    assert!(page.text().contains("Nobody has gone through it with Ines Varga yet."), "{}", page.text());
    assert!(!page.body.contains("value=\"granted\""), "there is no such button");
    let reply = press(&mut browser, attempt, "granted", "").await;
    assert!(reply.status == 422 && reply.text().contains("only be granted where the rules propose it"));

    // Not even by an appeal that is upheld: the sitting is set aside, and the talk is still held.
    assert_eq!(decided(&app, by, attempt, Verdict::Refused, "").await, Decided::Done(None));
    assert_eq!(lodge_appeal(&app.deeds, person, attempt, "It was unclear.").await.expect("the store"), Lodged::Done);
    let other = elsewhere(&app, "elsewhere@example.org").await;
    let heard = decide_appeal(&app.deeds, other, attempt, Finding::Upheld, "It was.").await.expect("the store");
    assert_eq!(heard, Heard::Done(None));
    let fire =
        app.signed_in(Role::ServiceManager).await.get("/qualified?competence=fire&state=may_be_sent").await.text();
    assert!(!fire.contains("Ines Varga"), "{fire}");
    assert_eq!(begins(&app, person).await, Begun::NotYet(NotYet::DebriefNeeded(attempt)));
    app.stop().await;
}

#[tokio::test]
async fn who_trained_the_person_or_is_the_person_or_of_another_branch_does_not_decide() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let trainer = app.person("Test coach", "coach@example.org", Role::Trainer).await;
    let missed = sit(&app, person, SCHEME, Sat::MissingFire).await;
    let held = hold_debrief(&app.deeds, trainer, missed, "Went through it.").await.expect("the store");
    assert_eq!(held, DebriefHeld::Held);
    app.clock.advance(3601);
    let attempt = sit(&app, person, SCHEME, Sat::Right).await;
    // The trainer has become a service manager since; so has the person.
    for id in [trainer, person] {
        let made = async |tx: &_| people::set_role(tx, id, Role::ServiceManager).await;
        write::<_, StoreError, _>(&app.deeds.db, made).await.expect("a role");
    }
    let by = |person| Decider { person, role: Role::ServiceManager, branch: app.branch };
    let barred = |bar| Decided::Barred(bar);
    assert_eq!(decided(&app, by(trainer), attempt, Verdict::Granted, "").await, barred(Bar::Trained));
    assert_eq!(decided(&app, by(person), attempt, Verdict::Granted, "").await, barred(Bar::Oneself));
    let deeds = app.deeds_about("ines@example.org").await;
    assert_eq!(deeds, ["decision_turned_away", "decision_turned_away"], "that they tried is on record");
    let mut coach = app.signed_in_as("coach@example.org").await;
    let page = coach.get(&format!("/decisions/{attempt}")).await;
    assert!(page.text().contains("You trained this person."), "{}", page.text());
    assert!(!page.body.contains("name=\"verdict\""), "no button");

    // Another branch's looks like none.
    let other = elsewhere(&app, "elsewhere@example.org").await;
    let foreign = sootmark::actions::decide::Asked { attempt, verdict: Verdict::Granted, reason: "", key: "k" };
    let refused = sootmark::actions::decide::decide(&app.deeds, other, foreign).await;
    assert!(matches!(refused, Err(sootmark::actions::ActionError::Store(StoreError::NotFound))), "{refused:?}");
    let mut browser = app.signed_in_as("elsewhere@example.org").await;
    let nothing = browser.get("/decisions/999").await;
    let reply = browser.get(&format!("/decisions/{attempt}")).await;
    assert_eq!((reply.status, reply.body), (404, nothing.body));
    assert!(!browser.get("/decisions").await.text().contains("Ines Varga"));
    // An administrator decides where a branch has nobody.
    let mut administrator = app.signed_in(Role::Administrator).await;
    assert_eq!(press(&mut administrator, attempt, "granted", "").await.status, 303);
    assert!(decisions::find(&app.deeds.db, attempt).await.expect("the store").is_some());
    app.stop().await;
}

#[tokio::test]
async fn what_is_too_old_or_superseded_cannot_be_decided_any_more() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let by = manager(&app).await;
    let failed = sit(&app, person, SCHEME, Sat::WithoutLamps).await;
    app.clock.advance(3601);
    let passed = sit(&app, person, SCHEME, Sat::Right).await;
    let superseded = decided(&app, by, failed, Verdict::Refused, "").await;
    assert_eq!(superseded, Decided::NotOpen(Openness::Superseded));
    app.clock.advance(90 * DAY);
    assert_eq!(decided(&app, by, passed, Verdict::Granted, "").await, Decided::NotOpen(Openness::Expired));
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{passed}")).await.text();
    assert!(page.contains("The examination is more than 90 days ago."), "{page}");
    let key = "0".repeat(64);
    let reply = browser.post(&format!("/decisions/{passed}"), &[("key", &key), ("verdict", "granted")]).await;
    assert!(reply.status == 422 && reply.text().contains("has to be examined again"), "{}", reply.text());
    assert!(matches!(begins(&app, person).await, Begun::Sitting(_)), "nothing waits any more");
    app.stop().await;
}

#[tokio::test]
async fn a_refusal_against_the_proposal_needs_a_reason_and_can_be_appealed_against_once() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let attempt = sit(&app, person, SCHEME, Sat::Right).await;
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let reply = press(&mut browser, attempt, "refused", " ").await;
    assert!(reply.status == 422 && reply.text().contains("Write down why."), "{}", reply.text());
    let mut theirs = app.signed_in_as("ines@example.org").await;
    let path = format!("/record/sitting/{attempt}/appeal");
    assert_eq!(theirs.get(&path).await.status, 404, "nothing is refused yet");
    let early = lodge_appeal(&app.deeds, person, attempt, "Why?").await.expect("the store");
    assert_eq!(early, Lodged::NothingRefused);
    assert_eq!(press(&mut browser, attempt, "refused", REASON).await.status, 303);

    let record = theirs.get("/record").await;
    assert!(record.text().contains("refused on 24 Nov 2026") && record.text().contains(REASON), "{}", record.text());
    assert!(record.body.contains(&format!("href=\"{path}\"")), "a way to appeal");
    assert_eq!(theirs.post(&path, &[("text", "")]).await.status, 422);
    assert_eq!(theirs.post(&path, &[("text", "They were job cards.")]).await.location(), "/record");
    assert_eq!(theirs.post(&path, &[("text", "Once more.")]).await.location(), "/record");
    let twice = lodge_appeal(&app.deeds, person, attempt, "Once more.").await.expect("the store");
    assert_eq!(twice, Lodged::Before);
    let record = theirs.get("/record").await.text();
    assert!(record.contains("24 Nov 2026, waits for decision: \u{201c}They were job cards."), "{record}");

    // Whoever decided does not hear it; somebody of another branch does, once.
    let by = manager(&app).await;
    let hear =
        async |by, finding| decide_appeal(&app.deeds, by, attempt, finding, "Looked into.").await.expect("the store");
    assert_eq!(hear(by, Finding::Dismissed).await, Heard::Barred(Bar::OwnDecision));
    let other = elsewhere(&app, "elsewhere@example.org").await;
    let mut far = app.signed_in_as("elsewhere@example.org").await;
    assert!(far.get("/").await.text().contains("One examination or appeal waits for your decision."));
    assert!(far.get("/decisions").await.text().contains("appeal of 24 Nov 2026"));
    let appeal = format!("/decisions/{attempt}/appeal");
    assert_eq!(far.post(&appeal, &[("finding", "upheld"), ("reason", "")]).await.status, 422);
    let upheld = [("finding", "upheld"), ("reason", "The trainer saw that they were job cards.")];
    assert_eq!(far.post(&appeal, &upheld).await.location(), format!("/decisions/{attempt}?done=now"));
    assert_eq!(hear(other, Finding::Dismissed).await, Heard::Before);
    let fire = far.get("/qualified?competence=fire&state=qualified").await.text();
    assert!(fire.contains("Ines Varga"), "the certificate that was proposed is granted: {fire}");
    let deeds = app.deeds_about("ines@example.org").await;
    let told =
        ["certification_decided", "appeal_lodged", "decision_turned_away", "appeal_decided", "certificate_granted"];
    assert_eq!(deeds, told);
    app.stop().await;
}

#[tokio::test]
async fn attempts_are_counted_and_an_upheld_appeal_takes_one_out() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let mut last = None;
    for _ in 0..3 {
        last = Some(sit(&app, person, SCHEME, Sat::WithoutLamps).await);
        app.clock.advance(3601);
    }
    let last = last.expect("a sitting");
    let begun = begins(&app, person).await;
    let Begun::NotYet(NotYet::AttemptsUsedUp(until)) = begun else { panic!("{begun:?}") };
    assert_eq!(until, crate::support::app::BEGINNING.plus_seconds(90 * DAY));
    let page = app.signed_in_as("ines@example.org").await.get("/examine").await.text();
    assert!(page.contains("You have used up the attempts"), "{page}");
    assert_eq!(decided(&app, manager(&app).await, last, Verdict::Refused, "").await, Decided::Done(None));
    assert_eq!(lodge_appeal(&app.deeds, person, last, "The lamp was broken.").await.expect("the store"), Lodged::Done);
    let other = elsewhere(&app, "elsewhere@example.org").await;
    decide_appeal(&app.deeds, other, last, Finding::Upheld, "It was.").await.expect("the store");
    assert!(matches!(begins(&app, person).await, Begun::Sitting(_)));
    app.stop().await;
}

#[tokio::test]
async fn a_certificate_is_suspended_stands_again_is_withdrawn_and_a_new_one_takes_its_place() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let number = certify(&app, person, SCHEME).await;
    let path = format!("/decisions/certificates/{number}");
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let state = async |browser: &mut Client| {
        let rows = browser.get("/qualified.csv?competence=lamps&search=ines").await.body;
        rows.lines().nth(1).and_then(|row| row.split(',').nth(4)).unwrap_or_default().to_owned()
    };
    assert_eq!(state(&mut browser).await, "qualified");
    assert_eq!(browser.post(&path, &[("deed", "suspended"), ("reason", "")]).await.status, 422);
    for (deed, then) in [("suspended", "suspended"), ("reinstated", "qualified"), ("withdrawn", "missing")] {
        assert_eq!(browser.post(&path, &[("deed", deed), ("reason", "Looked into it.")]).await.status, 303, "{deed}");
        assert_eq!(state(&mut browser).await, then);
        assert_eq!(browser.post(&path, &[("deed", deed), ("reason", "Looked into it.")]).await.status, 303, "a click");
        let again = browser.post(&path, &[("deed", deed), ("reason", "Looked into it once more.")]).await;
        assert!(again.status == 422 && again.text().contains("cannot be done to it now"), "{deed} twice");
    }
    assert_eq!(app.deeds_about("ines@example.org").await.iter().filter(|d| *d == "certificate_changed").count(), 3);
    let shown = browser.get(&path).await.text();
    assert!(shown.contains("Withdrawn, on 24 Nov 2026.") && shown.contains("Test service manager"), "{shown}");
    assert!(!browser.get(&path).await.body.contains("name=\"deed\""), "nothing more can be done to it");
    let mut theirs = app.signed_in_as("ines@example.org").await;
    assert!(theirs.get("/record").await.text().contains("certificate withdrawn on 24 Nov 2026"));
    elsewhere(&app, "elsewhere@example.org").await;
    let mut far = app.signed_in_as("elsewhere@example.org").await;
    assert_eq!(far.post(&path, &[("deed", "suspended"), ("reason", "r")]).await.status, 404, "another branch's");

    app.clock.advance(DAY);
    let second = certify(&app, person, SCHEME).await;
    assert_eq!(second.running, 2);
    app.clock.advance(DAY);
    let third = certify(&app, person, SCHEME).await;
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let renewed = browser.get(&format!("/decisions/certificates/{second}")).await.text();
    assert!(renewed.contains(&format!("Certificate {third} has taken its place.")), "{renewed}");
    assert_eq!(state(&mut browser).await, "qualified");
    assert!(browser.get(&path).await.text().contains("Withdrawn"), "what was withdrawn stays so");
    app.stop().await;
}

#[tokio::test]
async fn a_certificate_that_has_to_be_held_first_is_asked_for_and_looked_at_again() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let attempt = sit(&app, person, "service-technician", Sat::Right).await;
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{attempt}")).await.text();
    assert!(page.contains("No certificate by \"New operator\" is held"), "{page}");
    let trainer = assessor(&app, Role::Trainer).await;
    for task in Task::ALL {
        assert!(watched(&app, trainer, person, task, &[]).await);
    }
    let operator = sit(&app, person, "operator", Sat::Right).await;
    grant(&app, operator).await;
    // Now the proposal is another one, which is looked at before it is decided on.
    let by = manager(&app).await;
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::NewProposal);
    assert!(browser.get(&format!("/decisions/{attempt}")).await.text().contains("To grant a certificate."));
    assert!(matches!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::Done(Some(_))));
    app.stop().await;
}

#[tokio::test]
async fn a_practical_task_has_to_be_seen_and_whoever_saw_it_does_not_decide() {
    let app = TestApp::start_with_bank().await;
    let person = ines(&app).await;
    let attempt = sit(&app, person, "operator", Sat::Right).await;
    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{attempt}")).await.text();
    for task in ["Daily check", "Parked regeneration"] {
        assert!(page.contains(&format!("The practical task \"{task}\" has not been seen done.")), "{page}");
    }
    let by = manager(&app).await;
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::Flawed(Flaw::NotProposed));
    let trainer = assessor(&app, Role::Trainer).await;
    assert!(watched(&app, trainer, person, Task::DailyCheck, &[]).await);
    // One critical step was missed, then the task was done again.
    assert!(!watched(&app, trainer, person, Task::ParkedRegeneration, &[1]).await);
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::NewProposal);
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::Flawed(Flaw::NotProposed));
    app.clock.advance(60);
    assert!(watched(&app, trainer, person, Task::ParkedRegeneration, &[]).await);
    assert_eq!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::NewProposal);
    // Source: ISO/IEC 17024 (secondary): whoever trained somebody does not decide. Watching, signed or not, counts as that.
    let second = app.person("Test second manager", "second@example.org", Role::ServiceManager).await;
    let watcher = Assessor { person: second, branch: app.branch };
    open(&app, watcher, person, Task::DailyCheck).await;
    let barred = Decider { person: second, ..by };
    assert_eq!(decided(&app, barred, attempt, Verdict::Granted, "").await, Decided::Barred(Bar::Trained));
    assert!(matches!(decided(&app, by, attempt, Verdict::Granted, "").await, Decided::Done(Some(_))));
    app.stop().await;
}

#[tokio::test]
async fn trainers_and_technicians_find_no_decisions() {
    let app = TestApp::start_with_bank().await;
    let attempt = sit(&app, ines(&app).await, SCHEME, Sat::Right).await;
    for role in [Role::Technician, Role::Trainer] {
        let mut browser = app.signed_in(role).await;
        let key = "0".repeat(64);
        let reply = browser.post(&format!("/decisions/{attempt}"), &[("key", &key), ("verdict", "granted")]).await;
        assert_eq!(reply.status, 404, "{role}");
    }
    assert!(decisions::find(&app.deeds.db, attempt).await.expect("the store").is_none());
    app.stop().await;
}
